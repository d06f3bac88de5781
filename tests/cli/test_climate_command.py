"""`dawnbrew climate`: from a record, from an archive, shown and written."""

import json
import tomllib
from datetime import date, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from importlib.metadata import version
from threading import Thread

import pytest
from cli_plans import FARM
from typer.testing import CliRunner

from dawnbrew.cli.main import app
from dawnbrew.farm.models import Climate
from dawnbrew.farm.read import read_farm, starter_path

LOWS = [1, 2, 3, 5, 8, 11, 13, 13, 10, 7, 4, 2]
DAYS = [date(2020, 1, 1) + timedelta(days=n) for n in range(366 + 365)]

STATION = """
[weather.station]
file = "record.csv"
time = "Time"
air = { column = "Out", unit = "F" }
"""


def ask(*arguments):
    return CliRunner().invoke(
        app, ["climate", *map(str, arguments)], prog_name="dawnbrew", catch_exceptions=False
    )


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder to stand in, with a farm and a record of two years of days."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "farm.toml").write_text(FARM.format(bed="Shore", vessel="drum"))
    rows = [f"{on},{LOWS[on.month - 1]},{LOWS[on.month - 1] + 8}" for on in DAYS]
    (tmp_path / "record.csv").write_text("\n".join(["DATE,TMIN,TMAX", *rows, ""]))
    return tmp_path


DAILY = ("--from-csv", "record.csv", "--time", "DATE", "--low", "TMIN", "--high", "TMAX", "--unit", "C")


def test_a_record_gives_the_lines_to_paste_and_leaves_the_farm_alone(folder):
    before = (folder / "farm.toml").read_bytes()
    done = ask(*DAILY)
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout.startswith("# From record.csv, 2020-01-01 to 2021-12-31: 2 years for each month.\n")
    climate = Climate.model_validate(tomllib.loads(done.stdout)["climate"])
    assert list(climate.lows_c) == LOWS
    assert (folder / "farm.toml").read_bytes() == before


def test_the_months_are_written_into_the_farm_file(folder):
    done = ask(*DAILY, "--write")
    assert (done.exit_code, done.stdout) == (0, "")
    assert done.stderr == (
        "farm.toml has the lows and highs of 2 years from record.csv.\n"
        "From one year to another the means differ by (standard deviation, C):\n"
        "lows  0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0\n"
        "highs 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0\n"
    )
    assert list(read_farm(folder / "farm.toml").climate.lows_c) == LOWS


def test_a_farm_in_fahrenheit_keeps_its_unit(folder):
    path = folder / "farm.toml"
    path.write_text(path.read_text().replace("[climate]", '[climate]\nunit = "F"'))
    assert ask(*DAILY, "--write").exit_code == 0
    written = tomllib.loads(path.read_text())["climate"]
    assert written["unit"] == "F"
    assert written["lows"][0] == 33.8  # 1 x 1.8 + 32
    assert list(read_farm(path).climate.lows_c) == pytest.approx(LOWS)


@pytest.mark.parametrize("options", [(), ("--write",), ("--json",)])
def test_what_was_left_out_is_told_however_the_months_are_wanted(folder, options):
    path = folder / "record.csv"
    rows = path.read_text().splitlines()
    rows[7] = "2020-01-07,-99,5"
    path.write_text("\n".join(row for row in rows if row[:7] != "2021-06"))
    done = ask(*DAILY, *options)
    assert done.exit_code == 0
    for told in (
        "record.csv line 8: value of 'TMIN' left out, -99.",
        "record.csv: 1 day left out, the lowest or the highest is not known: 2020-01-07.",
        "record.csv: 1 month between its first and last day not known at all.",
    ):
        assert told in " ".join(done.stderr.split())
        assert (told in done.stdout) == (options == ("--json",))


def test_a_record_in_another_unit_is_refused_or_doubted_and_never_silent(folder):
    as_f = [f"{on},{LOWS[on.month - 1] * 1.8 + 32},{LOWS[on.month - 1] * 1.8 + 46}" for on in DAYS]
    (folder / "record.csv").write_text("\n".join(["DATE,TMIN,TMAX", *as_f, ""]))
    before = (folder / "farm.toml").read_bytes()
    done = ask(*DAILY, "--write")
    assert done.exit_code == 1
    told = " ".join(done.stderr.split())
    assert "found 60.4, and 306 such of 731 needed -80 to 60 C of air" in told
    assert "Look at the columns, units," in told
    assert (folder / "farm.toml").read_bytes() == before
    (folder / "record.csv").write_text(
        "\n".join(
            ["DATE,TMIN,TMAX", *(f"{on},{LOWS[on.month - 1]},{LOWS[on.month - 1] + 8}" for on in DAYS), ""]
        )
    )
    done = ask(*DAILY[:-1], "F")
    assert done.exit_code == 0
    assert "Look whether it is in C or F" in " ".join(done.stderr.split())


