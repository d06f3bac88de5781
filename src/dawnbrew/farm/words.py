"""What pydantic and tomllib say about a farm file, in a grower's words."""

from collections.abc import Iterable, Mapping
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from dawnbrew.farm.faults import CODE, Fault, Path, found
from dawnbrew.farm.fields import BREW_EXAMPLE, FERMENT_EXAMPLE
from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import named, nearest
from dawnbrew.farm.references import NOUNS

_EXAMPLES = {
    "farm": '[farm] with name, latitude, longitude and timezone',
    "climate": "[climate] with lows and highs, twelve numbers each",
    "vessels": '[[vessels]] with name = "drum" and volume = "200 L"',
    "beds": '[[beds]] with a name, a size and a program',
    "name": 'name = "North"',
    "latitude": "latitude = 51.5",
    "longitude": "longitude = -0.1",
    "timezone": 'timezone = "Europe/London"',
    "lows": "lows = [2, 2, 3, 5, 8, 11, 13, 13, 11, 8, 5, 3]",
    "highs": "highs = [8, 8, 11, 14, 17, 20, 23, 22, 19, 15, 11, 8]",
    "hours": 'hours = "06:00-20:00"',
    "volume": 'volume = "200 L"',
    "per": 'per = "114 L"',
    "ingredients": BREW_EXAMPLE,
    "methods": 'methods = ["drench", "mist"]',
    "flow": 'flow = "15 L/min"',
    "program": 'program = "weekly"',
}  # fmt: skip


def faults_of_validation(error: ValidationError) -> list[Fault]:
    """Return the faults that a validation found, with their paths from the top of the file."""
    return [fault for details in error.errors() if not _is_echo(details) for fault in _faults(details)]


def _is_echo(details: ErrorDetails) -> bool:
    """Return whether a list is called too short only because some of its entries are at fault."""
    value, least = details["input"], details.get("ctx", {}).get("min_length", 0)
    return details["type"] == "too_short" and isinstance(value, list | tuple) and len(value) >= least


def _faults(details: ErrorDetails) -> Iterable[Fault]:
    at: Path = tuple(details["loc"])
    context = details.get("ctx", {})
    if details["type"] == CODE:
        return [Fault(f.got, f.need, f.fix, (*at, *f.at)) for f in context["faults"]]
    return [_translated(details["type"], at, details["input"], context)]


def _translated(kind: str, at: Path, value: Any, context: Mapping[str, Any]) -> Fault:
    key = str(at[-1]) if at else ""
    got = found(value)
    if kind == "missing":
        is_plants = key == "ingredients" and at[0] == "ferments"
        example = FERMENT_EXAMPLE if is_plants else _EXAMPLES.get(key, key)
        return Fault(f"no {key}", f"{key} must be given", f"Add {example}.", at)
    if kind == "extra_forbidden":
        return _unknown_key(at, value)
    if kind == "literal_error":
        known = [choice.strip("'") for choice in str(context["expected"]).replace(" or ", ", ").split(", ")]
        return _unknown_choice(at, value, known)
    if kind in _LIMITS:
        words, name = _LIMITS[kind]
        limit = f"{context[name]:g}"
        return Fault(got, f"{words} {limit} is needed", "Look for a slip in the number.", at)
    if kind in {"too_short", "too_long"}:
        return _wrong_length(at, value, context)
    need, fix = _NEEDS.get(kind, ("something else is needed here", "Look into the annotated reference file."))
    if kind in {"tuple_type", "model_type", "model_attributes_type", "dict_type"}:
        fix = _wrong_shape(kind, at, value)
    return Fault(got, need, fix, at)


_LIMITS = {
    "greater_than_equal": ("at least", "ge"), "greater_than": ("more than", "gt"),
    "less_than_equal": ("at most", "le"), "less_than": ("less than", "lt"),
}  # fmt: skip

_WHOLE = ("a whole number is needed", "Write it without quotes and without a point, e.g. 3.")
_TABLE = ("a table of settings is needed", "")

_NEEDS = {
    "int_type": _WHOLE, "int_from_float": _WHOLE, "int_parsing": _WHOLE, "int_parsing_size": _WHOLE,
    "bool_type": ("true or false is needed", "Write true or false, without quotes."),
    "tuple_type": ("a list is needed", ""), "model_type": _TABLE, "model_attributes_type": _TABLE,
    "dict_type": _TABLE,
}  # fmt: skip


