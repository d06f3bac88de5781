"""Looks names of hosts up without ever waiting longer than asked to."""

import asyncio
import socket
from collections.abc import Callable
from contextlib import suppress
from threading import Thread
from typing import Any


class PatientLoop(asyncio.SelectorEventLoop):
    """A loop whose name lookups can be given up.

    A lookup of the system has no time-out and cannot be stopped. Any other loop waits for it when it closes,
    and the interpreter when it ends; here its thread is left alone.
    """

    async def getaddrinfo(
        self, host: Any, port: Any, *, family: int = 0, type: int = 0, proto: int = 0, flags: int = 0
    ) -> Any:
        """Return what `socket.getaddrinfo` does. Errors: OSError, UnicodeError."""
        found: asyncio.Future[Any] = self.create_future()

        def tell(put: Callable[[Any], None], what: object) -> None:
            if not found.done():
                put(what)

        def look_up() -> None:
            answer: tuple[Callable[[Any], None], object]
            try:
                answer = found.set_result, socket.getaddrinfo(host, port, family, type, proto, flags)
            except Exception as error:  # whatever it is, it is told where it was asked
                answer = found.set_exception, error
            with suppress(RuntimeError):  # the loop was closed in the meantime
                self.call_soon_threadsafe(tell, *answer)

        Thread(target=look_up, name="lookup", daemon=True).start()
        return await found
