"""The errors of a journal: notes that are refused, and faults of its file, in words."""

import shlex
from pathlib import Path

from dawnbrew.errors import DawnbrewError
from dawnbrew.journal.holder import holder_of
from dawnbrew.journal.values import Link


class JournalDamaged(DawnbrewError):
    """A file that is no journal any more, or never was; nothing was touched."""


class JournalLocked(DawnbrewError):
    """Another program holds the journal for longer than is worth waiting."""


class JournalFull(DawnbrewError):
    """No room for what had to be written; the journal is as it was before."""


class JournalTooNew(DawnbrewError):
    """A journal that a newer dawnbrew has written."""


class JournalUnwritable(DawnbrewError):
    """A file or a folder that may not be written, is not there, or fails."""


class JournalOfAnotherFarm(DawnbrewError):
    """A journal that was begun for a farm of another name."""


class BadNote(DawnbrewError):
    """A note of something that cannot have happened so; nothing was written."""


class UnconfirmedNote(BadNote):
    """A note that may be right but is so odd that it must be confirmed."""


class BadImport(DawnbrewError):
    """An export that cannot be brought in, or a journal that cannot take it; nothing was written."""


class LinkNameTaken(DawnbrewError):
    """A name that another link of the same kind has; nothing was made."""


def damaged(path: Path, got: str, backup: Path | None, *, backups: Path | None = None) -> JournalDamaged:
    """Return the refusal of a file that is no whole journal.

    Args:
        backup: The newest good backup, or None.
        backups: The folder that was looked through, or None where none was.
    """
    logs = f"'{path.name}-wal' and '{path.name}-shm' if they are there"
    aside = f"Stop dawnbrew and move the file aside, with {logs}"
    if backup is not None:
        fix = f"{aside}; then copy the newest good backup '{backup}' to its place."
    elif backups is not None:
        fix = f"{aside}. There is no good backup in '{backups}'; import an export, or begin anew."
    else:
        fix = "Stop dawnbrew and start it again: the start looks for the newest good backup and names it."
    return JournalDamaged(
        where=f"the journal '{path}'", got=got, need="a whole journal; nothing was changed", fix=fix
    )


def locked(path: Path) -> JournalLocked:
    """Return the refusal of a journal that another program holds, named where the system tells."""
    holder = holder_of(path)
    return JournalLocked(
        where=f"the journal '{path}'",
        got=f"a lock that {holder or 'another program'} does not give up",
        need="nobody else may be writing for seconds on end; nothing was noted",
        fix=f"Wait and try again; if it stays, end {holder or 'the program that has this file open'}.",
    )


def full(path: Path) -> JournalFull:
    """Return the refusal of a write for which there is no room."""
    return JournalFull(
        where=f"the journal '{path}'",
        got="a full disk",
        need="room for what is noted; the journal is as it was before",
        fix=f"Make room on the disk of '{path.parent}', then do it again.",
    )


def unwritable(path: Path, got: str) -> JournalUnwritable:
    """Return the refusal of a file or folder that cannot be written."""
    return JournalUnwritable(
        where=f"the journal '{path}'",
        got=got,
        need="a file that can be written, in a folder that can be written too",
        fix="Allow writing to the file and its folder for whoever runs dawnbrew, or name another file.",
    )


class NoPlanYet(DawnbrewError):
    """A journal that holds no plan, where one is needed to know what a note is of."""


class NoJournalYet(DawnbrewError):
    """No journal beside the farm file, where one is needed."""


def no_plan_yet(
    path: Path,
    farm_file: Path,
    *,
    need: str = "a plan that says which batches and treatments there are; nothing was noted",
) -> NoPlanYet:
    """Return the refusal of what needs a plan, by default a note, before one is stored.

    Args:
        path: The journal. farm_file: The farm file beside it, which is planned.
        need: What the plan is needed for.
    """
    return NoPlanYet(
        where=f"the journal '{path}'",
        got="no plan is stored yet",
        need=need,
        fix=f"Store one: {shlex.join(['dawnbrew', 'run', str(farm_file), '--once'])}",
    )


def no_journal_yet(path: Path) -> NoJournalYet:
    """Return the refusal to export what is not there."""
    return NoJournalYet(
        where=f"the journal '{path}'",
        got="no such file",
        need="a journal, which the first note or `dawnbrew run` makes",
        fix="Look at the name and the folder of the farm file.",
    )


def link_name_taken(link: Link) -> LinkNameTaken:
    """Return the refusal of a second live link of one name."""
    is_feed = link.kind == "feed"
    end = shlex.join(["dawnbrew", "links", "--revoke", f"{link.kind}:{link.name}"])
    return LinkNameTaken(
        where=f"the name '{link.name}'",
        got=f"a {'feed' if is_feed else 'person'} with a link of that name since {link.made_at:%Y-%m-%d}",
        need="each link that is live needs a name of its own, whatever the case; nothing was made",
        fix=f"Take another name, or end that one: {end}." if is_feed else f"End that one first: {end}.",
    )
