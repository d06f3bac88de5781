"""A farm with every kind of gear, and treatments of it as a plan would hold them."""

from datetime import UTC, date, datetime, timedelta

import tomlkit

from dawnbrew.farm.read import parse_farm
from dawnbrew.moments import instant
from dawnbrew.planning.plan import Draw, Plan, Treatment
from dawnbrew.planning.planner import make_plan

AT = instant(datetime(2027, 3, 1, 6, tzinfo=UTC))

GEAR = {
    "can": {"methods": ["drench", "hole"], "flow": "10 L/min", "outlet": "can", "reservoir": "10 L"},
    "tank": {"methods": ["drench", "mist"], "flow": "20 L/min", "reservoir": "100 L", "water_source": "well"},
    "tubless": {"methods": ["drench", "mist"], "flow": "20 L/min", "water_source": "rain"},
    "siphon": {"methods": ["injector"], "flow": "12 L/min", "injector": "20:1", "water_source": "rain"},
    "nameless siphon": {"methods": ["injector"], "flow": "12 L/min", "reservoir": "5 L"},
    "cart": {
        "methods": ["drench"], "flow": "15 L/min", "reservoir": "60 L", "self_filling": True,
        "water_source": "mains with chloramine",
    },
    "line": {"methods": ["drip"], "flow": "6 L/min", "outlet": "line", "water_source": "rain"},
}  # fmt: skip


def farm(**tables):
    """Return a farm that has all this gear, one bed each of ground, trees and pots, and what is asked for."""
    declared = {
        "farm": {"name": "Marl Hollow", "latitude": 47.0, "longitude": 8.0, "timezone": "Europe/Zurich"},
        "climate": {
            "lows": [3, 3, 4, 6, 9, 12, 14, 14, 12, 9, 6, 4],
            "highs": [8, 8, 11, 14, 18, 21, 24, 24, 20, 15, 11, 8],
        },
        "vessels": [{"name": "drum", "volume": "200 L"}],
        "gear": [{"name": name} | parts for name, parts in GEAR.items()],
        "beds": [
            {"name": "Ground", "area": "40 m2", "program": "weekly", "planting": date(2027, 4, 20)},
            {
                "name": "Trees",
                "trees": 12,
                "spread": "3 m",
                "program": "weekly",
                "planting": date(2027, 4, 20),
            },
            {"name": "Pots", "pots": 50, "pot": "2 L", "program": "weekly", "planting": date(2027, 4, 20)},
        ],
    }
    return parse_farm(tomlkit.dumps(declared | tables), "farm.toml")


def treatment(bed="Ground", method="drench", gear="tank", brew_l=20.0, water_l=100.0, **parts):
    """Return one planned treatment."""
    values = {
        "id": f"{bed}.{method}", "bed": bed, "crop": "", "program": "weekly", "step": "before", "number": 1,
        "of": 4, "method": method, "gear": gear, "state": "planned", "asked_on": date(2027, 4, 1),
        "ideal_on": date(2027, 4, 1), "due_from": date(2027, 4, 1), "due_until": date(2027, 4, 2),
        "slot": "2027-04-01-morning", "batches": (Draw(batch="b1", litres=brew_l),), "brew_l": brew_l,
        "water_l": water_l, "ferment_l": 0.0, "minutes": 30.0,
        "work_from": instant(AT + timedelta(days=31)),
        "work_until": instant(AT + timedelta(days=31, minutes=30)),
        "people": ("you",), "cautions": (),
    }  # fmt: skip
    return Treatment(**(values | parts))


_EMPTY = {}


def plan_of(*treatments, vessel="drum") -> Plan:
    """Return a plan that holds these treatments and one batch, b1, of 200 L."""
    if "made" not in _EMPTY:
        _EMPTY["made"] = make_plan(
            farm(), from_on=date(2027, 3, 20), until_on=date(2027, 4, 1), made_at=AT
        ).plan
    made = _EMPTY["made"]
    batch = made.batches[0].model_copy(update={"id": "b1", "vessel": vessel, "volume_l": 200.0})
    return made.model_copy(update={"treatments": treatments, "batches": (batch,)})
