"""What was last heard of the weather in the database, one row for each source."""

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, select
from sqlalchemy.dialects.sqlite import insert

from dawnbrew.journal.tables import weather
from dawnbrew.journal.values import WeatherSource
from dawnbrew.moments import Instant


def read_weather(source: WeatherSource, connection: Connection) -> dict[str, Any] | None:
    """Return what a source told last, None where it never did.

    Errors: ValueError where it is not what was stored.
    """
    text = connection.scalars(select(weather.c.told).where(weather.c.source == source)).one_or_none()
    if text is None:
        return None
    told = json.loads(text)
    if not isinstance(told, dict):
        raise ValueError(f"the weather of the {source} is not the one that was stored")
    return told


def write_weather(
    source: WeatherSource, told: Mapping[str, object], connection: Connection, *, now: Instant
) -> None:
    """Put what a source told in the place of what it told before."""
    row = {"told": json.dumps(told, allow_nan=False), "stored_at": now}
    put = insert(weather).values(source=source, **row)
    connection.execute(put.on_conflict_do_update(index_elements=["source"], set_=row))
