"""Says what the noted batches of a farm have taught, draws it, and writes it into the farm file."""

import shlex
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from json import dumps
from pathlib import Path
from tempfile import TemporaryDirectory

import typer

from dawnbrew.calendar_out.text import one_line
from dawnbrew.cli.asked import choose_farm, own_farm
from dawnbrew.cli.faults import BadRequest
from dawnbrew.cli.learn_json import Told, as_json
from dawnbrew.cli.screen import Line, print_lines, results, talk
from dawnbrew.farm.edit_learned import Entry, set_learned
from dawnbrew.farm.learned import LearnedRecipe, LearnedVessel
from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import same_key
from dawnbrew.farm.read import read_farm
from dawnbrew.farm.write_file import check_place, write_whole
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.opening import open_journal
from dawnbrew.learning.fit import Learned
from dawnbrew.learning.opening import openings
from dawnbrew.learning.picture import picture
from dawnbrew.learning.words import hours_text, ripening_sentences, vessel_sentence, wild_sentence
from dawnbrew.moments import Instant, farm_day, iso_z
from dawnbrew.planning.paces import BATCHES_DIFFER
from dawnbrew.quantities import Units, show_temperature
from dawnbrew.season.learned import (
    FarmLearned,
    Flagged,
    farm_as_learned,
    learn_from,
    next_batch_differs,
    nothing_learned,
)
from dawnbrew.season.next_measurement import next_measurement
from dawnbrew.season.stored_weather import stored_weather

AHEAD_D = 182
"""So many days ahead it is counted what a better vessel would open. [days]"""

WORTH = 1.05
"""A better vessel is spoken of where it serves so many times as many slots; our choice. [unitless]"""


_TEACHES = (
    "Note each start and what each look finds, e.g. dawnbrew note started drum 1, then dawnbrew note looked "
    "drum 1 --foam young. Whoever is called can tap it on the phone instead.",
    "Batches that were noted in another journal come with dawnbrew journal import.",
)
"""How a farm where nothing was learned yet comes to it."""


def show_learned(
    farm_given: Path | None, now: Instant, *, is_json: bool, drawn: Path | None, is_apply: bool
) -> None:
    """Do what `dawnbrew learn` was asked for.

    Errors: NothingLearned where there is nothing to draw or write, BadRequest, BadFarm,
        BadFarmFile, CannotWrite, those of a journal.
    """
    path = own_farm(farm_given) if is_apply else choose_farm(farm_given)
    farm, place = read_farm(path), journal_path(path)
    with _notes_of(farm, place) as journal:
        told = _told(path, farm, journal, now)
    learned = told.learned
    if drawn is not None:
        _check_drawn(drawn, (path, place))
    if (is_apply and not (learned.ripening or learned.vessels)) or (
        drawn is not None and not learned.ripening
    ):
        raise nothing_learned(learned, f"dawnbrew learn {'--apply' if is_apply else '--picture'}")
    if is_json:
        typer.echo(
            f"{dumps(as_json(told, made_at=iso_z(now)), indent=1, ensure_ascii=False)}\n".encode(), nl=False
        )
    else:
        print_lines(results(), _lines(told))
        if not is_apply and (learned.ripening or learned.vessels):
            print_lines(results(), [Line(), Line(_use_text(farm))])
    if drawn is not None:
        write_whole(drawn, picture(learned.ripening, farm.place.units).encode())
        print_lines(talk(), [Line(f"Wrote {drawn}.")])
    if is_apply:
        _apply(told)


@contextmanager
def _notes_of(farm: Farm, place: Path) -> Iterator[Journal]:
    """Open the journal of a farm; where there is none yet, an empty one that is gone afterwards."""
    if place.exists():
        with open_journal(place, farm_name=farm.place.name) as journal:
            yield journal
        return
    with (
        TemporaryDirectory(prefix="dawnbrew-learn-") as folder,
        open_journal(Path(folder) / place.name, farm_name=farm.place.name) as nowhere,
    ):
        yield nowhere


def _check_drawn(drawn: Path, own: tuple[Path, Path]) -> None:
    """Refuse to draw over the farm file or its journal."""
    if drawn.resolve() in {one.resolve() for one in own}:
        raise BadRequest(
            where=f"--picture {drawn}",
            got="the farm file or its journal",
            need="a file of its own for the picture; nothing was written",
            fix="Write e.g. --picture learned.svg.",
        )
    check_place(drawn)


def _told(path: Path, farm: Farm, journal: Journal, now: Instant) -> Told:
    weather = stored_weather(farm, journal, now=now)
    learned = learn_from(farm, journal, weather, now=now)
    advice = next_measurement(farm, journal, learned, weather, now=now)
    from_on = farm_day(now, farm.place.timezone)
    until_on = from_on + timedelta(days=AHEAD_D - 1)
    opened = [
        one
        for vessel in farm.vessels
        for one in openings(farm_as_learned(farm, vessel, learned), from_on=from_on, until_on=until_on)
        if one.after >= WORTH * one.before + 1
    ]
    return Told(farm, path, learned, sorted(opened, key=lambda one: one.before - one.after), advice)


def _apply(told: Told) -> None:
    up_to_at = told.learned.up_to_at
    assert up_to_at is not None  # something was learned
    entries = [one for one in entries_of(told.learned) if not _is_forgotten(one, told.farm)]
    is_new = set_learned(told.path, entries, up_to_on=farm_day(up_to_at, told.farm.place.timezone))
    name = told.path.name
    said = f"{name} states it now; plans follow it." if is_new else f"{name} states it already."
    print_lines(talk(), [Line(said)])


