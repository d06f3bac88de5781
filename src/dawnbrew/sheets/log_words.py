"""Says what went on and how it was to be mixed, for the treatment log."""

from dawnbrew.nature.mixing import dilution_words
from dawnbrew.season.treatment_log import LogRow


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
