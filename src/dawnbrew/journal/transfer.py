"""A whole journal as JSON lines, out and in again."""

import json
from collections.abc import Collection, Iterable, Iterator
from typing import Annotated, Any, Self

from pydantic import BaseModel, ConfigDict, StringConstraints, ValidationError, model_validator
from sqlalchemy import Connection, Table, func, insert, select
from sqlalchemy.exc import IntegrityError

from dawnbrew.errors import BadMoment
from dawnbrew.farm.faults import found
from dawnbrew.farm.names import same_key
from dawnbrew.journal.faults import BadImport
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.revision_rows import digest
from dawnbrew.journal.tables import deliveries, links, notes, nudges, revisions, stamps
from dawnbrew.journal.values import Delivery, EventStamp, KeptNote, LinkKind, Nudge, OnlyWhat, Role
from dawnbrew.nudges.values import Id, Second

FORMAT = "dawnbrew-journal/2"
"""The version of the lines that are written."""

_FORMATS = {"dawnbrew-journal/1": ("note", "revision", "nudge", "delivery")}
"""Older versions that are read as well, and the kinds of rows that they know."""


class _RevisionLine(BaseModel):
    """A revision with its plan as the text that its SHA-256 was taken of."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    number: int
    stored_at: Second
    reason: str
    file_sha256: str
    plan_sha256: str
    up_to_note: int | None
    changes: str
    plan: str

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if digest(self.plan) != self.plan_sha256:
            raise ValueError(f"revision {self.number} is not the plan that was stored")
        return self


class _LinkLine(BaseModel):
    """A link with the hash of its token, so that it leads on after a move to another machine."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: int
    kind: LinkKind
    name: Id
    role: Role | None
    person: Id | None
    only_what: OnlyWhat | None
    only_name: Id | None
    has_alarms: bool
    task: Id | None
    nudge: Id | None
    key: Id | None
    token_sha256: Annotated[str, StringConstraints(pattern="^[0-9a-f]{64}$")]
    made_at: Second
    expires_at: Second | None
    revoked_at: Second | None
    used_at: Second | None


# in an order in which each row finds those that it points to
_KINDS: dict[str, tuple[Table, type[BaseModel]]] = {
    "note": (notes, KeptNote),
    "revision": (revisions, _RevisionLine),
    "nudge": (nudges, Nudge),
    "delivery": (deliveries, Delivery),
    "link": (links, _LinkLine),
    "stamp": (stamps, EventStamp),
}


def export_lines(journal: Journal) -> Iterator[str]:
    """Yield everything in a journal, as it was at one moment, one JSON object a line without line ends.

    The first line names the format and the farm, the last one counts the others, so that a torn export
    is seen. Rows: {"note": ...}, {"revision": ...}, {"nudge": ...}, {"delivery": ...}, {"link": ...} with the
    hash of its token, {"stamp": ...} of each event. Calendars are not among them: they are made from these.
    """
    counts = dict.fromkeys(_KINDS, 0)
    yield _line({"format": FORMAT, "farm": journal.farm_name})
    with journal.reading() as connection:
        for kind, (table, model) in _KINDS.items():
            rows = connection.execution_options(yield_per=50).execute(_in_order(table)).mappings()
            for row in rows:
                counts[kind] += 1
                yield _line({kind: model.model_validate(dict(row)).model_dump(mode="json")})
    yield _line({"end": counts})


def _in_order(table: Table) -> Any:
    return select(table).order_by(*table.primary_key.columns)


def _line(value: dict[str, Any]) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def import_lines(journal: Journal, lines: Iterable[str]) -> dict[str, int]:
    """Bring an export into an empty journal, all of it or nothing; return how many rows of each kind.

    Errors: BadImport where the journal is not empty or of another farm, or with the line that is not right.
    """
    with journal.writing() as connection:
        _refuse_used(journal, connection)
        rows = _objects(lines)
        counts = dict.fromkeys(_check_head(next(rows, (1, {})), journal), 0)
        for number, value in rows:
            kind = next(iter(value))
            if kind == "end":
                _check_end(number, value, counts, rows)
                return counts
            if kind not in counts or len(value) != 1:
                raise _bad_line(number, f"the word {found(kind)}", f"one of {', '.join(counts)}")
            _bring_in(number, kind, value[kind], connection)
            counts[kind] += 1
        raise _bad("the end of the export", "no last line", "the last line counts the others", _TORN)


_TORN = "The export was cut off; make it again, or take a whole copy."
_MENDED = "Take the export as it was written; make it again if you can."


def _refuse_used(journal: Journal, connection: Connection) -> None:
    for kind, (table, _) in _KINDS.items():
        count = connection.scalar(select(func.count()).select_from(table))
        if count:
            raise _bad(
                f"the journal '{journal.path}'", f"{count} {kind} rows in it already",
                "an export goes into an empty journal only",
                "Move this journal aside, and import into the new one that is then made.",
            )  # fmt: skip


def _objects(lines: Iterable[str]) -> Iterator[tuple[int, dict[str, Any]]]:
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            value = json.loads(line)
        except ValueError:
            raise _bad_line(number, "something that is not JSON", "one JSON object") from None
        if not isinstance(value, dict) or not value:
            raise _bad_line(number, found(value), "one JSON object")
        yield number, value


def _check_head(line: tuple[int, dict[str, Any]], journal: Journal) -> Collection[str]:
    """Return the kinds of rows that the format of an export knows."""
    number, value = line
    kinds = {FORMAT: tuple(_KINDS)} | _FORMATS
    told = value.get("format")
    if not isinstance(told, str) or told not in kinds:
        got = f"the format {found(value['format'])}" if "format" in value else "no format"
        raise _bad_line(number, got, f'the first line names the format "{FORMAT}"')
    farm = value.get("farm")
    if not isinstance(farm, str) or same_key(farm) != same_key(journal.farm_name):
        raise _bad(
            f"line {number} of the export", f"the farm {found(farm)}",
            f"an export of '{journal.farm_name}'",
            "Import it with the farm file it belongs to.",
        )  # fmt: skip
    return kinds[told]


def _check_end(
    number: int, value: dict[str, Any], counts: dict[str, int], rest: Iterator[tuple[int, dict[str, Any]]]
) -> None:
    if value["end"] != counts:
        got = f"a count of {found(value['end']) if not isinstance(value['end'], dict) else value['end']}"
        raise _bad(f"line {number} of the export", got, f"what was read before: {counts}", _TORN)
    for later, _ in rest:
        raise _bad_line(later, "more lines", "nothing after the line that counts")


def _bring_in(number: int, kind: str, told: Any, connection: Connection) -> None:
    table, model = _KINDS[kind]
    try:
        row = model.model_validate_json(json.dumps(told))
        connection.execute(insert(table).values({name: getattr(row, name) for name in model.model_fields}))
    except ValidationError as problem:
        first = problem.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise _bad_line(number, f"{kind} {where}: {first['msg']}".strip(), f"a whole {kind}") from None
    except BadMoment as problem:
        raise _bad_line(number, problem.got, problem.need) from None
    except IntegrityError as problem:
        raise _bad_line(number, f"{kind} that clashes ({problem.orig})", "rows that fit together") from None


def _bad_line(number: int, got: str, need: str) -> BadImport:
    return _bad(f"line {number} of the export", got, need, _MENDED)


def _bad(where: str, got: str, need: str, fix: str) -> BadImport:
    return BadImport(where=where, got=got, need=f"{need}; nothing was brought in", fix=fix)
