"""The types of single settings: what a grower writes on the left, an immutable metric value on the right."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from math import isfinite
from typing import Annotated, NamedTuple
from zoneinfo import ZoneInfo, available_timezones

from pydantic import BeforeValidator, Field, PlainSerializer, PlainValidator, Strict, ValidationInfo
from pydantic_core import PydanticCustomError

from dawnbrew.errors import BadMoment, BadQuantity
from dawnbrew.farm.faults import Fault, below, faults_of, found, refusal, refuse
from dawnbrew.farm.hours import ClockSpan, Day, read_quiet, read_week
from dawnbrew.farm.names import bad_character, named, nearest
from dawnbrew.moments import LAST_YEAR, parse_day
from dawnbrew.quantities import Kind, example_of, need_of, parse, parse_one_of, parse_ratio

LONGEST_NAME = 80
"""Characters of a name; a phone shows fewer."""

BREW_EXAMPLE = 'ingredients = { potatoes = "2.27 kg", "sea salt" = "113 g" }'
"""What goes into a brew, as it is written."""

FERMENT_EXAMPLE = 'ingredients = { nettles = "10 kg", comfrey = "5 kg" }'
"""What goes into a ferment, as it is written."""

_DAY_MIN = 24 * 60

# Answer for what the machine is set to, so they would differ from one machine to the next.
_NO_ZONES = frozenset({"localtime", "posixrules", "Factory"})


@dataclass(frozen=True)
class DayRange:
    """Farm days from one to another, both included."""

    from_on: date
    until_on: date


class RecipePart(NamedTuple):
    """One ingredient for the recipe's volume; `amount` in kg where `kind` is "mass", in L where "volume"."""

    name: str
    amount: float
    kind: Kind


def _measure(kind: Kind, least: float | None = None, most: float | None = None) -> BeforeValidator:
    """Return the reader of a quantity; `least` and `most` in the unit of its kind."""

    def read(value: object, info: ValidationInfo) -> float:
        number = _parsed(value, kind, info)
        if (least is not None and number < least) or (most is not None and number > most):
            raise refuse(
                got=found(value),
                need=f"{need_of(kind)} that a farm can have is needed",
                fix=f"Look for a slip in the number or its unit; written e.g. {example_of(kind)}.",
            )
        return number

    return BeforeValidator(read)


def _parsed(value: object, kind: Kind, info: ValidationInfo) -> float:
    if not isinstance(value, str):
        raise _not_text(value, kind)
    try:
        return parse(value, kind, imperial=_is_imperial(info))
    except BadQuantity as error:
        raise refuse(error.got, error.need, error.fix) from None


def _is_imperial(info: ValidationInfo) -> bool:
    return isinstance(info.context, Mapping) and info.context.get("units") == "imperial"


def _not_text(value: object, kind: Kind) -> PydanticCustomError:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return refuse(
            got=f"{value}, a number without a unit",
            need=f"{need_of(kind)} is needed",
            fix=f"Write the number and its unit in quotes, e.g. {example_of(kind)}.",
        )
    return refuse(found(value), f"{need_of(kind)} is needed", f"Write it in quotes, e.g. {example_of(kind)}.")


def _read_text(value: object) -> str:
    if not isinstance(value, str):
        raise refuse(found(value), "a text is needed", 'Write it in quotes, e.g. "North bed".')
    control = bad_character(value)
    if control is not None:
        raise refuse(
            got=f"a text that holds the control character {control}",
            need="a text may hold letters, signs and line ends, but no other control characters",
            fix="Delete that character and write the text again by hand.",
        )
    return value


def _read_name(value: object) -> str:
    text = _read_text(value)
    if not text.strip():
        raise refuse(found(text), "a name is needed", 'Give it a short name, e.g. name = "North bed".')
    if len(text) > LONGEST_NAME:
        raise refuse(
            f"{found(text)}, {len(text)} characters", f"a name has at most {LONGEST_NAME}", "Shorten it."
        )
    return text


def _read_number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise refuse(found(value), "a plain number is needed", "Write the number without quotes, e.g. 51.5.")
    if not isfinite(value):
        raise refuse(found(value), "a finite number is needed", "Write a number, e.g. 51.5.")
    return float(value)


