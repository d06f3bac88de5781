"""When something happened, as a person writes it."""

from zoneinfo import ZoneInfo

import pytest
from journal_cases import moment

from dawnbrew.errors import BadMoment
from dawnbrew.journal.when import parse_when

ZURICH = ZoneInfo("Europe/Zurich")
AUCKLAND = ZoneInfo("Pacific/Auckland")
THURSDAY = moment("2027-04-22T05:10:00Z")  # 07:10 in Zurich, where summer time is two hours ahead of UTC


@pytest.mark.source("hand calculation", "22 April 2027 is a Thursday; Zurich in April is UTC+2")
@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("now", "2027-04-22T05:10:00Z"),
        ("06:40", "2027-04-22T04:40:00Z"),
        ("6:40", "2027-04-22T04:40:00Z"),
        ("07:10", "2027-04-22T05:10:00Z"),
        ("today 00:00", "2027-04-21T22:00:00Z"),
        ("yesterday 19:00", "2027-04-21T17:00:00Z"),
        ("  Yesterday   19:00 ", "2027-04-21T17:00:00Z"),
        ("Thu 06:40", "2027-04-22T04:40:00Z"),
        ("fri 06:40", "2027-04-16T04:40:00Z"),
        ("Wednesday 23:59", "2027-04-21T21:59:00Z"),
        ("2027-04-20 06:40", "2027-04-20T04:40:00Z"),
        ("2027-04-20T06:40", "2027-04-20T04:40:00Z"),
        ("2027-01-20 06:40", "2027-01-20T05:40:00Z"),
        ("2027-04-20T06:40:00Z", "2027-04-20T06:40:00Z"),
        ("2027-04-20T06:40:00+05:30", "2027-04-20T01:10:00Z"),
    ],
)
def test_a_time_as_people_write_it(text, at):
    assert parse_when(text, now=THURSDAY, zone=ZURICH) == moment(at)


def test_today_is_the_day_of_the_farm_not_of_greenwich():
    now = moment("2027-01-10T20:00:00Z")  # Monday 11 January 09:00 in Auckland, UTC+13 in their summer
    assert parse_when("06:40", now=now, zone=AUCKLAND) == moment("2027-01-10T17:40:00Z")
    assert parse_when("yesterday 06:40", now=now, zone=AUCKLAND) == moment("2027-01-09T17:40:00Z")
    assert parse_when("Mon 06:40", now=now, zone=AUCKLAND) == moment("2027-01-10T17:40:00Z")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "07:11",
            "the time '07:11': got Thu 22 Apr 07:11, which is still to come; something that happened, "
            "not later "
            "than Thu 22 Apr 07:10. Note it when it is done; for an earlier day write yesterday or the date "
            "before the time.",
        ),
        ("Thu 19:00", "the time 'Thu 19:00': got Thu 22 Apr 19:00, which is still to come"),
        ("2028-04-20 06:40", "got Thu 20 Apr 06:40, which is still to come"),
        ("2027-04-22T09:00:00Z", "got Thu 22 Apr 11:00, which is still to come"),
        (
            "tomorrow 06:40",
            "the time 'tomorrow 06:40': got the day 'tomorrow'; today, yesterday, a weekday or a date. "
            "Write e.g. 06:40, yesterday 19:00, Thu 06:40, 2027-04-20 06:40, or now.",
        ),
        ("t 06:40", "got the day 't'"),
        ("th 06:40", "got the day 'th'"),
        ("24:00", "got the time 24:00; a time from 00:00 to 23:59"),
        ("06:60", "got the time 06:60"),
        ("2027-02-29 06:40", "the day '2027-02-29': got something that is not a day of the calendar"),
        ("2027-4-2 06:40", "the day '2027-4-2': got something that is not a day of the calendar"),
        ("1027-04-02 06:40", "got the year 1027"),
        ("", "got something that is not a time; a day and a time, or a time of today"),
        ("yesterday", "got something that is not a time"),
        ("7 pm", "got something that is not a time"),
        ("06.40", "got something that is not a time"),
        ("640", "got something that is not a time"),
        ("06:40 sharp", "got something that is not a time"),
        ("٠٦:٤٠", "got something that is not a time"),
    ],
)
def test_what_is_unclear_or_still_to_come_is_said(text, told):
    with pytest.raises(BadMoment) as fault:
        parse_when(text, now=THURSDAY, zone=ZURICH)
    assert told in str(fault.value)


