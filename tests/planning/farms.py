"""Random and hand-made farms for the tests of the planner."""

from datetime import date, timedelta

import tomlkit
from hypothesis import strategies as st

from dawnbrew.farm.read import parse_farm

MILD = {
    "lows": [3, 3, 4, 6, 9, 12, 14, 14, 12, 9, 6, 4],
    "highs": [8, 8, 11, 14, 18, 21, 24, 24, 20, 15, 11, 8],
}
WARM = {
    "lows": [14, 15, 17, 20, 22, 24, 24, 24, 23, 20, 17, 15],
    "highs": [24, 25, 28, 31, 33, 34, 34, 34, 33, 31, 28, 25],
}
FIRST_ON = date(2027, 3, 1)


def base(**tables):
    """Return a farm as a dictionary: one drum, one bed planted on 20 April, everything else by default."""
    farm = {
        "farm": {"name": "Test farm", "latitude": 47.0, "longitude": 8.0, "timezone": "Europe/Zurich"},
        "climate": MILD,
        "vessels": [{"name": "drum", "volume": "200 L"}],
        "programs": [{"name": "weekly", "before": 4, "on": 1, "after": 1}],
        "beds": [{"name": "Bed 1", "area": "40 m2", "program": "weekly", "planting": date(2027, 4, 20)}],
    }
    return farm | tables


def read(declared):
    """Return the farm that a dictionary declares, through the same door as a file."""
    return parse_farm(tomlkit.dumps(declared), "farm.toml")


@st.composite
def farms(draw):
    """Return farms of every kind that the laws must hold for: short of hands, vessels, water and time."""
    vessels = [
        {
            "name": f"vessel {n}",
            "volume": f"{draw(st.sampled_from([20, 60, 120, 200]))} L",
            "count": draw(st.integers(1, 3)),
            **draw(st.sampled_from([{}, {"insulated": True}, {"heated_to": "20 C"}, {"water_from": "tank"}])),
            "water_stands": draw(st.sampled_from(["12 h", "24 h"])),
        }
        for n in range(draw(st.integers(1, 2)))
    ]
    people = [
        {
            "name": f"person {n}",
            "hours": draw(
                st.sampled_from(
                    [
                        "05:30-21:30",
                        "06:00-09:00",
                        "06:30-08:00, 17:00-20:30",
                        {"weekdays": "17:30-21:00", "weekend": "06:00-12:00"},
                    ]
                )
            ),
        }
        for n in range(draw(st.integers(1, 3)))
    ]
    programs = [
        {"name": "weekly", "before": draw(st.integers(0, 4)), "on": 1, "after": draw(st.integers(0, 2))},
        {
            "name": "rounds",
            "from": date(2027, 4, 5),
            "until": date(2027, 5, 20),
            "every": f"{draw(st.integers(5, 14))} days",
            "tolerance": f"{draw(st.integers(0, 3))} days",
        },
    ]
    gear = [
        {
            "name": "pump",
            "methods": ["drench", "mist", "drip", "hole"],
            "flow": "12 L/min",
            "sets": draw(st.integers(1, 2)),
            "outlet": "nozzle",
            "nozzle": draw(st.sampled_from(["coarse", "fine"])),
        }
    ]
    beds = [
        {
            "name": f"Bed {n}",
            "area": f"{draw(st.sampled_from([8, 40, 90, 300]))} m2",
            "program": draw(st.sampled_from(["weekly", "rounds"])),
            "planting": FIRST_ON + timedelta(days=draw(st.integers(5, 70))),
            "method": draw(st.sampled_from(["drench", "mist", "drip", "hole"])),
            "cover": draw(st.sampled_from(["none", "mulch"])),
            "edible": draw(st.booleans()),
        }
        for n in range(draw(st.integers(1, 5)))
    ]
    return base(
        climate=draw(st.sampled_from([MILD, WARM])),
        tanks=[{"name": "tank", "volume": f"{draw(st.sampled_from([200, 400]))} L"}],
        vessels=vessels,
        people=people,
        programs=programs,
        gear=gear,
        beds=beds,
        rules={"neighbours_sensitive": draw(st.booleans())},
    )


@st.composite
def fed_farms(draw):
    """Return farms like those, some of whose programs take ferment, with brew or alone."""
    declared = draw(farms())
    barrel = {"name": "barrel", "per": "10 L", "ingredients": {"nettles": "1 kg"}}
    volume, steeps = draw(st.sampled_from([3, 20, 90])), draw(st.integers(10, 40))
    for program in declared["programs"]:
        program |= {"ferment": "1:50", "takes": draw(st.sampled_from(["both", "ferment"]))}
    return declared | {"ferments": [barrel | {"volume": f"{volume} L", "steeps": f"{steeps} days"}]}
