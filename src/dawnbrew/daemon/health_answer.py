"""Answers on this machine whether the daemon is well."""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any

from dawnbrew.errors import DawnbrewError

HOST = "127.0.0.1"


class CannotAnswer(DawnbrewError):
    """A port on which no health can be answered."""


@dataclass(frozen=True)
class Answer:
    """Whether every season ticks, and how each one is, as JSON takes it."""

    is_alive: bool
    told: dict[str, Any]


@contextmanager
def answering(port: int, ask: Callable[[], Answer]) -> Iterator[int]:
    """Answer every GET on a port of this machine while the block runs: 200 when alive, else 503.

    Args:
        port: 0 for any that is free. Given back is the one that is used.

    Errors: CannotAnswer where another program has it.
    """

    class _Handler(BaseHTTPRequestHandler):
        server_version, sys_version = "dawnbrew", ""

        def do_GET(self) -> None:
            answer = ask()
            body = f"{json.dumps(answer.told, indent=1)}\n".encode()
            self.send_response(200 if answer.is_alive else 503)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(body)))
            self.send_header("Cache-Control", "no-store")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: Any) -> None:
            """Say nothing: whoever watches asks every few seconds."""

    try:
        server = ThreadingHTTPServer((HOST, port), _Handler)
    except (OSError, OverflowError) as problem:
        raise CannotAnswer(
            where=f"--health {port}",
            got=(getattr(problem, "strerror", None) or str(problem)).lower(),
            need="a port of this machine that no other program uses",
            fix="Name another one, e.g. --health 8642.",
        ) from None
    server.daemon_threads = True
    Thread(target=server.serve_forever, name="health", daemon=True).start()
    try:
        yield int(server.server_address[1])
    finally:
        server.shutdown()
        server.server_close()
