"""What one plan altered against the one before, as values and in a paragraph."""

from collections.abc import Iterable
from typing import Literal
from zoneinfo import ZoneInfo

from dawnbrew.moments import (
    Instant,
    at_minute,
    day_text,
    farm_day,
    iso_z,
    minutes_between,
    moment_text,
    parse_instant,
    time_text,
)
from dawnbrew.planning.heirs import heirs_of, next_start_in
from dawnbrew.planning.past import work_of
from dawnbrew.planning.plan import Batch, Change, Plan, Treatment

Kind = Literal["moved", "added", "removed", "resized"]

BY_MINUTES = 60
"""A move by less is told in the list of changes and not counted in the paragraph; our choice. [min]

A running brew whose prime moves by less is not told of at all.
"""


def changes_between(last: Plan, plan: Plan) -> tuple[Change, ...]:
    """Return what is different in what is still to come, treatments first, each in order of time."""
    return (*_of_treatments(last, plan), *_of_batches(last, plan))


def _of_treatments(last: Plan, plan: Plan) -> Iterable[Change]:
    zone = ZoneInfo(plan.farm.timezone)
    was = {one.id: one for one in last.treatments if _is_to_come(one)}
    now = {one.id: one for one in plan.treatments if _is_to_come(one)}
    over = {one.id for one in plan.treatments if one.state in ("done", "skipped")}
    for treatment_id in [*now, *(i for i in was if i not in now and i not in over)]:
        old, new = was.get(treatment_id), now.get(treatment_id)
        old_at, new_at = _work_at(old), _work_at(new)
        one = new or old
        assert one is not None
        if old_at == new_at and (old is None or new is None or old.brew_l == new.brew_l):
            continue
        if old_at is not None and new is None and old_at < plan.made_at:
            continue
        told = f"{one.bed}, {_step(one)}"
        if old_at == new_at and old is not None and new is not None:
            sizes = f"{old.brew_l:g} L", f"{new.brew_l:g} L"
            yield Change(kind="resized", of=one.id, was=sizes[0], now=sizes[1],
                         text=f"{told}: {sizes[1]} of brew instead of {sizes[0]}.")  # fmt: skip
        else:
            yield _change(one.id, told, old_at, new_at, zone)


def _of_batches(last: Plan, plan: Plan) -> Iterable[Change]:
    zone = ZoneInfo(plan.farm.timezone)
    was = {one.id: one for one in last.batches if one.state == "planned"}
    now = {one.id: one for one in plan.batches if one.state == "planned"}
    others = {one.id: one for one in plan.batches if one.state != "planned"}
    _leave_out_renamed(was, now)
    heirs = heirs_of([one for one in was.values() if one.id not in {*now, *others}], last, plan)
    for old_id, heir in list(heirs.items()):
        if heir.id in now and heir.id not in was:  # it is the same start under another id
            was[heir.id] = was.pop(old_id)
    for batch_id in [*now, *(i for i in was if i not in now)]:
        old, new = was.get(batch_id), now.get(batch_id)
        if new is None and batch_id in others and others[batch_id].state != "to-ferment":
            continue  # it was started
        if new is None and old is not None and old.free_at <= plan.made_at:
            continue  # it is over
        one = new or old
        assert one is not None
        told = f"The start in {one.vessel}"
        if old is not None and new is not None and old.start_at == new.start_at:
            if old.vessel != new.vessel:
                yield Change(kind="moved", of=one.id, was=iso_z(old.start_at), now=iso_z(new.start_at),
                             text=f"The start {moment_text(new.start_at, zone)} is in {new.vessel} "
                             f"instead of {old.vessel}.")  # fmt: skip
            continue
        if old is not None and new is None and old.start_at < plan.made_at and batch_id not in others:
            told = f"The brew in {one.vessel}"
        if old is not None and new is None and batch_id not in others and old.start_at > plan.made_at:
            yield _given_up(old, heirs.get(batch_id), plan, zone)
            continue
        if old is not None and new is not None and old.vessel != new.vessel:
            yield _in_another_vessel(old, new, zone)
            continue
        yield _change(one.id, told, old.start_at if old else None, new.start_at if new else None, zone)
    yield from _ripening(last, plan, zone)
    yield from _to_ferment(last, plan, zone)
    yield from _missed(last, plan, zone)


def _in_another_vessel(old: Batch, new: Batch, zone: ZoneInfo) -> Change:
    """Return the move of a start to another time in another vessel."""
    was = f"{moment_text(old.start_at, zone)} in {old.vessel}"
    return Change(
        kind="moved", of=new.id, was=iso_z(old.start_at), now=iso_z(new.start_at),
        text=f"The start in {new.vessel}: {moment_text(new.start_at, zone)} instead of {was}.",
    )  # fmt: skip


