"""Tells who is called by which channel, and tries the channels."""

import os
import sys
from collections.abc import Iterator
from pathlib import Path

from dawnbrew.calendar_out.text import shown_name
from dawnbrew.cli.screen import Line
from dawnbrew.delivery.channels import Channels
from dawnbrew.delivery.messages import DeliveryFailed, Message
from dawnbrew.farm.calling import CONSOLE
from dawnbrew.farm.models import Farm


def channels_of(farm: Farm, farm_file: Path) -> Channels:
    """Return the channels of a farm file as this process can use them."""
    return Channels(farm, farm_file.resolve().parent, os.environ, sys.stdout)


def channel_lines(farm: Farm, channels: Channels) -> Iterator[Line]:
    """Yield who is called by what and when not, and by what each channel goes; no URL is shown."""
    yield Line("People", style="bold")
    for person in farm.people:
        by = " and ".join(shown_name(name) for name in farm.channels_of(person))
        quiet = f", not at {', '.join(map(str, person.quiet))}" if person.quiet else ""
        yield Line(f"{shown_name(person.name)}: {by}{quiet}", lead="- ", indent=2)
    yield Line("Channels", style="bold")
    for name in channels.names:
        yield Line(f"{shown_name(name)}: {_way(channels, name)}", lead="- ", indent=2)


def are_usable(channels: Channels) -> bool:
    """Return whether each channel knows where to send."""
    return all(_fault(channels, name) is None for name in channels.names)


def _way(channels: Channels, name: str) -> str:
    if name == CONSOLE:
        return "what dawnbrew prints"
    fault = _fault(channels, name)
    return f"by {channels.scheme(name)}" if fault is None else f"cannot be used: {fault.got}"


def _fault(channels: Channels, name: str) -> DeliveryFailed | None:
    if name == CONSOLE:
        return None
    try:
        channels.scheme(name)
    except DeliveryFailed as fault:
        return fault
    return None


def test_message(farm: Farm, key: str) -> Message:
    """Return the message that tries a channel."""
    text = (
        f"This is a test from {farm.place.name}, sent by hand. There is nothing to do.\n"
        "Who reads it is reached by this channel."
    )
    return Message(key, "dawnbrew: a test", text)


def try_channels(channels: Channels, message: Message) -> Iterator[tuple[Line, bool]]:
    """Send a message to every channel, one after the other; yield for each how it went and whether it did."""
    for name in channels.names:
        try:
            channels.send(name, message)
        except DeliveryFailed as fault:
            when = "trying again does not help" if fault.is_final else "later it may go"
            told = f"{shown_name(name)}: failed, {fault.got} ({when}). {fault.fix if fault.is_final else ''}"
            yield Line(told.strip(), lead="- ", indent=2, style="bold red"), False
        else:
            yield Line(f"{shown_name(name)}: delivered", lead="- ", indent=2), True
