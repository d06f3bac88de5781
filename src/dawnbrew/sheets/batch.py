"""The sheet of a batch: what goes in, when it is used, and lines to write down what happened."""

from dawnbrew.moments import instant
from dawnbrew.planning.plan import Batch, Plan
from dawnbrew.sheets.paper import render
from dawnbrew.sheets.told import Teller


def batch_sheet(plan: Plan, batch: Batch) -> str:
    """Return the sheet of one batch of a plan in HTML."""
    teller = Teller.of(plan, is_short=False)
    words = teller.words
    moments = {
        "Fill": batch.fill_at, "Start": batch.start_at, "Prime from": batch.prime_from, "Peak": batch.peak_at,
        "Prime until": batch.prime_until,
    }  # fmt: skip
    tasks = [task for task in plan.tasks if task.batch == batch.id or _draws(plan, task.treatments, batch)]
    return render(
        "batch.html", title=words.clean(f"{batch.vessel}: {words.volume(batch.volume_l)} {batch.recipe}"),
        farm=plan.farm.name, made=f"Batch {batch.id}. {teller.made()}",
        moments=[(word, words.moment(instant(at))) for word, at in moments.items()],
        likely=words.peak(batch), gamble=words.clean(batch.gamble or plan.gamble or ""),
        cold=batch.too_cold_to_promise,
        amounts=[("water", words.volume(batch.volume_l)),
                 *((part.name, f"{part.amount:g} {part.unit}") for part in batch.ingredients)],
        tasks=[teller.task(task, with_day=True) for task in tasks], served=batch.slot is not None,
    )  # fmt: skip


def _draws(plan: Plan, treatments: tuple[str, ...], batch: Batch) -> bool:
    """Say whether one of some treatments takes brew of a batch."""
    wanted = set(treatments)
    works = (one for one in plan.treatments if one.id in wanted)
    return any(draw.batch == batch.id for one in works for draw in one.batches)
