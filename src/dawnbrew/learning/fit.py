"""How a recipe ripens in one class of vessels, as far as noted looks tell."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import exp, inf, isnan, log, nan, sqrt

import numpy as np
import numpy.typing as npt

from dawnbrew.learning.minimum import Minimum, minimum
from dawnbrew.learning.residence import LEVELS_C, residence_h
from dawnbrew.learning.seen import ORDER, Seen
from dawnbrew.moments import EPOCH, Instant, after, minutes_between
from dawnbrew.nature.ripening import RipeningCurve, Ripens, relative_rate
from dawnbrew.planning.known import Look
from dawnbrew.planning.paces import BATCHES_DIFFER, EYE, LIKELY, WRONG_LOOK, YARDS_DIFFER

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

COOL_DIFFERS = 0.2
"""Standard deviation of the log of the degrees between lowest_c and at_c: 16 degrees stand for 12 to 21 in
eight of ten, as soil and leaf bacteria differ in Rosso et al. 1993 (lowest -5 to 1.1 C). [unitless]"""

BATCHES_DIFFER_BY = 0.4
"""Standard deviation of the log of that: 6 to 17 % in eight yards of ten; our choice. [unitless]"""

WILD_SHARE = 0.02
"""Share of batches with wrong notes, before any was seen; our choice. [unitless]"""

WILD_SHARE_BY = 1.0
"""Standard deviation of its log odds; our choice. [unitless]"""

WILD_DIFFERS = 0.5
"""What hours seem to differ by where notes are wrong: a day in two; our choice. [log]"""

DRAWS = 96
"""How many parameters stand for all that may be true."""

_OFFSETS: FloatArray = np.arange(-1.2, 1.2001, EYE)
"""Logs of one batch's own hours over the usual ones; a step of one EYE sums smooth edges to nine digits."""

_EVEN_STRIDES: FloatArray = 1.2207440846057596 ** -np.arange(1.0, 4.0)
"""Strides of an even sequence in three dimensions: x^4 = x + 1."""

_WIDENED = 1.2
"""Draws reach further than the normal curve by this, to have something where the truth has wider tails."""

_FOLLOWED_MIN = 14.0 * 24 * 60
"""So long after the last look a batch is followed to its peak. [min]"""

_HOURS, _COOL, _VARIES, _WILD = range(4)


@dataclass(frozen=True)
class Outcome:
    """What was predicted for one noted batch, and what was seen.

    Args:
        batch: Its id.
        mean_c: Mean of its liquid from start to its last look. [C]
        default_h, learned_h: Hours from its start to its peak by the default and by what was learned, nan
            where the liquid is not known for so long. [h]
        seen_from_h, seen_until_h: Between which hours its looks put the peak, None where they leave that
            open. [h]
        wild: How probably one of its notes, the start or a look, is wrong. [unitless]
    """

    batch: str
    mean_c: float
    default_h: float
    learned_h: float
    seen_from_h: float | None
    seen_until_h: float | None
    wild: float


@dataclass(frozen=True, eq=False)
class Learned:
    """How a recipe ripens in one class of vessels, and how surely.

    Args:
        recipe, vessel: Their names.
        default: The recipe as it stands in the farm file.
        ripens: The likeliest way of ripening; `default` itself where no batch has a look.
        varies: Standard deviation of the log of one batch's hours about the usual ones. [unitless]
        batches: How many batches had a look.
        hours: All ways that may be true: hours at at_c. [h], shape (draws,)
        lowest_c: Their lowest temperatures. [C], shape (draws,)
        differs: Their `varies`. shape (draws,)
        weights: How probable each is; they sum to 1. shape (draws,)
        wild_share: Likely share of batches with wrong notes. [unitless]
        outcomes: The batches one by one, in the order of their starts.
    """

    recipe: str
    vessel: str
    default: Ripens
    ripens: Ripens
    varies: float
    batches: int
    hours: FloatArray
    lowest_c: FloatArray
    differs: FloatArray
    weights: FloatArray
    wild_share: float
    outcomes: tuple[Outcome, ...] = ()

    @property
    def hours_span(self) -> tuple[float, float]:
        """Bounds of the likely span of the hours at at_c. [h]"""
        return likely_span(self.hours, self.weights)

    @property
    def lowest_span_c(self) -> tuple[float, float]:
        """Bounds of the likely span of the lowest temperature. [C]"""
        return likely_span(self.lowest_c, self.weights)

    @cached_property
    def rates(self) -> FloatArray:
        """Progress per hour at LEVELS_C for each draw. [1/h], shape (levels, draws)"""
        columns = [_rate(self.default, lowest_c) for lowest_c in self.lowest_c]
        return np.column_stack(columns) / self.hours


