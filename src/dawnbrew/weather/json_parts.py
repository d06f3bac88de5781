"""Takes a JSON answer apart without trusting it."""

import json
from math import isfinite
from typing import NoReturn

from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.sense import WAIT


def refuse_form(where: str, got: str, need: str) -> NoReturn:
    """Refuse an answer that has not the form it should have. Errors: BadWeather, always."""
    raise BadWeather(where=where, got=got, need=need, fix=WAIT)


def loaded(body: bytes, where: str) -> dict[str, object]:
    """Return the object that a JSON answer is. Errors: BadWeather."""
    try:
        value = json.loads(body, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        refuse_form(where, _glimpse(body), "an answer in JSON is needed")
    if not isinstance(value, dict):
        refuse_form(where, "JSON that is no object", "an answer in the form of the service is needed")
    return value


def _no_constant(word: str) -> NoReturn:
    raise ValueError(word)  # NaN and Infinity are no JSON


def _glimpse(body: bytes) -> str:
    if not body.strip():
        return "an empty answer"
    text = body[:40].decode(errors="replace")
    plain = " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
    return f"something that begins '{plain}'"


def part(value: dict[str, object], key: str, where: str) -> dict[str, object]:
    """Return an object inside an object. Errors: BadWeather."""
    inner = value.get(key)
    if not isinstance(inner, dict):
        refuse_form(where, f"no part '{key}'", "an answer in the form of the service is needed")
    return inner


def entries(value: dict[str, object], key: str, where: str) -> list[object]:
    """Return a list inside an object. Errors: BadWeather."""
    inner = value.get(key)
    if not isinstance(inner, list):
        refuse_form(where, f"no list '{key}'", "an answer in the form of the service is needed")
    return inner


def number(value: object, what: str, where: str) -> float:
    """Return a number, nan for null. Errors: BadWeather."""
    if value is None:
        return float("nan")
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 1e12:
        refuse_form(where, f"something that is no number as {what}", "a number is needed")
    if not isfinite(value):
        refuse_form(where, f"a number without end as {what}", "a number is needed")
    return float(value)


def known_number(value: object, what: str, where: str) -> float:
    """Return a number that must be there. Errors: BadWeather."""
    if value is None:
        refuse_form(where, f"no {what}", "a number is needed")
    return number(value, what, where)
