"""Laws that hold whatever happens: notes, slips, deaths, clocks, channels, in any order."""

from contextlib import suppress
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from season_cases import FARM, Kill, World, refusal
from test_season_faults import Fate

from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.values import Note
from dawnbrew.moments import after


class Season(RuleBasedStateMachine):
    """One farm that anything may happen to."""

    def __init__(self):
        super().__init__()
        self.patches = pytest.MonkeyPatch()
        self.fate = Fate(self.patches)
        self.fate.at = -1  # nobody dies unless it is said
        self.folder = TemporaryDirectory()
        self.world = World(Path(self.folder.name)).open()
        self.planted_on = date(2027, 4, 20)
        self.may_be_twice = 0
        send = self.world.send

        def watched(*given):
            self.fate.pass_by("send", "before")
            send(*given)
            self.fate.pass_by("send", "after")

        self.world.send = watched
        self.live(self.world.now)

    def teardown(self):
        self.world.close()
        self.folder.cleanup()
        self.patches.undo()

    def live(self, at):
        """Tick at a moment, and again by a new process where the first one died."""
        try:
            self.world.tick(at)
        except Kill as kill:
            self.fate.at = -1
            self.may_be_twice += str(kill) in ("after send", "before mark_delivered")
            self.world.close_dead()
            self.world.open()
            self.world.tick(at)

    @rule(minutes=st.integers(1, 3000))
    def time_passes(self, minutes):
        until = after(self.world.now, minutes=minutes)
        while self.world.now < until:
            soon = self.world.journal.next_at() or until
            self.live(min(until, soon if soon > self.world.now else after(self.world.now, minutes=1)))

    @rule(minutes=st.integers(30, 6000))
    def the_machine_sleeps(self, minutes):
        self.live(after(self.world.now, minutes=minutes))

    @rule(step=st.integers(1, 25), minutes=st.integers(10, 2000))
    def the_process_dies(self, step, minutes):
        self.fate.count, self.fate.at = 0, step
        self.time_passes(minutes)
        self.fate.at = -1

    @rule(minutes=st.sampled_from([-60, 60]))
    def the_clock_is_set(self, minutes):
        self.live(after(self.world.now, minutes=minutes))

    @rule(days=st.integers(-9, 9))
    def the_planting_slips(self, days):
        self.planted_on = min(
            max(self.planted_on + timedelta(days=days), date(2027, 4, 8)), date(2027, 5, 20)
        )
        self.world.write(FARM.replace("2027-04-20", str(self.planted_on)))
        for _ in range(2):
            self.live(after(self.world.now, minutes=2 / 60))

    @rule(late=st.integers(0, 120))
    def the_next_brew_is_started(self, late):
        """Go to the moment of the next start, and note it."""
        starts = [one for one in self.world.plan.batches
                  if one.state == "planned" and one.start_at > self.world.now]  # fmt: skip
        if not starts:
            return
        batch = min(starts, key=lambda one: one.start_at)
        while self.world.now < batch.start_at:
            soon = self.world.journal.next_at() or batch.start_at
            soon = soon if soon > self.world.now else after(self.world.now, minutes=1)
            self.live(min(soon, batch.start_at))
        note = Note(kind="started", of=batch.id, at=self.world.now, by="Nuala")
        self.note(note, late)

    @rule(kind=st.sampled_from(["looked", "applied", "skipped"]), pick=st.integers(0, 5))
    def something_is_noted(self, kind, pick):
        plan, now = self.world.plan, self.world.now
        ids = [one.id for one in (plan.batches if kind == "looked" else plan.treatments)]
        if ids:
            on = None if kind == "looked" else now.date()
            foam = "foam" if kind == "looked" else None
            self.note(Note(kind=kind, of=ids[pick % len(ids)], at=now, on=on, foam=foam, by="Cian"), 0)

    def note(self, note, late):
        now = after(self.world.now, minutes=late)
        with suppress(BadNote):  # it cannot have happened so
            self.world.journal.add_checked(note, self.world.plan, now=now, beds=["Bean bed"])
        self.live(now)

    @precondition(lambda self: not self.world.refuses)
    @rule()
    def the_channel_fails(self):
        self.world.refuses["console"] = refusal()

    @rule()
    def the_channel_works(self):
        self.world.refuses.clear()

    @invariant()
    def no_nudge_comes_twice(self):
        keys = [message.key for _, _, message in self.world.sent]
        assert len(keys) - len(set(keys)) <= self.may_be_twice

    @invariant()
    def no_nudge_that_is_due_is_left_waiting(self):
        assert self.world.journal.due_nudges(now=self.world.now) == []

    @invariant()
    def what_went_out_is_noted_and_nothing_else(self):
        for _, _, message in self.world.sent[-20:]:
            assert self.world.journal.nudge(message.key).state == "delivered"
        assert not [one for one in self.world.journal.open_deliveries() if one.state == "handed"]

    @invariant()
    def the_plan_is_that_of_the_file_and_the_notes(self):
        season = self.world.season
        ahead = [one for one in season.revision.plan.treatments if one.state == "planned"]
        on = {one.asked_on for one in ahead if one.step == "on" and one.work_from > self.world.now}
        assert on <= {self.planted_on}
        assert season._planned_for.note == self.world.journal.last_note_id()
        assert self.world.told("planning-failed") == []

    @invariant()
    def nothing_waits_for_a_task_that_is_planned_for_another_time(self):
        tasks = {task.id: task.at for task in self.world.plan.tasks}
        for nudge in self.world.journal.open_nudges():
            if nudge.state == "waiting" and nudge.task is not None and nudge.kind != "prime":
                assert nudge.task in tasks
                assert f"{tasks[nudge.task]:%Y-%m-%dT%H:%MZ}" in nudge.key


Season.TestCase.settings = settings(
    max_examples=8,
    derandomize=True,
    stateful_step_count=12,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=(Phase.explicit, Phase.generate),  # shrinking would take many minutes
)
TestLawsOfASeason = Season.TestCase
