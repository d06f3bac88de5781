"""Puts a sheet's values into one HTML document that prints on A4 and on Letter."""

import re
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup


def _style(name: str) -> str:
    """Return a style sheet of ours without the blanks that only its writers need."""
    return re.sub(r"\s+", " ", (files("dawnbrew.sheets") / name).read_text(encoding="utf-8")).strip()


STYLE = _style("sheet.css")
"""What stands inside every sheet, so that it is one file that can be carried on a stick."""

WIDE = _style("wide.css")
"""What stands beside it in a sheet with many columns."""


def render(template: str, *, title: str, farm: str, made: str, **values: object) -> str:
    """Return a sheet.

    Args:
        title: What it is, with its day. farm: Its name. made: What it is from, in a sentence.

    Errors: jinja2.UndefinedError where a template asks for a value that is not there.
    """
    page = _ENVIRONMENT.get_template(template)
    return page.render(title=title, farm=farm, made=made, style=Markup(STYLE), wide=Markup(WIDE), **values)


_ENVIRONMENT = Environment(
    loader=PackageLoader("dawnbrew.sheets"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
    lstrip_blocks=True,
)  # fmt: skip