def _read_day(value: object) -> date:
    if isinstance(value, datetime):
        raise refuse(found(value), "a day is needed, without a time", "Write e.g. 2027-04-20.")
    if isinstance(value, date):
        return _checked_day(value, value.isoformat())
    if isinstance(value, str):
        return _checked_day(_parsed_day(value), value)
    raise refuse(found(value), "a day is needed", "Write year-month-day, e.g. 2027-04-20.")


def _parsed_day(text: str) -> date:
    try:
        return parse_day(text.strip())
    except BadMoment as error:
        raise refuse(f'"{text}", {error.got}', error.need, error.fix) from None


def _checked_day(on: date, text: str) -> date:
    if not 2000 <= on.year <= LAST_YEAR:
        raise refuse(
            text, f"a day between 2000 and {LAST_YEAR} is needed", "Look at the year; write e.g. 2027-04-20."
        )
    return on


def _read_day_range(value: object) -> DayRange:
    if isinstance(value, str) and ".." in value:
        first, _, last = value.partition("..")
        span = DayRange(_read_day(first), _read_day(last))
        if span.until_on < span.from_on:
            raise refuse(found(value), "the first day comes before the last", "Exchange the two days.")
        return span
    day = _read_day(value)
    return DayRange(day, day)


def _read_zone(value: object) -> ZoneInfo:
    if isinstance(value, ZoneInfo):
        return value
    text = value if isinstance(value, str) else ""
    if re.fullmatch(r"[A-Za-z][A-Za-z0-9_+-]*(?:/[A-Za-z0-9_+-]+)*", text) and text not in _NO_ZONES:
        try:
            return ZoneInfo(text)
        except (OSError, ValueError, LookupError):
            pass
    near = nearest(text.replace(" ", "_"), available_timezones() - _NO_ZONES)
    raise refuse(
        got=found(value),
        need="the name of a time zone is needed, as an area and a city",
        fix=f'Perhaps "{near}" is meant.' if near else 'Write e.g. "Europe/Berlin" or "America/New_York".',
    )


def _read_parts(first: str, second: str) -> Callable[[object], float]:
    """Return the reader of a ratio that answers the parts of water to one part of the other side."""
    water_first = first == "water"
    example = "20:1" if water_first else "1:50"
    need = f"a ratio is needed, first the parts of {first}, then of {second}"

    def read(value: object) -> float:
        if not isinstance(value, str):
            raise refuse(found(value), need, f'Write it in quotes, e.g. "{example}".')
        try:
            left, right = parse_ratio(value)
        except BadQuantity as error:
            raise refuse(error.got, need, f'Write e.g. "{example}".') from None
        parts = left / right if water_first else right / left
        if parts < 1:
            raise refuse(
                f"{found(value)}, more {'brew' if water_first else first} than water", need,
                f'Exchange the two sides; write e.g. "{example}".',
            )  # fmt: skip
        if parts > 10_000:
            raise refuse(found(value), need, f'Look for a slip; write e.g. "{example}".')
        return parts

    return read


def _read_whole_days(value: object, info: ValidationInfo) -> int:
    days = _parsed(value, "duration", info) / _DAY_MIN
    if abs(days - round(days)) > 1e-9:
        raise refuse(found(value), "a number of whole days is needed", 'Write e.g. "7 days" or "1 week".')
    if days > 366:
        raise refuse(found(value), "at most 366 days are possible", 'Write e.g. "7 days".')
    return round(days)


_INTERVAL = re.compile(r" *(\d{1,3}) */ *(\d{1,3}) *(?:days)? *", re.ASCII)


def _read_interval(value: object, info: ValidationInfo) -> tuple[int, int] | None:
    if value is None or (isinstance(value, str) and value.strip().casefold() == "none"):
        return None
    both = _INTERVAL.fullmatch(value) if isinstance(value, str) else None
    if both is not None:
        off_soil, on_soil = int(both[1]), int(both[2])
        if off_soil <= on_soil <= 366:
            return off_soil, on_soil
    elif isinstance(value, str):
        try:
            days = _read_whole_days(value, info)
        except PydanticCustomError:
            pass
        else:
            return days, days
    raise refuse(
        got=found(value),
        need='days before harvest are needed: "90/120" (edible part off the soil / touching it), one number '
        'of days, or "none"',
        fix='Write e.g. harvest_interval = "90/120" or "60 days".',
    )


