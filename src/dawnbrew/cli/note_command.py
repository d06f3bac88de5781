"""Takes a note of what happened, corrects one or takes one back, or lists what can be noted."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal, cast, get_args

from pydantic import ValidationError

from dawnbrew.calendar_out.text import one_line
from dawnbrew.cli.asked import own_farm, read_clock
from dawnbrew.cli.note_by import spelt, stranger_words
from dawnbrew.cli.note_lines import note_lines, print_id, print_open
from dawnbrew.cli.screen import Line, print_lines, results, talk
from dawnbrew.errors import DawnbrewError
from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import nearest
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.faults import BadNote, no_plan_yet
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.meant import Notable, matching_notes
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Foam, KeptNote, Note, Noted, NoteKind, undo_of
from dawnbrew.journal.when import parse_when
from dawnbrew.moments import Instant, parse_day
from dawnbrew.quantities import Kind, parse
from dawnbrew.season.joining import left_over_l
from dawnbrew.season.looks_apart import looks_apart
from dawnbrew.season.note_words import NoteWords
from dawnbrew.season.noting import Noting
from dawnbrew.season.planned_again import declared_in, store_again, what_follows
from dawnbrew.season.reasons import note_reason

KINDS: tuple[NoteKind, ...] = get_args(NoteKind)

Spoken = NoteKind | Literal["joined"]
"""What somebody may say. A brew that joined a ferment is noted as applied, to the ferment."""

SPOKEN: tuple[Spoken, ...] = (*KINDS, "joined")

LISTED = 20
"""How many notes are listed."""

_FITS: dict[str, tuple[Spoken, ...]] = {
    "brew": ("applied", "joined"), "batch": ("applied",), "ferment": ("joined",), "on": ("planted",),
    "liquid": ("looked", "measured"), "foam": ("looked", "measured"), "smell": ("looked", "measured"),
}  # fmt: skip
"""Options that only some kinds of note take."""


@dataclass(frozen=True)
class NoteOptions:
    """What was said beside the words of a note, as it was typed; None where it was not."""

    at: str | None = None
    on: str | None = None
    by: str | None = None
    brew: str | None = None
    liquid: str | None = None
    foam: str | None = None
    smell: str | None = None
    reason: str | None = None
    batch: str | None = None
    ferment: str | None = None
    key: str | None = None
    is_undo: bool = False
    is_correction: bool = False
    is_confirmed: bool = False
    is_renamed: bool = False


def after_note(farm_path: Path, journal: Journal, now: Instant) -> list[str]:
    """Return what follows from a new note, in sentences: plan again with it, and store that.

    The note stands whatever comes of it; where nothing is planned yet, nothing follows.
    """
    last = None
    try:
        last = journal.last_revision()
        if last is None:
            return []
        declared = declared_in(farm_path)
        every = sorted(journal.notes(with_corrected=True), key=lambda one: one.id)
        fresh = [one for one in every if one.id > (last.up_to_note or 0)]
        reason = note_reason(fresh, last.plan, declared.farm)
        stored = store_again(declared, journal, reason=reason, now=now)
    except DawnbrewError as fault:
        told = one_line(f"{fault.where}: {fault.got}")
        return [
            f"The note stands, but the plan is not made again yet ({told}); dawnbrew run does it when it can."
        ]
    newest = every[-1] if every else None
    apart = looks_apart(newest, journal, declared.farm.place.timezone) if newest is not None else None
    return [*([apart] if apart is not None else []), *what_follows(last.plan, stored.again.plan, newest)]


def take_note(words: Sequence[str], options: NoteOptions) -> None:
    """Do what `dawnbrew note` was asked for, and say it.

    Errors: BadNote, BadMoment, BadQuantity, NoSuchId, NoPlanYet, BadFarm, BadFarmFile, those of a journal.
    """
    farm_given, kind, of = sort_words(words)
    if kind is None:
        _refuse_alone(options)
    else:
        _check_options(kind, options)
    now, path = read_clock(), own_farm(farm_given)
    farm = read_farm(path)
    place = journal_path(path)
    noted_as: NoteKind | None = "applied" if kind == "joined" else kind
    if not place.exists() and kind != "planted":
        if kind is None:
            print_lines(results(), [Line(f"Nothing is noted yet, and no plan is stored beside {path}.")])
            return
        raise no_plan_yet(place, path)
    if not place.exists() and kind is not None:  # what is refused must not leave an empty journal
        with (
            TemporaryDirectory(prefix="dawnbrew-note-") as folder,
            open_journal(Path(folder) / place.name, farm_name=farm.place.name) as nowhere,
        ):
            _Desk(path, farm, nowhere, options, now).try_out(noted_as or "planted", of)
    with open_journal(place, farm_name=farm.place.name, is_renamed=options.is_renamed) as journal:
        desk = (_Joining if kind == "joined" else _Desk)(path, farm, journal, options, now)
        if noted_as is None:
            desk.list_notes()
        elif desk.take(noted_as, of).is_new:
            print_lines(results(), [Line(line) for line in after_note(path, journal, now)])


def sort_words(words: Sequence[str]) -> tuple[Path | None, Spoken | None, str | None]:
    """Return the farm file, the kind of note and what it is of; None for each that was not said.

    Whatever stands before a kind is the farm file; what it is of need not be in quotes: `started drum 2`.

    Errors: BadNote.
    """
    if not words:
        return None, None, None
    at = next((n for n, word in enumerate(words[:2]) if word.lower() in SPOKEN), None)
    if at is not None:
        farm, of = Path(words[0]) if at else None, " ".join(words[at + 1 :]).strip()
        return farm, cast("Spoken", words[at].lower()), of or None
    is_farm = words[0].endswith(".toml") or Path(words[0]).is_file()
    if is_farm and len(words) == 1:
        return Path(words[0]), None, None
    wrong = words[1] if is_farm else words[0]
    near = nearest(wrong, SPOKEN)
    raise BadNote(
        where=f"the note '{' '.join(words)}'",
        got=f"'{wrong}', which is no kind of note",
        need=f"one of {', '.join(SPOKEN)}",
        fix=f"Did you mean '{near}'?" if near else "Write e.g. dawnbrew note started drum 2 --at 06:40.",
    )


def _check_options(kind: Spoken, options: NoteOptions) -> None:
    """Refuse what does not belong to this kind of note, or not together."""
    given = [name for name in (*_FITS, "at") if getattr(options, name) is not None]
    for name in given:
        if options.is_undo:
            raise _misfit(
                name, "beside --undo", "an undo takes the whole note back", "Leave it out, or use --correct."
            )
        if name in _FITS and kind not in _FITS[name]:
            kinds = " or ".join(_FITS[name])
            raise _misfit(name, f"with a note of '{kind}'", f"it belongs to {kinds}", "Leave it out.")
    if options.is_undo and options.is_correction:
        raise _misfit("undo", "beside --correct", "a note is corrected or taken back", "Keep one of them.")
    if options.foam is not None and options.foam not in get_args(Foam):
        raise _misfit(
            "foam", f"'{options.foam}'", f"one of {', '.join(get_args(Foam))}", "Write one of these."
        )
    if options.on is not None and options.at is not None:
        raise _misfit("on", "beside --at", "the day or the moment of the planting", "Keep one of them.")


def _refuse_alone(options: NoteOptions) -> None:
    """Refuse options where no note is said that they could belong to."""
    names = {"is_undo": "undo", "is_correction": "correct", "is_confirmed": "yes"}
    given = [name for name, value in vars(options).items() if value and name not in ("is_renamed", "key")]
    if given:
        option = names.get(given[0], given[0])
        raise BadNote(
            where="dawnbrew note", got=f"--{option} and no note",
            need="the kind of a note and what it is of; nothing was changed",
            fix=f"Write e.g. dawnbrew note started drum 2 --{option}{'' if given[0] in names else ' ...'}; "
            "dawnbrew note alone lists the last notes.",
        )  # fmt: skip


def _misfit(option: str, got: str, need: str, fix: str) -> BadNote:
    return BadNote(where=f"--{option}", got=got, need=f"{need}; nothing was noted", fix=fix)


class _Desk:
    """One journal, open to be read and written for one command."""

    def __init__(self, path: Path, farm: Farm, journal: Journal, options: NoteOptions, now: Instant) -> None:
        self.path, self.farm, self.journal, self.options, self.now = path, farm, journal, options, now
        self.zone = farm.place.timezone
        self.noting = Noting.read(farm, journal)
        self.plan, self.notes = self.noting.plan, self.noting.notes

    def list_notes(self) -> None:
        """Print what can be noted now and what was noted last."""
        notable = self.noting.notable(self.now)
        words = NoteWords(self.farm, self.plan, notable)
        if self.plan is not None:
            print_open(results(), words, notable)
            print_lines(results(), [Line()])
        print_lines(results(), note_lines(words, self.notes, most=LISTED))

    def take(self, kind: NoteKind, of: str | None) -> Noted:
        """Write what was asked for, and say it."""
        kept = self._kept_under_key()
        if kept is not None:
            noted = Noted(note=kept, is_new=False)
            self._say(noted, "", self._words(kept.at))
            return noted
        if self.options.is_undo:
            return self._take_back(self._newest(kind, of))
        if self.plan is None and kind != "planted":
            raise no_plan_yet(self.journal.path, self.path)
        old = self._newest(kind, of) if self.options.is_correction else None
        noted, notable = self._add(kind, of, old)
        words = NoteWords(self.farm, self.plan, notable)
        self._say(noted, "" if old is None else f" in place of '{words.sentence(old)}'", words)
        if (far_off := words.far_off(noted.note)) is not None:
            print_lines(results(), [Line(far_off)])
        if (stranger := stranger_words(noted.note.by, self.farm)) is not None:
            print_lines(talk(), [Line(stranger, lead="note: ")])
        return noted

    def try_out(self, kind: NoteKind, of: str | None) -> None:
        """Take what was asked for into a journal that nobody keeps, and say nothing. Errors: as `take`."""
        old = self._newest(kind, of) if self.options.is_undo or self.options.is_correction else None
        self._add(kind, of, old)

    def _add(self, kind: NoteKind, of: str | None, old: KeptNote | None) -> tuple[Noted, Notable]:
        at = self._at(kind, of, old)
        notable = self.noting.notable(at)
        return self._added(self._note(kind, of, at, notable, old)), notable

    def _say(self, noted: Noted, before: str, words: NoteWords) -> None:
        note = noted.note
        answer = noted.text(self.zone)
        if note.is_undone:
            answer = answer.replace("noted", "taken back")
        print_lines(results(), [Line(f"{answer}{before}: {words.sentence(note)}")])
        if words.name(note.of) != note.of:
            print_id(results(), note.of, indent=2)

    def _kept_under_key(self) -> KeptNote | None:
        if self.options.key is None:
            return None
        every = self.journal.notes(with_corrected=True)
        return next((note for note in every if note.key == self.options.key), None)

    def _take_back(self, old: KeptNote) -> Noted:
        undo = undo_of(old, by=self.options.by, reason=self.options.reason, key=self.options.key)
        noted = self.journal.add(undo, now=self.now)
        self._say(noted, "", self._words(old.at))
        return noted

    def _newest(self, kind: NoteKind, of: str | None) -> KeptNote:
        """Return the newest valid note that is meant."""
        matching = matching_notes(self.notes, kind, of, self.noting.notable(self.now))
        if matching:
            return matching[0]
        raise BadNote(
            where=f"the note '{kind} {of or ''}".rstrip() + "'",
            got="no note of that, or one that was taken back",
            need="an earlier note; nothing was changed",
            fix="dawnbrew note without more words lists the last notes.",
        )

    def _at(self, kind: NoteKind, of: str | None, old: KeptNote | None) -> Instant:
        if self.options.at is not None:
            return parse_when(self.options.at, now=self.now, zone=self.zone)
        if self.options.on is not None:
            return self.noting.planted_at(of or "", parse_day(self.options.on), now=self.now)
        return self.now if old is None else old.at

    def _note(
        self, kind: NoteKind, of: str | None, at: Instant, notable: Notable, old: KeptNote | None
    ) -> Note:  # fmt: skip
        if old is None and of is None:
            raise BadNote(
                where=f"the note '{kind}'", got="nothing that it is of",
                need="the id or the name of what was " + ("looked at" if kind == "looked" else kind),
                fix="dawnbrew note without more words lists what can be noted now.",
            )  # fmt: skip
        meant = old.of if old is not None else self._meant(kind, of or "", notable)
        asked = self.options
        batch = (
            self._batch(kind, meant, of or "", notable) if old is None or asked.batch is not None else None
        )
        told = {
            "by": spelt(asked.by, self.farm), "batch": batch, "reason": asked.reason,
            "smell": asked.smell, "foam": asked.foam,
            "brew_l": self._quantity(asked.brew, "volume"),
            "liquid_c": self._quantity(asked.liquid, "temperature"),
        }  # fmt: skip
        if old is not None:  # what is not said again stays as it was
            told = {name: getattr(old, name) if value is None else value for name, value in told.items()}
        try:
            corrects = None if old is None else old.id
            told = self._whole(told, at)
            return self.noting.note(kind, meant, at, {**told, "key": asked.key, "corrects": corrects})
        except ValidationError as problem:
            first = problem.errors()[0]
            raise _misfit(
                str(first["loc"][0]), first["msg"][:1].lower() + first["msg"][1:],
                "plain words, not too many", "Write it shorter.",
            ) from None  # fmt: skip

    def _meant(self, kind: NoteKind, of: str, notable: Notable) -> str:
        """Return the id that the words mean."""
        return notable.meant(kind, of)

    def _batch(self, kind: NoteKind, meant: str, of: str, notable: Notable) -> str | None:
        """Return the batch that something was drawn from, None where nobody named one."""
        asked = self.options.batch
        return None if asked is None else notable.drawn_from(kind, meant, asked)

    def _whole(self, told: dict[str, Any], at: Instant) -> dict[str, Any]:
        """Return what was told with what follows from it."""
        return told

    def _quantity(self, text: str | None, kind: Kind) -> float | None:
        return None if text is None else parse(text, kind, imperial=self.farm.place.units == "imperial")

    def _added(self, note: Note) -> Noted:
        return self.journal.add_checked(
            note, self.plan, now=self.now, beds=self.noting.beds, ferments=self.noting.ferments,
            is_confirmed=self.options.is_confirmed,
        )  # fmt: skip

    def _words(self, at: Instant) -> NoteWords:
        return NoteWords(self.farm, self.plan, self.noting.notable(at))


class _Joining(_Desk):
    """The same where a brew joined a ferment: what was said is the brew, and the note is of the ferment."""

    def _meant(self, kind: NoteKind, of: str, notable: Notable) -> str:
        return notable.joined(self.options.ferment, of)

    def _batch(self, kind: NoteKind, meant: str, of: str, notable: Notable) -> str | None:
        return notable.drawn_from(kind, meant, of)

    def _whole(self, told: dict[str, Any], at: Instant) -> dict[str, Any]:
        if told["brew_l"] is not None or self.plan is None:
            return told
        return {**told, "brew_l": left_over_l(told["batch"], self.plan, self.noting.known, at)}
