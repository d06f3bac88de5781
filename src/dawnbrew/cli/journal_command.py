"""Writes a journal out as JSON lines, and brings such lines in again."""

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from dawnbrew.cli.asked import own_farm
from dawnbrew.cli.screen import Line, print_lines, talk
from dawnbrew.errors import CannotWrite
from dawnbrew.farm.names import nearest
from dawnbrew.farm.read import read_farm
from dawnbrew.farm.write_file import check_place, write_whole
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.faults import BadImport, no_journal_yet
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.transfer import export_lines, import_lines

ACTIONS = ("export", "import")
STDIO = "-"


def move_journal(words: Sequence[str], output: Path | None, *, is_renamed: bool = False) -> None:
    """Do what `dawnbrew journal` was asked for, and say it.

    Errors: BadImport, NoJournalYet, CannotWrite, BadFarm, BadFarmFile, and those of a journal.
    """
    farm_given, action, file = sort_words(words)
    if action == "import" and file is None:
        raise _asked_wrongly(
            words, "no file", "the file that an export was written to", "Name it behind import."
        )
    if action == "export" and file is not None:
        raise _asked_wrongly(
            words, f"'{file}'", "nothing behind export", f"Write --output {file} to name a file."
        )
    path = own_farm(farm_given)
    farm_name = read_farm(path).place.name
    place = journal_path(path)
    if action == "export" and not place.exists():
        raise no_journal_yet(place)
    with open_journal(place, farm_name=farm_name, is_renamed=is_renamed) as journal:
        told = _write_out(journal, output) if action == "export" else _bring_in(journal, file or STDIO)
    print_lines(talk(), [Line(told)])


def sort_words(words: Sequence[str]) -> tuple[Path | None, str, str | None]:
    """Return the farm file or None, the action, and the file that is brought in or None.

    Errors: BadImport.
    """
    at = next((n for n, word in enumerate(words[:2]) if word.lower() in ACTIONS), None)
    if at is None:
        wrong = next((word for word in words if not word.endswith(".toml")), None)
        near = nearest(wrong, ACTIONS) if wrong else None
        raise _asked_wrongly(
            words, f"'{wrong}'" if wrong else "nothing to do with it", "export, or import and a file",
            f"Did you mean '{near}'?" if near else "Write e.g. dawnbrew journal farm.toml export.",
        )  # fmt: skip
    if len(words) > at + 2:
        raise _asked_wrongly(words, f"'{words[at + 2]}' too", "one file at the most", "Leave the rest out.")
    return Path(words[0]) if at else None, words[at].lower(), words[at + 1] if len(words) > at + 1 else None


def _asked_wrongly(words: Sequence[str], got: str, need: str, fix: str) -> BadImport:
    return BadImport(where=" ".join(["dawnbrew journal", *words]), got=got, need=need, fix=fix)


def _write_out(journal: Journal, output: Path | None) -> str:
    count = -2  # the first line and the last one are no entries

    def pieces() -> Iterator[bytes]:
        nonlocal count
        for line in export_lines(journal):
            count += 1
            yield f"{line}\n".encode()

    if output is None or str(output) == STDIO:
        sys.stdout.flush()
        sys.stdout.buffer.writelines(pieces())
        sys.stdout.buffer.flush()
        where = "stdout"
    else:
        _refuse_own_file(journal, output)
        check_place(output)
        write_whole(output, pieces())
        where = str(output)
    return f"Wrote {_entries(count)} to {where}."


def _refuse_own_file(journal: Journal, output: Path) -> None:
    if output.resolve() == journal.path.resolve():
        raise CannotWrite(
            where=f"the file '{output}'", got="the journal itself", need="another file for the export",
            fix="Name one, e.g. farm.journal.jsonl.",
        )  # fmt: skip


def _entries(count: int) -> str:
    return f"{count} entr{'y' if count == 1 else 'ies'}"


def _bring_in(journal: Journal, file: str) -> str:
    with _opened(file) as lines:
        counts = import_lines(journal, lines)
    told = ", ".join(f"{count} {kind if count == 1 else _many(kind)}" for kind, count in counts.items())
    return f"Brought in {told}."


def _many(kind: str) -> str:
    return f"{kind[:-1]}ies" if kind.endswith("y") else f"{kind}s"


@contextmanager
def _opened(file: str) -> Iterator[Iterator[str]]:
    """Give the lines of a file, or of stdin; what cannot be read is told in words."""
    where = "stdin" if file == STDIO else f"the file '{file}'"
    try:
        if file == STDIO:
            yield (line.decode() for line in sys.stdin.buffer)
        else:
            with Path(file).open("rb") as stream:
                yield (line.decode() for line in stream)
    except UnicodeDecodeError:
        raise _unreadable(where, "bytes that are not UTF-8") from None
    except OSError as problem:
        raise _unreadable(where, (problem.strerror or str(problem)).lower()) from None


def _unreadable(where: str, got: str) -> BadImport:
    return BadImport(
        where=where, got=got, need="an export that can be read; nothing was brought in",
        fix="Look at the name of the file and its permissions; make the export again if it is damaged.",
    )  # fmt: skip