def _read_ingredients(value: object, info: ValidationInfo) -> tuple[RecipePart, ...]:
    return _read_amounts(value, info, BREW_EXAMPLE)


def _read_plants(value: object, info: ValidationInfo) -> tuple[RecipePart, ...]:
    return _read_amounts(value, info, FERMENT_EXAMPLE)


def _read_amounts(value: object, info: ValidationInfo, example: str) -> tuple[RecipePart, ...]:
    if not isinstance(value, Mapping) or not value:
        raise refuse(
            found(value), "a table of ingredients is needed, each with its amount", f"Write e.g. {example}."
        )
    faults: list[Fault] = []
    parts = []
    for name, amount in value.items():
        try:
            if not isinstance(amount, str):
                raise _not_text(amount, "mass")
            measured, kind = parse_one_of(amount, ("mass", "volume"), imperial=_is_imperial(info))
            parts.append(RecipePart(_read_name(name), measured, kind))
        except BadQuantity as error:
            faults.append(Fault(error.got, error.need, error.fix, (name,)))
        except PydanticCustomError as error:
            faults += [below(fault, name) for fault in faults_of(error)]
    if faults:
        raise refusal(faults)
    return tuple(parts)


def _read_channels(value: object) -> tuple[str, ...]:
    # what is wrong with a name is told with the name, and a URL must not be
    if any("://" in one for one in ([value] if isinstance(value, str) else _texts_of(value))):
        raise refuse(
            "a URL",
            "a person's channels are names of channels",
            'Give the URL a name under [[channels]] and write that name here, e.g. channels = ["mail"].',
        )
    return _read_list(value, least=0)


def _texts_of(value: object) -> list[str]:
    return [one for one in value if isinstance(one, str)] if isinstance(value, list | tuple) else []


def _read_names(value: object) -> tuple[str, ...]:
    return _read_list(value, least=1)


def _read_skills(value: object) -> tuple[str, ...]:
    return _read_list(value, least=0)


def _read_list(value: object, least: int) -> tuple[str, ...]:
    if isinstance(value, str):
        return (_read_name(value),)
    if not isinstance(value, list | tuple) or len(value) < least:
        raise refuse(found(value), "a name or a list of names is needed", 'Write "a" or ["a", "b"].')
    faults: list[Fault] = []
    names: list[str] = []
    for item in value:
        try:
            names.append(_read_name(item))
        except PydanticCustomError as error:
            faults += faults_of(error)
    if len({name.casefold() for name in names}) < len(names):
        faults.append(Fault(named(names), "each name may be listed once", "Delete what is there twice."))
    if faults:
        raise refusal(faults)
    return tuple(names)


def _interval_text(interval: tuple[int, int] | None) -> str:
    return "none" if interval is None else f"{interval[0]}/{interval[1]}"


Text = Annotated[str, BeforeValidator(_read_text)]
"""Any text, without control characters other than newline and tab; may be empty."""

Name = Annotated[str, BeforeValidator(_read_name)]
"""1 to 80 characters, not blank, without control characters other than newline and tab."""

Number = Annotated[float, BeforeValidator(_read_number)]
"""A finite plain number; neither text nor true or false."""

Whole = Annotated[int, Strict()]
"""A whole plain number; neither text nor true or false."""

Flag = Annotated[bool, Strict()]
"""true or false, nothing else."""

FarmDay = Annotated[date, BeforeValidator(_read_day)]
"""A farm day from 2000 to 2199, as a TOML date or in quotes."""

AreaM2 = Annotated[float, _measure("area", most=1e7)]
"""An area above zero, at most 1000 ha. [m2]"""

LengthM = Annotated[float, _measure("length", most=10_000)]
"""A length above zero, at most 10 km. [m]"""

LEAST_BALL_M, MOST_BALL_M = 0.02, 4.0
"""Root balls beyond these are a slip of the pen: a plug tray has 2 cm; from memory. [m]"""

