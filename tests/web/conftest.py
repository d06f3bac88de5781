import sys
from pathlib import Path

import pytest

# a small farm in simulated time is written down once, beside the tests of seasons
sys.path.append(str(Path(__file__).parents[1] / "season"))

from web_cases import Web, plan_once


@pytest.fixture(scope="session")
def planned(tmp_path_factory):
    """A folder with a farm that has its first plan; never written to."""
    return plan_once(tmp_path_factory.mktemp("planned"))


@pytest.fixture
def web(tmp_path, planned):
    """A planned farm that is served."""
    with Web(tmp_path, planned).served() as served:
        yield served
