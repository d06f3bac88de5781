"""Gives a bed another planting date, and says first what that changes."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import typer

from dawnbrew.cli.asked import own_farm, read_clock
from dawnbrew.cli.screen import Line, print_lines, results
from dawnbrew.errors import BadMoment
from dawnbrew.moments import day_text, parse_day
from dawnbrew.planning.plan import Plan
from dawnbrew.season.planned_again import change_texts, changes_text, compared, sorted_changes
from dawnbrew.season.slip import MORE_NEWS, Ahead, Progress, Slip, read_slip, write_slip


@dataclass(frozen=True)
class SlipWords:
    """What was asked for: the farm file or None, the bed by its name, its new planting date."""

    farm: Path | None
    bed: str
    on: date


def sort_slip_words(words: Sequence[str]) -> SlipWords:
    """Return what the words of a slip mean; a bed's name need not be in quotes: `Kale bed 2027-04-29`.

    What stands before the bed is a farm file where it ends in .toml or is a file.

    Errors: BadMoment.
    """
    given = [word for word in words if word.strip()]
    has_farm = bool(given) and (given[0].endswith(".toml") or (len(given) > 2 and Path(given[0]).is_file()))
    rest = given[1:] if has_farm else given
    if len(rest) < 2:
        is_day = bool(rest) and rest[0][:1].isdigit()
        missing = "no bed before the day" if is_day else "no day behind the bed"
        raise BadMoment(
            where=f"the slip '{' '.join(given)}'",
            got=missing if rest else "no bed and no day",
            need="the bed and the day on which it will be planted; nothing was changed",
            fix="Write e.g. dawnbrew slip Kale bed 2027-04-29.",
        )  # fmt: skip
    return SlipWords(Path(given[0]) if has_farm else None, " ".join(rest[:-1]), parse_day(rest[-1]))


def read_words(words: Sequence[str]) -> Slip:
    """Return the slip that is asked for, checked against the farm file, as of now.

    Errors: BadFarm, BadFarmFile, NoSuchId, BadMoment.
    """
    asked = sort_slip_words(words)
    now = read_clock()
    return read_slip(own_farm(asked.farm), asked.bed, asked.on, now=now)


def run_slip(
    slip: Slip, ahead: Ahead | None, *, is_dry: bool, is_json: bool, is_renamed: bool = False,
    on_progress: Progress = None,
) -> None:  # fmt: skip
    """Say what a slip changes, then do it, unless it is only looked at.

    Errors: see `write_slip`.
    """
    console = results()
    if ahead is None:
        text = slip.sentence("is")
        if is_json:
            typer.echo(_as_json(slip, text, None, None))
        else:
            print_lines(console, [Line(text)])
        return
    last, plan = ahead.last, ahead.again.plan
    if not is_json:
        print_lines(console, slip_lines(slip, ahead))
    if is_dry:
        if is_json:
            typer.echo(_as_json(slip, changes_text(last, plan), last, plan))
        else:
            print_lines(console, [Line(), Line("Only looked at: nothing was written.")])
        return
    stored = write_slip(slip, ahead, is_renamed=is_renamed, on_progress=on_progress)
    final = plan if stored.again is ahead.again else compared(last, stored.again.plan)
    if is_json:
        typer.echo(_as_json(slip, changes_text(last, final), last, final))
    else:
        print_lines(console, written_lines(slip, ahead, final))


def slip_lines(slip: Slip, ahead: Ahead) -> Iterator[Line]:
    """Yield what a slip would change: a sentence, a paragraph, and each change."""
    last, plan = ahead.last, ahead.again.plan
    yield Line(slip.sentence("would be"), style="bold")
    yield Line()
    if ahead.is_first:
        yield Line("No plan was stored yet, so the plans with both dates were made to compare them.")
        yield Line(_in_short(last), lead=f"{day_text(slip.was_on)}: ", indent=2)
        yield Line(_in_short(plan), lead=f"{day_text(slip.on)}: ", indent=2)
    yield Line(changes_text(last, plan))
    if ahead.has_more_news:
        yield Line(MORE_NEWS)
    if plan.changes:
        yield Line()
        yield from change_lines(last, plan)


def written_lines(slip: Slip, ahead: Ahead, final: Plan) -> Iterator[Line]:
    """Yield what was written; where others changed the plan meanwhile, also what changes in the end."""
    yield Line()
    if final.changes != ahead.again.plan.changes:
        yield Line("Meanwhile the plan was changed by somebody else. In the end:")
        yield Line(changes_text(ahead.last, final))
        yield from change_lines(ahead.last, final)
        yield Line()
    yield Line(slip.sentence("is"), style="bold")
    yield Line(f"{slip.path.name} is changed and its plan is stored; a running daemon goes on with it.")


def change_lines(last: Plan, plan: Plan) -> Iterator[Line]:
    """Return the changes of a plan as a list, the nearest first; many moves by minutes become one line."""
    return (Line(text, lead="- ", indent=2) for text in change_texts(last, plan))


def _in_short(plan: Plan) -> str:
    batches = sum(one.state == "planned" for one in plan.batches)
    placed = plan.outcome.placed
    return f"{placed} treatment{'s' if placed != 1 else ''} in {batches} batch{'es' if batches != 1 else ''}"


def _as_json(slip: Slip, text: str, last: Plan | None, plan: Plan | None) -> str:
    changes = sorted_changes(last, plan) if last is not None and plan is not None else []
    told = {
        "bed": slip.bed, "was": str(slip.was_on), "now": str(slip.on), "text": text,
        "changes": [one.model_dump(mode="json") for one in changes],
    }  # fmt: skip
    return json.dumps(told, indent=1)
