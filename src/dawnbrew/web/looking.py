"""Answers those who look: every page that is fetched."""

from http import HTTPStatus

from starlette.responses import Response

from dawnbrew.errors import BadFarm, BadFarmFile, BadMoment, DawnbrewError, NoSuchId
from dawnbrew.farm.models import Bed, Farm
from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.ferment_notes import matter_of
from dawnbrew.journal.values import KeptNote, Link
from dawnbrew.moments import day_text, farm_day, parse_day, time_text
from dawnbrew.season.desk import Meaning
from dawnbrew.season.links import Addresses
from dawnbrew.season.sight import Sight
from dawnbrew.season.slip import PastSlip, SlipBusy
from dawnbrew.web.answer import Refused, come_again, not_there, page
from dawnbrew.web.asked import Asked, called_by, fault_of, fresh_key, own_matter, task_behind
from dawnbrew.web.forms import MOST_FIELDS, whole_number
from dawnbrew.web.pages.batch import batch_page
from dawnbrew.web.pages.bed import bed_page
from dawnbrew.web.pages.beds import beds_page
from dawnbrew.web.pages.links import links_page
from dawnbrew.web.pages.noted import noted_page
from dawnbrew.web.pages.now import now_page
from dawnbrew.web.pages.season import season_page
from dawnbrew.web.pages.slip import slip_page
from dawnbrew.web.pages.task import gone_page, task_page
from dawnbrew.web.pages.values import ChannelLine, Fault

MOST_IDS = MOST_FIELDS
"""So many notes one page tells of; a tap makes one for each bed of a work."""

SLIP_AGAIN_S = 10
"""When to come again while another slip is looked at. [s]"""

NOT_SLIPPED = "Not slipped"

NOT_PLANNED = "This task is not in the plan any more. The page Now says what comes next."

WRONG = (BadNote, BadMoment, NoSuchId, BadFarm, BadFarmFile)
"""What a visitor asked in a way that cannot be."""


def look_now(asked: Asked) -> Response:
    """Return the page Now."""
    return page(now_page(asked.desk.sight(), asked.visitor, key=fresh_key))


def look_season(asked: Asked) -> Response:
    """Return the page Season, from the day that is asked for."""
    text = asked.query.get("from", "")
    try:
        from_on = parse_day(text) if text else None
    except BadMoment as problem:
        raise Refused(
            HTTPStatus.UNPROCESSABLE_ENTITY, "No such day", f"{problem.got}; {problem.need}.", problem.fix,
            visitor=asked.visitor,
        ) from None  # fmt: skip
    return page(season_page(asked.desk.sight(), asked.visitor, from_on=from_on))


def look_beds(asked: Asked) -> Response:
    """Return the list of beds."""
    return page(beds_page(asked.desk.sight(), asked.visitor))


def look_bed(asked: Asked) -> Response:
    """Return the page of one bed by its place in the farm file."""
    return bed_answer(asked, asked.desk.sight(), whole_number(asked.words["number"]))


def look_batch(asked: Asked) -> Response:
    """Return the page of one batch."""
    return batch_answer(asked, asked.desk.sight(), asked.words["id"])


def look_task(asked: Asked) -> Response:
    """Return the page of one task, or that it is gone."""
    sight = asked.desk.sight()
    task = sight.task(asked.words["id"])
    if task is None:
        return _gone(asked, sight, asked.words["id"])
    return page(task_page(sight, asked.visitor, task, key=fresh_key))


def look_linked_task(asked: Asked) -> Response:
    """Return the page of the task that somebody was called to, with what changed since."""
    return linked_answer(asked, asked.desk.sight())


def look_slip(asked: Asked) -> Response:
    """Return the page Slip; where bed and day are chosen, with what they would change."""
    sight = asked.desk.sight()
    number, text = whole_number(asked.query.get("bed", "")), asked.query.get("on", "").strip()
    if number is None:
        return page(slip_page(sight, asked.visitor, key=fresh_key))
    bed = _bed_at(asked, sight, number).name
    if not text:
        return page(slip_page(sight, asked.visitor, key=fresh_key, bed=bed))
    try:
        ahead = asked.desk.slip_ahead(bed, parse_day(text))
    except WRONG as problem:
        return slip_answer(asked, problem, bed, text)
    except SlipBusy as problem:
        what_to_do = f"{problem.fix} Nothing was changed."
        raise come_again("Not now", f"There is {problem.got}.", what_to_do, SLIP_AGAIN_S) from None
    return page(slip_page(sight, asked.visitor, key=fresh_key, bed=bed, on=text, ahead=ahead))


def look_links(asked: Asked) -> Response:
    """Return the page of channels and links."""
    return links_answer(asked)


def look_noted(asked: Asked) -> Response:
    """Return what notes mean."""
    ids = [whole_number(word) for word in asked.words["ids"].split(",")[: MOST_IDS + 1]]
    known = [one for one in ids if one is not None]
    if len(known) < len(ids) or len(ids) > MOST_IDS:
        raise not_there(asked.visitor)
    sight = asked.desk.sight()
    meaning = asked.desk.meaning(known)
    if not meaning.notes:
        raise not_there(asked.visitor)
    own = own_matter(asked, sight)
    if own is not None and any(_matter(asked, note) not in own for note in meaning.notes):
        raise not_there()
    tapped = _already(sight, meaning) if asked.query.get("again") == "1" else None
    return page(noted_page(sight, asked.visitor, meaning, tapped, key=fresh_key))


