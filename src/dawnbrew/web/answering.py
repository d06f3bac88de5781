"""Answers those who say what happened, or that it did not: the forms about a brew, a bed or a note."""

from collections.abc import Sequence
from http import HTTPStatus

from starlette.responses import Response

from dawnbrew.errors import BadQuantity, CannotWrite, DawnbrewError, SolverFailed
from dawnbrew.farm.edit import SlipOvertaken
from dawnbrew.farm.names import same_key
from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.ferment_notes import is_of_ferment
from dawnbrew.planning.barrels import steeped_in
from dawnbrew.planning.plan import Task
from dawnbrew.season.desk import Tap, Tapped
from dawnbrew.season.sight import Sight
from dawnbrew.season.slip import SlipNotStored
from dawnbrew.web.answer import Refused, not_there, page, see
from dawnbrew.web.asked import Asked, fault_of, fresh_key, own_matter
from dawnbrew.web.forms import Form, day_in, key_in, taps_in, whole_number
from dawnbrew.web.looking import (
    MOST_IDS,
    NOT_SLIPPED,
    WRONG,
    batch_answer,
    bed_answer,
    linked_answer,
    slip_answer,
)
from dawnbrew.web.pages.task import task_page

NOT_NOTED = "Not noted"


def take_note(asked: Asked) -> Response:
    """Note what a form says, once however often it comes, and send the browser to what it means."""
    sight = asked.desk.sight()
    try:
        taps = taps_in(asked.form, sight, asked.visitor)
        _check_link(asked, sight, taps)
        tapped = asked.desk.answer(taps)
    except (*WRONG, BadQuantity) as problem:
        return _not_noted(asked, sight, problem)
    return _see_noted(asked, tapped)


def take_back(asked: Asked) -> Response:
    """Take notes back, and send the browser to what follows."""
    ids = [whole_number(text) for text in asked.form.every("note")]
    known = [one for one in ids if one is not None]
    if not known or len(known) < len(ids) or len(ids) > MOST_IDS:
        raise not_there(asked.visitor)
    try:
        tapped = asked.desk.undo(
            known,
            by=asked.visitor.name,
            key=key_in(asked.form),
            only_of=own_matter(asked, asked.desk.sight()),
        )
    except WRONG as problem:
        fault = fault_of("Not taken back", problem, Form(()), asked.desk.sight())
        raise Refused(
            HTTPStatus.UNPROCESSABLE_ENTITY, fault.title, fault.text,
            visitor=None if asked.visitor.is_task_link else asked.visitor,
        ) from None  # fmt: skip
    return _see_noted(asked, tapped)


def take_slip(asked: Asked) -> Response:
    """Give a bed another planting date, and send the browser to the bed."""
    form, bed = asked.form, asked.form.text("of")  # a name: places change when a bed is put into the file
    try:
        asked.desk.slip(bed, day_in(form, "on"), was=day_in(form, "was"), by=asked.visitor.name)
    except SlipOvertaken as problem:
        return slip_answer(asked, problem, bed, form.text("on"), HTTPStatus.CONFLICT)
    except WRONG as problem:
        return slip_answer(asked, problem, bed, form.text("on"))
    except (CannotWrite, SolverFailed) as problem:
        raise _unfinished(asked, NOT_SLIPPED, problem) from problem
    except SlipNotStored as problem:
        raise _unfinished(asked, "Slipped, not planned yet", problem) from problem
    beds = (n for n, one in enumerate(asked.desk.farm.beds, start=1) if same_key(one.name) == same_key(bed))
    number = next(beds, None)
    return see(f"{asked.visitor.base}/{'now' if number is None else f'bed/{number}'}")


def _unfinished(asked: Asked, title: str, problem: DawnbrewError) -> Refused:
    fault = fault_of(title, problem, asked.form)
    return Refused(HTTPStatus.SERVICE_UNAVAILABLE, fault.title, fault.text, visitor=asked.visitor)


def _see_noted(asked: Asked, tapped: Sequence[Tapped]) -> Response:
    asked.desk.wait_planned(tapped)
    ids = ",".join(str(one.note.id) for one in tapped)
    again = "" if any(one.is_new for one in tapped) else "?again=1"
    return see(f"{asked.visitor.base}/noted/{ids}{again}")


def _check_link(asked: Asked, sight: Sight, taps: Sequence[Tap]) -> None:
    """Refuse what is not the matter of the task that a link out of a nudge calls to. Errors: BadNote."""
    own = own_matter(asked, sight)
    if own is not None and any(_matter_of(tap) not in own for tap in taps):
        raise BadNote(
            where="the form", got="something that this link is not for",
            need="what the message called to; nothing was noted",
            fix="Open your own link to note anything else.",
        )  # fmt: skip


def _matter_of(tap: Tap) -> str:
    """Return what a tap is about for whoever was called: of a brew that joins a ferment, the brew."""
    is_joining = tap.kind == "applied" and is_of_ferment(tap.of)
    return tap.batch or "" if is_joining else tap.of


def _not_noted(asked: Asked, sight: Sight, problem: DawnbrewError) -> Response:
    """Return the page that the form was on, with what cannot be."""
    fault = fault_of(NOT_NOTED, problem, asked.form, sight)
    if asked.link is not None:
        return linked_answer(asked, sight, fault)
    kind, of = asked.form.text("kind"), asked.form.text("of")
    numbers = [n for n, bed in enumerate(sight.farm.beds, start=1) if same_key(bed.name) == same_key(of)]
    if kind == "planted" and numbers:
        return bed_answer(asked, sight, numbers[0], fault)
    task = _task_for(sight, kind, of, asked.form.text("batch"))
    if task is not None:
        html = task_page(sight, asked.visitor, task, key=fresh_key, fault=fault)
        return page(html, HTTPStatus.UNPROCESSABLE_ENTITY)
    if sight.batch(of) is not None:
        return batch_answer(asked, sight, of, fault)
    raise Refused(HTTPStatus.UNPROCESSABLE_ENTITY, fault.title, fault.text, visitor=asked.visitor)


def _task_for(sight: Sight, kind: str, of: str, batch: str) -> Task | None:
    """Return the task whose page asks for a kind of note."""
    if is_of_ferment(of):
        return _ferment_task_for(sight, kind, of, batch)
    wanted = {"started": "start", "applied": "apply"}.get(kind)
    if kind == "skipped":
        wanted = "start" if sight.batch(of) is not None else "apply"
    tasks = (one for one in sight.plan.tasks if one.kind == wanted)
    return next((one for one in tasks if of == one.batch or of in one.treatments), None)


def _ferment_task_for(sight: Sight, kind: str, of: str, batch: str) -> Task | None:
    """Return the task whose page asks for the start of a ferment, or for the brew that joins one."""
    if kind != "applied":
        return next((one for one in sight.plan.tasks if steeped_in(one) == of), None)
    tasks = (one for one in sight.plan.tasks if one.kind in ("ferment", "wash"))
    return next((one for one in tasks if one.batch == batch), None)
