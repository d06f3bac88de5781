"""Plans a farm again for a person, stores the plan whoever else stores one, and says what it changes."""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from dawnbrew.calendar_out.text import name_guard, one_line
from dawnbrew.farm.models import Farm
from dawnbrew.farm.read import bytes_of, decoded, parse_farm
from dawnbrew.journal.ferment_notes import is_of_ferment
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import KeptNote
from dawnbrew.moments import Instant, instant, parse_instant
from dawnbrew.planning.changes import change_words, changes_between, is_by_minutes
from dawnbrew.planning.plan import Batch, Change, Plan, chosen_names
from dawnbrew.season.again import Again, plan_again, store
from dawnbrew.season.ferment_follows import ferment_text
from dawnbrew.season.plan_words import PlanWords, joined

TRIES = 3
"""How often a plan is made on top of one that came in meanwhile."""

FEW = 3
"""So many changes by minutes are told one by one, more of them in one line."""


MOST_BEDS = 4
"""So many beds of one batch are named."""


@dataclass(frozen=True)
class Declared:
    """What a farm file declares. `sha256`: of its bytes, as a plan is stored with it."""

    farm: Farm
    sha256: str


@dataclass(frozen=True)
class Stored:
    """A plan that was made again, as far as it was stored.

    Args:
        number: Of the revision; None where nothing new was to be stored, or `is_overtaken`.
        is_overtaken: Others stored a plan at each try; the last of theirs stands.
    """

    again: Again
    number: int | None
    is_overtaken: bool = False


def declared_in(path: Path) -> Declared:
    """Return what a farm file declares. Errors: BadFarmFile."""
    return declared_by(bytes_of(path), path.name)


def declared_by(content: bytes, file_name: str) -> Declared:
    """Return what the bytes of a farm file declare. Errors: BadFarmFile."""
    return Declared(parse_farm(decoded(content, file_name), file_name), sha256(content).hexdigest())


def store_again(
    declared: Declared, journal: Journal, *, reason: str, now: Instant, first: Again | None = None,
    on_progress: Callable[[str], None] | None = None,
) -> Stored:  # fmt: skip
    """Store a plan; where another one came in since it was made, make it again on top of that.

    Args:
        first: The plan where it was made already.

    Errors: those of a journal, SolverFailed.
    """
    again = first
    for _ in range(TRIES):
        again = again or plan_again(declared.farm, journal, now=now, on_progress=on_progress)
        number = store(again, declared.farm, journal, reason=reason, file_sha256=declared.sha256, now=now)
        follows = again.last.number if again.last is not None else None
        if number is not None or journal.last_number() == follows:
            return Stored(again, number)
        made, again = again, None
    return Stored(made, None, is_overtaken=True)


def compared(last: Plan, plan: Plan) -> Plan:
    """Return a plan with its changes against another one than the one that it follows."""
    return plan.model_copy(update={"changes": changes_between(last, plan)})


def changes_text(last: Plan, plan: Plan) -> str:
    """Return what a plan changes as one clean paragraph."""
    return _clean(last, plan)(change_words(last, plan))


def change_texts(last: Plan, plan: Plan) -> list[str]:
    """Return the changes of a plan in words, the nearest first; many moves by minutes become one text."""
    clean = _clean(last, plan)
    small = [one for one in plan.changes if is_by_minutes(one)]
    is_few = len(small) <= FEW
    told = [clean(one.text) for one in sorted_changes(last, plan) if is_few or one not in small]
    if not is_few:
        told.append(f"{len(small)} times move by less than an hour; they are not listed.")
    waits = _in_the_way(last, plan).items()
    return told + [clean(f"{count} more without a slot: {reason}") for reason, count in waits]


def _in_the_way(last: Plan, plan: Plan) -> Counter[str]:
    """Return what stands in the way of treatments that had a slot before, each with how many it is."""
    before = {one.treatment for one in last.unplaced}
    return Counter(
        one.reasons[0].text for one in plan.unplaced if one.treatment not in before and one.reasons
    )


def sorted_changes(last: Plan, plan: Plan) -> list[Change]:
    """Return the changes of a plan by the earlier of the times that each one had and has."""
    work = {one.id: one.work_from for one in (*last.treatments, *plan.treatments) if one.work_from}

    def begins_at(change: Change) -> Instant:
        if change.kind == "resized" and change.of in work:  # of these the plan tells litres, not moments
            return work[change.of]
        told = [parse_instant(text) for text in (change.was, change.now) if text is not None]
        return min(told, default=plan.made_at)

    return sorted(plan.changes, key=begins_at)


def _clean(last: Plan, plan: Plan) -> Callable[[str], str]:
    guard = name_guard(chosen_names(last) | chosen_names(plan))
    return lambda text: one_line(guard(text))


def what_follows(last: Plan, plan: Plan, note: KeptNote | None) -> Iterator[str]:
    """Yield what a note means for whoever wrote it: for its batch, and for the plan.

    Args:
        last: The plan before the note. plan: The one that knows it. note: The newest, or None.
    """
    final = compared(last, plan)
    is_of_batch = note is not None and note.kind in ("started", "looked", "measured") and not note.is_undone
    batch = next((one for one in plan.batches if note is not None and one.id == note.of), None)
    if batch is not None and note is not None and is_of_batch:
        told = _batch_text(plan, batch) or _late_look_text(plan, batch, note)
        is_poured = any(one.of == batch.id and one.kind == "removed" for one in final.changes)
        if told and not (is_poured and batch.state == "to-ferment"):
            yield told
    is_of_barrel = note is not None and is_of_ferment(note.of) and not note.is_undone
    if note is not None and is_of_barrel and (told := ferment_text(plan, note)):
        yield told
    if final.changes:
        yield changes_text(last, final)


def _late_look_text(plan: Plan, batch: Batch, note: KeptNote) -> str:
    """Return until when a brew is in its prime that somebody found there when its work was over."""
    if note.kind != "looked" or batch.state != "used" or note.at >= batch.prime_until:
        return ""
    words = PlanWords(plan)
    until = words.moment(instant(batch.prime_until))
    return words.clean(f"{batch.vessel} is in its prime until {until}; by the plan its work is over.")


def _batch_text(plan: Plan, batch: Batch) -> str:
    """Return what becomes of a batch that was started, empty where it is used up."""
    words = PlanWords(plan)
    if batch.state == "to-ferment":
        return words.clean(f"The brew in {batch.vessel} goes to the ferment.")
    if batch.state != "running":
        return ""
    prime = words.span(instant(batch.prime_from), instant(batch.prime_until))
    served = sorted(
        (one.work_from, one.bed)
        for one in plan.treatments
        if one.work_from is not None
        and one.state == "planned"
        and any(draw.batch == batch.id for draw in one.batches)
    )
    beds = list(dict.fromkeys(bed for _, bed in served))
    more = [f"{len(beds) - MOST_BEDS} more"] if len(beds) > MOST_BEDS else []
    apply = (
        f"; apply {words.moment(instant(served[0][0]))} to {joined([*beds[:MOST_BEDS], *more])}"
        if served
        else ""
    )
    return words.clean(f"In its prime {prime}{apply}.")
