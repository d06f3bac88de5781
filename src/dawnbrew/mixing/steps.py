"""The steps of one treatment, for the gear at hand."""

from collections.abc import Collection, Iterator

from dawnbrew.farm.models import Farm
from dawnbrew.mixing import drip_line
from dawnbrew.mixing.amount_words import AmountWords
from dawnbrew.mixing.dose import LEAST_STOCK_L, Dose, dose_of
from dawnbrew.mixing.injecting import injector_steps
from dawnbrew.mixing.mixing_water import water_steps
from dawnbrew.mixing.planting_day import planting_steps
from dawnbrew.mixing.self_filling import self_filling_steps, suits
from dawnbrew.mixing.step import Step, StepKind
from dawnbrew.mixing.tanks import draw_steps, fill_steps, put_on_step
from dawnbrew.planning.cautions import ON_LEAVES, PUMP, SEEDLINGS, is_salt_near_seedlings
from dawnbrew.planning.plan import Plan, Treatment

_ORDER: dict[StepKind, int] = {"measure": 0, "do": 1, "mind": 2}


def steps_for(treatment: Treatment, plan: Plan, farm: Farm) -> tuple[Step, ...]:
    """Return how one treatment of a plan is mixed and put on, in order and in the farm's units.

    First comes what has to be measured because the farm file lacks it, then what is done, then cautions. What
    is done covers drawing, the mixing water, the fillings or the bucket or the scoops of the gear that the
    plan named, the pace on the ground, and the rinsing. The litres are the treatment's own, for the whole
    bed; where several people work at once, the steps after drawing are for one of them and say so. Cautions
    that the treatment carries itself are not said again: show `treatment.cautions` beside the steps. The
    texts hold names as the farm file gives them; clean them for a screen.

    Args:
        treatment: Of any state; its litres count, not whether it is done.
        plan: The plan that holds it: its batches name the vessels.
        farm: The farm as it is declared now.

    Returns:
        Never empty. One `mind` step where the farm no longer declares the bed or the gear, or where there is
        too little to measure out.
    """
    dose = dose_of(treatment, plan, farm)
    if dose is None:
        gone = f"{treatment.bed} or {treatment.gear}"
        text = f"{gone} is not in the farm file any more: plan again before you mix."
        return (Step("mind", text),)
    return steps_of(dose, farm, said=treatment.cautions)


def steps_of(dose: Dose, farm: Farm, *, said: Collection[str] = ()) -> tuple[Step, ...]:
    """Return the steps of a dose, without the cautions that are said elsewhere; see `steps_for`."""
    if dose.mixture.stock_l < LEAST_STOCK_L:
        text = (
            f"{dose.bed.name} takes less brew than can be measured out. Give it litres: brew under [[beds]]."
        )
        return (Step("mind", text),)
    words = AmountWords(farm.place.units)
    steps = [*draw_steps(dose, words), *_on_the_bed(dose, farm, words), *_cautions(dose)]
    wanted = (step for step in steps if step.kind != "mind" or step.text not in said)
    return tuple(sorted(wanted, key=lambda step: _ORDER[step.kind]))


def _on_the_bed(dose: Dose, farm: Farm, words: AmountWords) -> Iterator[Step]:
    is_injected = dose.method == "injector" and dose.gear.outlet != "can"
    is_running = not is_injected and dose.method != "hole" and suits(dose)
    water = farm.water_of(dose.gear)
    yield from water_steps(water, dose.for_one.water_l, words, is_hose_fed=is_injected or is_running)
    if dose.method == "drip":
        yield drip_line.before_step()
    if is_injected:
        yield from injector_steps(dose, words)
    elif is_running:
        yield from self_filling_steps(dose, words)
    else:
        yield from fill_steps(dose, words)
        yield from _by_method(dose, words)
    yield from _rinse_steps(dose, words)


def _by_method(dose: Dose, words: AmountWords) -> Iterator[Step]:
    if dose.method == "hole":
        yield from planting_steps(dose, words)
    elif dose.method == "drip":
        yield drip_line.through_step(dose, words)
    else:
        yield put_on_step(dose, words)


def _rinse_steps(dose: Dose, words: AmountWords) -> Iterator[Step]:
    if dose.method == "drip":
        yield drip_line.flush_step(dose, words)
    elif dose.gear.outlet == "can":
        yield _rinse("the can and its rose")
    elif dose.method != "injector":
        is_tank = dose.gear.reservoir_l is not None or dose.mixture.water_l > 0
        parts = f"{'tank, ' if is_tank else ''}pump and {dose.gear.outlet}"
        yield _rinse(parts)


def _rinse(parts: str) -> Step:
    told = f"Rinse {parts} with clean water"
    return Step("do", f"{told}: salt and starch are left in them.", short=f"{told}.")


def _cautions(dose: Dose) -> Iterator[Step]:
    if dose.method == "mist" and dose.mixture.ferment_l > 0:
        yield Step("mind", ON_LEAVES, short=ON_LEAVES)
    if is_salt_near_seedlings(dose.bed, dose.method):
        yield Step("mind", SEEDLINGS)
    if dose.gear.outlet != "can" and dose.method not in ("injector", "drip"):
        yield Step("mind", PUMP)
