"""Says beforehand how much of a brew its works do not take."""

from dawnbrew.planning.placed import Brew
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
    return (f"Its work takes {taken} of the {whole}: {left} will be left over for the ferment.",)