def test_machines_get_the_months_in_celsius_as_json(folder):
    told = json.loads(ask(*DAILY, "--json").stdout)
    assert told["format"] == "dawnbrew-climate/1"
    assert told["lows_c"] == LOWS
    assert told["years"] == [2] * 12
    assert told["low_spreads_c"] == [0.0] * 12
    assert told["from"] == "2020-01-01"


def test_columns_that_are_not_named_are_those_of_the_farms_station(folder):
    path = folder / "farm.toml"
    path.write_text(path.read_text() + STATION)
    rows = [f"{on} {hour:02d}:00,{50 + hour % 12}" for on in DAYS[:366] for hour in range(24)]
    (folder / "record.csv").write_text("\n".join(["Time,Out", *rows, ""]))
    told = json.loads(ask("--from-csv", "record.csv", "--json").stdout)
    assert told["lows_c"] == [10.0] * 12  # 50 F
    assert told["highs_c"] == [16.11] * 12  # 61 F
    assert told["low_spreads_c"] == [None] * 12


@pytest.fixture
def archive():
    """The address of an archive that knows every day that it is asked for, and what it was asked."""
    asked = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append((self.path, self.headers["User-Agent"]))
            query = dict(pair.split("=") for pair in self.path.split("?")[1].split("&"))
            on, last_on = (date.fromisoformat(query[key]) for key in ("start_date", "end_date"))
            days = [on + timedelta(days=n) for n in range((last_on - on).days + 1)]
            lows = [LOWS[day.month - 1] for day in days]
            body = json.dumps({
                "latitude": float(query["latitude"]), "longitude": float(query["longitude"]),
                "daily_units": {"temperature_2m_max": "°C", "temperature_2m_min": "°C"},
                "daily": {
                    "time": [str(day) for day in days], "temperature_2m_min": lows,
                    "temperature_2m_max": [low + 8 for low in lows],
                },
            }).encode()  # fmt: skip
            self.send_response(200)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_):
            pass

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}", asked
    server.shutdown()
    server.server_close()
    thread.join()


def test_the_archive_is_asked_and_what_it_knows_is_shown(folder, archive):
    base, asked = archive
    path = folder / "farm.toml"
    path.write_text(path.read_text() + '\n[weather]\ncontact = "wren@example.org"\n')
    done = ask("--fetch", "--years", 3, "--archive", base)
    assert done.exit_code == 0
    assert done.stderr == "Asking the archive of open-meteo for 3 years.\n"
    assert "3 years for each month" in done.stdout
    assert list(Climate.model_validate(tomllib.loads(done.stdout)["climate"]).lows_c) == LOWS
    ((path, agent),) = asked
    assert path.startswith("/v1/archive?latitude=")
    assert agent == f"dawnbrew/{version('dawnbrew')} (wren@example.org)"


def test_a_farm_without_a_climate_gets_its_first_one(folder, archive):
    path = folder / "farm.toml"
    text = path.read_text()
    begins = text.index("[climate]")
    ends = text.index("\n[", begins + 1)
    path.write_text(text[:begins] + text[ends + 1 :])
    assert ask("--fetch", "--years", 1, "--archive", archive[0], "--write").exit_code == 0
    assert list(read_farm(path).climate.lows_c) == LOWS


WRONG = [
    ((), "neither --from-csv nor --fetch"),
    ((*DAILY, "--fetch"), "both --from-csv and --fetch"),
    (("--fetch", "--years", 0), "1 to 60 years can be asked for"),
    (("--fetch", "--archive", "http://archive.example.org"), "an address that begins with 'http'"),
    (DAILY[:-4], "only one of them"),
    ((*DAILY, "--air", "T"), "both beside --air"),
    (DAILY[:-2], "a record does not say it"),
    ((*DAILY[:-1], "K"), "'K'"),
    (("--from-csv", "record.csv"), "no column of times"),
    (("--from-csv", "record.csv", "--time", "DATE"), "no column of temperatures"),
    ((*DAILY, "--separator", "|"), "needed ',', ';' or 'tab' to do"),
]


@pytest.mark.parametrize(("options", "told"), WRONG, ids=range(len(WRONG)))
def test_options_that_do_not_go_together_are_asked_wrongly(folder, options, told):
    done = ask(*options)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert told in " ".join(done.stderr.split())
    assert "to do" in done.stderr


def test_what_cannot_be_had_is_told_and_ends_with_1(folder):
    done = ask("--from-csv", "gone.csv", *DAILY[2:])
    assert done.exit_code == 1
    assert "the file 'gone.csv'" in done.stderr
    for pattern in ("%d %d", "%", "(", "%Q"):
        done = ask(*DAILY, "--time-format", pattern)
        assert done.exit_code == 1
        assert "'2020-01-01' as its time" in " ".join(done.stderr.split())
    done = ask("--fetch", "--archive", "http://127.0.0.1:9")
    assert done.exit_code == 1
    assert "no connection to 127.0.0.1" in " ".join(done.stderr.split())
    assert "asked again" not in " ".join(done.stderr.split())


def test_the_starter_farm_is_not_written(folder):
    done = ask(starter_path(), *DAILY, "--write")
    assert done.exit_code == 2
    assert "the starter farm" in done.stderr
