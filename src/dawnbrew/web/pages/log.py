"""The page of the treatment log: what was noted in some days, with the ways to take it away."""

from urllib.parse import urlencode

from dawnbrew.season.sight import Sight
from dawnbrew.season.treatment_log import TreatmentLog
from dawnbrew.sheets.log import span_text, sum_lines
from dawnbrew.sheets.log_words import record_text
from dawnbrew.web.pages.paper import render
from dawnbrew.web.pages.telling import Teller
from dawnbrew.web.visitor import Visitor

MOST = 60
"""More records than these are only counted on a phone; sheet and file hold all. [records]"""


def log_page(sight: Sight, visitor: Visitor, log: TreatmentLog) -> str:
    """Return the page of a log, the newest record first."""
    teller = Teller(sight, visitor)
    days = {"from": log.from_on, "until": log.until_on}
    asked = urlencode({name: str(on) for name, on in days.items() if on is not None})
    shown = log.rows[-MOST:][::-1]
    gone = ("corrected", "taken back")
    return render(
        "log.html", teller.frame("Treatment log"), visitor=visitor, span=span_text(log),
        from_on=days["from"] or "", until_on=days["until"] or "", query=f"?{asked}" if asked else "",
        records=[(row.number, record_text(log, row), row.standing in gone) for row in shown],
        more=len(log.rows) - len(shown), sums=sum_lines(log),
    )  # fmt: skip
