"""A small invented farm with a real plan, for the commands that plan again."""

from dawnbrew.moments import parse_instant
from dawnbrew.season.running import open_season
from dawnbrew.season.watching import FarmFile

TEXT = """\
# Everything here is invented.
[farm]
name = "Curlew Strip"
latitude = 53.1
longitude = -7.6
timezone = "Europe/Dublin"

[climate]
lows = [2, 2, 3, 4, 7, 9, 11, 11, 9, 7, 4, 3]
highs = [8, 8, 10, 12, 15, 17, 19, 19, 17, 14, 10, 8]

[[people]]
name = "Nuala"
hours = "06:00-21:00"

[[vessels]]
name = "drum"
volume = "200 L"
count = 2
heated_to = "20 C"

[[programs]]
name = "weekly"
before = 2
on = 1
after = 0

[[beds]]
name = "Bean bed"
area = "40 m2"
program = "weekly"
planting = 2027-04-20   # after the frosts

[[beds]]
name = "Kale bed"
area = "60 m2"
program = "weekly"
planting = 2027-04-22
"""
FARM = "Curlew Strip"
NOW = parse_instant("2027-04-01T05:00:00Z")


def season_of(folder, now=NOW, tell=lambda *_, **__: None):
    """Return the season of the farm in a folder, as a daemon has it; nothing is sent."""
    return open_season(
        FarmFile(folder / "farm.toml"), channels=lambda _: lambda *_: None, clock=lambda: now, tell=tell,
        has_backups=False, wait_ms=100,
    )  # fmt: skip


def first_journal(folder):
    """Return the bytes of a journal in which a daemon stored the first plan, made in a folder."""
    (folder / "farm.toml").write_text(TEXT)
    season = season_of(folder)
    season.tick(NOW)
    season.journal.close()
    return (folder / "farm.journal.db").read_bytes()
