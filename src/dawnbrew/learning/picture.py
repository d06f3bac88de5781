"""Draws what was learned as SVG: what was seen beside what was predicted, and what was off by temperature."""

from collections.abc import Callable, Sequence
from html import escape
from math import isnan, log

from dawnbrew.learning.fit import Learned, Outcome
from dawnbrew.quantities import Units

WIDTH, ROW = 620, 340
"""Size of the picture and of what is drawn of one recipe in one class of vessels. [px]"""

_LEFT, _TOP, _SIDE, _GAP = 56, 64, 216, 110
"""Where the first panel begins, how large a panel is, and what lies between two. [px]"""

MANY_TIMES = 4
"""An axis that reaches from a number to more times it has no even steps."""

_Scale = Callable[[float], float]


def picture(learned: Sequence[Learned], units: Units) -> str:
    """Return an SVG with a row for each recipe in each class of vessels; black on white.

    On the left each batch stands by the hours that are predicted now, with a bar from the least to the most
    hours at which it was seen to peak: the nearer to the slanting line, the better. A ring is the default's
    prediction. On the right stands how much longer than predicted each took, by the mean of its liquid.

    Args:
        learned: Those without any batch are left out.
        units: Of the temperature axis.
    """
    rows = [one for one in learned if one.outcomes]
    height = ROW * max(1, len(rows))
    pieces = [piece for n, one in enumerate(rows) for piece in _row(one, units, ROW * n)]
    title = "What noted batches have taught of ripening"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{height}" '
        f'viewBox="0 0 {WIDTH} {height}" font-family="sans-serif" font-size="12" role="img">\n'
        f"<title>{title}</title>\n"
        f'<rect width="{WIDTH}" height="{height}" fill="white"/>\n' + "\n".join(pieces) + "\n</svg>\n"
    )


def _row(one: Learned, units: Units, down: float) -> list[str]:
    batches = f"{one.batches} batch{'es' if one.batches > 1 else ''}"
    heading = f"{one.recipe} in {one.vessel}, {batches}"
    return [
        _text(_LEFT, down + 24, heading, weight="bold"),
        *_against(one.outcomes, down + _TOP),
        *_residuals(one.outcomes, units, down + _TOP),
    ]


def _against(outcomes: Sequence[Outcome], top: float) -> list[str]:
    """Return the panel of seen hours over predicted ones; twice as long is as far apart everywhere.

    A batch in the cold takes many times as long as one in the warm; on an even scale the warm ones would lie
    in one heap.
    """
    told = [one for one in outcomes if not isnan(one.learned_h)]
    foretold = [h for one in told for h in (one.learned_h, one.default_h) if not isnan(h)]
    (left, right), (low, high) = _wide_hours(foretold), _wide_hours([h for one in told for h in _seen(one)])
    x, y = _by_times(left, right, _LEFT, _LEFT + _SIDE), _by_times(low, high, top + _SIDE, top)
    begins, ends = max(left, low), min(right, high)
    pieces = [
        *_frame(_LEFT, top, "hours seen, from start to peak", "hours predicted"),
        *_ticks(left, right, x, top + _SIDE, is_across=True), *_ticks(low, high, y, _LEFT, is_across=False),
        *([_line(x(begins), y(begins), x(ends), y(ends), dash="4 3")] if begins < ends else []),
    ]  # fmt: skip
    for one in told:
        least, most = _ends(one, low, high)
        middle = y((least + most) / 2)
        pieces += [
            f'<g><title>{escape(_title(one))}</title>',
            _line(x(one.learned_h), y(least), x(one.learned_h), y(most), width=2),
            f'<circle cx="{x(one.learned_h):.1f}" cy="{middle:.1f}" r="3"/>',
        ]  # fmt: skip
        if not isnan(one.default_h):
            pieces.append(
                f'<circle cx="{x(one.default_h):.1f}" cy="{middle:.1f}" r="3" fill="white" stroke="black"/>'
            )
        pieces.append("</g>")
    return [*pieces, *_key(top)]


def _key(top: float) -> list[str]:
    below = top + _SIDE + 52
    return [
        f'<circle cx="{_LEFT + 4}" cy="{below - 4:.1f}" r="3"/>', _text(_LEFT + 12, below, "as learned"),
        f'<circle cx="{_LEFT + 92}" cy="{below - 4:.1f}" r="3" fill="white" stroke="black"/>',
        _text(_LEFT + 100, below, "by the default"),
    ]  # fmt: skip


