"""Tells what the batches of one journal have taught of its farm."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from dawnbrew.errors import DawnbrewError
from dawnbrew.farm.models import Farm, Vessel
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import KeptNote
from dawnbrew.learning.doubts import Doubt, sift
from dawnbrew.learning.fit import Learned, learn_ripening
from dawnbrew.learning.residence import LEVELS_C
from dawnbrew.learning.seen import Seen, of
from dawnbrew.learning.vessels import LearnedCooling, learn_cooling, through_readings
from dawnbrew.moments import Instant
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.brewing import cooling_of, ripens_of
from dawnbrew.planning.known import Yard, YardRipens, YardVessel
from dawnbrew.season.known_readings import that_teach_cooling
from dawnbrew.season.noted_batches import NotedBatches, noted_batches


class NothingLearned(DawnbrewError):
    """Nothing was noted that teaches anything, where something must be drawn or written."""


@dataclass(frozen=True)
class Flagged:
    """A note that is left out, and the note itself where one stands behind the doubt."""

    doubt: Doubt
    note: KeptNote | None


@dataclass(frozen=True)
class FarmLearned:
    """What noted batches have taught.

    Args:
        ripening: For each recipe and class of vessels with a batch that somebody looked at, in the order of
            the farm file.
        vessels: For each class of vessels in which somebody measured.
        started: How many starts were noted.
        flagged: Notes that are left out, oldest first.
        up_to_at: When the newest note happened that counts, None where none does.
    """

    ripening: tuple[Learned, ...]
    vessels: tuple[LearnedCooling, ...]
    started: int
    flagged: tuple[Flagged, ...]
    up_to_at: Instant | None

    @property
    def yard(self) -> Yard:
        """The same as planning wants it."""
        return Yard(
            tuple(_yard_ripens(one) for one in self.ripening),
            tuple(
                YardVessel(one.vessel, one.cooling, one.off_c, one.readings) for one in self.vessels
            ),
        )  # fmt: skip


def learn_from(farm: Farm, journal: Journal, weather: KnownWeather | None, *, now: Instant) -> FarmLearned:
    """Return what the noted batches of a farm have taught by now.

    First what cannot be right is left out; then each class of vessels is fitted to its readings, the liquid
    of each batch is led through them, and each recipe in each class is fitted to its looks. `weather` serves
    the vessels alone: of how brews ripen the same notes teach the same at any later time.

    Errors: those of a journal.
    """
    noted = noted_batches(farm, journal, weather)
    zone, units = farm.place.timezone, farm.place.units
    kept: list[Seen] = []
    doubts = list(noted.doubts)
    for recipe in farm.recipes:
        mine = [one for one in noted.seen if one.recipe == recipe.name]
        sifted = sift(mine, ripens_of(recipe), now=now, zone=zone, units=units)
        kept += sifted.kept
        doubts += sifted.doubts
    coolings = {one.vessel: one for one in _coolings(farm, kept, noted, weather)}
    lasting = {} if farm.weather.is_wanted else coolings  # past weather is forgotten, what brews teach is not
    declared = {vessel.name: vessel for vessel in farm.vessels}
    anew = [_measured(one, lasting, declared) for one in kept]
    ripening = [
        learn_ripening(
            of(anew, recipe=recipe.name, vessel=vessel.name), ripens_of(recipe), recipe=recipe.name,
            vessel=vessel.name,
        )
        for recipe in farm.recipes for vessel in farm.vessels
        if any(one.looks for one in of(anew, recipe=recipe.name, vessel=vessel.name))
    ]  # fmt: skip
    return FarmLearned(
        tuple(ripening), tuple(coolings.values()), len(noted.seen) + len(noted.doubts),
        tuple(_flagged(doubts, noted.notes)), _up_to(kept),
    )  # fmt: skip


def nothing_learned(learned: FarmLearned, where: str) -> NothingLearned:
    """Return the refusal to draw or write what no batch has taught."""
    started = f"{learned.started} started batch{'' if learned.started == 1 else 'es'}"
    return NothingLearned(
        where=where,
        got=f"{started}, and no look at how ripe one was that can be used",
        need="a batch with its start noted and at least one look: young, foam or past",
        fix="Note looks as the nudges ask for them, e.g. dawnbrew note looked drum 2 --foam young.",
    )


def farm_as_learned(farm: Farm, vessel: Vessel, learned: FarmLearned) -> Farm:
    """Return a farm with only one class of vessels, and the recipes as they ripen in it."""
    ripens = {one.recipe: one.ripens for one in learned.ripening if one.vessel == vessel.name}
    recipes = tuple(
        recipe.model_copy(
            update={
                "ripens_min": 60 * ripens[recipe.name].hours,
                "lowest_c": ripens[recipe.name].lowest_c,
            }
        )
        if recipe.name in ripens
        else recipe
        for recipe in farm.recipes
    )
    return farm.model_copy(update={"vessels": (vessel,), "recipes": recipes})


def _coolings(
    farm: Farm, kept: Sequence[Seen], noted: NotedBatches, weather: KnownWeather | None
) -> Iterator[LearnedCooling]:
    """Yield how each class of vessels trades heat in which somebody measured; a heater leaves no doubt."""
    if noted.sun_w_m2 is None:
        return
    for vessel, around in zip(farm.vessels, noted.around, strict=True):
        measured_in = that_teach_cooling(kept, farm, vessel, weather)
        if measured_in and vessel.heated_to_c is None:
            yield learn_cooling(
                measured_in, cooling_of(vessel), vessel=vessel.name, around=around,
                sun_w_m2=noted.sun_w_m2, shade=vessel.shade,
            )  # fmt: skip


def _measured(one: Seen, learned: Mapping[str, LearnedCooling], declared: Mapping[str, Vessel]) -> Seen:
    """Return a batch with its liquid as it was measured."""
    vessel = declared[one.vessel]
    if vessel.heated_to_c is not None:
        cooling = cooling_of(vessel)
    else:
        cooling = learned[one.vessel].cooling if one.vessel in learned else cooling_of(vessel)
    return replace(one, liquid=through_readings(one.liquid, one.readings, tau_h=cooling.tau_h))


def _flagged(doubts: Iterable[Doubt], notes: Sequence[KeptNote]) -> Iterator[Flagged]:
    """Yield doubts with the notes behind them, oldest first; where two are of one moment the later one."""
    for doubt in sorted(doubts, key=lambda one: (one.at, one.batch)):
        behind = [note for note in notes if note.at == doubt.at and doubt.batch in (note.of, note.batch)]
        yield Flagged(doubt, max(behind, key=lambda note: note.id, default=None))


def _up_to(kept: Iterable[Seen]) -> Instant | None:
    looks = [look.at for one in kept for look in one.looks]
    return max([*looks, *(reading.at for one in kept for reading in one.readings)], default=None)


def _yard_ripens(one: Learned) -> YardRipens:
    return YardRipens(one.recipe, one.vessel, one.ripens, next_batch_differs(one), one.batches)


def next_batch_differs(one: Learned) -> float:
    """Return the standard deviation of the log of the next batch's hours, as warm as the noted ones were.

    It is what is not known of the yard and what batches differ by. Far from the temperatures that were seen
    the yard is known less well than this says.
    """
    warm_c = [outcome.mean_c for outcome in one.outcomes]
    rates = np.array([np.interp(warm_c, LEVELS_C, draw) for draw in one.rates.T])
    slow = -np.log(np.maximum(rates, 1e-9)).mean(axis=1)
    middle = float(slow @ one.weights)
    yard = float((slow - middle) ** 2 @ one.weights)
    batches = float(one.differs**2 @ one.weights)
    return sqrt(yard + batches)
