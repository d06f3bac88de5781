"""Puts a page's values into one HTML document with its style inside."""

import re
from base64 import b64encode
from dataclasses import dataclass
from hashlib import sha256
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from dawnbrew.calendar_out.text import shown_name
from dawnbrew.web.visitor import Visitor


def _squeezed(style: str) -> str:
    """Return a style sheet without comments and without the blanks that only its writers need."""
    return re.sub(r"\s+", " ", re.sub(r"/\*.*?\*/", "", style, flags=re.DOTALL)).strip()


STYLE = _squeezed((files("dawnbrew.web") / "style.css").read_text(encoding="utf-8"))
"""What stands inside every page, so that a page is one round trip."""


def style_sha256(style: str) -> str:
    """Return what lets the policy of an answer allow a style; W3C Content Security Policy Level 3, 6.7.2."""
    return b64encode(sha256(style.encode()).digest()).decode()


STYLE_SHA256 = style_sha256(STYLE)
"""Lets the policy of an answer allow this style."""


@dataclass(frozen=True)
class Door:
    """One entry of the navigation."""

    word: str
    to: str
    is_here: bool


@dataclass(frozen=True)
class Frame:
    """What is around every page.

    Args:
        title: Of the document, without the farm's name.
        doors: The navigation, empty where there is none.
        notes: Small print at the end.
        is_wide: It has a picture that wants the whole width.
    """

    title: str
    farm: str = ""
    who: str = ""
    doors: tuple[Door, ...] = ()
    notes: tuple[str, ...] = ()
    is_wide: bool = False

    @property
    def window(self) -> str:
        """What a browser calls the page: names keep their writing direction to themselves."""
        return " · ".join(shown_name(one) for one in (self.title, self.farm) if one)


def doors_of(visitor: Visitor, here: str) -> tuple[Door, ...]:
    """Return the navigation of a visitor; the last two doors open only for whoever may go through them."""
    if visitor.is_task_link:
        return ()
    words = ["Now", "Season", "Beds"] + (["Slip", "Links"] if visitor.may("manage") else [])
    return tuple(Door(word, f"{visitor.base}/{word.lower()}", word.lower() == here) for word in words)


def render(template: str, frame: Frame, **values: object) -> str:
    """Return a page.

    Errors: jinja2.UndefinedError where a template asks for a value that is not there.
    """
    return _ENVIRONMENT.get_template(template).render(frame=frame, style=Markup(STYLE), **values)


_ENVIRONMENT = Environment(
    loader=PackageLoader("dawnbrew.web"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
    lstrip_blocks=True,
)  # fmt: skip
