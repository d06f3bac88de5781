"""Quantities as a grower writes them, `NUMBER UNIT` from a closed list, and as a grower reads them."""

import re
from collections.abc import Iterable, Sequence
from decimal import Decimal
from difflib import get_close_matches
from math import isfinite
from typing import Literal

from dawnbrew.errors import BadQuantity

Units = Literal["metric", "us", "imperial"]
"""Unit system of a farm; decides what `gal`, `qt`, `pt` and `fl oz` are and how quantities are shown."""

Kind = Literal[
    "volume", "mass", "length", "area", "flow", "rate", "temperature", "temperature span", "duration",
    "speed", "concentration",
]  # fmt: skip
"""What is measured, in: L, kg, m, m2, L/min, L/m2, C, C, min, km/h, mg/L."""

# Exact by definition: NIST Handbook 44, appendix C (US units); UK Weights and Measures Act 1985 (gallon).
_US_GAL_L = 3.785411784
_IMPERIAL_GAL_L = 4.54609
_LB_KG = 0.45359237
_FT_M = 0.3048
_FT2_M2 = 0.09290304
_ACRE_M2 = 4046.8564224
_MILE_KM = 1.609344
_KNOT_KM_H = 1.852
_IN_MM = 25.4

_DAY_MIN = 24 * 60.0

_ARTICLE: dict[Kind, str] = {
    "volume": "a volume", "mass": "a weight", "length": "a length", "area": "an area", "flow": "a flow",
    "rate": "a rate, so much per area", "temperature": "a temperature",
    "temperature span": "a difference of temperature", "duration": "a length of time", "speed": "a speed",
    "concentration": "a reading, so much per litre of water",
}  # fmt: skip

_EXAMPLE: dict[Kind, str] = {
    "volume": '"200 L" or "55 gal"', "mass": '"2.5 kg" or "5 lb"', "length": '"1.2 m" or "4 ft"',
    "area": '"40 m2" or "400 ft2"', "flow": '"15 L/min" or "4 gal/min"', "rate": '"0.5 L/m2" or "5 mm"',
    "temperature": '"18 C" or "64 F"', "temperature span": '"4 C" or "7 F"',
    "duration": '"24 h", "90 min" or "7 days"', "speed": '"15 km/h" or "9 mph"',
    "concentration": '"1.5 mg/L" or "1.5 ppm"',
}  # fmt: skip

_VOLUMES = {
    "L": 1.0, "litre": 1.0, "litres": 1.0, "liter": 1.0, "liters": 1.0,
    "mL": 1e-3, "dL": 0.1, "m3": 1000.0,
}  # fmt: skip
_MASSES = {
    "kg": 1.0, "g": 1e-3, "gram": 1e-3, "grams": 1e-3, "mg": 1e-6, "t": 1000.0,
    "lb": _LB_KG, "lbs": _LB_KG, "pound": _LB_KG, "pounds": _LB_KG,
    "oz": _LB_KG / 16, "ounce": _LB_KG / 16, "ounces": _LB_KG / 16,
}  # fmt: skip
_LENGTHS = {
    "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "cm": 0.01, "mm": 1e-3, "km": 1000.0,
    "ft": _FT_M, "foot": _FT_M, "feet": _FT_M, "in": _IN_MM / 1000, "inch": _IN_MM / 1000,
    "inches": _IN_MM / 1000, "yd": 3 * _FT_M, "yard": 3 * _FT_M, "yards": 3 * _FT_M,
}  # fmt: skip
_AREAS = {
    "m2": 1.0, "sq m": 1.0, "ha": 10_000.0, "ft2": _FT2_M2, "sq ft": _FT2_M2, "yd2": 9 * _FT2_M2,
    "sq yd": 9 * _FT2_M2, "acre": _ACRE_M2, "acres": _ACRE_M2,
}  # fmt: skip
_DURATIONS = {
    "s": 1 / 60, "sec": 1 / 60, "second": 1 / 60, "seconds": 1 / 60,
    "min": 1.0, "minute": 1.0, "minutes": 1.0, "h": 60.0, "hr": 60.0, "hour": 60.0, "hours": 60.0,
    "d": _DAY_MIN, "day": _DAY_MIN, "days": _DAY_MIN, "week": 7 * _DAY_MIN, "weeks": 7 * _DAY_MIN,
}  # fmt: skip
_SPEEDS = {"km/h": 1.0, "m/s": 3.6, "mph": _MILE_KM, "mi/h": _MILE_KM, "kn": _KNOT_KM_H, "knots": _KNOT_KM_H}
_CONCENTRATIONS = {"mg/L": 1.0, "ppm": 1.0, "g/m3": 1.0}  # a part in a million of water is 1 mg in 1 kg
_DEGREES = {"C": 1.0, "°C": 1.0, "F": 5 / 9, "°F": 5 / 9}