RootBallM = Annotated[float, _measure("length", least=LEAST_BALL_M, most=MOST_BALL_M)]
"""Width of a root ball from 2 cm to 4 m. [m]"""

Litres = Annotated[float, _measure("volume", least=0.05, most=1e6)]
"""A volume from 50 mL to 1000 m3. [L]"""

LitresPerMinute = Annotated[float, _measure("flow", least=0.01, most=10_000)]
"""A flow from 10 mL/min. [L/min]"""

LitresPerSquareMetre = Annotated[float, _measure("rate", most=100)]
"""An amount per area above zero, at most 100 mm. [L/m2]"""

KilometresPerHour = Annotated[float, _measure("speed", most=150)]
"""A wind from nought to a gale. [km/h]"""

Minutes = Annotated[float, _measure("duration", most=60 * _DAY_MIN)]
"""A length of time, zero to 60 days. [min]"""

CelsiusPoint = Annotated[float, _measure("temperature", least=-50, most=100)]
"""A temperature from -50 to 100 degrees. [C]"""

CelsiusSpan = Annotated[float, _measure("temperature span", least=-20, most=40)]
"""A difference of temperatures from -20 to 40 degrees. [C]"""

BrewPerWater = Annotated[float, BeforeValidator(_read_parts("brew", "water"))]
"""`1:50`: parts of water to one part of brew, at least 1. [unitless]"""

FermentPerWater = Annotated[float, BeforeValidator(_read_parts("ferment", "water"))]
"""`1:50`: parts of water to one part of ferment, at least 1. [unitless]"""

WaterPerBrew = Annotated[float, BeforeValidator(_read_parts("water", "brew"))]
"""`20:1`: parts of water to one part of brew, at least 1. [unitless]"""

WholeDays = Annotated[int, BeforeValidator(_read_whole_days)]
"""Whole days, zero to 366. [days]"""

DaySpan = Annotated[DayRange, PlainValidator(_read_day_range)]
"""One farm day, or a first and a last one with two points between."""

WeekHours = Annotated[tuple[Day, ...], PlainValidator(read_week)]
"""Seven days, Monday first, each a row of clock spans."""

QuietTimes = Annotated[Day, PlainValidator(read_quiet)]
"""Spans of the clock, the same on every day; may be empty."""

Zone = Annotated[
    ZoneInfo, PlainValidator(_read_zone), PlainSerializer(lambda zone: zone.key, return_type=str)
]
"""An IANA time zone."""

HarvestInterval = Annotated[
    tuple[int, int] | None, PlainValidator(_read_interval), PlainSerializer(_interval_text, return_type=str)
]
"""Days before harvest where the edible part is off the soil, where it touches it; None for none. [days]"""

Ingredients = Annotated[tuple[RecipePart, ...], PlainValidator(_read_ingredients)]
"""Ingredients in the order of the file."""

Plants = Annotated[tuple[RecipePart, ...], PlainValidator(_read_plants)]
"""Ingredients of a ferment in the order of the file."""

Names = Annotated[tuple[str, ...], PlainValidator(_read_names)]
"""One name or several, each once."""

Skills = Annotated[tuple[str, ...], PlainValidator(_read_skills)]
"""Names of skills, each once; may be empty."""

ChannelNames = Annotated[tuple[str, ...], PlainValidator(_read_channels)]
"""Names of channels, each once; may be empty."""

Count = Annotated[Whole, Field(ge=1)]
"""A whole number of things, at least one."""

__all__ = [
    "AreaM2", "BrewPerWater", "CelsiusPoint", "CelsiusSpan", "ChannelNames", "ClockSpan", "Count",
    "DaySpan", "FarmDay", "FermentPerWater", "Flag", "HarvestInterval", "Ingredients",
    "KilometresPerHour", "LengthM", "Litres",
    "LitresPerMinute", "LitresPerSquareMetre", "Minutes", "Name", "Names", "Number", "QuietTimes",
    "RecipePart", "RootBallM", "Skills", "Text", "WaterPerBrew", "WeekHours", "Whole", "WholeDays", "Zone",
]  # fmt: skip
