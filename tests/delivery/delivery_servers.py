"""Real servers on loopback, and farms whose channels go to them."""

import asyncio
import socket
import threading
from contextlib import contextmanager
from email import message_from_bytes
from email.policy import default
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from io import StringIO

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult

from dawnbrew.delivery.channels import Channels
from dawnbrew.delivery.messages import Message
from dawnbrew.farm.read import parse_farm

FARM = """
[farm]
name = "Sallow Bank"
latitude = 53.1
longitude = -7.6
timezone = "Europe/Dublin"
[climate]
lows = [2, 2, 3, 4, 7, 9, 11, 11, 9, 7, 4, 3]
highs = [8, 8, 10, 12, 15, 17, 19, 19, 17, 14, 10, 8]
[[people]]
name = "Ide"
hours = "06:00-20:00"
quiet = "21:00-05:30"
channels = ["Post"]
[[people]]
name = "Bran"
hours = "06:00-20:00"
[[vessels]]
name = "drum"
volume = "200 L"
[[beds]]
name = "Bed"
area = "40 m2"
program = "weekly"
planting = 2027-04-20
[[channels]]
name = "post"
"""

NOTICE = Message("start.drum-1.2", "Start the brew now", "Put the starch on.\nUntil 06:40.\n")


def farm_text(where):
    """Return a farm file with one channel "post"; `where` is its URL or a line that says where that is."""
    line = f'url = "{where}"' if "://" in where and not where.startswith("url") else where
    return f"{FARM}{line}\n"


def channels(where, folder, environ=None, console=None):
    """Return the channels of such a farm."""
    farm = parse_farm(farm_text(where), "farm.toml")
    return Channels(farm, folder, environ or {}, console or StringIO())


def free_port():
    """Return a port of loopback on which nobody listens."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return held.getsockname()[1]


class Mailbox:
    """What a mail server of the tests answers, and what it got."""

    def __init__(self):
        self.to_message = "250 taken"
        self.to_address = {}
        self.hangs = False
        self.got = []

    async def handle_RCPT(self, server, session, envelope, address, options):  # noqa: N802
        if address in self.to_address:
            return self.to_address[address]
        envelope.rcpt_tos.append(address)
        return "250 known"

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        if self.hangs:
            await asyncio.sleep(30)
        if self.to_message.startswith("250"):
            self.got.append(message_from_bytes(envelope.content, policy=default))
        return self.to_message


@contextmanager
def mail_server(login=None):
    """Yield a mailbox and the port of the server before it."""
    box, port = Mailbox(), free_port()
    extra = {}
    if login is not None:
        extra = {
            "auth_required": True,
            "auth_require_tls": False,
            "authenticator": lambda server, session, envelope, mechanism, data: AuthResult(
                success=(data.login.decode(), data.password.decode()) == login, handled=False
            ),
        }
    controller = Controller(box, hostname="127.0.0.1", port=port, **extra)
    controller.start()
    try:
        yield box, port
    finally:
        controller.stop()


class Hook:
    """What a web server of the tests answers, and what it got."""

    def __init__(self):
        self.status, self.body, self.headers = 200, b"", {}
        self.got = []
        self.released = threading.Event()
        self.released.set()


@contextmanager
def web_server():
    """Yield a hook and the port of the server before it; while `released` is clear, nothing is answered."""
    hook = Hook()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self):
            body = self.rfile.read(int(self.headers["Content-Length"] or 0))
            hook.got.append((self.path, dict(self.headers), body))
            hook.released.wait(30)
            self.send_response(hook.status)
            for name, value in hook.headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(hook.body)))
            self.end_headers()
            self.wfile.write(hook.body)

        do_GET = do_POST  # noqa: N815

        def log_message(self, *_):
            pass

    class Server(ThreadingHTTPServer):
        def handle_error(self, request, client_address):
            pass  # a client that gave up waiting

    server = Server(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield hook, server.server_port
    finally:
        hook.released.set()
        server.shutdown()
        server.server_close()
        thread.join()