def _wrong_shape(kind: str, at: Path, value: object) -> str:
    key = str(at[0]) if at else ""
    if kind == "tuple_type" and key in NOUNS and len(at) == 1 and isinstance(value, Mapping):
        return f"Write [[{key}]] with two brackets at each side, once for each {NOUNS[key]}."
    if kind == "tuple_type":
        return 'Put it in square brackets, e.g. ["drench", "mist"].'
    if not any(isinstance(part, int) for part in at):
        key = ".".join(str(part) for part in at)
        return f"Write [{key}] with one bracket at each side, once in the file."
    return f"Write [[{key}]] and under it the settings, one a line."


def _wrong_length(at: Path, value: object, context: Mapping[str, Any]) -> Fault:
    key = str(at[-1])
    if at[:1] == ("climate",):
        return Fault(
            found(value), "twelve numbers are needed, January first",
            f"Write one for each month, e.g. {_EXAMPLES[key]}.", at,
        )  # fmt: skip
    noun = NOUNS.get(key, "entry")
    fix = f"Write {_EXAMPLES[key]}." if key in _EXAMPLES else "Leave the list out to get the usual one."
    return Fault(found(value), f"at least one {noun} is needed", fix, at)


def _unknown_choice(at: Path, value: object, known: list[str]) -> Fault:
    near = nearest(value, known) if isinstance(value, str) else None
    hint = f'Perhaps "{near}" is meant.' if near is not None else f'Write e.g. "{known[0]}".'
    return Fault(found(value), f"one of {named(known)} is needed", hint, at)


def _unknown_key(at: Path, value: object) -> Fault:
    key = str(at[-1])
    known = known_keys(at[:-1])
    near = nearest(key, known)
    is_listed = any(isinstance(part, int) for part in at)
    tables = ".".join(str(part) for part in at[:-1])
    place = f"[[{at[0]}]]" if is_listed else f"[{tables}]" if tables else "the file"
    fix = (
        f"Perhaps '{near}' is meant."
        if near is not None
        else f"Delete it; known here are {', '.join(known)}."
    )
    return Fault(f"the unknown key '{key}'", f"{place} has no such setting", fix, at)


def known_keys(at: Path) -> list[str]:
    """Return the keys that a table of the farm file may hold, in their order."""
    model: type[BaseModel] = Farm
    for key in at:
        if isinstance(key, str):
            fields = {field.alias or name: field for name, field in model.model_fields.items()}
            model = _model_in(fields[key].annotation)
    return [field.alias or name for name, field in model.model_fields.items()]


def _model_in(annotation: Any) -> type[BaseModel]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next(_model_in(inner) for inner in get_args(annotation) if inner is not Ellipsis)


_SYNTAX = {
    "Expected newline": (
        "after a value the line ends", 'Put texts and quantities in quotes, e.g. area = "40 m2".',
    ),
    "Cannot overwrite": ("a setting may be given once", "Delete one of the two."),
    "Cannot declare": (
        "a table in single brackets may be opened once",
        "Put both parts together, or write double brackets, e.g. [[beds]], where there are several.",
    ),
    "Cannot mutate": ("a setting may be given once", "Put both parts together."),
    "Expected '='": ("a line is KEY = VALUE, or a [table]", "Write e.g. count = 3."),
    "Invalid value": (
        "a value is a text in quotes, a number with a decimal point, true, false, a day or a list",
        'Put texts and quantities in quotes, e.g. area = "40 m2".',
    ),
    "Invalid date": ("a day of the calendar is needed, year-month-day", "Write e.g. 2027-04-20."),
    "Unterminated": ("a text ends with the quote that it began with", "Add the missing quote."),
    "Illegal character '\\n'": (
        "a text ends on its line, with the quote that it began with", "Add the missing quote.",
    ),
    "Illegal character": ("control characters are not allowed", "Delete the character and type it again."),
    "Unclosed": ("every bracket that is opened is closed", "Add the missing bracket."),
    "Expected ']": ("every bracket that is opened is closed", "Add the missing bracket."),
    "Invalid initial": ("a line is KEY = VALUE, or a [table]", "Write e.g. count = 3; remarks begin with #."),
    "Unescaped": (
        "a backslash has a meaning of its own in double quotes", "Write two of them, or use single quotes.",
    ),
}  # fmt: skip

_OTHER_SYNTAX = (
    "the file must follow the rules of TOML",
    "Compare the line with the annotated reference file.",
)


def syntax_words(message: str) -> tuple[str, str]:
    """Return what is needed and what to do about a message of tomllib."""
    found_words = (words for begins, words in _SYNTAX.items() if message.startswith(begins))
    return next(found_words, _OTHER_SYNTAX)