@pytest.mark.source(
    "IANA time zone database", "Europe/Zurich, 31 October 2027: 03:00 back to 02:00 at 01:00 UTC"
)
class TestClockGoesBack:
    LATER = moment("2027-10-31T08:00:00Z")

    def test_a_time_that_came_twice_is_asked_for(self):
        with pytest.raises(BadMoment) as fault:
            parse_when("02:30", now=self.LATER, zone=ZURICH)
        assert str(fault.value) == (
            "the time '02:30': got a time that came twice, because the clock was put back; which of the "
            "two it "
            "was. Write 'earlier' or 'later' behind it."
        )

    def test_which_of_the_two_can_be_said(self):
        assert parse_when("02:30 earlier", now=self.LATER, zone=ZURICH) == moment("2027-10-31T00:30:00Z")
        assert parse_when("02:30 later", now=self.LATER, zone=ZURICH) == moment("2027-10-31T01:30:00Z")
        assert parse_when("Sun 02:30 later", now=self.LATER, zone=ZURICH) == moment("2027-10-31T01:30:00Z")

    def test_between_the_two_only_the_first_can_be_meant(self):
        between = moment("2027-10-31T01:10:00Z")
        assert parse_when("02:30", now=between, zone=ZURICH) == moment("2027-10-31T00:30:00Z")
        with pytest.raises(BadMoment, match="still to come"):
            parse_when("02:30 later", now=between, zone=ZURICH)

    def test_times_around_it_are_plain(self):
        assert parse_when("01:59", now=self.LATER, zone=ZURICH) == moment("2027-10-30T23:59:00Z")
        assert parse_when("03:00", now=self.LATER, zone=ZURICH) == moment("2027-10-31T02:00:00Z")

    def test_yesterday_has_the_hour_of_yesterday(self):
        assert parse_when("yesterday 19:00", now=self.LATER, zone=ZURICH) == moment("2027-10-30T17:00:00Z")
        assert parse_when("08:30", now=self.LATER, zone=ZURICH) == moment("2027-10-31T07:30:00Z")


@pytest.mark.source("IANA time zone database", "Europe/Zurich, 28 March 2027: 02:00 to 03:00 at 01:00 UTC")
class TestClockGoesForward:
    LATER = moment("2027-03-28T08:00:00Z")

    @pytest.mark.parametrize("text", ["02:00", "02:30", "02:59", "Sun 02:30", "2027-03-28 02:30 later"])
    def test_a_time_that_never_was_is_refused(self, text):
        with pytest.raises(BadMoment) as fault:
            parse_when(text, now=self.LATER, zone=ZURICH)
        assert "got a time that the clock jumped over on 2027-03-28; a time that the clock showed" in str(
            fault.value
        )
        assert fault.value.fix == "The clock went forward to 03:00 then; write the time after it."

    def test_times_around_it_are_plain(self):
        assert parse_when("01:59", now=self.LATER, zone=ZURICH) == moment("2027-03-28T00:59:00Z")
        assert parse_when("03:00", now=self.LATER, zone=ZURICH) == moment("2027-03-28T01:00:00Z")


@pytest.mark.source(
    "IANA time zone database", "Pacific/Auckland, 4 April 2027: 03:00 back to 02:00 at 14:00 UTC"
)
def test_in_the_south_the_clock_goes_back_in_april():
    now = moment("2027-04-03T20:00:00Z")
    assert parse_when("02:30 earlier", now=now, zone=AUCKLAND) == moment("2027-04-03T13:30:00Z")
    assert parse_when("02:30 later", now=now, zone=AUCKLAND) == moment("2027-04-03T14:30:00Z")
