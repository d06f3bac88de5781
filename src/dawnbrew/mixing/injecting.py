"""Steps with a siphon injector: a bucket that is drawn empty into running water."""

from collections.abc import Iterator
from dataclasses import dataclass

from dawnbrew.mixing.amount_words import AmountWords, parts_words
from dawnbrew.mixing.dose import Dose
from dawnbrew.mixing.mixture import Mixture, fills_of
from dawnbrew.mixing.step import Step
from dawnbrew.mixing.tanks import fills_words
from dawnbrew.nature.amounts import INJECTOR_PARTS_WATER
from dawnbrew.nature.mixing import MOST_SIPHON_PARTS, NO_SIPHON, bucket_minutes, injector_range

MOST_OVER_SHARE = 0.02
"""A siphon is not so exact that less water too much than this share is worth a word."""


@dataclass(frozen=True)
class Injection:
    """What stands in the bucket and what the hose adds.

    Args:
        bucket: Brew, ferment, and water where the siphon alone would leave them too strong. [L]
        hose_l: Water out of the hose. [L]
        water_parts: Parts of water that the siphon draws to one part out of the bucket.
    """

    bucket: Mixture
    hose_l: float
    water_parts: float

    @property
    def total_l(self) -> float:
        """Everything that comes out [L]."""
        return self.bucket.total_l + self.hose_l


def inject(mixture: Mixture, water_parts: float) -> Injection:
    """Return how a mixture goes through a siphon; its brew and ferment are kept to the drop.

    Where the siphon cannot mix as strong as the mixture is, more water than the mixture's comes out.
    """
    bucket_l = max(mixture.stock_l, mixture.total_l / (1 + water_parts))
    bucket = Mixture(mixture.brew_l, mixture.ferment_l, bucket_l - mixture.stock_l)
    return Injection(bucket, bucket_l * water_parts, water_parts)


def injector_steps(dose: Dose, words: AmountWords) -> Iterator[Step]:
    """Yield bucket, ratio, minutes until it is empty, and how to learn the siphon's true ratio."""
    gear = dose.gear
    parts = gear.injector if gear.injector is not None else INJECTOR_PARTS_WATER
    injection = inject(dose.for_one, parts)
    if gear.injector is None:
        yield Step(
            "measure",
            f"How {gear.name} mixes is not in the farm file; {parts:g} parts of water to 1 are taken here. "
            'Read it on the injector and write it under [[gear]], e.g. injector = "20:1".',
        )
    yield _bucket_step(dose, injection, words)
    yield from flow_steps(injection, gear.flow_l_min, words)
    over_l = injection.total_l - dose.for_one.total_l
    if over_l > MOST_OVER_SHARE * injection.total_l:
        yield Step(
            "mind",
            f"The farm asks for {parts_words(dose.mixture.water_parts, dose.mixture)}, and this siphon "
            f"cannot mix so strong: {words.volume(over_l)} more water comes out than the plan counts with.",
        )


def _bucket_step(dose: Dose, injection: Injection, words: AmountWords) -> Step:
    bucket, size_l = injection.bucket, dose.gear.reservoir_l
    if size_l is None or size_l >= bucket.total_l:
        least = words.volume(bucket.total_l)
        told = f"Put {words.mixture(bucket)} into a clean bucket"
        text, told = f"{told} that holds {least} or more.", f"{told}."
    else:
        told = f"Fill a clean bucket of {words.volume(size_l)} {fills_words(fills_of(bucket, size_l), words)}"
        text = told
    return Step("do", text, litres=bucket.total_l, short=told, is_key=True)


def flow_steps(injection: Injection, flow_l_min: float, words: AmountWords) -> Iterator[Step]:
    """Yield what is done while the siphon draws, and how its true ratio is learnt.

    Args:
        flow_l_min: Everything that comes out. [L/min]
    """
    parts, bucket = injection.water_parts, injection.bucket
    rich, lean = injector_range(parts)
    is_siphon = parts <= MOST_SIPHON_PARTS
    device = "siphon" if is_siphon else "injector"
    strays = f"A siphon of this kind may run anywhere from {rich:.3g} to {lean:.3g} parts of water."
    ratio = f"{parts_words(parts, bucket)}. {strays if is_siphon else f'{NO_SIPHON.capitalize()}.'}"
    yield Step(
        "do",
        f"Hang the end of the {device} into it, clear of the bottom, and open the water: {ratio}",
        # A message holds the text of the task, which says the ratio itself.
        short=f"{device.capitalize()}: {ratio}",
    )
    sure, soonest, latest = (bucket_minutes(bucket.total_l, one, flow_l_min) for one in (parts, rich, lean))
    strayed = f"; as siphons stray, {words.span(soonest)} to {words.span(latest)}" if is_siphon else ""
    empty = f"The bucket is empty after {words.span(sure)}{strayed}."
    yield Step(
        "do",
        f"Put on {words.volume(injection.total_l)} evenly at {words.flow(flow_l_min)}. {empty}",
        litres=injection.total_l,
        minutes=sure,
        short=empty,
        is_key=True,
    )
    yield Step(
        "do",
        "When the bucket is empty, let it draw clean water until the hose runs clear: salt and starch are "
        "left in it.",
        short="Then let it draw clean water until the hose runs clear.",
    )
    probe_l = words.handy_l / 10
    takes = words.span(bucket_minutes(probe_l, parts, flow_l_min))
    yield Step(
        "mind",
        f"To know its true ratio, let it draw {words.volume(probe_l)} of water before the brew: at "
        f"{parts:.3g} to 1 that takes {takes}. Sooner is stronger, later is weaker.",
    )
