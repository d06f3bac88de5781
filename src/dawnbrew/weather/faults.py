"""The error of weather that cannot be used, in words."""

from dawnbrew.errors import DawnbrewError


class BadWeather(DawnbrewError):
    """An answer, a file or a record of weather that makes no sense, or none that could be had."""
