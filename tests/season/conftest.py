import pytest


@pytest.fixture(autouse=True)
def _quick_plans(monkeypatch):
    from season_cases import remember_plans

    remember_plans(monkeypatch)
