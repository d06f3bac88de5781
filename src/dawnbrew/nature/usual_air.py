"""A first guess at the lows and highs of the months, where nobody has measured."""

from math import cos, pi

DAILY_SPAN_C = 8.0
"""From low to high on a usual day; 6 on a coast, 12 inland; from memory. [°C]"""

COLDEST_AT_EQUATOR_C, COLDEST_BY_DEGREE_C = 27.0, 0.45
WARMEST_AT_EQUATOR_C, WARMEST_BY_DEGREE_C = 28.0, 0.2
"""Mean air of the coldest and the warmest month falls so with each degree of latitude: our own straight lines
through a dozen farmed plains and coasts, from memory. [°C]"""


def months_between(
    coldest: tuple[float, float], warmest: tuple[float, float], *, is_south: bool
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return lows and highs of the twelve months, January first, from those of two of them.

    The months between follow a cosine.

    Args:
        coldest, warmest: Mean low and high of the coldest and of the warmest month. [any unit]
        is_south: The coldest month is July.

    Returns:
        Lows and highs in the unit of the arguments, 12 each, to a tenth.
    """
    lows, highs = (
        tuple(_month(month, cold, warm, is_south) for month in range(12))
        for cold, warm in zip(coldest, warmest, strict=True)
    )
    return lows, highs


def _month(month: int, cold: float, warm: float, is_south: bool) -> float:
    share = (1 - cos(2 * pi * month / 12)) / 2
    return round(cold + (warm - cold) * (1 - share if is_south else share), 1) + 0.0  # no minus nought


def guessed_air(latitude: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return a guess at the mean low and high of the coldest and of the warmest month. [°C]

    It knows nothing of coasts and heights: expect to be 5 °C wrong, and more inland.

    Source: from memory; see the constants.
    """
    degrees, half = abs(latitude), DAILY_SPAN_C / 2
    cold = COLDEST_AT_EQUATOR_C - COLDEST_BY_DEGREE_C * degrees
    warm = WARMEST_AT_EQUATOR_C - WARMEST_BY_DEGREE_C * degrees
    return (round(cold - half), round(cold + half)), (round(warm - half), round(warm + half))
