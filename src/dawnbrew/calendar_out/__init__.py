"""Turns a plan into iCalendar bytes."""

from dawnbrew.calendar_out.feed import Stamp, Window, calendar_bytes

__all__ = ["Stamp", "Window", "calendar_bytes"]
