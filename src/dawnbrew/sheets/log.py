"""The treatment log as a sheet, for the folder of a certifier or a land owner."""

from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dawnbrew.calendar_out.text import one_line, shown_name
from dawnbrew.moments import Instant, day_text, moment_text, time_text
from dawnbrew.planning.overrides import overrides_of
from dawnbrew.quantities import show_volume
from dawnbrew.season.plan_words import OVERRIDES
from dawnbrew.season.treatment_log import LoggedBatch, LogRow, TreatmentLog
from dawnbrew.sheets.log_words import dilution_text, what_text
from dawnbrew.sheets.paper import render


@dataclass(frozen=True)
class _Record:
    number: int
    is_gone: bool
    when: str
    standing: str
    bed: str
    crop: str
    what: tuple[str, ...]
    batches: tuple[str, ...]
    who: str
    around: tuple[str, ...]
    planned: tuple[str, ...]


def log_sheet(log: TreatmentLog, *, made_at: Instant) -> str:
    """Return the log in HTML; what stands no more is struck through and says by what it was replaced.

    Args:
        made_at: When it was written.
    """
    zone = log.farm.place.timezone
    return render(
        "log.html", title=f"Treatments, {span_text(log)}", farm=log.farm.place.name,
        made=f"From the journal as it stood {moment_text(made_at, zone)} {made_at.astimezone(zone).year}. "
        f"Time of {zone.key}.",
        records=[_record(log, row) for row in log.rows], sums=sum_lines(log),
        overrides_title=f"{OVERRIDES}, as it is now",
        overrides=[one_line(text) for text in overrides_of(log.farm)],
    )  # fmt: skip


def span_text(log: TreatmentLog) -> str:
    """Return the days of a log in words."""
    if log.from_on is None and log.until_on is None:
        return "all that was noted"
    begins = "" if log.from_on is None else f"from {day_text(log.from_on)} {log.from_on.year}"
    ends = "" if log.until_on is None else f"until {day_text(log.until_on)} {log.until_on.year}"
    return f"{begins} {ends}".strip()


def sum_lines(log: TreatmentLog) -> list[str]:
    """Return what the records add up to, and what is not among them."""
    gone = log.count("corrected") + log.count("taken back")
    silent = sum(row.standing == "done" and row.brew_l is None for row in log.rows)
    lines = []
    if log.rows:
        litres = show_volume(log.brew_l, log.farm.place.units)
        lines = [
            f"{log.count('done')} done, {log.count('skipped')} skipped; {gone} corrected or taken back, "
            f"which do not count. {litres} of brew noted in all."
        ]
    if silent:
        lines.append(f"{silent} of the done without litres noted: not in that sum.")
    if log.unnoted:
        them = "it" if log.unnoted == 1 else "them"
        lines.append(f"{log.unnoted} more should be over by the plan, and nobody noted {them}: no records.")
    return lines


def _record(log: TreatmentLog, row: LogRow) -> _Record:
    zone, units = log.farm.place.timezone, log.farm.place.units
    litres = "litres not noted" if row.brew_l is None else f"{show_volume(row.brew_l, units)} of brew noted"
    is_skipped = row.standing == "skipped"
    return _Record(
        number=row.number, is_gone=row.standing in ("corrected", "taken back"),
        when=f"{day_text(row.on)} {row.on.year}" + ("" if is_skipped else f" {time_text(row.at, zone)}"),
        standing=_standing(row, zone), bed=row.bed, crop="" if row.planned is None else row.planned.crop,
        what=("skipped",) if is_skipped else (one_line(what_text(row)), litres),
        batches=tuple(_batch(one, zone) for one in row.batches), who=shown_name(row.by) or "nobody named",
        around=tuple(_around(row)), planned=tuple(_planned(log, row)),
    )  # fmt: skip


def _standing(row: LogRow, zone: ZoneInfo) -> str:
    by = f" by {shown_name(row.corrected_who)}" if row.corrected_who else ""
    if row.corrected_by is not None and row.corrected_at is not None:
        return f"corrected by record {row.corrected_by}, {moment_text(row.corrected_at, zone)}{by}"
    if row.corrected_at is not None:
        return f"taken back {moment_text(row.corrected_at, zone)}{by}"
    return "" if row.corrects is None else f"corrects record {row.corrects}"


def _batch(one: LoggedBatch, zone: ZoneInfo) -> str:
    started = f"started {moment_text(one.started_at, zone)}" if one.started_at else "start not noted"
    named = "" if one.is_noted else ", as planned"
    told = f"{one.vessel or one.id}{named}, {started}"
    return one_line(f"{told}: {one.ingredients}" if one.ingredients else told)


def _around(row: LogRow) -> Iterator[str]:
    if row.harvest_in_d is not None:
        yield f"{row.harvest_in_d} days to harvest" if row.harvest_in_d >= 0 else "after harvest began"
    if row.weather:
        yield one_line(row.weather)
    if row.reason:
        yield shown_name(row.reason)


def _planned(log: TreatmentLog, row: LogRow) -> Iterator[str]:
    one, on, units = row.planned, row.planned_on, log.farm.place.units
    if one is None or on is None:
        yield "in no plan"
        return
    yield f"{day_text(on)}, {one.method}"
    if one.brew_l > 0:
        yield f"{show_volume(one.brew_l, units)} of brew, {dilution_text(row)}"
    if one.ferment_l > 0:
        yield f"{show_volume(one.ferment_l, units)} of ferment"
