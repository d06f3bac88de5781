"""The eight questions of `dawnbrew init`: their words, their defaults, and how an answer is read."""

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from dawnbrew.cli.faults import BadRequest
from dawnbrew.errors import BadQuantity
from dawnbrew.farm.first_farm import FirstFarm
from dawnbrew.farm.names import bad_character, nearest
from dawnbrew.farm.zone_places import zone_place
from dawnbrew.moments import Instant, farm_day, parse_day
from dawnbrew.nature.usual_air import guessed_air, months_between
from dawnbrew.quantities import Units, parse

FALLBACK_ZONE = "Europe/London"
"""Where the machine counts in UTC, as servers do, it does not tell where its farm is."""

PLANTED_IN_D = 42
"""A month of treatments before planting, and a batch before the first; common practice. [days]"""

WARM_C = 12.0
"""A brew takes five days at it, so that the first can be ripe a month before the planting. [°C]"""

GUESSED = "a guess by latitude, which knows nothing of coasts and hills"
GIVEN = "the coldest and the warmest month as you gave them"

MOST_VESSELS = 50
"""As the farm file has it."""

_NUMBER = r"[-+]?\d+(?:\.\d+)?"

_VESSELS = r"\s*(?:(\d{1,3})\s*(?:[^\W\d_]+\s+){0,2}?(?:[x×*]|of\b)\s*)?(.+?)(?:\s+each)?\s*"
"""How many, what they are called, and what one holds: `2 x 200 L`, `2 blue barrels of 55 gal each`."""

MOST_NAME = 80

US_COUNTRIES = frozenset({"US", "PR", "VI", "GU", "AS", "MP"})
"""Where gallons and degrees Fahrenheit are what people count in."""


