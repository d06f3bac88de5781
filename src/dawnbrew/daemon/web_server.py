"""Serves pages and feeds over HTTP from a thread of the daemon."""

import re
import socket
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from ipaddress import ip_address, ip_network
from threading import Thread
from typing import TYPE_CHECKING, Any

from dawnbrew.errors import BadFarm, DawnbrewError
from dawnbrew.web.hosts import HERE, host_and_port

if TYPE_CHECKING:
    from uvicorn import Server

LOCAL_HOST = "127.0.0.1"
"""Where it listens if nothing else is said: nobody but this machine reaches it."""

STOP_S = 3
"""How long a stop waits for answers that are under way. [s]"""

AT_ONCE = 128
"""So many connections at once; phones of a farm need a few, more are cut before they are heard."""

OF_ONE = 48
"""So many of one client; a browser opens six, and a house full of them may share one address."""

WAITING = 64
"""So many wait to be taken in; with those above they stay well below the 256 files of a modest system."""

QUIET_S = 15
"""A connection is cut that does not ask for so long, or does not take what it asked for. [s]"""

HEAD_BYTES = 8 * 1024
"""The largest head of a request; browsers send one or two thousand bytes."""

_PORT = re.compile(r"[0-9]{1,5}")


class CannotServe(DawnbrewError):
    """A place at which no pages can be served."""


class BadPlace(BadFarm):
    """A place or a proxy that is written wrongly."""


@dataclass(frozen=True)
class WebPlace:
    """Where pages are served.

    Args:
        port: 0 for any that is free.
        proxies: Addresses of those whose word on the client and on https is taken.
    """

    host: str = LOCAL_HOST
    port: int = 0
    proxies: tuple[str, ...] = ()

    @property
    def hosts(self) -> frozenset[str]:
        """The names under which it may be asked there."""
        found = host_and_port(f"[{self.host}]" if ":" in self.host else self.host)
        return HERE | ({found[0]} if found else set())


def read_place(text: str, proxies: Collection[str] = ()) -> WebPlace:
    """Return the place that `[HOST:]PORT` names, and the proxies before it. Errors: BadPlace."""
    if _PORT.fullmatch(text):
        host, port = LOCAL_HOST, int(text)
    else:
        found = host_and_port(text)
        if found is None or found[1] is None:
            raise _bad_place(text)
        host, port = found[0], found[1]
    if port > 65535:
        raise _bad_place(text)
    return WebPlace(host, port, tuple(_read_proxy(one) for one in proxies))


def _read_proxy(text: str) -> str:
    try:
        return str(ip_network(text) if "/" in text else ip_address(text))
    except ValueError:
        raise BadPlace(
            where=f"--proxy {text}", got="something that is no address",
            need="the address of a proxy, or a network of addresses, as numbers",
            fix="Write e.g. --proxy 127.0.0.1 for one on this machine.",
        ) from None  # fmt: skip


def _bad_place(text: str) -> BadPlace:
    return BadPlace(
        where=f"--web {text}", got="something that is no place to serve from",
        need="a port up to 65535, with an address of this machine before it if not 127.0.0.1",
        fix="Write e.g. --web 8643, or --web 192.168.1.20:8643, or --web [::1]:8643.",
    )  # fmt: skip


@contextmanager
def serving(
    place: WebPlace, app: Any, *, quiet_s: int = QUIET_S,
    on_death: Callable[[BaseException | None], None] = lambda _: None,
) -> Iterator[tuple[int, Callable[[], bool]]]:  # fmt: skip
    """Serve an ASGI application while the block runs.

    Given are the port that is used, and what stops it before the block ends: it waits for answers under
    way, and returns whether all was ended in time.

    Args:
        quiet_s: How long a connection may do nothing. [s]
        on_death: Told where the server ends by itself, with what ended it; called in its thread.

    Errors: CannotServe.
    """
    listening = _listen(place)
    server = _server(place, app, quiet_s)
    dead: list[BaseException | None] = []

    def serve() -> None:
        problem: BaseException | None = None
        try:
            server.run([listening])
        except BaseException as fault:  # SystemExit too: nobody else hears of it in a thread
            problem = fault
        if problem is not None or not server.should_exit:
            dead.append(problem)
            on_death(problem)

    # a daemon thread, as are those in which it makes pages: a plan that takes long must not hold up the end
    thread = Thread(target=serve, name="web", daemon=True)

    def stop() -> bool:
        server.should_exit = True
        thread.join(STOP_S + 1.0)
        return not thread.is_alive() and not dead

    try:
        thread.start()
        yield listening.getsockname()[1], stop
    finally:
        stop()
        listening.close()


def _server(place: WebPlace, app: Any, quiet_s: int) -> "Server":
    from uvicorn import Config, Server  # noqa: PLC0415  # a run without pages needs no server

    from dawnbrew.daemon.connections import Bounds, bounded  # noqa: PLC0415  # uvicorn, see above

    return Server(Config(
        app, http=bounded(Bounds(AT_ONCE, OF_ONE, place.proxies)), ws="none", lifespan="off", loop="asyncio",
        interface="asgi3", log_config=None, log_level="warning", access_log=False, server_header=False,
        proxy_headers=bool(place.proxies), forwarded_allow_ips=list(place.proxies), backlog=WAITING,
        timeout_keep_alive=quiet_s, timeout_graceful_shutdown=STOP_S,
        h11_max_incomplete_event_size=HEAD_BYTES,
    ))  # fmt: skip


def _listen(place: WebPlace) -> socket.socket:
    try:
        kind, _, _, _, address = socket.getaddrinfo(
            place.host, place.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        listening = socket.create_server(address[:2], family=kind, backlog=WAITING)
        # connections inherit it; without it head and body wait for one another's acknowledgement, 40 ms
        listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return listening
    except OSError as problem:
        shown = f"[{place.host}]" if ":" in place.host else place.host
        raise CannotServe(
            where=f"--web {shown}:{place.port}",
            got=(problem.strerror or str(problem)).partition(" (while")[0].lower(),
            need="an address of this machine and a port that no other program uses",
            fix="Name another one, e.g. --web 8643.",
        ) from None
