"""Says beforehand how much of brews their works do not take."""

from dawnbrew.planning.placed import Brew
from dawnbrew.planning.plan import Plan
from dawnbrew.quantities import Units, show_volume

MENTIONED_SHARE = 0.5
"""So much of the working volume may be left over without a word before the start; our choice."""


def left_over_lines(brew: Brew, units: Units) -> tuple[str, ...]:
    """Return a sentence where more than half of a brew that is yet to be started is left over, else none."""
    volume_l = brew.ready.brewer.vessel.volume_l
    if brew.is_running or brew.left_l <= volume_l * MENTIONED_SHARE:
        return ()
    taken, whole, left = (
        show_volume(litres, units) for litres in (volume_l - brew.left_l, volume_l, brew.left_l)
    )
    return (f"Its work takes {taken} of the {whole}: {left} will be left over.",)


def smaller_brew_words(plan: Plan) -> str | None:
    """Return what to change where most is left over of every batch that is yet to be started, else None."""
    volumes_l = {one.id: one.volume_l for one in plan.batches if one.state == "planned"}
    taken_l = dict.fromkeys(volumes_l, 0.0)
    for treatment in plan.treatments:
        for draw in treatment.batches:
            if draw.batch in taken_l:
                taken_l[draw.batch] += draw.litres
    if not taken_l or any(taken_l[one] >= volumes_l[one] * (1 - MENTIONED_SHARE) for one in taken_l):
        return None
    most = show_volume(max(taken_l.values()), plan.farm.units)
    return (
        f"Most is left over of every brew: no batch needs more than {most}. A brew may be less than its "
        "vessel holds: write a smaller volume for the vessel."
    )
