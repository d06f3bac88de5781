"""What is done about the water that brew is mixed with: chlorine in it kills what was brewed."""

from collections.abc import Iterator

from dawnbrew.farm.models import Gear
from dawnbrew.mixing.amount_words import AmountWords
from dawnbrew.mixing.step import Step
from dawnbrew.nature.water import dose_g

_MAINS = {
    "mains with chlorine": "chlorine, of which a day of standing takes hardly more than half",
    "mains with chloramine": "chloramine, which does not leave by standing",
}


def water_steps(gear: Gear, water_l: float, words: AmountWords, *, is_hose_fed: bool) -> Iterator[Step]:
    """Yield what the mixing water needs before brew goes into it; nothing for rain, a well or no water.

    Args:
        water_l: Water for one set of the gear. [L]
        is_hose_fed: Whether it comes in while the work goes on, so that it cannot be treated beforehand.
    """
    if water_l <= 0 or gear.water_source in ("rain", "well"):
        return
    water = words.volume(water_l)
    if gear.water_source == "unknown":
        yield Step(
            "measure",
            f"The farm file does not say where the {water} of mixing water comes from. Chlorine kills what "
            "was brewed: hold a test strip for total chlorine into the water, and write water_source under "
            "[[gear]].",
        )
        return
    dose = words.grams(dose_g(water_l, 1.0))
    place = "in the brew just before it is used" if is_hose_fed else f"in the {water} before the brew goes in"
    proof = "hold a strip into what comes out" if is_hose_fed else "hold a strip in again"
    yield Step(
        "do",
        f"The mixing water holds {_MAINS[gear.water_source]}. Hold a test strip for total chlorine into it; "
        f"for each mg/L that it shows dissolve {dose} of ascorbic acid {place}, then {proof}.",
    )
