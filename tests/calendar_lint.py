"""A lint of our own for calendar bytes, which trusts no calendar library."""

import re
from collections import Counter
from dataclasses import dataclass, field

_STAMP = re.compile(r"\d{8}T\d{6}Z")
_LINE = re.compile(r"([A-Z0-9-]+)((?:;[A-Z0-9-]+=[^;:,\"]+)*):(.*)", re.DOTALL)
_ONCE = ("UID", "DTSTAMP", "DTSTART", "SUMMARY", "LAST-MODIFIED", "SEQUENCE", "TRANSP")
_MOMENTS = ("DTSTAMP", "DTSTART", "DTEND", "LAST-MODIFIED")


@dataclass
class Part:
    """One component: its content lines as (name, parameters, value), in order, and what it holds."""

    name: str
    lines: list[tuple[str, str, str]] = field(default_factory=list)
    parts: list["Part"] = field(default_factory=list)

    def values(self, name: str) -> list[str]:
        """Return the raw values of a property."""
        return [value for found, _, value in self.lines if found == name]

    def value(self, name: str) -> str:
        """Return the raw value of a property that stands here once."""
        (value,) = self.values(name)
        return value

    def counts(self) -> Counter[str]:
        """Return how often each property stands here."""
        return Counter(name for name, _, _ in self.lines)


def read_parts(stream: bytes) -> Part:
    """Return the calendar as a tree, by the grammar of RFC 5545 section 3.1 and nothing kinder."""
    text = stream.decode().replace("\r\n ", "")
    root = Part("")
    stack = [root]
    assert text.endswith("\r\n")
    for line in text.removesuffix("\r\n").split("\r\n"):
        match = _LINE.fullmatch(line)
        assert match, f"not a content line: {line!r}"
        name, params, value = match.groups()
        if name == "BEGIN":
            stack.append(Part(value))
            stack[-2].parts.append(stack[-1])
        elif name == "END":
            assert stack.pop().name == value
        else:
            stack[-1].lines.append((name, params, value))
    assert stack == [root]
    (calendar,) = root.parts
    return calendar


def unescape(value: str) -> str:
    """Return what a TEXT value says, by RFC 5545 section 3.3.11."""
    return re.sub(r"\\([\\;,nN])", lambda match: match[1] if match[1] not in "nN" else "\n", value)


def faults(stream: bytes) -> list[str]:
    """Return what is wrong with calendar bytes, in words; an empty list where nothing is."""
    return _line_faults(stream) + _event_faults(read_parts(stream))


def _line_faults(stream: bytes) -> list[str]:
    found = []
    if re.search(rb"\r(?!\n)|(?<!\r)\n", stream):
        found.append("a bare CR or LF")
    for line in stream.removesuffix(b"\r\n").split(b"\r\n"):
        if not line.strip():
            found.append("an empty line")
        if len(line) > 75:
            found.append(f"{len(line)} octets in {line!r}")
        try:
            text = line.decode()
        except UnicodeDecodeError:
            found.append(f"folded inside a character: {line!r}")
            continue
        if len(text.splitlines()) > 1 or re.search("[\x00-\x1f\x7f-\x9f]", text):
            found.append(f"a control or a line separator in {text!r}")
    return found


def _event_faults(calendar: Part) -> list[str]:
    found = []
    if calendar.name != "VCALENDAR" or calendar.values("VERSION") != ["2.0"] or not calendar.value("PRODID"):
        found.append("the head of the calendar")
    uids = [event.value("UID") for event in calendar.parts]
    found += [f"UID twice: {uid}" for uid, times in Counter(uids).items() if times > 1]
    for event in calendar.parts:
        name = event.values("UID")
        found += [f"{event.name} in the feed"] if event.name != "VEVENT" else []
        found += [f"{prop} not once in {name}" for prop in _ONCE if len(event.values(prop)) != 1]
        moments = [value for prop in _MOMENTS for value in event.values(prop)]
        found += [f"{value} is not UTC in {name}" for value in moments if not _STAMP.fullmatch(value)]
        if any(params for prop, params, _ in event.lines if prop in _MOMENTS):
            found.append(f"parameters at a moment in {name}")
        if event.values("DTEND") and event.value("DTEND") <= event.value("DTSTART"):
            found.append(f"ends before it starts: {name}")
        found += [
            f"odd escape in {prop} of {name}"
            for prop, _, value in event.lines
            if _is_badly_escaped(prop, value)
        ]
    return found


def _is_badly_escaped(prop: str, value: str) -> bool:
    if prop not in ("SUMMARY", "DESCRIPTION", "LOCATION"):
        return False
    return re.fullmatch(r"(?:[^\\;,]|\\[\\;,n])*", value) is None
