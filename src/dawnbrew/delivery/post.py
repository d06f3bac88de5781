"""Hands messages to the library that speaks to the servers, and takes back what they answered."""

import logging
import threading
import warnings
from collections.abc import Callable
from typing import Any
from urllib.parse import quote

import apprise
from apprise import AppriseAsset, NotifyFormat, NotifyType
from apprise.common import OverflowMode
from apprise.manager_plugins import NotificationManager
from apprise.plugins import NotifyBase

from dawnbrew.delivery.answers import Answer, Record, read_answer
from dawnbrew.delivery.hiding import hide_links, hider
from dawnbrew.delivery.messages import Message

CONNECT_S, ANSWER_S, MAIL_S = 5.0, 10.0, 12.0
"""How long a server may take to be reached, to answer, and at each step of a mail; some greet late. [s]"""

LONGEST_WAIT_S, LONGEST_SEND_S = 4.0, 15.0
"""How long to wait for the message before, and for one message in all: 19 s at the most. [s]"""

KEY_HEADER = "X-Dawnbrew-Key"
"""By it whoever gets a mail or a webhook twice can tell that it is one message."""

_MAIL = frozenset({"mailto", "mailtos"})
_WITH_HEADERS = _MAIL | {"json", "jsons", "form", "forms", "xml", "xmls"}

_LOG = logging.getLogger("apprise")

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)  # of the library's own imports
    NotificationManager().load_modules()  # type: ignore[no-untyped-call]


class _Records(logging.Handler):
    """What the library writes down in one thread."""

    def __init__(self) -> None:
        super().__init__(logging.DEBUG)
        self._thread = threading.get_ident()
        self.records: list[Record] = []

    def emit(self, record: logging.LogRecord) -> None:
        if record.thread == self._thread:
            self.records.append(Record(record.getMessage(), record.levelno >= logging.WARNING))


def _silence() -> None:
    """Keep what the libraries write down, URLs and payloads among it, out of every log."""
    _LOG.propagate = False
    _LOG.setLevel(logging.DEBUG)
    if not _LOG.handlers:
        _LOG.addHandler(logging.NullHandler())
    logging.getLogger("urllib3").setLevel(logging.WARNING)  # its details hold paths with tokens


def _asset() -> AppriseAsset:
    # no pictures from public hosts, no keys or tokens on disk, no code loaded from folders; and no redirects,
    # which turn a POST into a GET that delivers nothing
    return AppriseAsset(
        app_id="dawnbrew", app_desc="dawnbrew", app_url="", image_url_mask="", image_url_logo="",
        image_path_mask=False, language="en", pgp_autogen=False, pem_autogen=False, http_redirects=False,
        interpret_emojis=False, interpret_escapes=False,
    )  # fmt: skip


class Post:
    """One URL, ready to take messages, one after the other."""

    def __init__(self, url: str, scheme: str) -> None:
        self._scheme = scheme
        hide = hider(url)
        self._hide: Callable[[str], str] = lambda text: hide_links(hide(text))
        self._free = threading.Lock()
        self._service: NotifyBase | None = None
        self._fault = ""
        _silence()
        written = _Records()
        _LOG.addHandler(written)
        try:
            self._service = apprise.Apprise.instantiate(url, asset=_asset(), suppress_exceptions=True)
        finally:
            _LOG.removeHandler(written)
        if self._service is None:
            self._fault = read_answer(written.records, self._hide).text
        else:
            _bound(self._service, scheme)

    @property
    def fault(self) -> str:
        """Why the URL cannot be used, in words without secrets; empty where it can."""
        return self._fault

    def send(self, message: Message) -> Answer | None:
        """Hand over one message; None where it was taken. Blocks for `LONGEST_SEND_S` and a little more.

        A server that is still busy then is left alone in a thread of its own, and may yet take the message.
        """
        if not self._free.acquire(timeout=LONGEST_WAIT_S):
            return Answer("a server that is still busy with the message before", False)
        done = threading.Event()
        outcome: list[Answer | None] = []

        def hand_over() -> None:
            try:
                outcome.append(self._hand_over(message))
            except Exception as problem:  # its words and those of its traceback may hold secrets
                outcome.append(Answer(f"a defect, {type(problem).__name__}", False))
            finally:
                self._free.release()
                done.set()

        threading.Thread(target=hand_over, name="dawnbrew-post", daemon=True).start()
        if not done.wait(LONGEST_SEND_S):
            return Answer("no answer in time", False)
        return outcome[0]

    def _hand_over(self, message: Message) -> Answer | None:
        service = self._service
        if service is None:
            return Answer(self._fault, True)
        written = _Records()
        _LOG.addHandler(written)
        try:
            _ready(service, self._scheme, message)
            # the service by itself: the library's own dispatch would retry, and call a failure of an optional
            # service a success
            if service.notify(
                body=message.text, title=message.title, notify_type=NotifyType.INFO,
                body_format=NotifyFormat.TEXT,
            ):  # fmt: skip
                return None
            return read_answer(written.records, self._hide)
        except Exception as error:  # the library is large, and a defect of it must not end the daemon
            told = Record(f"Exception: {type(error).__name__}: {error}", True)
            return read_answer([*written.records, told], self._hide)
        finally:
            _LOG.removeHandler(written)


def _bound(service: NotifyBase, scheme: str) -> None:
    """Set what a URL might have set otherwise: how long, how fast, how much, and where to."""
    service.socket_connect_timeout = MAIL_S if scheme in _MAIL else CONNECT_S
    service.socket_read_timeout = ANSWER_S
    service.redirects = False
    service.overflow_mode = OverflowMode.SPLIT  # upstream would cut, or refuse
    # between messages the library would sleep by the wall clock, for an hour where that was set back by one
    service.request_rate_per_sec = 0


def _ready(service: Any, scheme: str, message: Message) -> None:
    if scheme in _WITH_HEADERS:
        service.headers[KEY_HEADER] = quote(message.key, safe=" :/.,+-_@=")