def _gallons(gal_l: float, fl_oz_per_gal: int) -> dict[str, float]:
    names = {
        "gal": 1, "gallon": 1, "gallons": 1, "qt": 4, "quart": 4, "quarts": 4, "pt": 8, "pint": 8, "pints": 8,
        "fl oz": fl_oz_per_gal,
    }  # fmt: skip
    return {name: gal_l / parts for name, parts in names.items()}


def _table(gallons: dict[str, float]) -> dict[Kind, dict[str, float]]:
    volumes = _VOLUMES | gallons
    flows = {
        f"{volume}/{per}": factor / _DURATIONS[per]
        for volume, factor in volumes.items()
        for per in ("s", "min", "h")
    }
    flows |= {"gpm": gallons["gal"], "lpm": 1.0}
    rates = {f"{volume}/{per}": factor / _AREAS[per] for volume, factor in volumes.items() for per in _AREAS}
    rates |= {f"gal/100 {per}": gallons["gal"] / (100 * _FT2_M2) for per in ("ft2", "sq ft")}
    rates |= {"mm": 1.0, "in": _IN_MM, "inch": _IN_MM, "inches": _IN_MM}
    return {
        "volume": volumes, "mass": _MASSES, "length": _LENGTHS, "area": _AREAS, "flow": flows, "rate": rates,
        "temperature": _DEGREES, "temperature span": _DEGREES, "duration": _DURATIONS, "speed": _SPEEDS,
        "concentration": _CONCENTRATIONS,
    }  # fmt: skip


_US_TABLE = _table(_gallons(_US_GAL_L, 128))
_IMPERIAL_TABLE = _table(_gallons(_IMPERIAL_GAL_L, 160))

_MAY_BE_ZERO: frozenset[Kind] = frozenset({"duration", "temperature", "temperature span", "concentration"})
_MAY_BE_NEGATIVE: frozenset[Kind] = frozenset({"temperature", "temperature span"})

_LARGEST = 1e9
"""Nothing on a farm is larger, in whatever unit; keeps slips of the pen out of the sums."""

_ABSOLUTE_ZERO_C = -273.15

# Capitals that would change the meaning a million times or more: megalitre, megagram.
_CASE_MATTERS = frozenset({"ML", "Mg", "MG"})

_NUMBER = re.compile(
    r"(?P<whole>\d{1,15}) (?P<top>\d{1,6})/(?P<bottom>\d{1,6})|(?P<a>\d{1,6})/(?P<b>\d{1,6})"
    r"|(?P<decimal>\d{1,15}(?:\.\d{1,30})?|\.\d{1,30})",
    re.ASCII,
)
_SPLIT = re.compile(r"(?P<sign>[-+]?) ?(?P<number>[\d.,/ ]*\d|[\d.,/]*)(?P<unit>.*)", re.ASCII | re.DOTALL)
_TERM = re.compile(r"([\d./ ]*\d) ?([^\d./ ]+) ?", re.ASCII)
_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8"}


def parse(text: str, kind: Kind, *, imperial: bool = False) -> float:
    """Return a quantity of one kind in the unit of its kind.

    Args:
        text: `NUMBER UNIT`; the number with a decimal point or as a fraction ("1 1/4 lb"). A duration may
            have several parts, from the largest ("1 h 20 min").
        kind: What is meant; see `Kind` for the unit that comes back.
        imperial: Whether `gal`, `qt`, `pt` and `fl oz` are the imperial ones.

    Returns:
        Finite; above zero, save for durations and readings (zero or more) and temperatures (any above
        absolute zero).

    Errors: BadQuantity.
    """
    return parse_one_of(text, (kind,), imperial=imperial)[0]


def parse_one_of(text: str, kinds: Sequence[Kind], *, imperial: bool = False) -> tuple[float, Kind]:
    """Return a quantity of one of several kinds with the kind that it is; see `parse`.

    Errors: BadQuantity.
    """
    plain = _plain(text)
    if kinds == ("duration",):
        terms = _TERM.findall(plain)
        if len(terms) > 1 and "".join(_TERM.sub("", plain)) == "":
            return _sum_of_durations(text, terms), "duration"
    number_text, unit, sign = _split(text, plain, kinds)
    table = _IMPERIAL_TABLE if imperial else _US_TABLE
    for kind in kinds:
        factor = _factor(unit, table[kind])
        if factor is not None:
            number = sign * _number(text, number_text, kind)
            return _checked(text, _converted(number, unit, factor, kind), kind), kind
    raise _wrong_unit(text, unit, kinds, table)


