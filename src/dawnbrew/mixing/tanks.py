"""Steps with a tank or a can that is filled, emptied and filled again."""

from collections.abc import Iterator

from dawnbrew.mixing.amount_words import AmountWords, joined, stock_name, times
from dawnbrew.mixing.dose import Dose
from dawnbrew.mixing.mixture import Fills, Mixture, fills_of
from dawnbrew.mixing.step import Step

_VERBS = {"drench": "Pour it on evenly", "mist": "Mist both sides of the leaves evenly"}


def draw_steps(dose: Dose, words: AmountWords) -> Iterator[Step]:
    """Yield what is taken from which vessel; without a plan no vessel is named."""
    mixture = dose.mixture
    if mixture.brew_l > 0:
        drawn = [f"{words.volume(litres)} of brew from {vessel}" for vessel, litres in dose.drawn]
        taken = (
            f"Draw {joined(drawn)}" if drawn else f"Draw {words.volume(mixture.brew_l)} of brew in its prime"
        )
        yield Step("do", f"{taken}, through a strainer.", litres=mixture.brew_l)
    if mixture.ferment_l > 0:
        told = _ferment_words(dose, words)
        yield Step("do", f"{told}, through a strainer.", litres=mixture.ferment_l)
    if dose.crew > 1:
        text = f"{dose.crew} people share it alike, each with a set; what follows is for one of them."
        yield Step("do", text, short=f"For each of {dose.crew} people:", is_key=True)


def _ferment_words(dose: Dose, words: AmountWords) -> str:
    """Return what of the ferment is drawn; no barrel is named where nobody keeps count."""
    ferment = words.volume(dose.mixture.ferment_l)
    if not dose.barrels:
        return f"Stir the ferment and draw {ferment} of it"
    names = joined([name for name, _ in dose.barrels])
    if len(dose.barrels) == 1:
        return f"Stir the ferment in {names} and draw {ferment} of it"
    drawn = joined([f"{words.volume(litres)} from {name}" for name, litres in dose.barrels])
    return f"Stir the ferment in {names} and draw {drawn}"


def fill_steps(dose: Dose, words: AmountWords) -> Iterator[Step]:
    """Yield how the tank or can is filled, or what to measure where the farm file does not tell its size."""
    mixture = dose.for_one
    if dose.gear.reservoir_l is None:
        if mixture.water_l > 0 or (mixture.ferment_l > 0 and mixture.brew_l > 0):
            yield from _unknown_tank(dose, words)
        return
    fills = fills_of(mixture, dose.gear.reservoir_l)
    text = told = f"Fill the {holder(dose)} {fills_words(fills, words)}"
    if mixture.water_l > 0:
        text += f" Half of the water first, then {stock_name(mixture)}, then the rest of the water."
    yield Step("do", text, litres=mixture.total_l, short=told, is_key=True)


def fills_words(fills: Fills, words: AmountWords) -> str:
    """Return how often and with what: `3 times: twice with 5 L of brew ..., the last time with ...`."""
    full, last = (_filling(one, words) for one in (fills.full, fills.last))
    if fills.count == 1:
        return f"with {full}."
    if fills.are_alike:
        return f"{times(fills.count)}, each time with {full}."
    if fills.count == 2:
        return f"twice: first with {full}, then with {last}."
    return f"{times(fills.count)}: {times(fills.count - 1)} with {full}, the last time with {last}."


def _filling(mixture: Mixture, words: AmountWords) -> str:
    inside = words.mixture(mixture)
    is_mixed = mixture.stock_l < mixture.total_l or 0 < mixture.ferment_l < mixture.total_l
    return f"{inside} ({words.volume(mixture.total_l)} in all)" if is_mixed else inside


def _unknown_tank(dose: Dose, words: AmountWords) -> Iterator[Step]:
    mixture, handy_l = dose.for_one, words.handy_l
    yield Step(
        "measure",
        f"How much the tank or tub holds that {dose.gear.name} draws from is not in the farm file. Measure "
        f'it and write it under [[gear]], e.g. reservoir = "{words.volume(10 * handy_l)}".',
    )
    share = words.mixture(mixture.part(min(1.0, handy_l / mixture.total_l)))
    told = f"For every {words.volume(min(handy_l, mixture.total_l))} that the tub holds take {share}."
    yield Step(
        "do",
        f"In all mix {words.mixture(mixture)}: {words.volume(mixture.total_l)}. {told}",
        litres=mixture.total_l,
        short=told,
        is_key=True,
    )


def put_on_step(dose: Dose, words: AmountWords) -> Step:
    """Return how a tank, a can or a vessel is emptied onto the bed, with its pace."""
    verb = _VERBS.get(dose.method, "Put it on evenly")
    source = ""
    if dose.gear.reservoir_l is None and dose.mixture.total_l == dose.mixture.stock_l and dose.drawn:
        source = f" straight from {joined([vessel for vessel, _ in dose.drawn])}"
    facts = [*_pace(dose, words), f"{words.span(dose.flow_min)} at {words.flow(dose.gear.flow_l_min)}"]
    text = f"{verb} with {dose.gear.name}{source}: {', '.join(facts)}; {words.span(dose.minutes)} in all"
    text += (
        ", with getting ready and filling." if dose.gear.reservoir_l is not None else ", with getting ready."
    )
    told = f"{', '.join(facts)}{source}."
    return Step(
        "do", text, litres=dose.for_one.total_l, minutes=dose.minutes, short=told[0].upper() + told[1:],
        is_key=bool(source),
    )  # fmt: skip


def _pace(dose: Dose, words: AmountWords) -> Iterator[str]:
    """Yield what one plant gets, and how far one filling reaches."""
    if dose.plants is not None:
        count, noun = dose.plants
        each_l = dose.mixture.total_l / count
        yield f"{words.volume(each_l)} a {noun}" + (
            f" ({words.span(each_l / dose.gear.flow_l_min)})" if noun == "tree" else ""
        )
    if dose.gear.reservoir_l is None:
        return
    fills = fills_of(dose.for_one, dose.gear.reservoir_l)
    if fills.count == 1:
        return
    share = fills.full.total_l / dose.mixture.total_l
    if dose.plants is not None:
        count, noun = dose.plants
        yield f"one {holder(dose)} for about {count * share:.2g} {noun}s"
    elif dose.area_m2 is not None:
        yield f"one {holder(dose)} for {words.area(dose.area_m2 * share)}"


def holder(dose: Dose) -> str:
    """Return what is filled: a can or a tank."""
    return "can" if dose.gear.outlet == "can" else "tank"
