"""Says the records of the treatment log."""

from dawnbrew.calendar_out.text import one_line, shown_name
from dawnbrew.moments import day_text, time_text
from dawnbrew.nature.mixing import dilution_words
from dawnbrew.quantities import show_volume
from dawnbrew.season.treatment_log import LogRow, TreatmentLog


def what_text(row: LogRow) -> str:
    """Return what went on: the recipes of its batches, else plain brew; ferment where that went on alone."""
    if row.standing == "skipped":
        return ""
    recipes = dict.fromkeys(one.recipe for one in row.batches if one.recipe)
    is_ferment = row.planned is not None and row.planned.brew_l <= 0
    return " and ".join(recipes) or ("ferment" if is_ferment else "brew")


def dilution_text(row: LogRow) -> str:
    """Return the dilution that was planned, in words; empty where no plan says one."""
    one = row.planned
    if one is None or one.brew_l <= 0:
        return ""
    return dilution_words(one.water_l / one.brew_l) if one.water_l > 0 else "undiluted"


def record_text(log: TreatmentLog, row: LogRow) -> str:
    """Return a record as one line: when, which bed, what became of it, litres, who."""
    units, zone = log.farm.place.units, log.farm.place.timezone
    litres = "" if row.brew_l is None else f", {show_volume(row.brew_l, units)} of brew"
    when = day_text(row.on) + ("" if row.standing == "skipped" else f" {time_text(row.at, zone)}")
    by = f", {shown_name(row.by)}" if row.by else ""
    later = f" (by record {row.corrected_by})" if row.corrected_by is not None else ""
    first = f" (corrects record {row.corrects})" if row.corrects is not None else ""
    return one_line(f"{when}  {shown_name(row.bed)}: {row.standing}{later}{first}{litres}{by}")
