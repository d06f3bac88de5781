"""Air and sun around a farm as one series: what was measured, then the forecast, then the usual."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from dawnbrew.moments import EPOCH, minutes_between
from dawnbrew.nature.hours import FloatArray, HourSeries
from dawnbrew.nature.vessel import USUAL_SUNSHINE
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather

BRIDGED_H = 6
"""Hours that one source may miss on end and is taken to run straight through; our choice. [h]"""

HANDOVER_H = 12
"""In so many hours the forecast comes from what was measured to what it says itself; our choice. [h]"""

FADE_H = 48
"""In so many hours a departure from the usual is forgotten; our choice, about two days of weather. [h]"""

CLOUD_DIMS = 0.75
"""Share of clear-sky power that a full cover of cloud takes. Kasten & Czeplak 1980. [unitless]"""

CLOUD_BEND = 3.4
"""How late a growing cover of cloud dims the sun. Kasten & Czeplak 1980. [unitless]"""


def blended_air(usual: HourSeries, known: KnownWeather) -> HourSeries:
    """Return the air as it was measured, else as it is forecast, else as usual, without steps.

    It is the departure from the usual that is blended. Where a source misses up to BRIDGED_H hours its
    departure runs straight through them. Where the forecast takes over from what was measured, their
    difference fades over HANDOVER_H. Before the first hour that is known, after the last one and in longer
    holes the departure fades to nought over FADE_H.

    From one hour to the next the departure changes by no more than S + J / 2 + D / 24: S the steepest slope
    between known hours of one source [C/h], J the largest difference between the two sources, D the
    largest departure.

    Args:
        usual: [C], shape (hours,), at whole UTC hours.
        known: What is known of the weather.

    Returns:
        [C], shape (hours,); the usual to the last digit where nothing is known within FADE_H.

    Errors: ValueError for a series of another step.
    """
    measured = _bridged(_departure(usual, known.observed))
    forecast = _bridged(_departure(usual, known.forecast))
    departure = _filled(_handed_over(measured, forecast))
    return HourSeries(usual.start_at, usual.step_min, usual.values + departure)


def blended_sun(usual: HourSeries, known: KnownWeather) -> HourSeries:
    """Return the power of the sun on level ground from what is known of it, else of cloud, else the usual.

    Args:
        usual: Clear sky times USUAL_SUNSHINE. [W/m2], shape (hours,), at whole UTC hours.
        known: What is known of the weather.

    Returns:
        [W/m2], shape (hours,)

    Errors: ValueError for a series of another step.

    Source: Kasten & Czeplak, Solar Energy 24, 177-189, 1980, for the sun under cloud (from memory).
    """
    hours = joined_hours(known)
    power = _on(usual, hours, lambda some: some.shortwave_w_m2)
    cover = _on(usual, hours, lambda some: some.cloud_percent) / 100
    dimmed = usual.values / USUAL_SUNSHINE * (1 - CLOUD_DIMS * cover**CLOUD_BEND)
    power = np.where(np.isnan(power), dimmed, power)
    return HourSeries(usual.start_at, usual.step_min, np.where(np.isnan(power), usual.values, power))


def joined_hours(known: KnownWeather) -> WeatherHours:
    """Return what was measured and what is forecast as one series; what was measured counts before."""
    forecast = known.forecast or WeatherHours.empty()
    return forecast if known.observed is None else forecast.joined(known.observed)


def bridged_hours(hours: WeatherHours) -> WeatherHours:
    """Return hours whose air, humidity, wind and cloud run straight through holes of up to BRIDGED_H."""
    return replace(
        hours,
        air_c=_bridged(hours.air_c),
        humidity_percent=_bridged(hours.humidity_percent),
        wind_10m_kmh=_bridged(hours.wind_10m_kmh),
        cloud_percent=_bridged(hours.cloud_percent),
    )


def _departure(usual: HourSeries, hours: WeatherHours | None) -> FloatArray:
    return _on(usual, hours, lambda some: some.air_c) - usual.values


def _on(
    usual: HourSeries, hours: WeatherHours | None, quantity: Callable[[WeatherHours], FloatArray]
) -> FloatArray:
    """Return one quantity at the steps of the usual, nan where it is not known."""
    if usual.step_min != 60 or usual.start_minute % 60:
        raise ValueError(f"weather needs whole hours, got a step of {usual.step_min} min")
    found = np.full(usual.values.size, np.nan)
    if hours is None or hours.hours == 0:
        return found
    begins = round((minutes_between(EPOCH, hours.start_at) - usual.start_minute) / 60)
    first, last = max(0, begins), min(found.size, begins + hours.hours)
    if first < last:
        found[first:last] = quantity(hours)[first - begins : last - begins]
    return found


def _bridged(values: FloatArray) -> FloatArray:
    """Return values with their short holes filled in straight lines."""
    return _over_holes(values, lambda width: width <= BRIDGED_H + 1, _straight)


def _filled(departure: FloatArray) -> FloatArray:
    """Return a departure without any hole: short ones bridged, the others and both ends faded."""
    known = np.flatnonzero(~np.isnan(departure))
    if not known.size:
        return np.zeros_like(departure)
    filled = _over_holes(_bridged(departure), lambda _: True, _faded)
    hours = np.arange(departure.size)
    filled[: known[0]] = departure[known[0]] * _share(known[0] - hours[: known[0]], FADE_H)
    filled[known[-1] + 1 :] = departure[known[-1]] * _share(hours[known[-1] + 1 :] - known[-1], FADE_H)
    return filled


def _handed_over(measured: FloatArray, forecast: FloatArray) -> FloatArray:
    """Return the measured departure, and that of the forecast led on from it where it is not known."""
    taken = np.isnan(measured) & ~np.isnan(forecast)
    departure = np.where(np.isnan(measured), forecast, measured)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], taken, [False]]).astype(np.int8)))
    for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
        before = _difference(measured, forecast, first - 1, first)
        after = _difference(measured, forecast, last + 1, last)
        since, until = np.arange(1, last - first + 2), np.arange(last - first + 1, 0, -1)
        part = np.full(since.size, 1.0 if before is None else 0.0)
        if before is not None and after is not None:
            part = since / (last - first + 2)
        departure[first : last + 1] += (1 - part) * (before or 0.0) * _share(since, HANDOVER_H)
        departure[first : last + 1] += part * (after or 0.0) * _share(until, HANDOVER_H)
    return departure


def _difference(measured: FloatArray, forecast: FloatArray, at: int, beside: int) -> float | None:
    """Return how far the forecast is off at a measured hour, None where nothing was measured.

    Where the forecast does not hold that hour the one beside it stands in.
    """
    if not 0 <= at < measured.size or np.isnan(measured[at]):
        return None
    said = forecast[beside] if np.isnan(forecast[at]) else forecast[at]
    return float(measured[at] - said)


def _over_holes(
    departure: FloatArray, is_meant: Callable[[int], bool],
    inside: Callable[[FloatArray, int, float, float], FloatArray],
) -> FloatArray:  # fmt: skip
    """Return a departure with the holes of a width, between known hours, filled."""
    known = np.flatnonzero(~np.isnan(departure))
    filled = departure.copy()
    for hole in np.flatnonzero(np.diff(known) > 1):
        first, last = int(known[hole]), int(known[hole + 1])
        if is_meant(last - first):
            since = np.arange(1, last - first, dtype=np.float64)
            filled[first + 1 : last] = inside(since, last - first, departure[first], departure[last])
    return filled


def _straight(since: FloatArray, width: int, first: float, last: float) -> FloatArray:
    return first + (last - first) * since / width


def _faded(since: FloatArray, width: int, first: float, last: float) -> FloatArray:
    part = since / width
    return (1 - part) * first * _share(since, FADE_H) + part * last * _share(width - since, FADE_H)


def _share(hours: npt.NDArray[np.int_] | FloatArray, within: int) -> FloatArray:
    """Return what is left of a value after so many hours, in a straight line to nought."""
    return np.asarray(np.maximum(0.0, 1 - hours / within), dtype=np.float64)
