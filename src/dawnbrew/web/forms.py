"""Reads what a visitor typed into a form."""

import re
import unicodedata
from collections.abc import Sequence
from datetime import date, time
from hashlib import sha256
from typing import cast, get_args
from urllib.parse import parse_qsl

from dawnbrew.errors import BadMoment
from dawnbrew.farm.models import Farm
from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.values import Foam, NoteKind
from dawnbrew.journal.when import parse_when
from dawnbrew.moments import Instant, farm_day, parse_day
from dawnbrew.quantities import Kind, parse, volume_amount
from dawnbrew.season.desk import Tap
from dawnbrew.season.sight import Sight
from dawnbrew.web.visitor import Visitor

MOST_FIELDS = 200
"""More than the largest form of a farm with a hundred beds."""

LONGEST_NUMBER = 9
"""Digits of an id or a position in an address or a form."""

LONGEST_KEY = 100
"""Ours have 22 characters."""

_COMMA = re.compile(r"\A([-+]?[0-9]+),([0-9]{1,2})\Z", re.ASCII)
"""A bare number with a decimal comma; one before three digits may part thousands, and is asked about."""

_BARE = re.compile(r"[-+]?[0-9./ ]+", re.ASCII)


class BadForm(ValueError):
    """Bytes that no browser sends for a form."""


class Form:
    """The fields of a form in their order; a name may come several times.

    Args:
        fields: Names and values.
    """

    def __init__(self, fields: Sequence[tuple[str, str]]) -> None:
        self._fields = tuple(fields)

    def text(self, name: str) -> str:
        """Return the first value of a name without spaces around it, empty where there is none."""
        return next((value.strip() for known, value in self._fields if known == name), "")

    def every(self, name: str) -> tuple[str, ...]:
        """Return all values of a name that are not empty, each once."""
        return tuple(dict.fromkeys(value for known, value in self._fields if known == name and value))

    @property
    def typed(self) -> tuple[tuple[str, str], ...]:
        """What the visitor typed or chose, without what our page put in."""
        return tuple((name, value) for name, value in self._fields if name not in ("form", "key"))


def read_form(body: bytes) -> Form:
    """Return the fields of a body; WHATWG URL standard, application/x-www-form-urlencoded.

    Errors: BadForm for what is no UTF-8, holds control characters or far too many fields.
    """
    try:
        fields = parse_qsl(
            body.decode("ascii"), keep_blank_values=True, errors="strict", max_num_fields=MOST_FIELDS
        )
    except ValueError as problem:
        raise BadForm from problem
    for name, value in fields:
        if any(unicodedata.category(sign) in ("Cc", "Cs") and sign not in "\n\r\t" for sign in name + value):
            raise BadForm
    return Form(fields)


def whole_number(text: str) -> int | None:
    """Return a whole number above 0 as addresses and forms have them, or None."""
    is_one = text.isascii() and text.isdigit() and len(text) <= LONGEST_NUMBER
    return int(text) or None if is_one else None


def taps_in(form: Form, sight: Sight, visitor: Visitor) -> list[Tap]:
    """Return what a form says that happened, one tap for each batch, treatment or bed.

    Errors: BadNote, BadMoment, BadQuantity.
    """
    kind, of = _kind(form), form.every("of")
    if not of:
        raise BadNote(
            where="the form", got="nothing that was done",
            need="at least one bed or vessel; nothing was noted", fix="Choose one and send it again.",
        )  # fmt: skip
    units = sight.farm.place.units
    liquid_c = _quantity(form, "liquid", "temperature", "F" if units == "us" else "C", sight.farm)
    brew_l = _quantity(form, "brew", "volume", volume_amount(1000, units)[1], sight.farm)
    at, key = _at(form, sight), key_in(form)
    parts_l = (None,) * len(of) if brew_l is None else sight.shares(brew_l, of)
    return [
        Tap(
            kind=kind, of=one, key=f"{key}.{_said(form, one)}", by=visitor.name, at=at,
            on=_on(form) if kind == "planted" else None, brew_l=part_l,
            liquid_c=liquid_c, foam=_foam(form), smell=form.text("smell") or None,
            reason=form.text("reason") or None, batch=form.text("batch") or None,
        )
        for one, part_l in zip(of, parts_l, strict=True)
    ]  # fmt: skip


def day_in(form: Form, name: str) -> date:
    """Return the day in a field. Errors: BadMoment."""
    return parse_day(form.text(name))


def key_in(form: Form) -> str:
    """Return the key under which a form counts once. Errors: BadNote where our page did not make it."""
    key = form.text("key")
    if not 8 <= len(key) <= LONGEST_KEY:
        raise BadNote(
            where="the form", got="no key of its own", need="a form that our page made; nothing was noted",
            fix="Open the page again and send it from there.",
        )  # fmt: skip
    return f"web.{key}"


def _said(form: Form, of: str) -> str:
    """Return a short word for what a form says of one thing.

    Whoever goes back to a page sends its key again, with other beds ticked or another word on the foam.
    """
    told = [(name, value) for name, value in form.typed if name != "of"]
    return sha256(repr((of, sorted(told))).encode()).hexdigest()[:16]


def _kind(form: Form) -> NoteKind:
    word = form.text("kind")
    if word not in get_args(NoteKind):
        raise BadNote(
            where="the form", got=f"'{word[:40]}', which is no kind of note",
            need=f"one of {', '.join(get_args(NoteKind))}; nothing was noted", fix="Send it from your page.",
        )  # fmt: skip
    return cast("NoteKind", word)


def _foam(form: Form) -> Foam | None:
    word = form.text("foam")
    if word and word not in get_args(Foam):
        raise BadNote(
            where="the foam", got=f"'{word[:40]}'", need=f"one of {', '.join(get_args(Foam))}",
            fix="Choose one of these, or none.",
        )  # fmt: skip
    return cast("Foam", word) if word else None


def _on(form: Form) -> date | None:
    return day_in(form, "on") if form.text("on") else None


def _at(form: Form, sight: Sight) -> Instant | None:
    """Return when it was, None for now."""
    clock, day = form.text("time"), form.text("day") or "today"
    zone = sight.zone
    if day not in ("today", "yesterday"):
        is_today = parse_day(day) == farm_day(sight.now, zone)
        day = "today" if is_today else day
    if clock:
        return parse_when(clock if day == "today" else f"{day} {clock}", now=sight.now, zone=zone)
    if day == "today":
        return None
    raise BadMoment(
        where=f"the day '{day}'", got="no time of day", need="when it was; nothing was noted",
        fix=f"Write the time too, e.g. {time(6, 40):%H:%M}.",
    )  # fmt: skip


def _quantity(form: Form, name: str, kind: Kind, unit: str, farm: Farm) -> float | None:
    text = form.text(name)
    if not text:
        return None
    text = _COMMA.sub(r"\1.\2", text)  # the keypads of many phones have no point
    written = f"{text} {unit}" if _BARE.fullmatch(text) else text
    return parse(written, kind, imperial=farm.place.units == "imperial")
