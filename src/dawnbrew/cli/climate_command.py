"""Finds the usual temperatures of a farm's months, and shows or writes them."""

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan
from pathlib import Path
from typing import Literal

from pydantic_core import PydanticCustomError

from dawnbrew.cli.asked import choose_farm, own_farm, read_clock
from dawnbrew.cli.faults import BadRequest
from dawnbrew.cli.screen import Line, print_lines, talk
from dawnbrew.farm.edit_climate import read_for_climate, set_climate, unit_of_climate
from dawnbrew.farm.faults import faults_of
from dawnbrew.farm.models import Farm
from dawnbrew.farm.weather import read_base
from dawnbrew.moments import farm_day
from dawnbrew.weather.archive import BASE, WHERE, fetch_days
from dawnbrew.weather.climate import (
    Days,
    Normals,
    days_of_days,
    days_of_hours,
    normals,
    whole_years_before,
)
from dawnbrew.weather.climate_words import climate_lines, doubts_of, rounded, spread_lines, years_of
from dawnbrew.weather.fetching import user_agent
from dawnbrew.weather.record import Layout, bytes_of_record
from dawnbrew.weather.sources import Place
from dawnbrew.weather.station import layout_of

SEPARATORS = {",": ",", ";": ";", "tab": "\t"}


@dataclass(frozen=True)
class Columns:
    """What the options say of a record's columns; None or empty where they say nothing.

    Args:
        air: Of the temperature by the hour. low, high: Of the lowest and highest of a day.
        unit: "C" or "F".
    """

    time: Sequence[str] = ()
    time_format: str | None = None
    air: str | None = None
    low: str | None = None
    high: str | None = None
    unit: str | None = None
    separator: str | None = None
    header_line: int | None = None


@dataclass(frozen=True)
class Wanted:
    """What is done: a record or the archive is read, and shown, told as JSON or written."""

    record: Path | None
    is_fetch: bool
    years: int
    archive: str | None
    is_write: bool
    is_json: bool


def show_climate(farm_given: Path | None, wanted: Wanted, columns: Columns) -> None:
    """Do what `dawnbrew climate` was asked for.

    Errors: BadRequest, BadWeather, BadFarm, BadFarmFile, CannotWrite.
    """
    if (wanted.record is None) == (not wanted.is_fetch):
        raise BadRequest(
            where="dawnbrew climate",
            got="both --from-csv and --fetch" if wanted.is_fetch else "neither --from-csv nor --fetch",
            need="one of them says where the temperatures are from",
            fix="Write e.g. dawnbrew climate farm.toml --fetch.",
        )
    path = own_farm(farm_given) if wanted.is_write else choose_farm(farm_given)
    farm = read_for_climate(path)
    days = _fetched(farm, wanted) if wanted.record is None else _recorded(wanted.record, farm, columns)
    months = normals(days)
    doubts = doubts_of(months, farm.place.latitude)
    print_lines(talk(), [Line(doubt) for doubt in doubts])
    if wanted.is_json:
        sys.stdout.write(f"{json.dumps(_as_json(months, doubts), indent=2)}\n")
    elif not wanted.is_write:
        sys.stdout.write(climate_lines(months, unit_of_climate(path)))
    if wanted.is_write:
        unit = unit_of_climate(path)
        set_climate(path, rounded(months.lows_c, unit), rounded(months.highs_c, unit), unit)
        told = f"{path.name} has the lows and highs of {years_of(months)} from {months.source}."
        print_lines(talk(), [Line(told), *(Line(line) for line in spread_lines(months, unit))])


