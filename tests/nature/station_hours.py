"""Real hours of weather that pvlib ships for its own tests (TMY3: years put together from real months)."""

import csv
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pvlib


@dataclass(frozen=True, eq=False)
class Station:
    latitude: float
    longitude: float
    zone: ZoneInfo
    air_c: np.ndarray  # shape (365, 24), hours ending 01:00 to 24:00 standard time
    sun_w_m2: np.ndarray  # same shape


def read_station(name):
    with (Path(pvlib.__file__).parent / "data" / name).open(encoding="ascii") as lines:
        place, columns, *rows = csv.reader(lines)
    air, sun = (columns.index(title) for title in ("Dry-bulb (C)", "GHI (W/m^2)"))
    return Station(
        latitude=float(place[4]),
        longitude=float(place[5]),
        zone=ZoneInfo(f"Etc/GMT{-int(float(place[3])):+d}"),
        air_c=np.array([float(row[air]) for row in rows]).reshape(-1, 24),
        sun_w_m2=np.array([float(row[sun]) for row in rows]).reshape(-1, 24),
    )
