"""What goes out by a channel, and the error of a channel by which it did not."""

from dataclasses import dataclass

from dawnbrew.calendar_out.text import clean_lines, one_line
from dawnbrew.errors import DawnbrewError


@dataclass(frozen=True)
class Message:
    """One message to one person.

    Args:
        key: The same for every try; mails and webhooks carry it, so that a double can be known.
        title: One line, e.g. the subject of a mail.
        text: What there is to do; lines of plain text.
    """

    key: str
    title: str
    text: str

    def cleaned(self) -> "Message":
        """Return the message without control characters, the title on one line, nothing of the text cut."""
        title, text = one_line(self.title), clean_lines(self.text)
        return Message(one_line(self.key), title, text or title)


class DeliveryFailed(DawnbrewError):
    """A message that a channel did not take; no part of the channel's URL is in its words.

    Attributes:
        is_final: Whether trying again cannot help.
    """

    def __init__(self, *, where: str, got: str, need: str, fix: str, is_final: bool) -> None:
        super().__init__(where=where, got=got, need=need, fix=fix)
        self.is_final = is_final