def parse_ratio(text: str) -> tuple[float, float]:
    """Return the two sides of a ratio such as "20:1", both above zero.

    Errors: BadQuantity.
    """
    sides = _plain(text).split(":")
    if len(sides) == 2:
        found = [_NUMBER.fullmatch(side.strip()) for side in sides]
        if found[0] is not None and found[1] is not None:
            left, right = (_value(match) for match in found if match is not None)
            if left is not None and right is not None and 0 < left < _LARGEST and 0 < right < _LARGEST:
                return left, right
    raise BadQuantity(
        where=f'the ratio "{_shortened(text)}"',
        got=f'"{_shortened(text)}"',
        need="a ratio is two numbers above 0 with a colon between them",
        fix='Write e.g. "20:1" or "1:50".',
    )


def _plain(text: str) -> str:
    squared = text.replace("²", "2").replace("³", "3").replace("^2", "2").replace("^3", "3")
    return " ".join(squared.replace("−", "-").replace("µ", "u").split())


def _split(text: str, plain: str, kinds: Sequence[Kind]) -> tuple[str, str, int]:
    match = _SPLIT.fullmatch(plain)
    assert match is not None
    number, unit = match["number"].strip(), match["unit"].strip()
    if not number:
        raise _not_a_quantity(text, unit, kinds)
    if not unit:
        raise _fault(text, f'"{_shortened(text)}", a number without a unit', kinds)
    return number, unit, -1 if match["sign"] == "-" else 1


def _number(text: str, number: str, kind: Kind) -> float:
    if "," in number:
        raise _fault(
            text, f'"{_shortened(text)}", a number with a comma', (kind,),
            fix="Write a decimal point and leave thousands unmarked, e.g. 1.5 or 1500.",
        )  # fmt: skip
    match = _NUMBER.fullmatch(number)
    value = None if match is None else _value(match)
    if value is None:
        raise _fault(
            text, f'"{_shortened(number)}", which is not a number', (kind,),
            fix='Write the number with a decimal point or as a fraction, e.g. "1.5", "1/4" or "1 1/4".',
        )  # fmt: skip
    return value


def _value(match: re.Match[str]) -> float | None:
    """Return the number that was written, or None for a fraction over zero."""
    if match["decimal"] is not None:
        return float(match["decimal"])
    top, bottom = int(match["top"] or match["a"]), int(match["bottom"] or match["b"])
    if bottom == 0:
        return None
    return int(match["whole"] or 0) + top / bottom


def _factor(unit: str, table: dict[str, float]) -> float | None:
    if unit in table:
        return table[unit]
    if unit in _CASE_MATTERS:
        return None
    wanted = _spelled(unit)
    return next((factor for name, factor in table.items() if _spelled(name) == wanted), None)


def _spelled(unit: str) -> str:
    return unit.casefold().replace(" /", "/").replace("/ ", "/").replace("° ", "°")


def _converted(number: float, unit: str, factor: float, kind: Kind) -> float:
    if kind == "temperature" and unit.casefold().endswith("f"):
        return (number - 32) * factor
    return number * factor


def _checked(text: str, value: float, kind: Kind) -> float:
    if kind == "temperature" and value < _ABSOLUTE_ZERO_C:
        raise _fault(text, f'"{_shortened(text)}", which is colder than anything can be', (kind,))
    if value < 0 and kind not in _MAY_BE_NEGATIVE:
        raise _fault(text, f'"{_shortened(text)}", which is below zero', (kind,))
    if value == 0 and kind not in _MAY_BE_ZERO:
        raise _fault(text, f'"{_shortened(text)}"', (kind,), need=f"{_ARTICLE[kind]} above zero is needed")
    if not isfinite(value) or abs(value) > _LARGEST:
        raise _fault(text, f'"{_shortened(text)}", which is more than any farm has', (kind,))
    return value


def _sum_of_durations(text: str, terms: Iterable[tuple[str, str]]) -> float:
    total, last = 0.0, float("inf")
    for number, unit in terms:
        factor = _factor(unit, _DURATIONS)
        if factor is None:
            raise _wrong_unit(text, unit, ("duration",), _US_TABLE)
        if factor >= last:
            raise _fault(
                text, f'"{_shortened(text)}"', ("duration",),
                need="the parts of a length of time go from the largest to the smallest, each once",
                fix='Write e.g. "1 h 20 min".',
            )  # fmt: skip
        total, last = total + _number(text, number.strip(), "duration") * factor, factor
    return _checked(text, total, "duration")


