"""Asks the archive of open-meteo.com for years of daily temperatures."""

from datetime import date
from typing import Final
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import numpy as np

from dawnbrew.errors import BadMoment
from dawnbrew.moments import parse_day
from dawnbrew.nature.hours import FloatArray
from dawnbrew.weather.asking import WHOLE, Limits, ask
from dawnbrew.weather.climate import Days, days_left_out
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.json_parts import entries, known_number, loaded, number, part, refuse_form
from dawnbrew.weather.open_meteo import UNITS
from dawnbrew.weather.sense import BOUNDS, check_place, odd
from dawnbrew.weather.sources import ACCEPTS, Place
from dawnbrew.weather.units import converted

BASE: Final = "https://archive-api.open-meteo.com"

WHERE: Final = "the archive of open-meteo"

AGAIN: Final = "Try again later, or take a record of your own with --from-csv."
"""What a person does about an archive that does not answer well."""

ARCHIVE_LIMITS: Final = Limits(whole_s=90)
"""Thirty years are put together while we wait."""

_LOW, _HIGH = "temperature_2m_min", "temperature_2m_max"


def fetch_days(
    place: Place, zone: ZoneInfo, first_on: date, last_on: date, *, agent: str, base: str = BASE,
    limits: Limits = ARCHIVE_LIMITS,
) -> Days:  # fmt: skip
    """Return the lowest and highest temperature of each day between two, as the archive has them.

    Args:
        zone: In which a day begins and ends.
        agent: By what name we are known.

    Errors: BadWeather.
    """
    asked = {
        "latitude": f"{place.latitude:.4f}", "longitude": f"{place.longitude:.4f}",
        "start_date": first_on.isoformat(), "end_date": last_on.isoformat(), "daily": f"{_HIGH},{_LOW}",
        "timezone": zone.key,
    }  # fmt: skip
    url = f"{base}/v1/archive?{urlencode(asked, safe=',')}"
    try:
        answer = ask(url, {"Accept": ACCEPTS, "User-Agent": agent}, WHERE, limits)
    except BadWeather as fault:
        raise _told(fault, f"Look at the network here. {AGAIN}") from None
    if answer.status not in WHOLE:
        got = f"the answer HTTP {answer.status}"
        raise BadWeather(where=WHERE, got=got, need="the temperatures are needed", fix=AGAIN)
    try:
        return read_days(answer.body, place)
    except BadWeather as fault:
        raise _told(fault, AGAIN) from None


def _told(fault: BadWeather, fix: str) -> BadWeather:
    """Return a fault for one who asked for themselves: nothing here asks again."""
    return BadWeather(where=fault.where, got=fault.got, need=fault.need, fix=fix)


def read_days(body: bytes, place: Place) -> Days:
    """Return what an answer of the archive says. Errors: BadWeather."""
    answer = loaded(body, WHERE)
    latitude, longitude = (known_number(answer.get(k), k, WHERE) for k in ("latitude", "longitude"))
    check_place(latitude, longitude, place.both, WHERE)
    units, lists = part(answer, "daily_units", WHERE), part(answer, "daily", WHERE)
    days = np.array([_ordinal(day) for day in entries(lists, "time", WHERE)], dtype=np.float64)
    if days.size == 0 or bool((np.diff(days) <= 0).any()):
        refuse_form(WHERE, "days that are missing, doubled or go back", "each day is there once, in order")
    lows, highs = (_celsius(lists, units, column, days.size) for column in (_LOW, _HIGH))
    is_known = ~(np.isnan(lows) | np.isnan(highs))
    if bool((lows > highs).any()):
        refuse_form(WHERE, "a lowest temperature above the highest", "the lowest is not above the highest")
    doubts = days_left_out(WHERE, days[~is_known], "the lowest or the highest is not known")
    return Days(days[is_known], lows[is_known], highs[is_known], WHERE, doubts)


def _ordinal(day: object) -> int:
    try:
        return parse_day(day if isinstance(day, str) else "").toordinal()
    except BadMoment:
        refuse_form(WHERE, "something that is no day", "days such as 2027-04-20 are needed")


def _celsius(lists: dict[str, object], units: dict[str, object], column: str, days: int) -> FloatArray:
    unit = UNITS.get(str(units.get(column)))
    if unit not in {"C", "F"}:
        refuse_form(WHERE, f"{column} in an unknown unit", "temperatures in C or F are needed")
    values = np.array([number(value, column, WHERE) for value in entries(lists, column, WHERE)])
    if values.size != days:
        refuse_form(WHERE, f"{values.size} of {column} for {days} days", "one value a day is needed")
    celsius = converted("air_c", unit, values)
    strange = odd("air_c", celsius)
    if strange.size:
        least, most, words = BOUNDS["air_c"]
        refuse_form(WHERE, f"{strange[0]:g} {words}", f"{least:g} to {most:g} {words} is possible")
    return celsius
