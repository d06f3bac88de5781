"""What pages are told beside a farm's plan."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """What could not be done, as the top of a page says it.

    Args:
        title: In a few words, e.g. `Not noted`.
        text: What was found, what is needed, what to do.
        typed: What the visitor typed, by the name of the field; shown again in the form.
    """

    title: str
    text: str
    typed: tuple[tuple[str, str], ...] = ()

    def typed_in(self, field: str) -> str:
        """Return what was typed into a field, empty where nothing was."""
        return dict(self.typed).get(field, "")


@dataclass(frozen=True)
class ChannelLine:
    """Who is called through which channels, by their names; never by their URLs."""

    person: str
    channels: tuple[str, ...]
