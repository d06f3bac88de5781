"""Tells what is known of a farm's weather as it stands in the journal; nobody is asked."""

from collections.abc import Iterator
from pathlib import Path

from dawnbrew.calendar_out.text import one_line
from dawnbrew.cli.screen import Line
from dawnbrew.errors import DawnbrewError
from dawnbrew.farm.models import Farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.moments import Instant, farm_day
from dawnbrew.planning.planner import usual_until
from dawnbrew.season.stored_weather import based_on, known_weather, read_file, read_service
from dawnbrew.season.weather_trouble import troubles, unheard


def weather_lines(path: Path, farm: Farm, *, now: Instant) -> Iterator[Line]:
    """Yield what a plan would be based on now, and what went wrong last."""
    place = journal_path(path)
    if not place.exists():
        yield Line("Plans are based on the usual weather until dawnbrew run has asked for more.")
        return
    try:
        with open_journal(place, farm_name=farm.place.name) as journal:
            service, station = read_service(journal), read_file(journal)
    except DawnbrewError as fault:  # what is checked is the farm file
        yield Line(one_line(f"What is known of the weather cannot be read: {fault.where}: {fault.got}."))
        return
    zone = farm.place.timezone
    weather = known_weather(farm, service, station, now=now)
    told = based_on(farm, weather, usual_until(farm, farm_day(now, zone)), now)
    yield Line(f"Plans are based on: {told}.")
    for one in troubles(farm, service, station, now=now):
        yield Line(one_line(f"{one.title(zone)}: {one.text}"), lead="- ", indent=2)
    for text in unheard(farm, service, station):
        yield Line(one_line(text), lead="- ", indent=2)
