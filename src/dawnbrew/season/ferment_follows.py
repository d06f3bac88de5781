"""Says what a note means for the barrel of its ferment."""

from dawnbrew.journal.values import KeptNote
from dawnbrew.moments import farm_day
from dawnbrew.planning.barrels import barrel_id
from dawnbrew.planning.plan import Filling, Plan
from dawnbrew.season.plan_words import PlanWords


def ferment_text(plan: Plan, note: KeptNote) -> str:
    """Return what is in the barrel of a note by a plan that knows it, and from when on it may be used.

    Empty where the plan has no such barrel. After a start that was left out: when it is to be started.
    """
    words = PlanWords(plan)
    mine = [one for one in plan.ferments if barrel_id(one.name) == note.of]
    wanted = [one for one in mine if (one.state == "planned") == (note.kind == "skipped")]
    if not wanted:
        return ""
    if note.kind == "skipped":
        ahead = min(wanted, key=lambda one: one.start_on)
        told = (
            f"{ahead.name} is to be started {words.day(ahead.start_on)}, ready {words.day(ahead.ready_on)}."
        )
        return words.clean(told)
    now = max(wanted, key=lambda one: one.start_on)
    is_ready = now.ready_on <= farm_day(plan.made_at, words.zone)
    ready = "ready" if is_ready else f"ready {words.day(now.ready_on)}"
    return words.clean(f"{words.volume(_inside_l(now, plan))} in {now.name}, {ready}.")


def _inside_l(filling: Filling, plan: Plan) -> float:
    """Return what is in a barrel when a plan is made. [L]"""
    joined_l = sum(one.litres for one in filling.joined)
    return filling.filled_l + joined_l - sum(one.litres for one in filling.draws if one.at <= plan.made_at)
