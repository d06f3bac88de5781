"""Weather that cannot be: it is told, and the plan is that of the usual weather."""

from season_cases import World
from weather_cases import OPEN_FARM, STATION, SkyWorld, sky_service, write_station

from dawnbrew.farm.read import read_farm
from dawnbrew.moments import after


def write_warmer(world, by_c):
    begins_at = after(world.now, minutes=-5 * 24 * 60)
    write_station(world.path.parent / "station.csv", read_farm(world.path), begins_at, world.now, by_c)


def test_a_station_in_another_unit_is_told_and_not_planned_with(tmp_path):
    with World(tmp_path, OPEN_FARM + STATION) as world:
        write_warmer(world, 39.0)
        world.tick()
        assert world.plan.weather is None
        told = world.season.health(world.now).weather
        assert "the file 'station.csv' line 2: got 4" in told
        assert "read as C; a day within 25 C of the usual" in told
        assert "Is the column in F?" in told
        assert world.told("weather-failed")[0]["error"] in told
        write_warmer(world, 0.5)
        world.tick(minutes=11)
        assert world.season.health(world.now).weather is None
        assert world.told("weather-back") == [{"source": "station"}]


def test_a_forecast_in_another_unit_is_told_and_not_planned_with(tmp_path):
    world = SkyWorld(tmp_path, by_c=lambda now: 39.0)
    with sky_service(world.sky, world.path), world:
        world.tick()
        assert world.plan.weather is None
        assert "C of the usual" in world.season.health(world.now).weather
