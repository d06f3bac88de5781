"""Units in which weather comes, and how each becomes ours."""

from collections.abc import Callable, Mapping

from dawnbrew.nature.hours import FloatArray

Conversion = Callable[[FloatArray], FloatArray]

_KMH_OF_MPH = 1.609344
_KMH_OF_KNOT = 1.852
_MM_OF_INCH = 25.4

KINDS: Mapping[str, str] = {
    "air_c": "temperature", "humidity_percent": "share", "wind_10m_kmh": "speed", "rain_mm": "depth",
    "cloud_percent": "share", "shortwave_w_m2": "radiation",
}  # fmt: skip
"""What kind of thing each quantity of an hour is."""

CONVERSIONS: Mapping[str, Mapping[str, Conversion]] = {
    "temperature": {"C": lambda v: v, "F": lambda v: (v - 32) * 5 / 9},
    "share": {"%": lambda v: v},
    "speed": {
        "km/h": lambda v: v, "m/s": lambda v: v * 3.6, "mph": lambda v: v * _KMH_OF_MPH,
        "kn": lambda v: v * _KMH_OF_KNOT,
    },
    "depth": {"mm": lambda v: v, "in": lambda v: v * _MM_OF_INCH},
    "radiation": {"W/m2": lambda v: v},
}  # fmt: skip
"""Into °C, %, km/h, mm and W/m2, by the words of the farm file. Exact by definition of the units."""


def converted(name: str, unit: str, values: FloatArray) -> FloatArray:
    """Return values of a quantity in our unit. Errors: KeyError for a unit that is not of its kind."""
    return CONVERSIONS[KINDS[name]][unit](values)