def likely_span(values: FloatArray, weights: FloatArray) -> tuple[float, float]:
    """Return the bounds between which weighted values lie in LIKELY of all cases."""
    order = np.argsort(values)
    below = np.cumsum(weights[order]) - weights[order] / 2
    low, high = np.interp([(1 - LIKELY) / 2, (1 + LIKELY) / 2], below, values[order])
    return float(low), float(high)


def learn_ripening(seen: Sequence[Seen], default: Ripens, *, recipe: str, vessel: str) -> Learned:
    """Return how a recipe ripens in one class of vessels.

    Four numbers are fitted: the log of the hours at `default.at_c`; the log of the degrees between the lowest
    temperature and at_c, which is the slope of the curve at cool temperatures (the rate grows about with the
    square of the degrees above the lowest) and so is what batches of a cold and a mild week inform; how much
    batches differ; and the share of wrong notes. The best and the highest temperature stay: brews are hardly
    ever so warm, and no look at 15 C says anything of 33 C.

    Each batch has its own hours, normal in the log about the usual ones. A look says on which side of the
    prime's bounds the progress was, with the sharpness EYE; young at one look and foam at the next leave the
    bound open between them. A batch is wild with a small probability, its hours then tell next to nothing.
    Before any look everything is as the default has it, so that no look changes nothing.

    The parameters that may be true are draws from the normal curve at the likeliest ones, weighted anew by
    the exact likelihood: a curve alone is too narrow where two batches were seen.

    Args:
        seen: Batches of this recipe in these vessels, sifted of what cannot be.
        default: The recipe as it stands in the farm file.
        recipe, vessel: Their names.
    """
    looked = [one for one in seen if one.looks]
    evidence = _Evidence.of(looked, default)
    begin = np.array([0.0, log(default.at_c - default.lowest_c), log(BATCHES_DIFFER), _odds(WILD_SHARE)])
    scales = np.array([YARDS_DIFFER, COOL_DIFFERS, BATCHES_DIFFER_BY, WILD_SHARE_BY])

    def cost(at: FloatArray) -> float:
        prior = float(np.sum(((at - begin) / scales) ** 2)) / 2
        return prior - (float(np.sum(evidence.log_likelihoods(at))) if looked else 0.0)

    found = minimum(cost, begin, scales) if looked else Minimum(begin, 0.0, np.diag(scales**2))
    draws, weights = _drawn(cost, found)
    ripens = default
    if looked:
        hours = default.hours * exp(found.at[_HOURS])
        ripens = replace(default, hours=hours, lowest_c=_lowest_c(default, found.at[_COOL]))
    return Learned(
        recipe=recipe, vessel=vessel, default=default, ripens=ripens, varies=exp(found.at[_VARIES]),
        batches=len(looked), hours=default.hours * np.exp(draws[:, _HOURS]),
        lowest_c=np.array([_lowest_c(default, cool) for cool in draws[:, _COOL]]),
        differs=np.exp(draws[:, _VARIES]), weights=weights, wild_share=_share(found.at[_WILD]),
        outcomes=evidence.outcomes(looked, found.at, ripens) if looked else (),
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class _Evidence:
    """The looks of many batches as numbers, in the order of the batches.

    Args:
        spent_h: Hours at each of LEVELS_C up to each look. shape (looks, levels)
        kinds: Places of the looks in ORDER. shape (looks,)
        first: Which look is the first of each batch. shape (batches,)
    """

    default: Ripens
    spent_h: FloatArray
    kinds: IntArray
    first: IntArray

    @classmethod
    def of(cls, looked: Sequence[Seen], default: Ripens) -> "_Evidence":
        rows: list[FloatArray] = [np.zeros((0, LEVELS_C.size))]
        kinds: list[int] = []
        first: list[int] = []
        for one in looked:
            telling = _telling(one.looks)
            ends = [minutes_between(EPOCH, look.at) for look in telling]
            rows.append(residence_h(one.liquid, minutes_between(EPOCH, one.started_at), ends))
            first.append(len(kinds))
            kinds += [ORDER[look.foam] for look in telling]
        return cls(default, np.concatenate(rows), np.array(kinds, np.int64), np.array(first, np.int64))

    def progress_logs(self, at: FloatArray) -> FloatArray:
        """Return the log of the usual progress at each look, shape (looks,)."""
        rate = _rate(self.default, _lowest_c(self.default, at[_COOL])) / self.default.hours
        return np.asarray(np.log(np.maximum(self.spent_h @ rate, 1e-6)) - at[_HOURS])

    def log_likelihoods(self, at: FloatArray) -> FloatArray:
        """Return the log of each batch's likelihood, shape (batches,)."""
        chances = look_chances(self._ahead(at), self.kinds, self.default)
        batches = np.add.reduceat(np.log(chances), self.first, axis=0)
        highest = batches.max(axis=1)
        return np.asarray(np.log(np.exp(batches - highest[:, None]) @ _bells(at)) + highest)

    def wrong(self, at: FloatArray) -> FloatArray:
        """Return how probably each batch is wild or has a look that says anything, shape (batches,)."""
        chances = look_chances(self._ahead(at), self.kinds, self.default)
        honest = np.maximum(chances - WRONG_LOOK / len(ORDER), 0.0)
        all_right = np.multiply.reduceat(honest, self.first, axis=0) @ _bell(exp(at[_VARIES]))
        right = (1 - _share(at[_WILD])) * all_right
        return np.asarray(1 - right / np.exp(self.log_likelihoods(at)))

    def _ahead(self, at: FloatArray) -> FloatArray:
        return np.asarray(self.progress_logs(at)[:, None] - _OFFSETS)

    def outcomes(self, looked: Sequence[Seen], at: FloatArray, ripens: Ripens) -> tuple[Outcome, ...]:
        """Return what was predicted and seen, batch by batch."""
        wild = self.wrong(at)
        return tuple(
            _outcome(one, self.default, ripens, float(w)) for one, w in zip(looked, wild, strict=True)
        )


def _telling(looks: Sequence[Look]) -> list[Look]:
    """Return the last young look, all with foam and the first past one: others say nothing beyond these."""
    by_time = sorted(looks, key=lambda look: look.at)
    young = [look for look in by_time if look.foam == "young"][-1:]
    past = [look for look in by_time if look.foam == "past"][:1]
    return [*young, *(look for look in by_time if look.foam == "foam"), *past]


def look_chances(ahead: FloatArray, kinds: IntArray, ripens: Ripens) -> FloatArray:
    """Return how probable looks are, given how far the batches are.

    Args:
        ahead: Log of the progress, 0 at a batch's own peak. shape (looks, ...)
        kinds: What was seen, as places in ORDER. shape (looks,)
        ripens: For the bounds of the prime.

    Returns:
        Never nought: WRONG_LOOK of the looks say anything at all. [unitless], shape as ahead
    """
    from scipy.special import ndtr  # noqa: PLC0415 - 0.3 s that only learning needs

    chances = np.empty_like(ahead)
    begun, over = log(ripens.prime_from), log(ripens.prime_until)
    for kind in ORDER.values():
        rows = kinds == kind
        part = ahead[rows]
        after_begin = ndtr((part - begun) / EYE) if kind < ORDER["past"] else 0.0
        after_end = ndtr((part - over) / EYE) if kind > ORDER["young"] else 0.0
        chances[rows] = (1 - after_begin, after_begin - after_end, after_end)[kind]
    return np.asarray((1 - WRONG_LOOK) * np.maximum(chances, 0.0) + WRONG_LOOK / len(ORDER))


def _outcome(one: Seen, default: Ripens, ripens: Ripens, wild: float) -> Outcome:
    last_at = max(look.at for look in one.looks)
    until_at = min(one.liquid.end_at, after(last_at, minutes=_FOLLOWED_MIN))
    around = one.liquid.slice(one.started_at, until_at)
    by_default, by_learned = RipeningCurve(around, default), RipeningCurve(around, ripens)
    low, high = _seen_bounds(one, by_learned)
    return Outcome(
        batch=one.batch, mean_c=by_learned.mean_c(one.started_at, last_at),
        default_h=_hours_to(by_default, one.started_at, 1.0),
        learned_h=_hours_to(by_learned, one.started_at, 1.0), seen_from_h=_if_known(low),
        seen_until_h=_if_known(high), wild=wild,
    )  # fmt: skip


def _seen_bounds(one: Seen, curve: RipeningCurve) -> tuple[float, float]:
    """Return between which hours the looks of one batch put its peak, by a curve; nan where open. [h]"""
    least, most = 0.0, inf
    for look in one.looks:
        done = curve.progress(one.started_at, look.at)
        if look.foam != "past":
            bound = curve.ripens.prime_from if look.foam == "young" else curve.ripens.prime_until
            least = max(least, done / bound)
        if look.foam != "young":
            bound = curve.ripens.prime_until if look.foam == "past" else curve.ripens.prime_from
            most = min(most, done / bound)
    low = _hours_to(curve, one.started_at, least) if least > 0 else nan
    return low, (_hours_to(curve, one.started_at, most) if most < inf else nan)


def _hours_to(curve: RipeningCurve, start_at: Instant, progress: float) -> float:
    reached_at = curve.reaches(start_at, progress)
    return nan if reached_at is None else minutes_between(start_at, reached_at) / 60


def _if_known(hours: float) -> float | None:
    return None if isnan(hours) else hours


def _drawn(cost: Callable[[FloatArray], float], found: Minimum) -> tuple[FloatArray, FloatArray]:
    """Return parameters that may be true, and how probable each is.

    They fill the normal curve at the likeliest ones, somewhat widened, evenly and in pairs on both sides. The
    share of wild batches, which no prediction asks for, follows the others.

    Source: additive recurrence with powers of the generalised golden ratio, M. Roberts, "The unreasonable
    effectiveness of quasirandom sequences", 2018.
    """
    from scipy.special import ndtri  # noqa: PLC0415 - 0.3 s that only learning needs

    count = DRAWS // 2
    normal = ndtri((0.5 + np.arange(1, count + 1)[:, None] * _EVEN_STRIDES) % 1)
    normal = np.linalg.solve(np.linalg.cholesky(normal.T @ normal / count), normal.T).T
    both = np.concatenate([normal, -normal])
    asked = found.covariance[:_WILD, :_WILD]
    moved = _WIDENED * both @ np.linalg.cholesky(asked).T
    follows = np.linalg.solve(asked, found.covariance[:_WILD, _WILD])
    draws = found.at + np.column_stack([moved, moved @ follows])
    off = np.array([found.cost - cost(draw) for draw in draws]) + np.sum(both**2, axis=1) / 2
    weights = np.exp(off - off.max())
    weights = np.minimum(weights, np.mean(weights) * sqrt(DRAWS))  # one lucky draw must not stand for all
    return draws, weights / weights.sum()


def _rate(ripens: Ripens, lowest_c: float) -> FloatArray:
    """Return the rate at LEVELS_C by that at at_c, shape (levels,)."""
    cardinal = {"lowest_c": lowest_c, "best_c": ripens.best_c, "highest_c": ripens.highest_c}
    return relative_rate(LEVELS_C, **cardinal) / relative_rate(ripens.at_c, **cardinal)


def _lowest_c(ripens: Ripens, cool: float) -> float:
    """Return the lowest temperature, below where the curve would lose its shape."""
    return min(ripens.at_c - exp(cool), 2 * ripens.best_c - ripens.highest_c - 0.01)


def _bell(deviation: float) -> FloatArray:
    """Return the weights of a normal curve at _OFFSETS, which sum to 1."""
    weights = np.exp(-((_OFFSETS / deviation) ** 2) / 2)
    return np.asarray(weights / weights.sum())


def _bells(at: FloatArray) -> FloatArray:
    """Return the weights of _OFFSETS for batches of which a share is wild."""
    share = _share(at[_WILD])
    return (1 - share) * _bell(exp(at[_VARIES])) + share * _bell(WILD_DIFFERS)


def _share(odds: float) -> float:
    return 1 / (1 + exp(-odds))


def _odds(share: float) -> float:
    return log(share / (1 - share))
