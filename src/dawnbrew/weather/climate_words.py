"""Says the usual months of a record: as lines of a farm file, and what is to be known of them."""

from math import isnan

from dawnbrew.nature.usual_air import guessed_air
from dawnbrew.weather.climate import Normals, TemperatureUnit

FAR_FROM_GUESS_C = 20.0
"""A year that is further from what the latitude suggests may be in the wrong unit. Of places with farms only
the coldest inland ones and high plateaus come near it; from memory. [°C]"""


def climate_lines(months: Normals, unit: TemperatureUnit = "C") -> str:
    """Return the table `[climate]` of a farm file, with remarks that tell its years and spread."""
    remarks = [
        f"From {months.source}, {months.first_on} to {months.last_on}: {years_of(months)} for each month.",
        *spread_lines(months, unit),
    ]
    lows, highs = rounded(months.lows_c, unit), rounded(months.highs_c, unit)
    settings = [
        "[climate]",
        f'unit = "{unit}"',
        f"lows = [{', '.join(map(str, lows))}]",
        f"highs = [{', '.join(map(str, highs))}]",
    ]
    return "\n".join([*(f"# {remark}" for remark in remarks), *settings]) + "\n"


def years_of(months: Normals) -> str:
    """Return from how many years the months are: `1 to 2 years`."""
    fewest, most = min(months.years), max(months.years)
    years = f"{most} year{'s' if most != 1 else ''}"
    return f"{fewest} to {most} years" if fewest < most else years


def spread_lines(months: Normals, unit: TemperatureUnit) -> list[str]:
    """Return how far the years lie apart, a dash for a month of which only one is known."""
    if all(map(isnan, (*months.low_spreads_c, *months.high_spreads_c))):
        return ["One year does not tell how far years lie apart."]
    return [
        f"From one year to another the means differ by (standard deviation, {unit}):",
        f"lows  {_spans(months.low_spreads_c, unit)}",
        f"highs {_spans(months.high_spreads_c, unit)}",
    ]


def doubts_of(months: Normals, latitude: float) -> tuple[str, ...]:
    """Return what was left out, and whether the whole looks like another unit.

    Args:
        latitude: Of the farm; north positive. [deg]
    """
    mean_c = sum(months.lows_c + months.highs_c) / (len(months.lows_c) + len(months.highs_c))
    (cold_low, cold_high), (warm_low, warm_high) = guessed_air(latitude)
    guess_c = (cold_low + cold_high + warm_low + warm_high) / 4
    if abs(mean_c - guess_c) <= FAR_FROM_GUESS_C:
        return months.doubts
    return *months.doubts, (
        f"{months.source}: the year has {mean_c:.0f} C in the mean, where about {guess_c:.0f} C is usual at "
        "this latitude. Look whether it is in C or F, and at the farm's place."
    )


def rounded(celsius: tuple[float, ...], unit: TemperatureUnit) -> tuple[float, ...]:
    """Return temperatures to a tenth of a degree of a unit."""
    return tuple(round(one * 9 / 5 + 32 if unit == "F" else one, 1) + 0.0 for one in celsius)


def _spans(spans_c: tuple[float, ...], unit: TemperatureUnit) -> str:
    scale = 9 / 5 if unit == "F" else 1
    return ", ".join("-" if isnan(span) else f"{span * scale:.1f}" for span in spans_c)