@dataclass(frozen=True)
class Answers:
    """What was answered so far, by question.

    Args:
        now: When it is asked.
        told: The answers as they were read.
    """

    now: Instant
    told: Mapping[str, Any] = field(default_factory=dict)

    @property
    def today_on(self) -> date:
        """The farm day on which it is asked, the day in UTC before the zone is known."""
        return farm_day(self.now, ZoneInfo(self.told.get("zone", "UTC")))

    @property
    def months(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Lows and highs of the twelve months, in the unit that was written; a guess in whole degrees."""
        air = self.told["air"]
        lows, highs = months_between(air.coldest, air.warmest, is_south=self.told["place"][0] < 0)
        if not self.is_guess:
            return lows, highs
        return tuple(round(low) for low in lows), tuple(round(high) for high in highs)

    @property
    def is_guess(self) -> bool:
        """Whether the temperatures are those that nobody gave."""
        return bool(self.told["air"] == read_air(default_air(self), self))

    @property
    def is_us(self) -> bool:
        """Whether the defaults are in gallons and °F."""
        place = zone_place(self.told.get("zone", ""))
        return place is not None and place.country in US_COUNTRIES

    @property
    def units(self) -> Units:
        """The units of the farm: those of its vessels."""
        return "us" if self.told["vessels"].is_us else "metric"

    def whole(self) -> FirstFarm:
        """Return the farm of eight answers."""
        told, (lows, highs) = self.told, self.months
        return FirstFarm(
            name=told["name"], latitude=told["place"][0], longitude=told["place"][1], timezone=told["zone"],
            units=self.units, unit=told["air"].unit, lows=lows, highs=highs,
            air_words=GUESSED if self.is_guess else GIVEN,
            vessels=told["vessels"].count, volume=told["vessels"].volume, bed=told["bed"], size=told["size"],
            planting_on=told["planting"],
        )  # fmt: skip


@dataclass(frozen=True)
class Air:
    """Mean low and high of the coldest and the warmest month, in C or F."""

    coldest: tuple[float, float]
    warmest: tuple[float, float]
    unit: str


@dataclass(frozen=True)
class Vessels:
    """How many vessels, and what one holds as it was written."""

    count: int
    volume: str
    is_us: bool


@dataclass(frozen=True)
class Question:
    """One question.

    Args:
        key: Its option on the command line, without the dashes.
        words: What is asked.
        default: The answer that is taken where none is given, by what was answered before.
        read: Returns what an answer means. Errors: DawnbrewError.
    """

    key: str
    words: str
    default: Callable[[Answers], str]
    read: Callable[[str, Answers], Any]


def machine_zone() -> str:
    """Return the time zone of this machine where it belongs to a place, else `FALLBACK_ZONE`."""
    named = os.environ.get("TZ", "").removeprefix(":")
    link = Path("/etc/localtime")
    linked = str(link.resolve()).rpartition("zoneinfo/")[2] if link.is_symlink() else ""
    return next((one for one in (named, linked) if zone_place(one) is not None), FALLBACK_ZONE)


def read_name(text: str, _: Answers) -> str:
    """Return a name. Errors: BadRequest."""
    name = " ".join(text.split())
    if not name or len(name) > MOST_NAME or bad_character(name) or not name.isprintable():
        raise _refused(
            text, f"a name is 1 to {MOST_NAME} letters and signs that can be seen", "Write a shorter one."
        )
    return name


def read_zone(text: str, _: Answers) -> str:
    """Return the name of a time zone; case does not count. Errors: BadRequest."""
    by_key = {zone.casefold(): zone for zone in available_timezones() if "/" in zone or zone == "UTC"}
    wanted = text.strip().casefold().replace(" ", "_")
    if wanted in by_key:
        return by_key[wanted]
    town = next((zone for key, zone in sorted(by_key.items()) if key.endswith(f"/{wanted}")), None)
    if town is not None and zone_place(town) is not None:
        return town
    near = nearest(text, by_key.values())
    fix = f"Perhaps '{near}' is meant." if near else "Write e.g. Europe/Dublin or America/Los_Angeles."
    raise _refused(text, "a time zone by its name", fix)


def read_place(text: str, _: Answers) -> tuple[float, float]:
    """Return latitude and longitude in degrees. Errors: BadRequest."""
    numbers = [float(one) for one in re.findall(_NUMBER, text)]
    odd = re.sub(rf"{_NUMBER}|[\s,;]", "", text)
    if len(numbers) == 2 and not odd and abs(numbers[0]) <= 90 and abs(numbers[1]) <= 180:
        return numbers[0], numbers[1]
    raise _refused(
        text, "latitude and longitude in degrees, north and east positive, south and west with a minus",
        "Write e.g. 53.1, -7.6; a map program shows both.",
    )  # fmt: skip


def default_place(answers: Answers) -> str:
    """Return where the chief town of the zone lies."""
    place = zone_place(answers.told["zone"]) or zone_place(FALLBACK_ZONE)
    assert place is not None
    return f"{place.latitude:g}, {place.longitude:g}"


def default_air(answers: Answers) -> str:
    """Return a guess by latitude."""
    coldest, warmest = guessed_air(answers.told["place"][0])
    unit = "F" if answers.is_us else "C"
    shown = [round(one * 9 / 5 + 32) if unit == "F" else one for one in (*coldest, *warmest)]
    return f"{' '.join(f'{one:g}' for one in shown)} {unit}"


def read_air(text: str, answers: Answers) -> Air:
    """Return four temperatures; °C or °F where the unit is not written. Errors: BadRequest."""
    match = re.fullmatch(rf"\s*({_NUMBER}(?:[\s,;]+{_NUMBER}){{3}})\s*°?\s*([CcFf]?)\s*", text)
    if match is not None:
        unit = match[2].upper() or ("F" if answers.is_us else "C")
        low, high, warm_low, warm_high = (float(one) for one in re.findall(_NUMBER, match[1]))
        if low <= high and warm_low <= warm_high and low <= warm_low and high <= warm_high:
            return Air((low, high), (warm_low, warm_high), unit)
    raise _refused(
        text,
        "four temperatures: low and high of the coldest month, then of the warmest",
        "Write e.g. 2 8 11 19 C.",
    )


def read_vessels(text: str, _: Answers) -> Vessels:
    """Return how many vessels of which volume: `2 x 200 L`, `2 barrels of 55 gal`, `55 gal`.

    Errors: BadRequest, BadQuantity.
    """
    match = re.fullmatch(_VESSELS, text, re.IGNORECASE)
    if match is None or not 1 <= int(match[1] or 1) <= MOST_VESSELS:
        raise _refused(text, f"1 to {MOST_VESSELS} vessels and what one holds", "Write e.g. 2 x 200 L.")
    try:
        parse(match[2], "volume")
    except BadQuantity as fault:
        fix = f"{fault.fix} How many comes first: 2 x 200 L."
        raise BadQuantity(where=fault.where, got=fault.got, need=fault.need, fix=fix) from None
    return Vessels(int(match[1] or 1), match[2], re.search(r"gal|qt|quart|pt|pint|oz", match[2]) is not None)


def read_size(text: str, _: Answers) -> str:
    """Return an area as it was written; `12 m x 1.2 m` becomes one. Errors: BadQuantity."""
    sides = re.split(r"\s+(?:x|×|by)\s+", text.strip(), flags=re.IGNORECASE)
    if len(sides) == 2:
        area_m2 = parse(sides[0], "length") * parse(sides[1], "length")
        if re.search(r"ft|feet|foot|in|yd|yard", text):
            return f"{area_m2 / parse('1 ft2', 'area'):.4g} ft2"
        return f"{area_m2:.4g} m2"
    parse(text, "area")
    return " ".join(text.split())


def default_planting(answers: Answers) -> str:
    """Return the first day with a month before it that is warm enough, else the one with the warmest."""
    days = [answers.today_on + timedelta(days=PLANTED_IN_D + n) for n in range(366)]
    warmth = {on: _mean_c(on - timedelta(days=30), answers) for on in days}
    warm = (on for on in days if warmth[on] >= WARM_C)
    return str(next(warm, max(days, key=lambda on: warmth[on])))


def _mean_c(on: date, answers: Answers) -> float:
    lows, highs = answers.months
    mean = (lows[on.month - 1] + highs[on.month - 1]) / 2
    return (mean - 32) * 5 / 9 if answers.told["air"].unit == "F" else mean


def read_planting(text: str, answers: Answers) -> date:
    """Return a day that is not over. Errors: BadMoment, BadRequest."""
    on = parse_day(text.strip())
    if on < answers.today_on:
        raise _refused(
            text, f"a planting that is still to come, {answers.today_on} or later", "Look at the year."
        )
    return on


QUESTIONS = (
    Question("name", "What is the farm called?", lambda _: "My farm", read_name),
    Question(
        "zone", "In which time zone is it? A large town near it will do.", lambda _: machine_zone(),
        read_zone,
    ),
    Question(
        "place", "Where is it? Latitude and longitude in degrees; the sun goes by them.", default_place,
        read_place,
    ),
    Question(
        "air", "How cold and how warm? Low and high of the coldest month, then of the warmest.",
        default_air, read_air,
    ),
    Question(
        "vessels", "What do you brew in? How many vessels, and what one holds.",
        lambda answers: "1 x 55 gal" if answers.is_us else "1 x 200 L", read_vessels,
    ),
    Question(
        "bed", "What is your first bed called, or row, or bench?", lambda _: "First bed", read_name
    ),
    Question(
        "size", "How large is it? An area, or length x width.",
        lambda answers: "400 ft2" if answers.told["vessels"].is_us else "40 m2", read_size,
    ),
    Question("planting", "When is it planted? Treatments begin a month before.", default_planting,
             read_planting),
)  # fmt: skip
"""In the order in which they are asked: a default may go by the answers before it."""


def _refused(text: str, need: str, fix: str) -> BadRequest:
    return BadRequest(where="the answer", got=f"'{text}'" if text.strip() else "nothing", need=need, fix=fix)


def of_option(question: Question, text: str, answers: Answers) -> Any:
    """Return what the option of a question means. Errors: BadRequest, BadQuantity, BadMoment."""
    try:
        return question.read(text, answers)
    except (BadRequest, BadQuantity) as fault:
        raise type(fault)(where=f"--{question.key}", got=fault.got, need=fault.need, fix=fault.fix) from None
