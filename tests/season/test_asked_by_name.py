"""Whoever asks a service for the weather says who they are."""

from weather_cases import SkyWorld, asking, sky_service

CONTACT = "wren@example.org"


def test_a_service_is_asked_by_the_name_of_the_program_and_the_contact_of_the_farm(tmp_path):
    world = SkyWorld(tmp_path)
    with sky_service(world.sky, world.path) as service, world:
        world.tick()
        base = world.season.farm.weather.forecast_url
        world.write(f'{asking(base)}contact = "{CONTACT}"\n')
        for _ in range(3):
            world.tick(minutes=31)
    agents = [headers["user-agent"] for _, headers in service.asked]
    assert agents[0].startswith("dawnbrew/")
    assert CONTACT not in agents[0]
    assert agents[-1] == f"{agents[0]} ({CONTACT})"
