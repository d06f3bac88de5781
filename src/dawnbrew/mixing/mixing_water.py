"""What is done about the water that brew is mixed with: chlorine in it kills what was brewed."""

from collections.abc import Iterator

from dawnbrew.farm.models import Water
from dawnbrew.mixing.amount_words import AmountWords
from dawnbrew.mixing.step import Step
from dawnbrew.nature.water import dose_g
from dawnbrew.planning.water_words import USUAL_DOSE

LOWEST_SCALE_G = 1.0
"""A kitchen scale shows no less. [g]"""

_LEAST_SHARE = 0.05
"""A smaller part of a cup cannot be told by eye: a gram then goes into ten litres. [unitless]"""

_MAINS = {
    "mains with chlorine": "chlorine, of which a day of standing takes hardly more than half",
    "mains with chloramine": "chloramine, which does not leave by standing",
}


def water_steps(water: Water, water_l: float, words: AmountWords, *, is_hose_fed: bool) -> Iterator[Step]:
    """Yield what the mixing water needs before brew goes into it; nothing for rain, a well or no water.

    Args:
        water: What the gear mixes with.
        water_l: Water for one set of the gear. [L]
        is_hose_fed: Whether it comes in while the work goes on, so that it cannot be treated beforehand.
    """
    is_unknown = water.source == "unknown" and water.chlorine_mg_l is None
    if water_l <= 0 or not (water.is_chlorinated or is_unknown):
        return
    volume = words.volume(water_l)
    if is_unknown:
        yield Step(
            "measure",
            f"The farm file does not say where the {volume} of mixing water comes from. Chlorine kills what "
            "was brewed: hold a test strip for total chlorine into the water, and write water_source under "
            "[[gear]].",
            short="Hold a test strip for total chlorine into the mixing water first.",
            is_on_water=True,
        )
        return
    name = water.dose or USUAL_DOSE
    grams = dose_g(water_l, water.chlorine_mg_l or 1.0, name)
    dose = f"{words.grams(grams)} of {name}"
    place = (
        "in the brew just before it is used" if is_hose_fed else f"in the {volume} before the brew goes in"
    )
    proof = "hold a strip into what comes out" if is_hose_fed else "hold a strip in again"
    holds = f"The mixing water holds {_MAINS.get(water.source, 'chlorine, by the last strip')}."
    if water.chlorine_mg_l is None:
        how = (
            "Hold a test strip for total chlorine into it; for each mg/L that it shows dissolve "
            f"{dose} {place}"
        )
    else:
        how = f"For the {water.chlorine_mg_l:g} mg/L of the last strip dissolve {dose} {place}"
    each = "" if water.chlorine_mg_l is not None else "for each mg/L "
    small = f" {told}" if (told := on_small_scale(grams, name, each)) else ""
    short = f"Mixing water: {how[0].lower()}{how[1:]}."
    yield Step("do", f"{holds} {how}, then {proof}.{small}", short=short, is_on_water=True)


def on_small_scale(grams: float, name: str, each: str = "") -> str:
    """Return how less than a kitchen scale shows is measured out, empty where it shows it. [g]

    Args:
        each: What the grams are for, where that is not the whole water: `for each mg/L `.
    """
    if grams >= LOWEST_SCALE_G:
        return ""
    share = grams / LOWEST_SCALE_G
    said = f"With a kitchen scale: dissolve 1 g of {name} in"
    if share < _LEAST_SHARE:
        return f"{said} 10 L of water and {each}pour in {10_000 * share:.2g} mL of it."
    return f"{said} a cup of water and {each}pour in {share:.0%} of it."
