"""Lists what can be noted now and what was noted last."""

from collections.abc import Iterable, Iterator
from datetime import timedelta

from rich.console import Console
from rich.text import Text

from dawnbrew.cli.screen import Line, print_lines
from dawnbrew.journal.meant import Notable
from dawnbrew.journal.values import KeptNote
from dawnbrew.moments import instant
from dawnbrew.season.note_words import NoteWords

NEAR_NOW = timedelta(hours=36)
"""How far from now a start or a treatment may be to be offered for a note."""


def print_open(console: Console, words: NoteWords, notable: Notable) -> None:
    """Print what can be noted now: starts and treatments near now, and the batches that run."""
    rows = [
        ("started", one.id, f"planned {words.moment(instant(one.start_at))}")
        for one in notable.near_starts(NEAR_NOW)
    ]
    rows += [
        ("started", barrel, f"planned {words.moment(at)}") for at, barrel in notable.near_ferments(NEAR_NOW)
    ]
    rows += [
        ("looked", one.id, f"planned to peak {words.moment(instant(one.peak_at))}")
        for one in notable.running()
    ]
    rows += [
        ("applied", one.id, f"planned {words.moment(instant(one.work_from))}" if one.work_from else "planned")
        for one in notable.near_treatments(NEAR_NOW)
    ]
    print_lines(console, [Line("Can be noted now", style="bold")])
    if not rows:
        print_lines(console, [Line("No start, no running batch and no treatment is near.", indent=2)])
    for kind, of, when in rows:
        print_lines(console, [Line(words.clean(f"{words.name(of)}, {when}"), lead=f"{kind:<9}", indent=2)])
        print_id(console, of, indent=11)


def print_id(console: Console, of: str, *, indent: int) -> None:
    """Print an id as it is, never broken over rows: it will be copied."""
    console.print(Text(" " * indent + of), soft_wrap=True)


def note_lines(words: NoteWords, notes: Iterable[KeptNote], *, most: int) -> Iterator[Line]:
    """Yield the last notes in the order in which they were entered, the newest last."""
    last = sorted(notes, key=lambda note: note.id)[-most:]
    yield Line("Last notes", style="bold")
    if not last:
        yield Line("Nothing is noted yet.", indent=2)
    for note in last:
        yield Line(words.sentence(note), lead="- ", indent=2)
