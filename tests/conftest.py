"""What tests of several folders start: a browser, and packages of other ecosystems."""

import ctypes.util
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

from calendar_readers import IcalJs, Libical

ICAL_JS = "2.2.1"

MEMORY = Path("/dev/shm")
"""Where a write need not wait for a disk: journals make sure of every step that they note."""

if MEMORY.is_dir() and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > 2e9:
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))

# a busy machine is slow: how long an example takes says nothing of what it checks
settings.register_profile("patient", deadline=None)
settings.load_profile("patient")

NEEDED = frozenset(os.environ.get("DAWNBREW_TESTS_NEED", "").split())
"""Programs without which tests fail instead of being skipped; the build says so, a laptop need not."""


def without(program, fix):
    """Skip the test that needs a program, or fail it where the program was promised."""
    told = f"{program} is not installed here ({fix})"
    if program in NEEDED:
        pytest.fail(told)
    pytest.skip(told)


@pytest.fixture(scope="session")
def chromium():
    """The path of Debian's browser."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    return path or without("chromium", "Debian: chromium")


@pytest.fixture(scope="session")
def nginx_path():
    """The path of nginx, with openssl beside it to make certificates."""
    if shutil.which("openssl") is None:
        without("nginx", "Debian: openssl")
    return shutil.which("nginx", path="/usr/sbin:/usr/bin") or without("nginx", "Debian: nginx-light")


@pytest.fixture(scope="session")
def node():
    """The path of node."""
    return shutil.which("node") or without("node", "Debian: nodejs and npm")


@pytest.fixture(scope="session")
def npm_package(node):
    """A function that returns the folder of an npm package, installed once into the user's cache folder."""
    npm = shutil.which("npm") or without("node", "Debian: nodejs and npm")

    def installed(name, version):
        caches = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
        home = caches / "dawnbrew-tests" / f"{name}-{version}"
        if not home.exists():
            home.parent.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory(dir=home.parent) as made:
                command = [npm, "install", "--prefix", made, "--no-audit", "--no-fund", f"{name}@{version}"]
                done = subprocess.run(command, capture_output=True, text=True, timeout=300)
                assert done.returncode == 0, f"npm could not install {name}: {done.stderr}"
                # two test runs at once: the first to finish wins, the other one's copy is thrown away
                if not home.exists():
                    Path(made).rename(home)
                    Path(made).mkdir()
        return home / "node_modules" / name

    return installed


@pytest.fixture(scope="session")
def icaljs(node, npm_package):
    """A node process with ical.js."""
    reader = IcalJs(node, npm_package("ical.js", ICAL_JS) / "dist" / "ical.js")
    yield reader
    reader.close()


@pytest.fixture(scope="session")
def libical():
    """Debian's libical."""
    path = ctypes.util.find_library("ical") or without("libical", "Debian: libical3")
    return Libical(path)
