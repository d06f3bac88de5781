"""Asks one address over HTTP, within limits of time and size, and never follows where it is sent."""

import asyncio
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from ssl import SSLContext
from typing import Final
from urllib.parse import urlsplit

import httpx

from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.looking_up import PatientLoop
from dawnbrew.weather.sense import WAIT

WHOLE: Final = frozenset({200, 203})
"""With these comes what was asked for; with 203 it may have been changed on its way, and met.no answers so
where it will end a product. Source: RFC 9110, 15.3.4; from memory for met.no."""

NOT_MODIFIED: Final = 304


@dataclass(frozen=True)
class Limits:
    """How long and how much an answer may be.

    Args:
        connect_s: Until there is a connection, and between two pieces of the answer. [s]
        whole_s: From the question to the last byte. [s]
        body_bytes: The answer, packed and unpacked. [bytes]
    """

    connect_s: float = 5.0
    whole_s: float = 20.0
    body_bytes: int = 5_000_000


LIMITS: Final = Limits()
"""A week of hours has under 100 kB."""


@dataclass(frozen=True)
class Answer:
    """What came back: a status, the header lines by their names in small letters, and the body if whole."""

    status: int
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes = b""


def ask(url: str, headers: Mapping[str, str], where: str, limits: Limits = LIMITS) -> Answer:
    """Return what an address answers; a redirect is an answer and is not followed.

    Args:
        where: What is asked, for the sentence of a fault.

    Errors: BadWeather where nothing came, or not whole, or too much.
    """
    try:
        with asyncio.Runner(loop_factory=PatientLoop) as runner:
            return runner.run(_ask(url, headers, where, limits))
    except TimeoutError:
        raise _no_answer(where, f"no whole answer within {limits.whole_s:g} s") from None
    except httpx.TimeoutException:
        raise _no_answer(where, "no answer in time") from None
    except httpx.ConnectError:
        raise _no_answer(where, f"no connection to {urlsplit(url).hostname}") from None
    except (httpx.HTTPError, httpx.InvalidURL, zlib.error, OSError) as error:
        told = " ".join(str(error).split())[:80] or type(error).__name__
        raise _no_answer(where, f"an answer that broke off ({told})") from None


async def _ask(url: str, headers: Mapping[str, str], where: str, limits: Limits) -> Answer:
    waits, trusted = httpx.Timeout(limits.whole_s, connect=limits.connect_s), _trusted()
    sent = {**headers, "Accept-Encoding": "gzip"}
    # no environment: no proxy of this machine takes part
    async with (
        asyncio.timeout(limits.whole_s),
        httpx.AsyncClient(timeout=waits, follow_redirects=False, trust_env=False, verify=trusted) as client,
        client.stream("GET", url, headers=sent) as response,
    ):
        told = {name.lower(): value for name, value in response.headers.items()}
        body = await _body(response, where, limits) if response.status_code in WHOLE else b""
        return Answer(response.status_code, told, body)


@cache
def _trusted() -> SSLContext:
    """Return whom we trust; to read it takes longer than all else of a question."""
    return httpx.create_ssl_context(trust_env=False)


async def _body(response: httpx.Response, where: str, limits: Limits) -> bytes:
    """Return the body, unpacked here piece by piece so that no few bytes can become a great many."""
    packing = response.headers.get("content-encoding", "identity").strip().lower()
    if packing not in {"identity", "gzip"}:
        raise _no_answer(where, "an answer that is packed in another way than was asked for")
    unpack = zlib.decompressobj(16 + zlib.MAX_WBITS) if packing == "gzip" else None
    raw_bytes, body = 0, bytearray()
    async for piece in response.aiter_raw():
        raw_bytes += len(piece)
        room = limits.body_bytes + 1 - len(body)
        body += piece if unpack is None else unpack.decompress(piece, room)
        if max(raw_bytes, len(body)) > limits.body_bytes:
            raise BadWeather(
                where=where,
                got=f"more than {limits.body_bytes / 1e6:g} MB",
                need="a forecast is much smaller",
                fix=WAIT,
            )
    if unpack is not None and not unpack.eof:
        raise _no_answer(where, "half an answer")
    return bytes(body)


def _no_answer(where: str, got: str) -> BadWeather:
    return BadWeather(
        where=where, got=got, need="an answer is needed", fix=f"Look at the network here. {WAIT}"
    )
