"""Makes the link in a message by which its task is answered, at the moment at which it is sent."""

from datetime import timedelta

from dawnbrew.farm.models import Farm
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import Delivery, NewLink, Nudge
from dawnbrew.moments import Instant
from dawnbrew.nudges.words import link_line
from dawnbrew.season.links import address_of

LIVES_FOR = timedelta(days=3)
"""A task's link ends so long after its nudge is of no use any more: what was done may be noted late."""


def answer_line(
    nudge: Nudge, delivery: Delivery, farm: Farm, journal: Journal, *, now: Instant
) -> str | None:
    """Return the line that leads to the page of a nudge's task; None where there is no page or no task.

    Each try of a delivery has a link of its own, under the name of its channel. That of a try before lives
    on: its message may have arrived although nobody said so. The token is in this line and nowhere else.

    Errors: those of a journal.
    """
    if farm.web.address is None or nudge.task is None:
        return None
    made = journal.make_link(
        NewLink(
            kind="task", name=delivery.channel, role="answer", person=nudge.person, task=nudge.task,
            nudge=nudge.key, expires_at=Instant((nudge.until_at or nudge.send_at) + LIVES_FOR),
        ),
        now=now,
    )  # fmt: skip
    assert made.token is not None  # a link without a key is always new
    return link_line(nudge.kind, address_of("task", made.token, farm).https)
