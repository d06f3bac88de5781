"""The value of a nudge: a message that calls somebody to a task."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, StringConstraints

from dawnbrew.moments import Instant
from dawnbrew.planning.plan import Moment

Words = Annotated[str, StringConstraints(max_length=2000)]
Id = Annotated[str, StringConstraints(min_length=1, max_length=500)]


def _whole_second(moment: Instant) -> Instant:
    return Instant(moment.replace(microsecond=0))


Second = Annotated[Moment, AfterValidator(_whole_second)]
"""An instant to the second, which is what the journal keeps."""


class NudgeRow(BaseModel):
    """A message that calls somebody to a task.

    Args:
        key: Unique for ever: whatever carries the same key is the same nudge and goes out once.
        kind: The word for what it calls to, as whoever makes nudges names them.
        task: Id of the plan's task, or None.
        send_at: When it goes out. until_at: Until when it is of use, None for always.
        stays: A later revision leaves it alone, like the news that a plan was changed.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    key: Id
    kind: Id
    task: Id | None = None
    person: Words | None = None
    send_at: Second
    until_at: Second | None = None
    title: str
    text: str
    stays: bool = False