def _matter(asked: Asked, note: KeptNote) -> str:
    """Return what a note is about; what takes another one back is about the same."""
    told = asked.desk.journal.note(note.corrects) if note.corrects is not None else None
    return matter_of(told or note)


def bed_answer(asked: Asked, sight: Sight, number: int | None, fault: Fault | None = None) -> Response:
    """Return the page of one bed, as a refusal where there is a fault."""
    bed = _bed_at(asked, sight, number)
    own = [one.id for one in sight.plan.treatments if one.bed == bed.name]
    history = asked.desk.history([bed.name, *own])
    return page(
        bed_page(sight, asked.visitor, bed, history=history, key=fresh_key, fault=fault), _status(fault)
    )  # fmt: skip


def batch_answer(asked: Asked, sight: Sight, id: str, fault: Fault | None = None) -> Response:
    """Return the page of one batch, as a refusal where there is a fault."""
    batch = sight.batch(id)
    if batch is None:
        raise not_there(asked.visitor)
    history = asked.desk.history([batch.id])
    return page(
        batch_page(sight, asked.visitor, batch, history=history, key=fresh_key, fault=fault), _status(fault)
    )


def linked_answer(asked: Asked, sight: Sight, fault: Fault | None = None) -> Response:
    """Return the page of the task of a link out of a nudge, as a refusal where there is a fault."""
    task, number = task_behind(asked, sight), called_by(asked)
    id = asked.link.task if asked.link is not None else None
    stale = None if id is None or number is None else sight.stale(id, number)
    if task is None or sight.task(task.id) is None:
        text = fault.text if fault is not None else stale or NOT_PLANNED
        is_done = fault is None and sight.noted_text(task) is not None
        return page(gone_page(sight, asked.visitor, text, is_done=is_done), _status(fault))
    html = task_page(sight, asked.visitor, task, key=fresh_key, stale=stale, fault=fault)
    return page(html, _status(fault))


def _gone(asked: Asked, sight: Sight, id: str) -> Response:
    """Return the page of a task that the plan does not hold any more, or never did."""
    last = sight.last_with(id)
    if last is None:
        return page(gone_page(sight, asked.visitor, NOT_PLANNED), HTTPStatus.NOT_FOUND)
    number, was = last
    text = sight.stale(id, number) or NOT_PLANNED
    html = gone_page(sight, asked.visitor, text, is_done=sight.noted_text(was) is not None)
    return page(html, HTTPStatus.GONE)


def slip_answer(
    asked: Asked, problem: DawnbrewError, bed: str, on: str, status: int = HTTPStatus.UNPROCESSABLE_ENTITY
) -> Response:  # fmt: skip
    """Return the page Slip with what cannot be."""
    fix = problem.fix.replace(str(asked.desk.path), asked.desk.path.name)
    if isinstance(problem, PastSlip):
        fix = "If it was planted on that day, note that on the page of the bed: It was planted."
    if not isinstance(problem, BadFarmFile):
        problem = DawnbrewError(where=problem.where, got=problem.got, need=problem.need, fix=fix)
    fault = fault_of(NOT_SLIPPED, problem, asked.form)
    html = slip_page(asked.desk.sight(), asked.visitor, key=fresh_key, bed=bed, on=on or None, fault=fault)
    return page(html, status)


def links_answer(
    asked: Asked, made: tuple[Link, Addresses] | None = None, fault: Fault | None = None
) -> Response:  # fmt: skip
    """Return the page of channels and links, with a link that was just made, or a fault."""
    desk, now = asked.desk, asked.desk.now()
    links = [link for link in desk.journal.links() if link.expires_at is None or link.expires_at > now]
    html = links_page(
        desk.farm, asked.visitor, key=fresh_key, links=links, channels=_channels(desk.farm), made=made,
        fault=fault, now=now,
    )  # fmt: skip
    return page(html, _status(fault))


def _channels(farm: Farm) -> list[ChannelLine]:
    return [ChannelLine(person.name, farm.channels_of(person)) for person in farm.people]


def _status(fault: Fault | None) -> int:
    return HTTPStatus.OK if fault is None else HTTPStatus.UNPROCESSABLE_ENTITY


def _bed_at(asked: Asked, sight: Sight, number: int | None) -> Bed:
    """Return the bed at a place in the farm file, from 1. Errors: Refused."""
    if number is None or number > len(sight.farm.beds):
        raise not_there(asked.visitor)
    return sight.farm.beds[number - 1]


def _already(sight: Sight, meaning: Meaning) -> str:
    """Return when and by whom something was noted before: `Already noted at 06:51 by Aila`."""
    note, zone = meaning.notes[0], sight.zone
    on = farm_day(note.noted_at, zone)
    day = "" if on == farm_day(sight.now, zone) else f"{day_text(on)} "
    by = f" by {note.by}" if note.by else ""
    return f"Already noted at {day}{time_text(note.noted_at, zone)}{by}"
