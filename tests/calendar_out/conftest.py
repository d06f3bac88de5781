import ctypes.util
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest
from calendar_readers import PYTHON_READERS, IcalJs, Libical

ICAL_JS = "2.2.1"


@pytest.fixture(scope="session")
def icaljs():
    """A node process with ical.js, installed once into the user's cache folder."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is None or npm is None:
        pytest.skip("ical.js needs node and npm, which are not installed here")
    reader = IcalJs(node, _installed_icaljs(npm))
    yield reader
    reader.close()


def _installed_icaljs(npm):
    caches = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    home = caches / "dawnbrew-tests" / f"ical.js-{ICAL_JS}"
    if not home.exists():
        home.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=home.parent) as made:
            command = [npm, "install", "--prefix", made, "--no-audit", "--no-fund", f"ical.js@{ICAL_JS}"]
            done = subprocess.run(command, capture_output=True, text=True, timeout=300)
            assert done.returncode == 0, f"npm could not install ical.js: {done.stderr}"
            # two test runs at once: the first to finish wins, the other one's copy is thrown away
            if not home.exists():
                Path(made).rename(home)
                Path(made).mkdir()
    return home / "node_modules" / "ical.js" / "dist" / "ical.js"


@pytest.fixture(scope="session")
def libical():
    path = ctypes.util.find_library("ical")
    if path is None:
        pytest.skip("libical is not installed here (Debian: libical3)")
    return Libical(path)


@pytest.fixture(params=[*PYTHON_READERS, "ical.js", "libical"])
def reader(request):
    """Each reader in turn: a name and a function from bytes to events."""
    if request.param == "ical.js":
        return request.param, request.getfixturevalue("icaljs").read
    if request.param == "libical":
        return request.param, request.getfixturevalue("libical").read
    return request.param, PYTHON_READERS[request.param]
