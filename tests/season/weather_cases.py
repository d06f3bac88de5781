"""A farm whose drum follows the air, and a service on loopback that forecasts for its simulated time."""

from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import numpy as np
from season_cases import BEGINS_AT, FARM, World
from weather_server import Reply, as_body, lists_answer, weather_service
from weathers import known

from dawnbrew.farm.read import read_farm
from dawnbrew.moments import Instant, after, at_minute, instant, minute_of

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

STATION = """
[weather.station]
file = "station.csv"
time = "Time"
time_zone = "Etc/UTC"
air = { column = "Air", unit = "C" }
"""


def moment(text):
    """Return a moment in UTC: `2027-04-10T14:00`."""
    return instant(datetime.fromisoformat(text).replace(tzinfo=UTC))


def asking(base, text=OPEN_FARM):
    """Return a farm file that asks the service at an address."""
    return f'{text}\n[weather]\nforecast = "open-meteo"\nforecast_url = "{base}"\n'


def usual_hours(farm, now, by_c=0.0, days=7):
    """Return a forecast of the usual air from an hour on, so much warmer: a number, or one an hour."""
    return known(farm, now, by_c, days=days).forecast


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
    return lists_answer(
        hours=hours.hours, first=hours.start_at, latitude=53.1, longitude=-7.6, hourly=lists
    )  # fmt: skip


class Sky:
    """What a service forecasts at each moment of a simulated time.

    Attributes:
        by_c: How much warmer than usual it says it will be, a function of when it says so.
        instead: Replies that are given in turn before it answers well again.
        always: The reply that is given whatever is asked, None to answer well.
    """

    def __init__(self, clock, by_c=lambda now: 0.0, headers=None):
        self.clock = clock
        self.by_c = by_c
        self.headers = headers or {}
        self.instead = []
        self.always = None
        self.farm = None

    def next_reply(self):
        if self.instead:
            return self.instead.pop(0)
        if self.always is not None:
            return self.always
        now = at_minute(minute_of(self.clock()))
        hours = usual_hours(self.farm, now, self.by_c(now))
        return Reply(
            body=as_body(answer_of(hours)), headers={"Content-Type": "application/json"} | self.headers
        )


@contextmanager
def sky_service(sky, path, text=OPEN_FARM, below=""):
    """Run the service of a sky and write a farm file that asks it; yield the service.

    Args:
        below: A path at the end of its address.
    """
    with weather_service() as (service, base):
        path.write_text(asking(base + below, text))
        sky.farm = read_farm(path)
        service.next_reply = sky.next_reply
        yield service


class SkyWorld(World):
    """A farm in simulated time under a sky, ticked by the hour."""

    def __init__(self, folder, text=OPEN_FARM, now=BEGINS_AT, **of_sky):
        super().__init__(folder, text, now)
        self.sky = Sky(lambda: self.now, **of_sky)

    def hours(self, count):
        """Tick every hour, and at whatever is due in between."""
        for _ in range(count):
            self.run(Instant(self.now + timedelta(hours=1)))
        return self

    def until(self, at):
        """Tick every hour up to a moment, and at it."""
        while self.now < at:
            self.run(min(Instant(self.now + timedelta(hours=1)), at))
        return self

    def reasons(self):
        return [facts["reason"] for facts in self.told("planned")]

    def next_batch(self):
        """Return the next batch that is to be started."""
        return min((b for b in self.plan.batches if b.start_at > self.now), key=lambda b: b.start_at)

    def news(self):
        """Return the messages about changes that went out."""
        return [message for _, _, message in self.sent if message.key.startswith("news.")]


def write_station(path, farm, from_at, until_at, by_c):
    """Write the usual air of the hours between as a station does, so much warmer: a number or one an hour."""
    begin = after(from_at, minutes=-(minute_of(from_at) % 60))
    count = int((until_at - begin).total_seconds() // 3600)
    days = count // 24 + 1
    hours = usual_hours(farm, begin, by_c if np.isscalar(by_c) else by_c[: 24 * days], days=days)
    rows = [
        f"{after(begin, minutes=60 * n):%Y-%m-%d %H:%M},{float(np.round(hours.air_c[n], 2))}"
        for n in range(count)
    ]
    path.write_text("\n".join(["Time,Air", *rows, ""]))