def _is_forgotten(entry: Entry, farm: Farm) -> bool:
    """Return whether the farm file states a vessel by more readings than now have their weather known."""
    if not isinstance(entry, LearnedVessel) or not farm.weather.is_wanted:
        return False
    stated = (one for one in farm.learned_vessels if same_key(one.vessel) == same_key(entry.vessel))
    return any(one.readings > entry.readings for one in stated)


def entries_of(learned: FarmLearned) -> list[Entry]:
    """Return what was learned as the tables of a farm file."""
    recipes = [
        LearnedRecipe(
            recipe=one.recipe, vessel=one.vessel, ripens_in=f"{one.ripens.hours:.1f} h",
            at=f"{one.ripens.at_c:g} C", lowest=f"{one.ripens.lowest_c:.1f} C",
            differs=round(next_batch_differs(one), 3), batches=one.batches,
        )
        for one in learned.ripening
    ]  # fmt: skip
    vessels = [
        LearnedVessel(
            vessel=one.vessel, cools_in=f"{one.cooling.tau_h:.1f} h",
            sun=round(one.cooling.sun_gain_c_per_w_m2, 4), off=f"{one.off_c:.1f} C", readings=one.readings,
        )
        for one in learned.vessels
    ]  # fmt: skip
    return [*recipes, *vessels]


def _lines(told: Told) -> Iterator[Line]:
    farm, learned, units = told.farm, told.learned, told.farm.place.units
    yield Line(one_line(f"{farm.place.name}: what noted batches have taught"), style="bold")
    if not learned.ripening:
        many = f"{learned.started} start{'' if learned.started == 1 else 's'}"
        yield Line(f"Nothing yet: {many} noted, and no look at how ripe a batch was that can be used.")
        yield Line("Plans go by the recipes as the farm file has them.")
        yield Line()
        yield Line("What teaches", style="bold")
        for line in _TEACHES:
            yield Line(line, lead="- ", indent=2)
    for one in learned.ripening:
        yield Line()
        yield Line(one_line(" ".join(ripening_sentences(one, units))))
        yield from _table(one, units)
        for outcome in one.outcomes:
            if (wild := wild_sentence(outcome)) is not None:
                yield Line(one_line(wild), lead="Mind: ")
    for cooling in learned.vessels:
        yield Line()
        yield Line(one_line(vessel_sentence(cooling)))
    yield from _flagged_lines(told)
    yield from _helpful_lines(told)


def _table(one: Learned, units: Units) -> Iterator[Line]:
    """Yield what the recipe declares, what was learned, and its likely span, in columns."""
    default, ripens = one.default, one.ripens
    low, high = (hours_text(hours) for hours in one.hours_span)
    low_c, high_c = (show_temperature(celsius, units) for celsius in one.lowest_span_c)
    yield Line(f"{'':24}{'recipe':>10}{'learned':>10}   likely", indent=2)
    rows = [
        (f"ready at {show_temperature(default.at_c, units)} in", hours_text(default.hours),
         hours_text(ripens.hours), f"{low} to {high}"),
        ("ripens no more at", show_temperature(default.lowest_c, units),
         show_temperature(ripens.lowest_c, units), f"{low_c} to {high_c}"),
        ("batches differ by", f"{100 * BATCHES_DIFFER:.0f} %", f"{100 * one.varies:.0f} %", ""),
        ("batches looked at", "", f"{one.batches}", ""),
    ]  # fmt: skip
    for name, was, now, likely in rows:
        yield Line(f"{name:24}{was:>10}{now:>10}   {likely}".rstrip(), indent=2)


def _flagged_lines(told: Told) -> Iterator[Line]:
    if not told.learned.flagged:
        return
    yield Line()
    yield Line("Left out, because it cannot be right", style="bold")
    for one in told.learned.flagged:
        yield Line(one_line(one.doubt.sentence), lead="- ", indent=2)
        if one.note is not None:
            yield Line(f"Note {one.note.id}: {_mending(told, one)}", indent=4)


def _mending(told: Told, flagged: Flagged) -> str:
    """Return how a note is put right."""
    note = flagged.note
    assert note is not None  # who asks has one
    words = ["dawnbrew", "note", str(told.path), note.kind, note.of]
    right = {"started": "--at", "applied": "--at"}.get(note.kind, "--foam, --liquid or --at")
    return (
        f"put it right with {shlex.join([*words, '--correct'])} and the right {right}, "
        "or take it back with --undo instead."
    )


def _helpful_lines(told: Told) -> Iterator[Line]:
    if told.advice is None and not told.openings:
        return
    yield Line()
    yield Line("What would help", style="bold")
    if told.advice is not None:
        batch, advice = told.advice
        yield Line(one_line(f"{batch.vessel}: {advice.sentence}"), lead="- ", indent=2)
    for one in told.openings:
        yield Line(one_line(one.sentence), lead="- ", indent=2)


def _use_text(farm: Farm) -> str:
    if farm.place.learn and farm.weather.is_wanted:
        return (
            "Plans follow how brews ripen: the farm file says learn = true. How vessels cool they follow "
            "as --apply writes it."
        )
    if farm.place.learn:
        return "Plans follow it: the farm file says learn = true."
    if farm.learned or farm.learned_vessels:
        return "Plans follow what --apply wrote into the farm file last; --apply writes this one."
    return "Plans do not follow it yet: write learn = true under [farm], or run this with --apply."
