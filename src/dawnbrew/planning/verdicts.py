"""What a rule says of one treatment in one span of work."""

from dataclasses import dataclass

CAUTION_COST = 10
"""Points of one caution: it decides between slots that are equal otherwise."""


@dataclass(frozen=True)
class Allowed:
    """The rule has nothing against it."""


@dataclass(frozen=True)
class Cautioned:
    """The rule lets it pass at a small cost, with a sentence for the person who does it.

    `brief` says it in two words where a slot is told in one line: `too windy`.
    """

    rule: str
    cost: int
    sentence: str
    brief: str = ""


@dataclass(frozen=True)
class Refused:
    """The rule forbids it; `brief` as there."""

    rule: str
    sentence: str
    brief: str = ""


Verdict = Allowed | Cautioned | Refused
ALLOWED = Allowed()
