"""How a running season is, for whoever asks whether it still runs."""

from typing import Literal

from pydantic import BaseModel, ConfigDict

from dawnbrew.planning.plan import Moment


class Health(BaseModel):
    """How one season is.

    Args:
        last_tick_at: The last tick that went through, None before the first.
        next_at: When the next nudge or the next try of one is due, None where nothing waits.
        failed_deliveries: How many were given up in the last 24 h.
        revision: Number of the plan, None before the first. planned_at: When it was made.
        file_fault: What is wrong with the farm file; the last good one goes on.
        fault: Why the last tick, or the last planning, did not go through.
        weather: What source of weather tells nothing new, and why; the plan goes on with what is known.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    farm: str
    state: Literal["well", "ailing"]
    last_tick_at: Moment | None
    next_at: Moment | None
    failed_deliveries: int
    revision: int | None
    planned_at: Moment | None
    file_fault: str | None
    fault: str | None
    weather: str | None = None