def _fetched(farm: Farm, wanted: Wanted) -> Days:
    if not 1 <= wanted.years <= 60:
        raise BadRequest(
            where="--years",
            got=str(wanted.years),
            need="1 to 60 years can be asked for",
            fix="Write e.g. --years 20.",
        )
    try:
        base = read_base(wanted.archive) or BASE
    except PydanticCustomError as error:
        fault = faults_of(error)[0]
        raise BadRequest(
            where="--archive",
            got=fault.got,
            need=fault.need,
            fix="Write e.g. --archive https://archive.example.org.",
        ) from None
    print_lines(talk(), [Line(f"Asking {WHERE} for {wanted.years} years.")])
    place, zone = Place(farm.place.latitude, farm.place.longitude), farm.place.timezone
    first_on, last_on = whole_years_before(farm_day(read_clock(), zone), wanted.years)
    agent = user_agent(farm.weather.contact)
    return fetch_days(place, zone, first_on, last_on, agent=agent, base=base)


def _recorded(record: Path, farm: Farm, columns: Columns) -> Days:
    layout = _layout(farm, columns)
    content = bytes_of_record(record)
    station = farm.weather.station
    if columns.low is not None and columns.high is not None and columns.air is None:
        return days_of_days(content, layout, columns.low, columns.high, _unit(columns.unit), record.name)
    if columns.low is not None or columns.high is not None:
        raise BadRequest(
            where="--low and --high",
            got="both beside --air" if columns.air is not None else "only one of them",
            need="a day's lowest and highest are named together, or the air by the hour alone",
            fix="Write e.g. --low TMIN --high TMAX.",
        )
    if columns.air is not None:
        return days_of_hours(
            content, layout, columns.air, _unit(columns.unit), farm.place.timezone, record.name
        )
    if station is None or station.air is None:
        raise BadRequest(
            where=f"--from-csv {record.name}",
            got="no column of temperatures",
            need="its columns are named here, or as those of a station in the farm file",
            fix="Write e.g. --time DATE --low TMIN --high TMAX, or --time Time --air Outdoor.",
        )
    unit = station.air.unit if columns.unit is None else _unit(columns.unit)
    return days_of_hours(content, layout, station.air.column, unit, farm.place.timezone, record.name)


def _layout(farm: Farm, columns: Columns) -> Layout:
    """Return the layout that the options name, the rest as the farm's station has it."""
    station = farm.weather.station
    usual = Layout((), "iso", farm.place.timezone)
    if station is not None:
        usual = layout_of(station, farm.place.timezone)
    time_columns = tuple(columns.time) or usual.time_columns
    if not time_columns:
        raise BadRequest(
            where="--from-csv",
            got="no column of times",
            need="the column that holds the day or the time is named",
            fix="Write e.g. --time DATE.",
        )
    separator = usual.separator
    if columns.separator is not None:
        if columns.separator not in SEPARATORS:
            raise BadRequest(
                where="--separator",
                got=f"'{columns.separator}'",
                need="',', ';' or 'tab' is needed",
                fix="Write e.g. --separator tab.",
            )
        separator = SEPARATORS[columns.separator]
    return Layout(
        time_columns, columns.time_format or usual.time_format, usual.zone, separator,
        columns.header_line or usual.header_line,
    )  # fmt: skip


def _unit(unit: str | None) -> Literal["C", "F"]:
    if unit == "C":
        return "C"
    if unit == "F":
        return "F"
    raise BadRequest(
        where="--unit",
        got="nothing" if unit is None else f"'{unit}'",
        need="C or F is needed: a record does not say it",
        fix="Write e.g. --unit C.",
    )


def _as_json(months: Normals, doubts: Sequence[str]) -> dict[str, object]:
    return {
        "format": "dawnbrew-climate/1",
        "source": months.source,
        "from": months.first_on.isoformat(),
        "to": months.last_on.isoformat(),
        "years": list(months.years),
        "doubts": list(doubts),
        "lows_c": [round(one, 2) for one in months.lows_c],
        "highs_c": [round(one, 2) for one in months.highs_c],
        "low_spreads_c": [None if isnan(one) else round(one, 2) for one in months.low_spreads_c],
        "high_spreads_c": [None if isnan(one) else round(one, 2) for one in months.high_spreads_c],
    }
