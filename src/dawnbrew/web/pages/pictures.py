"""Draws numbers as SVG: how a batch ripens, how far it is, the light of a day, the weeks of a season."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

WIDTH = 328
"""Width of a picture, which is that of a small phone less its margins. [px]"""

DAY_PX = 30
"""Width of a day in the picture of a season. [px]"""

LANE_PX = 40
"""Height of a row in the picture of a season. [px]"""

_Scale = Callable[[float], float]

_LEFT, _TOP = 44, 14


@dataclass(frozen=True)
class Mark:
    """A place on the time axis, as a share of its width, with what stands there."""

    at: float
    word: str


@dataclass(frozen=True)
class Curve:
    """How a batch ripens, over one axis of time.

    Args:
        title: What the picture shows, in a sentence, for those who do not see it.
        at: Shares of the width, rising, 0 to 1. [unitless], shape (points,)
        liquid: Temperature in the farm's unit. shape (points,)
        progress: Share of the way to the peak. [unitless], shape (points,)
        unit: Of the temperature.
        prime: Begin and end of the prime, as shares of the width.
        now: Where now is, None outside.
        days: Where farm days begin.
    """

    title: str
    at: Sequence[float]
    liquid: Sequence[float]
    progress: Sequence[float]
    unit: str
    prime: tuple[float, float]
    now: float | None
    days: Sequence[Mark]


@dataclass(frozen=True)
class Band:
    """A span of the time axis; `kind` is part of a class of the style: morning, water, prime and so on."""

    kind: str
    start: float
    end: float


@dataclass(frozen=True)
class Strip:
    """The light of the hours to come, the primes in them and the tasks."""

    title: str
    bands: Sequence[Band]
    primes: Sequence[Band]
    tasks: Sequence[float]
    hours: Sequence[Mark]


@dataclass(frozen=True)
class Spot:
    """A treatment in its row, in days from the left edge; `kind` is done, skipped or planned."""

    at: float
    kind: str


@dataclass(frozen=True)
class Bar:
    """A batch in its row: its water, its ripening and its prime, in days from the left edge."""

    bands: Sequence[Band]
    to: str
    title: str


def curve_picture(curve: Curve) -> Markup:
    """Return temperature and ripening over time, the prime shaded and now marked."""
    plot, low_px, high_px = WIDTH - _LEFT - 6, 62, 84
    gap, day_px = 20, 18
    second = _TOP + low_px + gap
    bottom = second + high_px

    def x(share: float) -> float:
        return _LEFT + share * plot

    prime = x(max(0.0, curve.prime[0])), x(min(1.0, curve.prime[1]))
    is_early = curve.now is not None and x(curve.now) < _LEFT + 100  # the word "now" wants that place
    liquid_at = (x(1), "end") if is_early else (x(0), "")
    pieces = [
        _rect("band prime-band", prime[0], _TOP, max(2.0, prime[1] - prime[0]), bottom - _TOP),
        *_day_marks(curve.days, x, _TOP, bottom),
        *_panel(curve.liquid, curve.at, x, (_TOP, low_px), "liquid", _degrees(curve.liquid, curve.unit)),
        *_panel(curve.progress, curve.at, x, (second, high_px), "ripe", ((0.0, "0 %"), (1.0, "100 %"))),
        _text("word", liquid_at[0], _TOP - 3, f"Liquid, {curve.unit}", liquid_at[1]),
        _text("word", x(0), second - 3, "Ripening, peak at 100 %"),
        _prime_word(prime, second + high_px - 6),
    ]
    if curve.now is not None:
        pieces += [
            _line("now", x(curve.now), _TOP, x(curve.now), bottom + 4),
            _text("word strong", min(max(x(curve.now), _LEFT + 16), WIDTH - 16), _TOP - 3, "now", "middle"),
        ]
    return _svg("curve", WIDTH, bottom + day_px + 6, curve.title, pieces)


def _prime_word(prime: tuple[float, float], y: float) -> str:
    """Return the word beside the prime: before it where there is room, where neither line nor now is."""
    if prime[0] - _LEFT > 48:
        return _text("word strong", prime[0] - 5, y, "prime", anchor="end")
    return _text("word strong", prime[1] + 5, y, "prime")


def _day_marks(days: Sequence[Mark], x: _Scale, top: float, bottom: float) -> Iterable[str]:
    """Yield a rule and a name for every day that has room: the first and whichever follows far enough."""
    free = 0.0
    for day in days:
        at, wide = x(day.at), 7.2 * len(day.word)
        if at >= free and at + wide <= WIDTH + 4:
            yield _line("rule", at, top, at, bottom + 4)
            yield _text("word", at, bottom + 18, day.word)
            free = at + wide + 8


def _degrees(liquid: Sequence[float], unit: str) -> tuple[tuple[float, str], ...]:
    low, high = min(liquid), max(liquid)
    if high - low < 1:
        return ((low, f"{low:.0f}"),)
    return ((low, f"{low:.0f}"), (high, f"{high:.0f}"))


def _panel(
    values: Sequence[float], at: Sequence[float], x: _Scale, place: tuple[float, float], kind: str,
    marks: Sequence[tuple[float, str]],
) -> Iterable[str]:  # fmt: skip
    """Yield one line over time with the words of its axis, inside a place of top and height. [px]"""
    top, tall = place
    low = min(min(values), *(mark for mark, _ in marks))
    high = max(max(values), *(mark for mark, _ in marks))
    low, high = (low, high) if high > low else (low - 0.5, high + 0.5)

    def y(value: float) -> float:
        return top + tall - (value - low) / (high - low) * tall

    for mark, word in marks:
        yield _line("rule", x(0), y(mark), x(1), y(mark))
        yield _text("word", x(0) - 4, y(mark) + 4, word, anchor="end")
    path = "L".join(f"{_n(x(a))} {_n(y(value))}" for a, value in zip(at, values, strict=True))
    yield f'<path class="{kind}" d="M{path}"/>'


def gauge_picture(progress: float, prime_from: float, prime_until: float, title: str) -> Markup:
    """Return how far a batch is on its way to the peak, with its prime.

    Args:
        progress, prime_from, prime_until: Shares of the way to the peak. [unitless]
    """
    most = prime_until + 0.12
    scale = WIDTH / most
    at = min(max(progress, 0.0), most - 0.01) * scale
    kind = "past" if progress > prime_until else "prime" if progress >= prime_from else "ripening"
    return _svg("gauge", WIDTH, 26, title, [
        _rect("trough", 0.5, 4, WIDTH - 1, 18),
        _rect(f"fill-{kind}", 1, 5, max(at - 1, 2), 16),
        _rect("prime-box", prime_from * scale, 2, (prime_until - prime_from) * scale, 22),
        _line("now", at, 0, at, 26),
    ])  # fmt: skip


def strip_picture(strip: Strip) -> Markup:
    """Return the light of the hours to come: mornings, evenings, primes, and a tick for each task."""
    wide = WIDTH - 2

    def x(share: float) -> float:
        return 1 + share * wide

    pieces = [_rect("trough", 1, 16, wide, 20)]
    pieces += [
        _rect(f"fill-{one.kind}", x(one.start), 17, (one.end - one.start) * wide, 18) for one in strip.bands
    ]
    pieces += [
        _rect("prime-line", x(one.start), 38, max(3.0, (one.end - one.start) * wide), 5)
        for one in strip.primes
    ]
    pieces += [
        f'<path class="due" d="M{_n(x(at) - 5)} 4h10l-5 9z"/>' for at in strip.tasks
    ]  # fmt: skip
    for hour in strip.hours:
        pieces.append(_line("rule", x(hour.at), 16, x(hour.at), 48))
        pieces.append(_text("word", min(max(x(hour.at), 16), WIDTH - 16), 60, hour.word, anchor="middle"))
    return _svg("strip", WIDTH, 64, strip.title, pieces)


def patterns() -> Markup:
    """Return the patterns of water and ripening and the signs of treatments, once for a page."""
    return Markup(
        '<svg class="defs" width="0" height="0" aria-hidden="true"><defs>'
        '<pattern id="water" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<path class="weave-water" d="M0 3h6"/></pattern>'
        '<pattern id="ripening" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<path class="weave-ripening" d="M-1 7 7 -1M-1 1 1 -1M5 7 7 5"/></pattern>'
        '<path id="planned" class="spot-planned" d="M0 11l8 9 -8 9 -8 -9z"/>'
        '<path id="done" class="spot-done" d="M-8 20l5 6 11 -13"/>'
        '<path id="skipped" class="spot-skipped" d="M-6 14l12 12m0 -12l-12 12"/>'
        "</defs></svg>"
    )


def sky(bands: Iterable[Band], days: int) -> Markup:
    """Return the mornings and evenings of some days once, to be used in every row."""
    paths: dict[str, list[str]] = {"morning": [], "evening": []}
    for one in bands:
        if one.kind in paths:
            wide = (one.end - one.start) * DAY_PX
            paths[one.kind].append(f"M{_n(one.start * DAY_PX)} 0h{_n(wide)}v{LANE_PX}h-{_n(wide)}z")
    rules = "".join(f"M{day * DAY_PX} 0v{LANE_PX}" for day in range(days + 1) if day % 7)
    weeks = "".join(f"M{day * DAY_PX} 0v{LANE_PX}" for day in range(0, days + 1, 7))
    drawn = f'<path class="rule" d="{rules}"/><path class="week" d="{weeks}"/>'
    drawn += "".join(
        f'<path class="{kind}-tint" d="{"".join(path)}"/>' for kind, path in paths.items() if path
    )
    return Markup(
        '<svg class="defs" width="0" height="0" aria-hidden="true"><defs>'
        f'<g id="sky">{drawn}</g></defs></svg>'
    )


def days_picture(days: Sequence[str], bands: Iterable[Band], now: float | None) -> Markup:
    """Return the head of a season: the names of its days over their mornings and evenings."""
    pieces = []
    for number, word in enumerate(days):
        name, _, rest = word.partition(" ")
        at = (number + 0.5) * DAY_PX
        pieces += [_text("word", at, 13, name, "middle"), _text("word", at, 27, rest, "middle")]
    pieces += [
        _rect(f"fill-{one.kind}", one.start * DAY_PX, 31, (one.end - one.start) * DAY_PX, 9) for one in bands
    ]
    pieces += [_line("now", now * DAY_PX, 29, now * DAY_PX, LANE_PX)] if now is not None else []
    return _raw_svg("lane", len(days) * DAY_PX, LANE_PX, ' aria-hidden="true"', pieces)


def batches_picture(days: int, bars: Iterable[Bar], now: float | None, label: str) -> Markup:
    """Return the row of a vessel: its batches, each a link to its page."""
    pieces = []
    for bar in bars:
        drawn = "".join(
            _rect(f"bar-{one.kind}", one.start * DAY_PX, 9, max(2.0, (one.end - one.start) * DAY_PX), 22)
            for one in bar.bands
        )
        pieces.append(_anchor(bar.to, bar.title, drawn))
    return _lane(days, pieces, now, label)


def treatments_picture(
    days: int, spots: Iterable[Spot], now: float | None, label: str, to: str | None
) -> Markup:
    """Return the row of a bed: its treatments, together one link to the bed's page."""
    drawn = "".join(_spot(spot) for spot in spots)
    return _lane(days, [drawn if to is None else _anchor(to, label, drawn)], now, label)


