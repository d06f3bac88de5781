"""A weather service on loopback that answers as it is told to, well or badly, and answers of its form."""

import gzip
import json
import threading
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from math import pi, sin

from dawnbrew.farm.models import Climate
from dawnbrew.moments import instant, parse_instant
from dawnbrew.weather.sources import Place
from dawnbrew.weather.usual import Usual

NOW = parse_instant("2027-04-20T05:10:00Z")
FIRST = parse_instant("2027-04-20T05:00:00Z")
PLACE = Place(51.2, -2.6)
USUAL = Usual.of(
    Climate(
        lows=[2, 2, 3, 5, 8, 11, 13, 13, 10, 8, 5, 3], highs=[8, 8, 11, 13, 17, 20, 22, 22, 19, 15, 11, 8]
    )
)
"""A mild coast: about 9 C in late April."""


@dataclass
class Reply:
    status: int = 200
    body: bytes = b""
    headers: dict = field(default_factory=dict)
    declared_bytes: int | None = None
    hangs: bool = False
    drips: bool = False


class Service:
    """What the next requests are answered, the last reply for ever; and what was asked."""

    def __init__(self):
        self.replies = [Reply()]
        self.asked = []
        self.over = threading.Event()

    def next_reply(self):
        return self.replies.pop(0) if len(self.replies) > 1 else self.replies[0]


@contextmanager
def weather_service(*replies):
    """Yield a service and its address."""
    service = Service()
    service.replies = list(replies) or [Reply()]

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self):
            service.asked.append((self.path, {name.lower(): value for name, value in self.headers.items()}))
            reply = service.next_reply()
            if reply.hangs:
                service.over.wait(10)
                return
            self.send_response_only(reply.status)  # without a Date of its own
            for name, value in reply.headers.items():
                self.send_header(name, value)
            size = len(reply.body) if reply.declared_bytes is None else reply.declared_bytes
            self.send_header("Content-Length", str(size))
            self.end_headers()
            if reply.drips:
                while not service.over.wait(0.05):
                    self.wfile.write(b" ")
            self.wfile.write(reply.body)

        def log_message(self, *_):
            pass

    class Server(ThreadingHTTPServer):
        def handle_error(self, request, client_address):
            pass  # a client that gave up

    server = Server(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield service, f"http://127.0.0.1:{server.server_port}"
    finally:
        service.over.set()
        server.shutdown()
        server.server_close()
        thread.join()


def air_at(hour):
    """Return the air temperature of the made-up forecast so many hours after FIRST. [C]"""
    return round(12 + 5 * sin(2 * pi * (hour - 4) / 24), 1)


def lists_answer(hours=96, first=FIRST, **changes):
    """Return an answer of the form with one list for each quantity, as plain values."""
    seconds = int(first.timestamp())
    answer = {
        "latitude": 51.2, "longitude": -2.6, "generationtime_ms": 0.2, "utc_offset_seconds": 0,
        "timezone": "GMT", "timezone_abbreviation": "GMT", "elevation": 60.0,
        "hourly_units": {
            "time": "unixtime", "temperature_2m": "°C", "relative_humidity_2m": "%",
            "wind_speed_10m": "km/h", "precipitation": "mm", "cloud_cover": "%",
            "shortwave_radiation": "W/m²",
        },
        "hourly": {
            "time": [seconds + 3600 * n for n in range(hours)],
            "temperature_2m": [air_at(n) for n in range(hours)],
            "relative_humidity_2m": [80.0] * hours,
            "wind_speed_10m": [7.2] * hours,
            "precipitation": [round(0.1 * (n % 5), 1) for n in range(hours)],
            "cloud_cover": [40] * hours,
            "shortwave_radiation": [100.0 + n for n in range(hours)],
        },
    }  # fmt: skip
    for table in ("hourly", "hourly_units"):
        answer[table] |= changes.pop(table, {})
    return answer | changes


def entries_answer(hours=60, later=4, first=FIRST, updated_at="2027-04-20T04:40:00Z"):
    """Return an answer of the form with one entry for each time: hours, then a few every sixth hour."""
    times = [*range(hours), *(hours + 6 * n for n in range(later))]
    series = []
    for n in times:
        data = {
            "instant": {"details": {
                "air_pressure_at_sea_level": 1013.0, "air_temperature": air_at(n),
                "cloud_area_fraction": 40.0, "relative_humidity": 80.0, "wind_from_direction": 200.0,
                "wind_speed": 2.0,
            }},
            "next_6_hours": {"summary": {"symbol_code": "rain"}, "details": {"precipitation_amount": 3.0}},
        }  # fmt: skip
        if n < hours:
            data["next_1_hours"] = {
                "summary": {"symbol_code": "rain"}, "details": {"precipitation_amount": 0.2},
            }  # fmt: skip
        at = instant(datetime.fromtimestamp(first.timestamp(), UTC) + timedelta(hours=n))
        series.append({"time": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "data": data})
    units = {
        "air_pressure_at_sea_level": "hPa", "air_temperature": "celsius", "cloud_area_fraction": "%",
        "precipitation_amount": "mm", "relative_humidity": "%", "wind_from_direction": "degrees",
        "wind_speed": "m/s",
    }  # fmt: skip
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [-2.6, 51.2, 60]},
        "properties": {"meta": {"updated_at": updated_at, "units": units}, "timeseries": series},
    }


def as_body(answer):
    return json.dumps(answer).encode()


def good_reply(answer=None, **headers):
    """Return a reply with an answer; header lines by names with _ for -."""
    lines = {name.replace("_", "-"): value for name, value in headers.items()}
    return Reply(
        body=as_body(answer or lists_answer()), headers={"Content-Type": "application/json", **lines}
    )


def bomb(unpacked_bytes):
    """Return few bytes of gzip that become a great many."""
    return gzip.compress(b" " * unpacked_bytes, 9)
