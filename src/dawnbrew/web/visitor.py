"""Who looks at a farm's pages, and what they may do there."""

from dataclasses import dataclass
from typing import Literal

Role = Literal["look", "answer", "manage"]

_ROLES: tuple[Role, ...] = ("look", "answer", "manage")


@dataclass(frozen=True)
class Visitor:
    """Somebody who came with a link.

    Args:
        farm: Slug of the farm's name.
        name: As the link names them, None for nobody in particular.
        role: Each role may do what those before it may.
        base: Prefix of their pages: `/FARM`, or `/go/TOKEN` for a task link.
        form_token: Sent back by every form, so that no other site can send one.
        is_task_link: They see the page of one task and nothing else.
        link: Id of the link that they came with, None for whoever sits at the farm's computer.
    """

    farm: str
    name: str | None
    role: Role
    base: str
    form_token: str
    is_task_link: bool = False
    link: int | None = None

    def may(self, role: Role) -> bool:
        """Say whether the visitor may do what a role may."""
        return _ROLES.index(self.role) >= _ROLES.index(role)
