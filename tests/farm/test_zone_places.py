"""Where the town of a time zone lies."""

from zoneinfo import available_timezones

import pytest

from dawnbrew.farm.zone_places import zone_place


@pytest.mark.source("almanac positions of towns", "from memory, to a quarter of a degree")
@pytest.mark.parametrize(
    ("zone", "country", "latitude", "longitude"),
    [
        ("Europe/Dublin", "IE", 53.35, -6.26),
        ("America/Chicago", "US", 41.88, -87.63),  # written with seconds in the table
        ("Pacific/Auckland", "NZ", -36.85, 174.76),
        ("Asia/Tokyo", "JP", 35.68, 139.69),
    ],
)
def test_a_zone_lies_where_its_town_lies(zone, country, latitude, longitude):
    place = zone_place(zone)
    assert place.country == country
    assert (place.latitude, place.longitude) == pytest.approx((latitude, longitude), abs=0.25)


def test_every_place_is_on_the_globe_and_some_zones_have_none():
    places = [place for zone in available_timezones() if (place := zone_place(zone)) is not None]
    assert len(places) > 350
    assert all(abs(one.latitude) <= 90 and abs(one.longitude) <= 180 for one in places)
    assert zone_place("UTC") is None
    assert zone_place("") is None
