"""Bounds the connections of browsers, so that none is held for nothing and no flood takes all files."""

import asyncio
from collections.abc import Collection
from dataclasses import dataclass
from ipaddress import ip_address, ip_network
from typing import ClassVar

from uvicorn.protocols.http.h11_impl import H11Protocol

from dawnbrew.web.limits import whose


@dataclass(frozen=True)
class Bounds:
    """What connections may take.

    Args:
        at_once: How many there may be. of_one: How many of one client.
        proxies: Addresses and networks that come for many clients, so that `of_one` does not bind them.
    """

    at_once: int
    of_one: int
    proxies: tuple[str, ...] = ()


class BoundedConnection(H11Protocol):
    """A connection that is cut where there are too many, or where nothing comes of it.

    The time runs while no request is being answered, until the next one's head is whole, and while answers
    wait for somebody to take them. uvicorn alone begins to count after the first answer, and stops at the
    next byte.
    """

    bounds: ClassVar[Bounds]

    _quiet: asyncio.TimerHandle | None = None
    _untaken = 0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection in, or cut it where there are too many."""
        super().connection_made(transport)
        if len(self.connections) > self.bounds.at_once or self._are_too_many_of_one():
            transport.abort()
            return
        self._time()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget it."""
        super().connection_lost(exc)
        self._forget_time()

    def handle_events(self) -> None:
        """Take in what came; a request whose head is whole stops the time."""
        super().handle_events()
        self._time()

    def on_response_complete(self) -> None:
        """Let the time run for the next request."""
        super().on_response_complete()
        self._time()

    def pause_writing(self) -> None:
        """Let the time run: more waits to be taken than is good."""
        super().pause_writing()
        self._time()

    def resume_writing(self) -> None:
        """Stop the time where an answer goes on."""
        super().resume_writing()
        self._time()

    def _are_too_many_of_one(self) -> bool:
        address = self.client[0] if self.client else ""
        if _is_in(address, self.bounds.proxies):
            return False
        own = whose(address)
        all_here = (one for one in self.connections if isinstance(one, H11Protocol) and one.client)
        return sum(whose(one.client[0]) == own for one in all_here if one.client) > self.bounds.of_one

    def _time(self) -> None:
        is_answering = self.cycle is not None and not self.cycle.response_complete
        if is_answering and not self.flow.write_paused:
            self._forget_time()
        elif self._quiet is None:
            self._untaken = self.transport.get_write_buffer_size()
            self._quiet = self.loop.call_later(self.timeout_keep_alive, self._cut)

    def _forget_time(self) -> None:
        if self._quiet is not None:
            self._quiet.cancel()
            self._quiet = None

    def _cut(self) -> None:
        """End the connection, unless it is a slow one that still takes what it asked for."""
        self._quiet = None
        if 0 < self.transport.get_write_buffer_size() < self._untaken:
            self._time()
        else:
            self.transport.abort()


def bounded(bounds: Bounds) -> type[BoundedConnection]:
    """Return the connections that a server shall make."""

    class Bounded(BoundedConnection):
        pass

    Bounded.bounds = bounds
    return Bounded


def _is_in(address: str, places: Collection[str]) -> bool:
    try:
        found = ip_address(address)
    except ValueError:
        return False
    return any(found in ip_network(place) for place in places)
