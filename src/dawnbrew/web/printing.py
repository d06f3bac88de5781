"""Answers those who want paper: the sheets that the command line writes, and the treatment log."""

from datetime import date, timedelta
from http import HTTPStatus

from starlette.responses import Response

from dawnbrew.errors import BadMoment
from dawnbrew.moments import farm_day, parse_day
from dawnbrew.season.log_reader import LogBusy
from dawnbrew.season.sight import Sight
from dawnbrew.season.supplies import SHOWN_DAYS, supplies_of
from dawnbrew.season.treatment_log import TreatmentLog
from dawnbrew.sheets.batch import batch_sheet
from dawnbrew.sheets.log import log_sheet
from dawnbrew.sheets.log_csv import log_file
from dawnbrew.sheets.paper import STYLE, WIDE
from dawnbrew.sheets.slot import slot_sheet
from dawnbrew.sheets.supplies import supplies_sheet
from dawnbrew.sheets.week import first_day, is_in_plan, week_sheet
from dawnbrew.web.answer import NO_STORE, Refused, come_again, not_there, page
from dawnbrew.web.asked import Asked
from dawnbrew.web.pages.log import log_page
from dawnbrew.web.pages.paper import style_sha256

SHEET_STYLES_SHA256 = tuple(style_sha256(style) for style in (STYLE, WIDE))
"""Lets the policy of an answer allow the styles inside sheets."""

CSV = "text/csv; charset=utf-8; header=present"
"""RFC 4180, section 3."""

LOG_SHOWN_D = 365
"""The page of the log begins with a year; any other span may be asked for. [days]"""

LOG_AGAIN_S = 10
"""When to come again while another log is read. [s]"""


def print_week(asked: Asked) -> Response:
    """Return the sheet of seven days, from the day that is asked for or from today."""
    sight = asked.desk.sight()
    plan = sight.revision.plan
    from_on = _day(asked, "from") or first_day(plan, _today(sight))
    if not is_in_plan(plan, from_on):
        raise _no_day(
            asked, "The plan does not reach that week.",
            f"Ask for a day from {plan.from_on} to {plan.until_on}.",
        )  # fmt: skip
    return page(week_sheet(plan, from_on))


def print_batch(asked: Asked) -> Response:
    """Return the sheet of one batch of the plan."""
    plan = asked.desk.sight().revision.plan
    batch = next((one for one in plan.batches if one.id == asked.words["id"]), None)
    if batch is None:
        raise not_there(asked.visitor)
    return page(batch_sheet(plan, batch))


def print_slot(asked: Asked) -> Response:
    """Return the sheet of one slot in which there is work."""
    sight = asked.desk.sight()
    plan, id = sight.revision.plan, asked.words["id"]
    slot = next((one for one in plan.slots if one.id == id), None)
    if slot is None or all(one.slot != id for one in plan.treatments):
        raise not_there(asked.visitor)
    return page(slot_sheet(plan, sight.farm, slot))


def print_supplies(asked: Asked) -> Response:
    """Return the sheet of what the next two weeks need."""
    sight = asked.desk.sight()
    plan, from_on = sight.revision.plan, _today(sight)
    told = supplies_of(
        sight.farm, plan, asked.desk.journal, from_on=from_on,
        until_on=from_on + timedelta(days=SHOWN_DAYS - 1), now=sight.now,
    )  # fmt: skip
    return page(supplies_sheet(plan, sight.farm, told, made_at=sight.now))


def look_log(asked: Asked) -> Response:
    """Return the page of the treatment log, of the span that is asked for or of the last year."""
    sight = asked.desk.sight()
    if not {"from", "until"} & set(asked.query):
        log = _log(asked, _today(sight) - timedelta(days=LOG_SHOWN_D), None)
    else:
        log = _log(asked, *_span(asked))
    return page(log_page(sight, asked.visitor, log))


def print_log(asked: Asked) -> Response:
    """Return the treatment log as a sheet."""
    return page(log_sheet(_log(asked, *_span(asked)), made_at=asked.desk.now()))


def send_log(asked: Asked) -> Response:
    """Return the treatment log as a file for a spreadsheet."""
    name = f"treatments-{asked.desk.slug}.csv"
    headers = {**NO_STORE, "Content-Disposition": f'attachment; filename="{name}"'}
    return Response(log_file(_log(asked, *_span(asked))), HTTPStatus.OK, headers, CSV)


def _today(sight: Sight) -> date:
    return farm_day(sight.now, sight.zone)


def _log(asked: Asked, from_on: date | None, until_on: date | None) -> TreatmentLog:
    try:
        return asked.desk.log(from_on, until_on)
    except LogBusy as problem:
        raise come_again("Not now", f"There is {problem.got}.", problem.fix, LOG_AGAIN_S) from None


def _span(asked: Asked) -> tuple[date | None, date | None]:
    """Return the first and the last day that are asked for, None where nothing is. Errors: Refused."""
    from_on, until_on = _day(asked, "from"), _day(asked, "until")
    if from_on is not None and until_on is not None and until_on < from_on:
        raise _no_day(asked, f"{until_on} is before {from_on}.", "Exchange the two days.")
    return from_on, until_on


def _day(asked: Asked, name: str) -> date | None:
    """Return a day behind the `?`, None where none is given. Errors: Refused."""
    text = asked.query.get(name, "").strip()
    try:
        return parse_day(text) if text else None
    except BadMoment as problem:
        raise _no_day(asked, f"{problem.got}; {problem.need}.", problem.fix) from None


def _no_day(asked: Asked, text: str, what_to_do: str) -> Refused:
    return Refused(
        HTTPStatus.UNPROCESSABLE_ENTITY, "No such day", text, what_to_do, visitor=asked.visitor
    )  # fmt: skip
