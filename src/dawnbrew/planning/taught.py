"""What is known of one recipe in one class of vessels: by noted batches, else by common practice."""

from dataclasses import dataclass
from math import hypot

from dawnbrew.nature.liquid_doubt import LIQUID_OFF_C, WEATHER_OFF_C, OffAt, off_at
from dawnbrew.nature.ripening import Ripens
from dawnbrew.nature.vessel import Cooling
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.known import Yard, YardRipens, YardVessel
from dawnbrew.planning.paces import BATCHES_DIFFER, YARDS_DIFFER

HELD_OFF_C = 0.5
"""What a liquid that is held at a temperature is off it before any was measured; our choice. [C]"""


@dataclass(frozen=True)
class Taught:
    """How a recipe ripens in a class of vessels, how these trade heat, and how surely both are known.

    Args:
        off: What a liquid is off its curve by at a minute.
    """

    ripening: YardRipens
    holds: YardVessel
    off: OffAt

    @classmethod
    def of(
        cls, yard: Yard, weather: KnownWeather | None, *, recipe: str, vessel: str, ripens: Ripens,
        cooling: Cooling, is_held: bool,
    ) -> "Taught":  # fmt: skip
        """Return it from what was learned; a recipe or a vessel that the yard does not know is as declared.

        Args:
            ripens, cooling: As they are declared.
            is_held: The vessel is heated: the weather does not reach its liquid.
        """
        ripening = next((one for one in yard.ripening if (one.recipe, one.vessel) == (recipe, vessel)), None)
        holds = next((one for one in yard.vessels if one.vessel == vessel), None)
        if ripening is None:
            ripening = YardRipens(recipe, vessel, ripens, hypot(YARDS_DIFFER, BATCHES_DIFFER), 0)
        if holds is None:
            holds = YardVessel(vessel, cooling, HELD_OFF_C if is_held else LIQUID_OFF_C, 0)
        # readings were held against the usual curve where no weather was ever known: they have seen it all
        is_told = is_held or (weather is None and holds.readings > 0)
        off = off_at(holds.off_c, weather, weather_c=0.0 if is_told else WEATHER_OFF_C)
        return cls(ripening, holds, off)
