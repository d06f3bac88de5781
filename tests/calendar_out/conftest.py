import sys
from pathlib import Path

import pytest

from calendar_readers import PYTHON_READERS

# small farms are written down once, beside the tests of the planner
sys.path.append(str(Path(__file__).parents[1] / "planning"))


@pytest.fixture(params=[*PYTHON_READERS, "ical.js", "libical"])
def reader(request):
    """Each reader in turn: a name and a function from bytes to events."""
    if request.param == "ical.js":
        return request.param, request.getfixturevalue("icaljs").read
    if request.param == "libical":
        return request.param, request.getfixturevalue("libical").read
    return request.param, PYTHON_READERS[request.param]
