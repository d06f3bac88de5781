"""The systemd unit that ships with dawnbrew."""

import configparser
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

UNIT = Path(__file__).parents[2] / "config" / "dawnbrew.service"


def settings():
    parser = configparser.ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str
    parser.read(UNIT)
    return parser


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd itself judges its units")
def test_systemd_understands_every_line_of_the_unit(tmp_path):
    here = str(Path(sys.executable).parent / "dawnbrew")
    copy = tmp_path / "dawnbrew.service"
    copy.write_text(UNIT.read_text().replace("/opt/dawnbrew/bin/dawnbrew", here))
    told = subprocess.run(["systemd-analyze", "verify", copy], capture_output=True, text=True, check=False)
    about = [line for line in told.stderr.splitlines() if "dawnbrew" in line]
    assert (told.returncode, about) == (0, [])


def test_the_unit_starts_a_command_that_there_is(tmp_path):
    from dawnbrew.cli.main import app

    program, *arguments = shlex.split(settings()["Service"]["ExecStart"])
    assert Path(program).name == "dawnbrew"
    told = CliRunner().invoke(app, [*arguments, "--once"])  # no such farm here, but it was asked rightly
    assert "no such file" in told.stderr
    assert told.exit_code == int(settings()["Service"]["RestartPreventExitStatus"])


def test_the_service_may_write_in_one_place_and_become_nobody_else():
    service = settings()["Service"]
    assert service["ReadWritePaths"] == "/var/lib/dawnbrew"
    wanted = {
        "DynamicUser": "yes", "ProtectSystem": "strict", "NoNewPrivileges": "yes", "PrivateTmp": "yes",
        "ProtectHome": "yes", "CapabilityBoundingSet": "",
    }  # fmt: skip
    assert {name: service[name] for name in wanted} == wanted