def _wrong_unit(
    text: str, unit: str, kinds: Sequence[Kind], table: dict[Kind, dict[str, float]]
) -> BadQuantity:
    shown = _shortened(text)
    if any(sign in unit for sign in _FRACTIONS):
        return _not_a_quantity(text, unit, kinds)
    if unit in _CASE_MATTERS:
        return _fault(
            text, f'"{shown}", where {unit} could mean two very different things', kinds,
            fix="Write mL or mg in small letters, or m3 or t for the large ones.",
        )  # fmt: skip
    for kind, units in table.items():
        if kind not in kinds and _factor(unit, units) is not None:
            hint = ' For a volume in ounces write "fl oz".' if unit == "oz" and "volume" in kinds else ""
            return _fault(text, f'"{shown}", which is {_ARTICLE[kind]}', kinds, more=hint)
    known = [name for kind in kinds for name in table[kind]]
    spelled = {_spelled(name): name for name in known}
    near = get_close_matches(_spelled(unit), spelled, n=1, cutoff=0.7)
    hint = f" Perhaps {spelled[near[0]]} is meant." if near else ""
    return _fault(text, f'"{shown}", whose unit "{_shortened(unit)}" is not known here', kinds, more=hint)


def _not_a_quantity(text: str, unit: str, kinds: Sequence[Kind]) -> BadQuantity:
    for sign, plain in _FRACTIONS.items():
        if sign in unit:
            return _fault(
                text, f'"{_shortened(text)}"', kinds, fix=f'Write the fraction {sign} as "{plain}".'
            )
    if not text.strip():
        return _fault(text, "nothing", kinds)
    return _fault(text, f'"{_shortened(text)}", which does not begin with a number', kinds)


def _fault(text: str, got: str, kinds: Sequence[Kind], *, need: str | None = None, fix: str | None = None,
           more: str = "") -> BadQuantity:  # fmt: skip
    meant = " or ".join(_ARTICLE[kind] for kind in kinds)
    examples = ", ".join(_EXAMPLE[kind] for kind in kinds)
    return BadQuantity(
        where=f'the quantity "{_shortened(text)}"',
        got=got,
        need=need or f"{meant} is needed",
        fix=(fix or f"Write a number and its unit, e.g. {examples}.") + more,
    )


def need_of(kind: Kind) -> str:
    """Return in words what a quantity of a kind is: `a volume`."""
    return _ARTICLE[kind]


def example_of(kind: Kind) -> str:
    """Return how quantities of a kind are written: `"200 L" or "55 gal"`."""
    return _EXAMPLE[kind]


def _shortened(text: str) -> str:
    plain = " ".join(text.split())
    return plain if len(plain) <= 40 else f"{plain[:37]}..."


def _rounded(number: float) -> float:
    """Return three figures below a hundred and whole numbers above."""
    if number == 0 or not isfinite(number):
        return number
    if abs(number) >= 100:
        return float(round(number))
    return float(f"{number:.3g}")


def _written(number: float) -> str:
    return f"{Decimal(repr(_rounded(number))):f}".removesuffix(".0")


def _best(value: float, units: Sequence[tuple[str, float]]) -> tuple[float, str]:
    """Return the amount in the largest unit of which there is at least one, else in the smallest."""
    for unit, factor in units:
        amount = _rounded(value / factor)
        if abs(amount) >= 1 or unit == units[-1][0]:
            return amount, unit
    raise AssertionError("units are never empty")


def _shown(value: float, units: Sequence[tuple[str, float]]) -> str:
    amount, unit = _best(value, units)
    return f"{_written(amount)} {unit}"


_SHOW_VOLUME: dict[Units, tuple[tuple[str, float], ...]] = {
    "metric": (("L", 1.0), ("mL", 1e-3)),
    "us": (("gal", _US_GAL_L), ("qt", _US_GAL_L / 4), ("fl oz", _US_GAL_L / 128)),
    "imperial": (("gal", _IMPERIAL_GAL_L), ("pt", _IMPERIAL_GAL_L / 8), ("fl oz", _IMPERIAL_GAL_L / 160)),
}
_POUNDS = (("lb", _LB_KG), ("oz", _LB_KG / 16))
_SHOW_MASS: dict[Units, tuple[tuple[str, float], ...]] = {
    "metric": (("kg", 1.0), ("g", 1e-3)), "us": _POUNDS, "imperial": _POUNDS,
}  # fmt: skip


