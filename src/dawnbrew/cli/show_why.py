"""Tells why a choice was made, and which ids may be asked for."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table
from rich.text import Text

from dawnbrew.cli.screen import Line, print_lines
from dawnbrew.moments import instant
from dawnbrew.planning.plan import Plan
from dawnbrew.season.plan_words import PlanWords, step_short

if TYPE_CHECKING:
    from dawnbrew.planning.planner import Planned
    from dawnbrew.planning.why import SlotReason, Why


def advised(planned: "Planned", wanted: str) -> str:
    """Return which look or reading would tell most, where a batch is asked for; else empty."""
    from dawnbrew.nudges.facts import Facts  # noqa: PLC0415  # only a batch needs it
    from dawnbrew.season.telling_most import advice_of  # noqa: PLC0415  # only a batch needs it

    batch = next((one for one in planned.plan.batches if one.id == wanted), None)
    if batch is None:
        return ""
    now = instant(planned.plan.made_at)
    found = advice_of(Facts(planned.plan), planned.question.farm, batch, now=now)
    return "" if found is None else found.sentence


def print_why(console: Console, plan: Plan, why: "Why", advice: str = "") -> None:
    """Print the heading, the sentences, what was said of each slot, and the advice where there is some."""
    words = PlanWords(plan)
    print_lines(console, [Line(words.clean(why.title), style="bold")])
    console.print(Text(why.id), soft_wrap=True)
    print_lines(console, [Line(), *(Line(words.clean(sentence)) for sentence in why.sentences)])
    if advice:
        print_lines(console, [Line(words.clean(advice))])
    if why.slots:
        print_lines(console, [Line()])
        console.print(_table(("slot", "verdict", "reason"), _rows(words, why.slots)))


def _rows(words: PlanWords, slots: Iterable["SlotReason"]) -> list[tuple[str, str, str]]:
    """Return a row for each slot that is open, then one for all that were refused in the same words."""
    open_rows, refused = [], dict[tuple[str, str], list[str]]()
    for one in slots:
        if one.verdict in ("chosen", "allowed"):
            open_rows.append((one.when, one.verdict, words.clean(one.text)))
        else:
            refused.setdefault((one.verdict, words.clean(one.text)), []).append(one.when)
    shut = [(_slots_text(whens), verdict, text) for (verdict, text), whens in refused.items()]
    return open_rows + shut


def _slots_text(whens: list[str]) -> str:
    first, last = whens[0], whens[-1]
    if len(whens) == 1:
        return first
    return f"{len(whens)} slots, {first} to {last}" if first != last else f"{len(whens)} slots, {first}"


def print_ids(console: Console, plan: Plan) -> None:
    """Print every id of the plan and under it what it stands for."""
    words = PlanWords(plan)
    for one in plan.treatments:
        when = "no slot" if one.work_from is None else words.moment(instant(one.work_from))
        _print_id(console, one.id, words.clean(f"{one.bed}, {step_short(one)}; {when}"))
    for batch in plan.batches:
        _print_id(
            console, batch.id, words.clean(f"{batch.vessel}, started {words.moment(instant(batch.start_at))}")
        )


def _print_id(console: Console, wanted: str, told: str) -> None:
    console.print(Text(wanted), soft_wrap=True)  # never broken over rows: it will be copied
    print_lines(console, [Line(told, indent=4)])


def _table(heads: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="bold", show_header=True)
    for head in heads:
        table.add_column(head, overflow="fold")
    for row in rows:
        table.add_row(*map(Text, row))
    return table
