"""The page of one batch: what is in it, how it ripens, what it is for, why, and what happened."""

from collections.abc import Callable, Sequence

from dawnbrew.planning.likely_words import chance_lines
from dawnbrew.planning.plan import Batch
from dawnbrew.season.history import HistoryLine
from dawnbrew.season.plan_words import step_short
from dawnbrew.season.sight import Sight
from dawnbrew.season.telling_most import advice_of
from dawnbrew.web.pages.brew import brew_of
from dawnbrew.web.pages.history import history_of
from dawnbrew.web.pages.on_paper import batch_sheet_of
from dawnbrew.web.pages.paper import render
from dawnbrew.web.pages.task_block import Amount, Place, ingredients, temperature_unit
from dawnbrew.web.pages.telling import Stamp, Teller, unique
from dawnbrew.web.pages.values import Fault
from dawnbrew.web.visitor import Visitor

_STATES = {
    "planned": "planned", "running": "running", "used": "used", "to-ferment": "goes to the ferment",
}  # fmt: skip


def batch_page(
    sight: Sight, visitor: Visitor, batch: Batch, *, history: Sequence[HistoryLine], key: Callable[[], str],
    fault: Fault | None = None,
) -> str:  # fmt: skip
    """Return the page of one batch.

    Args:
        history: What was noted and changed about it, the newest first.
        key: Gives a fresh word for each form.
    """
    teller = Teller(sight, visitor)
    can_answer = visitor.may("answer") and batch.state not in ("used",)
    return render(
        "batch.html", teller.frame(batch.vessel), batch=batch, brew=brew_of(teller, batch),
        volume=sight.words.volume(batch.volume_l), state=_STATES[batch.state],
        moments=_moments(teller, batch),
        amounts=(Amount("water", sight.words.volume(batch.volume_l)), *ingredients(batch)),
        served=_served(teller, batch), advice=_advice(sight, batch),
        why=unique(
            teller.clean(text) for text in (*batch.why, *chance_lines(batch), sight.plan.gamble or "")
        ),
        history=history_of(teller, history), can_start=can_answer and batch.state == "planned",
        can_look=can_answer and batch.start_at <= sight.now, unit=temperature_unit(sight),
        sheet=batch_sheet_of(sight, visitor, batch), visitor=visitor, key=key, fault=fault,
    )  # fmt: skip


def _advice(sight: Sight, batch: Batch) -> str:
    """Return which look or reading would tell most about a batch, empty where none is worth a walk."""
    looks = next((one.looks for one in sight.answers.known.running if one.batch.id == batch.id), ())
    found = advice_of(sight.facts, sight.farm, batch, looks=looks, now=sight.now)
    return "" if found is None else found.sentence


def _moments(teller: Teller, batch: Batch) -> list[tuple[str, Stamp]]:
    """Return the moments of a batch in their order, each with its word."""
    is_begun = batch.state != "planned"
    planned = batch.start_planned_at
    moments = [
        ("Water in", batch.fill_at), ("Started" if is_begun else "Start", batch.start_at),
        *([("Was to start", planned)] if planned is not None else []),
        ("Prime from", batch.prime_from), ("Peak", batch.peak_at), ("Prime until", batch.prime_until),
        ("Vessel free", batch.free_at),
    ]  # fmt: skip
    return [(word, teller.at(moment)) for word, moment in moments]


def _served(teller: Teller, batch: Batch) -> list[tuple[Place, str, str, Stamp | None]]:
    """Return the beds that a batch is for: which treatment, how many litres, when."""
    found = []
    for one in teller.sight.plan.treatments:
        litres = sum(draw.litres for draw in one.batches if draw.batch == batch.id)
        if litres > 0:
            at = None if one.work_from is None else teller.at(one.work_from)
            place = Place(one.bed, teller.bed_link(one.bed))
            found.append((place, step_short(one), teller.sight.words.volume(litres), at))
    return found