def volume_amount(volume_l: float, units: Units) -> tuple[float, str]:
    """Return a volume as a rounded number and its unit, e.g. (55.0, "gal"). Three figures."""
    return _best(volume_l, _SHOW_VOLUME[units])


def mass_amount(mass_kg: float, units: Units) -> tuple[float, str]:
    """Return a mass as a rounded number and its unit, e.g. (113.0, "g"). Three figures."""
    return _best(mass_kg, _SHOW_MASS[units])


def show_volume(volume_l: float, units: Units) -> str:
    """Return a volume in the farm's units: `55 gal`, `250 mL`; never 0 for what is above it."""
    return _shown(volume_l, _SHOW_VOLUME[units])


def show_mass(mass_kg: float, units: Units) -> str:
    """Return a mass in the farm's units: `2.27 kg`, `4 oz`; never 0 for what is above it."""
    return _shown(mass_kg, _SHOW_MASS[units])


def show_grams(grams: float) -> str:
    """Return a weight for a small scale, grams on every farm: `25 g`, `1.4 g`, `380 mg`."""
    if grams >= 10:
        return f"{grams:.0f} g"
    return f"{grams:.2g} g" if grams >= 1 else f"{float(f'{grams * 1000:.2g}'):g} mg"


def show_length(length_m: float, units: Units) -> str:
    """Return a length in the farm's units: `1.2 m`, `6.5 ft`."""
    metric = (("m", 1.0), ("cm", 0.01))
    return _shown(length_m, metric if units == "metric" else (("ft", _FT_M), ("in", _IN_MM / 1000)))


def show_area(area_m2: float, units: Units) -> str:
    """Return an area in the farm's units: `40 m2`, `1.5 ha`, `400 ft2`, `2 acres`."""
    metric = (("ha", 10_000.0), ("m2", 1.0))
    text = _shown(area_m2, metric if units == "metric" else (("acres", _ACRE_M2), ("ft2", _FT2_M2)))
    return "1 acre" if text == "1 acres" else text


def show_flow(flow_l_min: float, units: Units) -> str:
    """Return a flow in the farm's units: `15 L/min`, `4 gal/min`."""
    gallon_l = {"metric": 1.0, "us": _US_GAL_L, "imperial": _IMPERIAL_GAL_L}[units]
    return _shown(flow_l_min, (("L/min" if units == "metric" else "gal/min", gallon_l),))


def show_rate(rate_l_m2: float, units: Units) -> str:
    """Return an amount per area in the farm's units: `0.5 L/m2`, `1.2 gal/100 ft2`."""
    if units == "metric":
        return _shown(rate_l_m2, (("L/m2", 1.0),))
    gallon_l = _US_GAL_L if units == "us" else _IMPERIAL_GAL_L
    return _shown(rate_l_m2, (("gal/100 ft2", gallon_l / (100 * _FT2_M2)),))


def show_temperature(temperature_c: float, units: Units) -> str:
    """Return a temperature to a tenth of a degree: `18 °C`, `64.4 °F` on a US farm."""
    if units == "us":
        return f"{_tenth(temperature_c * 9 / 5 + 32)} °F"
    return f"{_tenth(temperature_c)} °C"


def show_temperature_span(span_c: float, units: Units) -> str:
    """Return a difference of temperature to a tenth of a degree: `4 °C`, `7.2 °F` on a US farm."""
    return f"{_tenth(span_c * 9 / 5)} °F" if units == "us" else f"{_tenth(span_c)} °C"


def _tenth(number: float) -> str:
    return f"{round(number, 1) + 0.0:.1f}".removesuffix(".0")


def show_speed(speed_km_h: float, units: Units) -> str:
    """Return a speed in the farm's units: `15 km/h`, `9.32 mph`."""
    return _shown(speed_km_h, (("km/h", 1.0),) if units == "metric" else (("mph", _MILE_KM),))


def show_duration(duration_min: float) -> str:
    """Return a length of time as a person says it: `20 min`, `1 h 20 min`, `52 h`, `3 days 4 h`.

    Whole minutes below three days and whole hours from there; seconds below one minute.
    """
    if 0 < duration_min < 59.5 / 60:
        return f"{max(1, round(duration_min * 60))} s"
    minutes = round(duration_min)
    if minutes >= 3 * _DAY_MIN:
        days, hours = divmod(round(duration_min / 60), 24)
        return f"{days} days {hours} h" if hours else f"{days} days"
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"
