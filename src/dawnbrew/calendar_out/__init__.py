"""Turns a plan into iCalendar bytes."""

from dawnbrew.calendar_out.feed import Events, Stamp, Window, calendar_bytes

__all__ = ["Events", "Stamp", "Window", "calendar_bytes"]
