"""Reads what the README of an example claims, and writes its counts and excerpts anew from the plan.

After a change of planner or words run `.venv/bin/python tests/examples/readmes.py`, then read the diff.
"""

import re
import shlex
import shutil
from contextlib import chdir
from functools import lru_cache
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory

from rich.console import Console
from typer.testing import CliRunner

from dawnbrew.cli.main import app
from dawnbrew.cli.screen import PAPER_COLUMNS, Line, print_lines
from dawnbrew.cli.show_plan import plan_lines
from dawnbrew.farm.read import read_farm
from dawnbrew.mixing.step import Step, step_lines
from dawnbrew.mixing.steps import steps_for
from dawnbrew.mixing.unsaid import unsaid
from dawnbrew.moments import day_text, farm_day
from dawnbrew.planning.plan import Outcome, Plan

TOP = Path(__file__).parents[2]
NAMES = ("tidal-island", "pear-orchard", "hedge-nursery", "school-garden", "far-north")
MADE_AT = "2026-10-01T12:00:00Z"  # before the first day of every example, so that nothing is cut off

COMMAND = re.compile(r"```sh\n\.venv/bin/(dawnbrew plan .+)\n```")
COUNTS = re.compile(r"<!-- counts -->\n(.+)\n")
SUPPLIES = re.compile(
    r"```sh\n\.venv/bin/(dawnbrew supplies .+)\n```\n\n<!-- supplies -->\n```text\n(.*?)```", re.DOTALL
)
LEARN = re.compile(
    r"```sh\n\.venv/bin/(dawnbrew journal .+)\n\.venv/bin/(dawnbrew learn .+)\n```\n\n"
    r"<!-- learn -->\n```text\n(.*?)```",
    re.DOTALL,
)
MIX = re.compile(r"<!-- mix (\S+) -->\n```text\n(.*?)```", re.DOTALL)
FERMENTS = re.compile(r"<!-- ferments -->\n```text\n(.*?)```", re.DOTALL)
EXCERPT = re.compile(r"<!-- excerpt (\S+) -->\n```text\n(.*?)```", re.DOTALL)


def readme(name: str) -> Path:
    return TOP / "examples" / name / "README.md"


@lru_cache
def farm(name: str):
    return read_farm(TOP / "examples" / name / "farm.toml")


@lru_cache
def plan(name: str) -> Plan:
    """Return what the command in the README answers, run as it stands there but for the moment of making."""
    program, *words = shlex.split(COMMAND.search(readme(name).read_text())[1])
    assert program == "dawnbrew"
    words = [str(TOP / word) if word.endswith(".toml") else word for word in words]
    done = CliRunner().invoke(app, [*words, "--made-at", MADE_AT, "--json"], catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    return Plan.model_validate_json(done.stdout)


def counts_sentence(outcome: Outcome) -> str:
    left = f", {outcome.unplaced} without a slot" if outcome.unplaced else ", none without a slot"
    days = f"{outcome.days_off} day{'' if outcome.days_off == 1 else 's'} off ideal in all"
    return f"{outcome.placed} treatments placed in {outcome.batches} batches, {days}{left}."


def printed(name: str) -> str:
    """Return the plan as it is printed on paper."""
    console = Console(file=StringIO(), width=PAPER_COLUMNS, markup=False, emoji=False, highlight=False)
    print_lines(console, plan_lines(plan(name)))
    return console.file.getvalue()


def excerpt(name: str, treatment_id: str) -> str:
    """Return the printed days on which a treatment's first batch is filled, cooked for, started, used."""
    made, zone = plan(name), farm(name).place.timezone
    treatment = next(t for t in made.treatments if t.id == treatment_id)
    batch = next(b for b in made.batches if b.id == treatment.batches[0].batch)
    cooked = [task.at for task in made.tasks if task.kind == "cook" and task.batch == batch.id]
    moments = sorted([batch.fill_at, *cooked, batch.start_at, treatment.work_from])
    days = dict.fromkeys(farm_day(at, zone) for at in moments)
    blocks = printed(name).split("\n\n")
    return "\n\n".join(
        next(block for block in blocks if block.startswith(f"{day_text(on)} {on.year}\n")) for on in days
    )


def ferments(name: str) -> str:
    """Return what the printed plan says of the ferment barrels."""
    return next(block for block in printed(name).split("\n\n") if block.startswith("Ferments\n"))


def supplies(command: str) -> str:
    """Return what a command in a README answers, run as it stands there but for the moment of making."""
    words = [str(TOP / word) if word.endswith(".toml") else word for word in shlex.split(command)[1:]]
    done = CliRunner().invoke(app, [*words, "--made-at", MADE_AT], catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    return done.stdout.rstrip("\n")


def learned(name: str) -> str:
    """Return what the commands in a README answer that bring a journal in and learn from it, in a copy."""
    with TemporaryDirectory() as folder, chdir(folder):
        shutil.copytree(readme(name).parent, Path("examples") / name, ignore=shutil.ignore_patterns("*.db*"))
        for command in LEARN.search(readme(name).read_text()).groups()[:2]:
            words = shlex.split(command)[1:]
            asked = [*words, "--made-at", MADE_AT] if words[0] == "learn" else words
            done = CliRunner().invoke(app, asked, catch_exceptions=False)
            assert done.exit_code == 0, done.stderr
    return done.stdout.rstrip("\n")


def mixing(name: str, treatment_id: str) -> str:
    """Return how one treatment of the plan is mixed, as it is printed on paper."""
    made = plan(name)
    treatment = next(t for t in made.treatments if t.id == treatment_id)
    console = Console(file=StringIO(), width=PAPER_COLUMNS, markup=False, emoji=False, highlight=False)
    told = unsaid(treatment.cautions, [treatment], made, farm(name))  # as `dawnbrew mix bed` has them
    lines = step_lines([*steps_for(treatment, made, farm(name)), *(Step("mind", one) for one in told)])
    print_lines(
        console, [Line(body, lead=f"{lead} ") for lead, _, body in (one.partition(" ") for one in lines)]
    )
    return console.file.getvalue().rstrip("\n")


def refreshed(name: str) -> str:
    """Return the README with counts and excerpt as the plan has them now."""
    text = readme(name).read_text()
    counts = f"<!-- counts -->\n{counts_sentence(plan(name).outcome)}\n"
    text = COUNTS.sub(lambda _: counts, text)
    text = MIX.sub(lambda found: f"<!-- mix {found[1]} -->\n```text\n{mixing(name, found[1])}\n```", text)
    text = SUPPLIES.sub(
        lambda found: (
            f"```sh\n.venv/bin/{found[1]}\n```\n\n<!-- supplies -->\n```text\n{supplies(found[1])}\n```"
        ),
        text,
    )
    if (told := LEARN.search(text)) is not None:
        text = text.replace(told[3], f"{learned(name)}\n")
    text = FERMENTS.sub(lambda _: f"<!-- ferments -->\n```text\n{ferments(name)}\n```", text)
    return EXCERPT.sub(
        lambda found: f"<!-- excerpt {found[1]} -->\n```text\n{excerpt(name, found[1])}\n```", text
    )


if __name__ == "__main__":
    for example in NAMES:
        readme(example).write_text(refreshed(example))
