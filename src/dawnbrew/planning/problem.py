"""The planner's question in plain numbers: jobs, windows, kinds of batch, and what each choice costs."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Window:
    """A span of work inside one slot that a batch's prime can cover.

    Args:
        slot: Index of the slot that it lies in.
        minutes: Length of the span, by the clock. [min]
    """

    slot: int
    minutes: float


@dataclass(frozen=True)
class SlotRoom:
    """How much work a slot holds; works of one slot follow one another.

    Args:
        day: Ordinal of the farm day.
        minutes: Length of the slot cut to the people's hours. [min]
    """

    day: int
    minutes: float


@dataclass(frozen=True)
class Choice:
    """One window a job may go into. `minutes`: by the clock [min]. `cost`: points, a multiple of 10."""

    window: int
    minutes: float
    cost: int


@dataclass(frozen=True)
class Job:
    """One treatment: goes into one of its choices, or stays unplaced at a price.

    Args:
        brew: Index of the kind of brew (recipe) it takes.
        litres: Undiluted brew needed, nought where ferment goes on alone. [L]
        choices: Where it may go, ascending by window; may be empty.
        unplaced_cost: Points if it goes nowhere; far above all else.
        fixed: Index into `choices` that it must keep, or None.
    """

    brew: int
    litres: float
    choices: tuple[Choice, ...]
    unplaced_cost: int
    fixed: int | None = None


@dataclass(frozen=True)
class Gap:
    """Law and wish between two treatments of one bed, in days from the first to the second.

    The law binds only where both are placed: day(second) - day(first) >= least_days. The wish costs
    `cost` points for each day above most_days where both are placed.
    """

    first: int
    second: int
    least_days: int
    most_days: int
    cost: int


@dataclass(frozen=True)
class Option:
    """A way to have one batch ready for a window.

    Args:
        vessels: Index of the vessel class.
        brew: Index of the kind of brew.
        window: Index of the window that its prime covers.
        busy_from, busy_until: Minutes since the epoch in which the vessel is taken, half open. [min]
        tank: Index of the tank that its water stands in, or None.
        tank_from, tank_until: Minutes in which those litres are taken there, half open. [min]
        cost: Points of one batch, a multiple of 10.
        forced: How many batches of this option exist already (running ones): a lower bound.
        most: Upper bound, or None for the count of the class.
        group: Options of one group are ways to use one batch that exists: at most one is taken.
        litres: What is in it, None for the working volume of the vessel. [L]
    """

    vessels: int
    brew: int
    window: int
    busy_from: int
    busy_until: int
    tank: int | None
    tank_from: int
    tank_until: int
    cost: int
    forced: int = 0
    most: int | None = None
    group: int | None = None
    litres: float | None = None


@dataclass(frozen=True)
class Held:
    """A vessel of a class that is taken whatever is chosen, in minutes since the epoch, half open."""

    vessels: int
    busy_from: int
    busy_until: int


@dataclass(frozen=True)
class VesselClass:
    """Vessels alike: how many, and the working volume of one. [L]"""

    count: int
    litres: float


@dataclass(frozen=True)
class Problem:
    """The whole question. Indices point into the tuples here; `tank_litres`: volume of each tank. [L]"""

    slots: tuple[SlotRoom, ...]
    windows: tuple[Window, ...]
    jobs: tuple[Job, ...]
    gaps: tuple[Gap, ...]
    vessels: tuple[VesselClass, ...]
    tank_litres: tuple[float, ...]
    options: tuple[Option, ...]
    held: tuple[Held, ...] = ()


@dataclass(frozen=True)
class Answer:
    """What the solver found.

    Args:
        window_of: For each job the index of its window, or None where unplaced. shape (jobs,)
        batches: For each option how many batches of it. shape (options,)
        cost: Points of all choices, options and wide gaps, without the unplaced ones.
        unplaced_cost: Points of the unplaced ones.
        bound: Proven lower bound on cost + unplaced_cost.
        proven: Whether bound equals cost + unplaced_cost.
    """

    window_of: tuple[int | None, ...]
    batches: tuple[int, ...]
    cost: int
    unplaced_cost: int
    bound: float
    proven: bool