def _given_up(old: Batch, heir: Batch | None, plan: Plan, zone: ZoneInfo) -> Change:
    """Return that a start is not made, with its heir, or the next start in its vessel."""
    told = f"The start in {old.vessel}: {moment_text(old.start_at, zone)}"
    if heir is not None:
        text = f"{told} gives way to the brew in {heir.vessel}, start {moment_text(heir.start_at, zone)}."
        return Change(kind="moved", of=old.id, was=iso_z(old.start_at), now=iso_z(heir.start_at), text=text)
    following = next_start_in(old.vessel, plan)
    also = f"; the next start there is {moment_text(following, zone)}" if following is not None else ""
    return Change(
        kind="removed", of=old.id, was=iso_z(old.start_at), now=None, text=f"{told} falls away{also}."
    )  # fmt: skip


def _leave_out_renamed(was: dict[str, Batch], now: dict[str, Batch]) -> None:
    """Take out the batches that only got another id: a start that stays is no news."""
    gone = {(one.vessel, one.start_at): one.id for one in was.values() if one.id not in now}
    for one in [one for one in now.values() if one.id not in was]:
        if (one.vessel, one.start_at) in gone:
            del was[gone[one.vessel, one.start_at]], now[one.id]


def _missed(last: Plan, plan: Plan, zone: ZoneInfo) -> Iterable[Change]:
    """Yield the brews that ran and are not planned with any more, since the farm file has no such vessel."""
    known = {one.id for one in plan.batches}
    for one in last.batches:
        if one.state == "running" and one.id not in known and one.free_at > plan.made_at:
            yield Change(
                kind="removed", of=one.id, was=iso_z(one.start_at), now=None,
                text=f"The brew in {one.vessel}, started {moment_text(one.start_at, zone)}, is not planned "
                "with any more: the farm has no such vessel, or no such recipe.",
            )  # fmt: skip


def _ripening(last: Plan, plan: Plan, zone: ZoneInfo) -> Iterable[Change]:
    """Yield the running brews that the weather makes ripe at another time than they were taken to be."""
    if plan.weather is None and last.weather is None:
        return
    before = {one.id: one for one in last.batches}
    for one in plan.batches:
        old = before.get(one.id)
        if old is None or old.state == "to-ferment" or old.start_at != one.start_at:
            continue
        if one.state not in ("running", "to-ferment"):
            continue
        moved_min = minutes_between(old.prime_from, one.prime_from)
        if abs(moved_min) >= BY_MINUTES:
            opens, not_at = (moment_text(at, zone) for at in (one.prime_from, old.prime_from))
            yield Change(
                kind="ripens", of=one.id, was=iso_z(old.prime_from), now=iso_z(one.prime_from),
                text=f"The brew in {one.vessel} ripens {'faster' if moved_min < 0 else 'slower'} than "
                f"planned: its prime opens {opens}, not {not_at}.{_then(one, last, plan, zone)}",
            )  # fmt: skip


def _then(batch: Batch, last: Plan, plan: Plan, zone: ZoneInfo) -> str:
    """Return when a brew that ripens at another time is to be applied; empty where it is not any more."""
    work, slot = work_of(plan).get(batch.id), next((one for one in plan.slots if one.id == batch.slot), None)
    if batch.state == "to-ferment" or work is None or slot is None:
        return ""
    begins_at = at_minute(work[0])
    if not is_work_moved(batch.id, last, plan):
        return f" The work stays {moment_text(begins_at, zone)}."
    part = {"morning": "in the morning", "evening": "in the evening", "day": "by day"}[slot.part]
    by = time_text(min(slot.closes_at, batch.prime_until), zone)
    return f" Apply {day_text(slot.on)} {part}: begin at {time_text(begins_at, zone)}, be done by {by}."


def is_work_moved(batch: str, last: Plan, plan: Plan) -> bool:
    """Return whether a batch is applied at another time than before, or not any more."""
    return work_of(plan).get(batch) != work_of(last).get(batch)


def _to_ferment(last: Plan, plan: Plan, zone: ZoneInfo) -> Iterable[Change]:
    """Yield the running batches that serve nothing any more."""
    before = {one.id: one for one in last.batches}
    for one in plan.batches:
        old = before.get(one.id)
        if one.state == "to-ferment" and old is not None and old.state == "running":
            yield Change(
                kind="removed", of=one.id, was=iso_z(one.start_at), now=None,
                text=f"The brew in {one.vessel}, started {moment_text(one.start_at, zone)}, goes to the "
                f"ferment: {_because(one)}",
            )  # fmt: skip


def _change(of: str, told: str, was: Instant | None, now: Instant | None, zone: ZoneInfo) -> Change:
    kind: Kind
    if was is None and now is not None:
        kind, text = "added", f"{told}: {moment_text(now, zone)} is new."
    elif now is None and was is not None:
        kind, text = "removed", f"{told}: {moment_text(was, zone)} falls away."
    else:
        assert was is not None
        assert now is not None
        kind, text = "moved", f"{told}: {_instead(now, was, zone)}."
    return Change(
        kind=kind, of=of, was=None if was is None else iso_z(was), now=None if now is None else iso_z(now),
        text=text,
    )  # fmt: skip


