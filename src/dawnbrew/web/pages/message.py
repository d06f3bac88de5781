"""The page that says one thing: an error, that no plan is there yet, where the door is."""

from dawnbrew.web.pages.paper import Frame, doors_of, render
from dawnbrew.web.visitor import Visitor


def message_page(title: str, text: str, *, what_to_do: str = "", visitor: Visitor | None = None) -> str:
    """Return a page with a heading, what is the matter, and what to do.

    Args:
        visitor: Whoever may go on to the other pages; None where nobody is known.
    """
    frame = Frame(title, doors=() if visitor is None else doors_of(visitor, ""))
    return render("message.html", frame, title=title, text=text, what_to_do=what_to_do)
