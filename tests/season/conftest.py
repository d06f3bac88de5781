import sys
from pathlib import Path

import pytest

# services on loopback and weather are written down once, beside the tests of sources and of the planner
sys.path.append(str(Path(__file__).parents[1] / "weather"))
sys.path.append(str(Path(__file__).parents[1] / "planning"))


@pytest.fixture(autouse=True)
def _quick_plans(monkeypatch):
    from season_cases import remember_plans

    remember_plans(monkeypatch)