def _lane(days: int, pieces: Iterable[str], now: float | None, label: str) -> Markup:
    line = [_line("now", now * DAY_PX, 0, now * DAY_PX, LANE_PX)] if now is not None else []
    more = f' role="group" aria-label="{escape(label)}"'
    return _raw_svg("lane", days * DAY_PX, LANE_PX, more, ['<use href="#sky"/>', *pieces, *line])


def _spot(spot: Spot) -> str:
    return f'<use href="#{spot.kind}" x="{_n(spot.at * DAY_PX)}"/>'


def key_picture(kind: str) -> Markup:
    """Return the sign of one thing in a season, for the words that explain it."""
    if kind in ("done", "skipped", "planned"):
        piece = _spot(Spot(14 / DAY_PX, kind))
    else:
        piece = _rect(f"fill-{kind}" if kind in ("morning", "evening") else f"bar-{kind}", 1, 9, 26, 22)
    return _raw_svg("key", 28, LANE_PX, ' aria-hidden="true"', [piece])


def _anchor(to: str, title: str, drawn: str) -> str:
    return f'<a href="{escape(to)}" aria-label="{escape(title)}">{drawn}</a>'


def _svg(kind: str, wide: float, tall: float, title: str, pieces: Iterable[str]) -> Markup:
    return _raw_svg(kind, wide, tall, f' role="img" aria-label="{escape(title)}"', pieces)


def _raw_svg(kind: str, wide: float, tall: float, more: str, pieces: Iterable[str]) -> Markup:
    size = f'width="{_n(wide)}" height="{_n(tall)}" viewBox="0 0 {_n(wide)} {_n(tall)}"'
    return Markup(f'<svg class="{kind}" {size}{more}>{"".join(pieces)}</svg>')


def _rect(kind: str, x: float, y: float, wide: float, tall: float) -> str:
    size = f'x="{_n(x)}" y="{_n(y)}" width="{_n(wide)}" height="{_n(tall)}"'
    return f'<rect class="{kind}" {size}/>'


def _line(kind: str, x: float, y: float, to_x: float, to_y: float) -> str:
    return f'<path class="{kind}" d="M{_n(x)} {_n(y)}L{_n(to_x)} {_n(to_y)}"/>'


def _text(kind: str, x: float, y: float, word: str, anchor: str = "") -> str:
    where = f' text-anchor="{anchor}"' if anchor else ""
    return f'<text class="{kind}" x="{_n(x)}" y="{_n(y)}"{where}>{escape(word)}</text>'


def _n(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")
