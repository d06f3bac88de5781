"""Makes the plan that a command shows, while a person waits."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dawnbrew.farm.models import Farm
    from dawnbrew.moments import Instant
    from dawnbrew.planning.planner import Planned

# Whatever this needs is imported inside: see cli/main.


def make_or_follow(
    farm: Path | None, from_day: str | None, until_day: str | None, made_at: str | None
) -> "Planned":
    """Return the plan that was asked for: as it stands by the journal, or afresh."""
    from dawnbrew.cli.asked import check_order, choose_farm, read_span  # noqa: PLC0415  # see cli/main
    from dawnbrew.farm.read import read_farm  # noqa: PLC0415  # see cli/main
    from dawnbrew.journal.beside import journal_path  # noqa: PLC0415  # see cli/main
    from dawnbrew.season.make import plan_farm  # noqa: PLC0415  # see cli/main

    span = read_span(from_day, until_day, made_at)
    path = choose_farm(farm)
    declared = read_farm(path)
    check_order(span, declared.place.timezone)
    is_of_now = from_day is None and until_day is None and made_at is None
    with waiting() as tell:
        if is_of_now and journal_path(path).exists():
            return _follow(path, declared, span.made_at, tell)
        return plan_farm(
            declared, from_on=span.from_on, until_on=span.until_on, made_at=span.made_at, on_progress=tell
        )


def _follow(path: Path, declared: "Farm", now: "Instant", tell: Callable[[str], None] | None) -> "Planned":
    """Return the plan as it stands by what was noted, without storing it."""
    from dawnbrew.cli.screen import Line, print_lines, talk  # noqa: PLC0415  # see cli/main
    from dawnbrew.journal.beside import journal_path  # noqa: PLC0415  # see cli/main
    from dawnbrew.journal.opening import open_journal  # noqa: PLC0415  # sqlalchemy; only this needs it
    from dawnbrew.season.again import plan_again  # noqa: PLC0415  # see cli/main

    with open_journal(journal_path(path), farm_name=declared.place.name) as journal:
        again = plan_again(declared, journal, now=now, on_progress=tell)
    note = "This follows the journal beside the farm file; with --from it is planned afresh."
    print_lines(talk(), [Line(note, lead="note: ")])
    return again.planned


@contextmanager
def waiting() -> Iterator[Callable[[str], None] | None]:
    """Show what is being done on a line of stderr that goes when it is done; nothing but on a terminal."""
    from rich.text import Text  # noqa: PLC0415  # see cli/main

    from dawnbrew.cli.screen import talk  # noqa: PLC0415  # see cli/main

    console = talk()
    if not console.is_terminal:
        yield None
        return
    with console.status(Text("reading the farm")) as status:
        yield lambda text: status.update(Text(text))
