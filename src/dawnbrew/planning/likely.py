"""When one batch is likely to be ripe, and how probably its prime covers its work."""

from math import isnan

from dawnbrew.moments import Instant, at_minute
from dawnbrew.planning.brewing import Brewer
from dawnbrew.planning.people import Span
from dawnbrew.planning.plan import Likely

TOLD_TO_MIN = 10
"""Bounds of likely spans are told to so many minutes; more would feign what nobody knows. [min]"""


def likely_of(brewer: Brewer, start: int, work: Span) -> Likely:
    """Return the likely spans of a batch that is started at a minute, and the chance of its work."""
    paces, curve = brewer.odds.paces(start), brewer.curve
    shares = (*paces.around(1.0), *paces.around(curve.ripens.prime_from))
    found = [_moment(minute) for minute in curve.reaches_minutes(start, shares)]
    opens, closes = (float(done) for done in curve.progress_minutes(start, work))
    covers = None if isnan(opens) or isnan(closes) else round(paces.covers(opens, closes), 2)
    ripening = brewer.odds.taught.ripening
    return Likely(
        peak_from=found[0], peak_until=found[1], opens_from=found[2], opens_until=found[3], covers=covers,
        spread=round(paces.spread, 3), differs=round(ripening.differs, 3),
        hours=round(ripening.ripens.hours, 3), learned_from=ripening.batches,
    )  # fmt: skip


def first_ripe(brewer: Brewer, start: int) -> Span | None:
    """Return between which minutes a fast batch is in its prime, None where that is not known.

    Fast is one that only one in ten outruns.
    """
    paces, ripens = brewer.odds.paces(start), brewer.curve.ripens
    shares = [paces.around(share)[0] for share in (ripens.prime_from, ripens.prime_until)]
    opens, closes = (float(minute) for minute in brewer.curve.reaches_minutes(start, shares))
    return None if isnan(opens) or isnan(closes) else (round(opens), round(closes))


def _moment(minute: float) -> Instant | None:
    return None if isnan(minute) else at_minute(round(minute / TOLD_TO_MIN) * TOLD_TO_MIN)
