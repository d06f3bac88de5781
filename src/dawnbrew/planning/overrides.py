"""Says which settings of a farm file make a rule or a caution weaker than usual."""

from collections.abc import Callable, Iterator, Sequence

from dawnbrew.farm.models import Bed, Farm, Method, RuleLimits
from dawnbrew.moments import day_text
from dawnbrew.planning.rules import eaten_from_on, touches_what_is_eaten
from dawnbrew.quantities import (
    Units,
    show_duration,
    show_speed,
    show_temperature,
    show_temperature_span,
)

_MOST_BEDS = 5
"""More beds than these are counted in a sentence."""

_Show = Callable[[float, Units], str]


def overrides_of(farm: Farm) -> tuple[str, ...]:
    """Return in sentences what the farm file says, or leaves open, that weakens a rule or a caution."""
    return (*_limits(farm), *_harvests(farm), *_edible_parts(farm))


def _limits(farm: Farm) -> Iterator[str]:
    """Yield one sentence for each threshold of the rules that lets more through than the usual one."""
    usual, rules, units = RuleLimits(), farm.rules, farm.place.units
    raised: Sequence[tuple[str, float, float, _Show]] = (
        ("uv_limit", rules.uv_limit, usual.uv_limit, _plain),
        ("hours_from_sun", rules.hours_from_sun_min, usual.hours_from_sun_min, _duration),
        ("wind_most", rules.wind_most_kmh, usual.wind_most_kmh, show_speed),
        ("delta_t_most", rules.delta_t_most_c, usual.delta_t_most_c, show_temperature_span),
        ("heavy_rain", rules.heavy_rain_mm, usual.heavy_rain_mm, _rain),
        ("hot_above", rules.hot_above_c, usual.hot_above_c, show_temperature),
    )
    lowered: Sequence[tuple[str, float, float, _Show]] = (
        ("wind_least", rules.wind_least_kmh, usual.wind_least_kmh, show_speed),
        ("delta_t_least", rules.delta_t_least_c, usual.delta_t_least_c, show_temperature_span),
        ("dry_before_mist", rules.dry_before_mist_min, usual.dry_before_mist_min, _duration),
        ("dry_after_mist", rules.dry_after_mist_min, usual.dry_after_mist_min, _duration),
        ("frozen_below", rules.frozen_below_c, usual.frozen_below_c, show_temperature),
    )
    weaker = [one for one in raised if one[1] > one[2]] + [one for one in lowered if one[1] < one[2]]
    for key, value, was, show in weaker:
        yield f"{key} is set to {show(value, units)}; usual is {show(was, units)}."


def _harvests(farm: Farm) -> Iterator[str]:
    """Yield where days to harvest are not kept, and beds that are said not to be eaten."""
    edible = [bed for bed in farm.beds if bed.edible]
    if edible and farm.rules.harvest_interval_d is None:
        yield "harvest_interval is none: days to harvest are told, and no treatment is refused for them."
    undated = [bed for bed in edible if bed.harvest_from_on is None]
    if undated and farm.rules.harvest_interval_d is not None:
        yield f"harvest_interval cannot be kept without harvest_from: {_beds(undated)}."
    if others := [bed for bed in farm.beds if not bed.edible]:
        yield f"Set to edible = false, so no rule or caution of harvest holds: {_beds(others)}."


def _edible_parts(farm: Farm) -> Iterator[str]:
    """Yield beds on whose edible part brew may go until some day, or on any."""
    reached = [
        bed for bed in farm.beds
        if bed.edible and any(touches_what_is_eaten(bed, method) for method in _methods(farm, bed))
    ]  # fmt: skip
    unknown = [bed for bed in reached if eaten_from_on(bed) is None]
    if unknown:
        yield (
            "Nothing says from when there is something to eat, so no brew is refused for it: "
            f"{_beds(unknown)}. Write edible_part_from."
        )
    for bed in reached:
        if bed.edible_part_from_on is not None and eaten_from_on(bed) == bed.edible_part_from_on:
            on = day_text(bed.edible_part_from_on)
            yield f"edible_part_from of {bed.name} is {on}: before it brew may go where the crop will be."


def _methods(farm: Farm, bed: Bed) -> set[Method]:
    """Return every method with which a bed is treated."""
    programs = [farm.program(name) for name in bed.programs]
    methods = {program.method or bed.method for program in programs}
    return methods | {program.on_method for program in programs if program.on_method is not None}


def _beds(beds: Sequence[Bed]) -> str:
    more = len(beds) - _MOST_BEDS
    few = ", ".join(bed.name for bed in beds[:_MOST_BEDS])
    return f"{few} and {more} more" if more > 0 else few


def _plain(value: float, _: Units) -> str:
    return f"{value:g}"


def _duration(minutes: float, _: Units) -> str:
    return show_duration(minutes)


def _rain(mm: float, _: Units) -> str:
    return f"{mm:g} mm"
