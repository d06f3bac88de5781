"""A season that learns: plans follow a look, and nothing moves by itself afterwards."""

from datetime import timedelta

from season_cases import BEGINS_AT, FARM, World

from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, after
from dawnbrew.season.yard import yard_of

ZONE = 'timezone = "Europe/Dublin"'
TEXT = FARM.replace('heated_to = "20 C"\n', "").replace(ZONE, f"{ZONE}\nlearn = true")


def noted(world, kind, batch, at, **told):
    world.now = at
    world.journal.add(Note(kind=kind, of=batch.id, at=at, by="Nuala", **told), now=at)
    world.season.tick(at)


def test_what_was_learned_moves_plans_once_and_not_again_without_a_note(tmp_path):
    with World(tmp_path, text=TEXT) as world:
        world.season.tick(BEGINS_AT)
        batch = world.plan.batches[0]
        noted(world, "started", batch, Instant(batch.start_at))
        # it ripens in seven tenths of the time that the recipe says
        ripens_min = 0.7 * (batch.peak_at - batch.start_at) / timedelta(minutes=1)
        noted(world, "looked", batch, after(batch.start_at, minutes=0.85 * ripens_min), foam="young")
        noted(world, "looked", batch, after(batch.start_at, minutes=ripens_min), foam="foam")
        told = yard_of(world.season.farm, world.journal, now=world.now)
        assert told.ripening[0].batches == 1
        assert told.ripening[0].ripens.hours < 46
        number = world.journal.last_number()
        for _ in range(8):
            world.now = after(world.now, minutes=3 * 60)
            world.season.tick(world.now)
        later = range(number + 1, world.journal.last_number() + 1)
        assert [world.journal.revision(n).changes for n in later] == [()] * len(later)
        number = world.journal.last_number()
        world.close()
        world.open().season.tick(world.now)
        assert world.journal.last_number() == number, "another process has learned the same"
