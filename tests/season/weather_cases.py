"""A farm whose drum follows the air, and a service on loopback that forecasts for its simulated time."""

from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import numpy as np
from season_cases import FARM, World
from weather_server import Reply, as_body, lists_answer, weather_service
from weathers import known

from dawnbrew.farm.read import read_farm
from dawnbrew.moments import after, instant, parse_instant

PLACE = {"latitude": 53.1, "longitude": -7.6}

OPEN_FARM = FARM.replace('heated_to = "20 C"\n', "").replace(
    """\
lows = [2, 2, 3, 4, 7, 9, 11, 11, 9, 7, 4, 3]
highs = [8, 8, 10, 12, 15, 17, 19, 19, 17, 14, 10, 8]
""",
    """\
lows = [6, 6, 8, 11, 13, 15, 16, 16, 14, 11, 8, 6]
highs = [12, 13, 16, 20, 23, 25, 26, 26, 24, 20, 15, 12]
""",
)
"""Warm enough that a brew is ripe within three days."""

BEGINS_AT = parse_instant("2027-04-01T05:00:00Z")


def asking(base, text=OPEN_FARM):
    """Return a farm file that asks the service at an address."""
    return f'{text}\n[weather]\nforecast = "open-meteo"\nforecast_url = "{base}"\n'


def answer_of(hours):
    """Return hours of weather as an answer of the service."""
    lists = {
        "time": [int(after(hours.start_at, minutes=60 * n).timestamp()) for n in range(hours.hours)],
        "temperature_2m": [round(float(value), 2) for value in hours.air_c],
        "relative_humidity_2m": [75.0] * hours.hours,
        "wind_speed_10m": [10.0] * hours.hours,
        "precipitation": [0.0] * hours.hours,
        "cloud_cover": [80] * hours.hours,
        "shortwave_radiation": [None] * hours.hours,
    }  # fmt: skip
    return lists_answer(hours=hours.hours, first=hours.start_at, hourly=lists, **PLACE)


class Sky:
    """What a service forecasts at a moment: the usual, and so much more from a moment on.

    Attributes:
        by_c: By how much it is warmer, a function of the moment.
        replies: What is answered instead, in turn, before it answers well again.
    """

    def __init__(self, clock, by_c=lambda at: 0.0, days=7):
        self.clock = clock
        self.by_c = by_c
        self.days = days
        self.replies = []
        self.farm = None

    def next_reply(self):
        if self.replies:
            return self.replies.pop(0)
        now = self.clock()
        forecast = known(self.farm, now, days=self.days).forecast
        moments = [after(forecast.start_at, minutes=60 * n) for n in range(forecast.hours)]
        off_c = np.array([self.by_c(at) for at in moments])
        forecast = known(self.farm, now, off_c, days=self.days).forecast
        return Reply(body=as_body(answer_of(forecast)), headers={"Content-Type": "application/json"})


@contextmanager
def sky_service(sky, path, text=OPEN_FARM):
    """Run a service of a sky, and write a farm file that asks it; yield the requests that came."""
    with weather_service() as (service, base):
        path.write_text(asking(base, text))
        sky.farm = read_farm(path)
        service.next_reply = sky.next_reply
        yield service


def warm_from(moment, by_c=6.0):
    """Return a forecast that is warmer from a moment on."""
    return lambda at: by_c if at >= moment else 0.0


def day(text):
    return instant(datetime.fromisoformat(text).replace(tzinfo=UTC))


class WeatherWorld(World):
    """A farm with a forecast, ticked by the hour."""

    def hours(self, count):
        for _ in range(count):
            self.tick(self.now + timedelta(hours=1))
        return self