def _instead(now: Instant, was: Instant, zone: ZoneInfo) -> str:
    """Return `Thu 3 Dec 18:30 instead of Sat 5 Dec 07:00`, the day once where it is the same."""
    same_day = farm_day(now, zone) == farm_day(was, zone)
    return (
        f"{moment_text(now, zone)} instead of {time_text(was, zone) if same_day else moment_text(was, zone)}"
    )


def _is_to_come(one: Treatment) -> bool:
    return one.state in ("planned", "unplaced")


def _work_at(one: Treatment | None) -> Instant | None:
    return None if one is None else one.work_from


def _step(one: Treatment) -> str:
    if one.step == "on":
        return "planting day"
    words = {"before": " before planting", "after": " after planting", "round": ""}[one.step]
    return f"{'round' if one.step == 'round' else 'treatment'} {one.number} of {one.of}{words}"


def change_words(last: Plan, plan: Plan) -> str:
    """Return what a plan changes in one paragraph that a grower understands.

    Example: `3 treatments move, 1 batch fewer. The next start is Thu 3 Dec 18:30 instead of Sat 5 Dec 07:00.`
    """
    if not plan.changes:
        return "Nothing changes."
    zone = ZoneInfo(plan.farm.timezone)
    batches = {one.id for one in (*last.batches, *plan.batches)}
    treatments = [one for one in plan.changes if one.of not in batches and not is_by_minutes(one)]
    starts = [one for one in plan.changes if one.of in batches and one.kind == "moved"]
    starts = [one for one in starts if not is_by_minutes(one)]
    told = [
        _count(treatments, "moved", "moves", "move"),
        _count(treatments, "added", "is new", "are new"),
        _count(treatments, "removed", "falls away", "fall away"),
        _count(treatments, "resized", "takes another amount", "take other amounts"),
        _batches_more(last, plan),
        f"{len(starts)} start{'s' if len(starts) > 1 else ''} of a brew move{'' if len(starts) > 1 else 's'}"
        if starts
        else "",
    ]
    poured = [*_ripening_words(plan), *_poured(last, plan)]
    first = ", ".join(text for text in told if text) or ("" if poured else "only minutes move")
    sentences = [f"{first[0].upper()}{first[1:]}."] if first else []
    return " ".join([*sentences, *_next_start(last, plan, zone), *_left_over(last, plan), *poured])


def is_by_minutes(one: Change) -> bool:
    """Return whether a change is a move by minutes; another vessel at the same time is more than that."""
    if one.kind != "moved" or one.was is None or one.now is None or one.was == one.now:
        return False
    return abs(minutes_between(parse_instant(one.was), parse_instant(one.now))) < BY_MINUTES


def _count(treatments: list[Change], kind: str, one: str, many: str) -> str:
    n = sum(change.kind == kind for change in treatments)
    return f"{n} treatment{'s' if n > 1 else ''} {many if n > 1 else one}" if n else ""


def _batches_more(last: Plan, plan: Plan) -> str:
    more = len(_to_come(plan, plan.made_at)) - len(_to_come(last, plan.made_at))
    return (
        f"{abs(more)} batch{'es' if abs(more) > 1 else ''} {'more' if more > 0 else 'fewer'}" if more else ""
    )


def _to_come(plan: Plan, made_at: Instant) -> list[Batch]:
    return sorted(
        (one for one in plan.batches if one.start_at > made_at and one.state == "planned"),
        key=lambda one: one.start_at,
    )


def _next_start(last: Plan, plan: Plan, zone: ZoneInfo) -> Iterable[str]:
    was, now = _to_come(last, plan.made_at), _to_come(plan, plan.made_at)
    if now and was and now[0].start_at != was[0].start_at:
        yield f"The next start is {_instead(now[0].start_at, was[0].start_at, zone)}."
    elif now and was:
        yield f"The next start stays {moment_text(now[0].start_at, zone)}."
    elif now:
        yield f"The next start is {moment_text(now[0].start_at, zone)}."
    elif was:
        yield "No brew is to be started any more."


def _left_over(last: Plan, plan: Plan) -> Iterable[str]:
    more = len(plan.unplaced) - len(last.unplaced)
    if more > 0:
        yield f"{more} treatment{'s' if more > 1 else ''} more without a slot: dawnbrew plan tells why."


def _ripening_words(plan: Plan) -> Iterable[str]:
    return (one.text for one in plan.changes if one.kind == "ripens")


def _poured(last: Plan, plan: Plan) -> Iterable[str]:
    before = {one.id: one.state for one in last.batches}
    for one in plan.batches:
        if one.state == "to-ferment" and before.get(one.id) not in ("to-ferment", None):
            yield f"The brew in {one.vessel} goes to the ferment: {_because(one)}"


def _because(one: Batch) -> str:
    """Return why a batch is poured out, as the end of a sentence."""
    reason = " ".join(one.why)
    return f"{reason[:1].lower()}{reason[1:]}"