def _residuals(outcomes: Sequence[Outcome], units: Units, top: float) -> list[str]:
    """Return the panel of what was off, in percent of the predicted hours, over the liquid's mean."""
    told = [one for one in outcomes if _seen(one) and one.learned_h > 0]
    if not told:
        return []
    left = _LEFT + _SIDE + _GAP
    warm = [_shown(one.mean_c, units) for one in told]
    offs = [[100 * (hours / one.learned_h - 1) for hours in _seen(one)] for one in told]
    low, high = _wide(warm)
    most = 1.05 * max(10.0, *(abs(off) for pair in offs for off in pair))
    x, y = _scale(low, high, left, left + _SIDE), _scale(-most, most, top + _SIDE, top)
    degree = "°F" if units == "us" else "°C"
    pieces = [
        *_frame(left, top, "% longer than predicted", f"mean of the liquid, {degree}"),
        *_ticks(low, high, x, top + _SIDE, is_across=True), *_ticks(-most, most, y, left, is_across=False),
        _line(x(low), y(0), x(high), y(0), dash="4 3"),
    ]  # fmt: skip
    for one, celsius, pair in zip(told, warm, offs, strict=True):
        pieces += [
            f"<g><title>{escape(_title(one))}</title>",
            _line(x(celsius), y(min(pair)), x(celsius), y(max(pair)), width=2),
            f'<circle cx="{x(celsius):.1f}" cy="{y(sum(pair) / len(pair)):.1f}" r="3"/></g>',
        ]
    return pieces


def _seen(one: Outcome) -> list[float]:
    """Return the hours between which a batch was seen to peak, one of them where the other is open."""
    return [hours for hours in (one.seen_from_h, one.seen_until_h) if hours is not None]


def _ends(one: Outcome, low: float, high: float) -> tuple[float, float]:
    """Return where the bar of a batch begins and ends; what is open reaches to the edge."""
    least = low if one.seen_from_h is None else one.seen_from_h
    return least, high if one.seen_until_h is None else one.seen_until_h


def _title(one: Outcome) -> str:
    seen = " to ".join(f"{hours:.0f}" for hours in _seen(one)) or "any"
    return (
        f"{one.batch}: seen {seen} h, predicted {one.learned_h:.0f} h, by the default {one.default_h:.0f} h"
    )


def _shown(celsius: float, units: Units) -> float:
    return celsius * 9 / 5 + 32 if units == "us" else celsius


def _wide(values: Sequence[float]) -> tuple[float, float]:
    """Return the bounds of an axis with a little room on both sides."""
    low, high = min(values, default=0.0), max(values, default=1.0)
    room = max(0.05 * (high - low), 1.0)
    return low - room, high + room


def _wide_hours(hours: Sequence[float]) -> tuple[float, float]:
    """Return the bounds of an axis of hours, above nought, with a little room on both sides."""
    low, high = max(1.0, min(hours, default=1.0)), max(2.0, *hours, 2.0)
    room = max((high / low) ** 0.05, 1.02)
    return low / room, high * room


def _by_times(low: float, high: float, begins: float, ends: float) -> _Scale:
    """Return a scale on which twice as much is equally far everywhere; what is below it stands at its end."""
    return lambda value: begins + log(max(value, low) / low) / log(high / low) * (ends - begins)


def _scale(low: float, high: float, begins: float, ends: float) -> _Scale:
    return lambda value: begins + (value - low) / (high - low) * (ends - begins)


def _frame(left: float, top: float, above: str, below: str) -> list[str]:
    return [
        f'<rect x="{left}" y="{top}" width="{_SIDE}" height="{_SIDE}" fill="none" stroke="black"/>',
        _text(left, top - 8, above),
        _text(left + _SIDE, top + _SIDE + 34, below, anchor="end"),
    ]


def _ticks(low: float, high: float, scale: _Scale, edge: float, *, is_across: bool) -> list[str]:
    """Return short lines with numbers at four or five round values."""
    pieces = []
    for value in _round_values(low, high):
        at = scale(value)
        if is_across:
            pieces += [
                _line(at, edge, at, edge + 4), _text(at, edge + 17, f"{value:g}", anchor="middle")
            ]  # fmt: skip
        else:
            pieces += [_line(edge - 4, at, edge, at), _text(edge - 7, at + 4, f"{value:g}", anchor="end")]
    return pieces


def _round_values(low: float, high: float) -> list[float]:
    """Return four or five values between bounds; over a wide span of hours some that are times apart."""
    if low > 0 and high > MANY_TIMES * low:
        return [n * 10.0**ten for ten in range(5) for n in (1, 2, 3, 5) if low <= n * 10**ten <= high]
    step = _step((high - low) / 5)
    first = step * -(-low // step)
    return [first + step * n for n in range(int((high - first) // step) + 1)]


def _step(least: float) -> float:
    """Return the smallest round step not below one: 1, 2, 5, 10, 20 and so on."""
    size = 1.0
    while True:
        for times in (1, 2, 5):
            if size * times >= least:
                return size * times
        size *= 10


def _line(x1: float, y1: float, x2: float, y2: float, *, dash: str = "", width: float = 1) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    where = f'x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"'
    return f'<line {where} stroke="black" stroke-width="{width:g}"{dashed}/>'


def _text(x: float, y: float, words: str, *, anchor: str = "start", weight: str = "normal") -> str:
    styled = f'text-anchor="{anchor}" font-weight="{weight}"'
    return f'<text x="{x:.1f}" y="{y:.1f}" {styled}>{escape(words)}</text>'
