"""The channels of one farm, and sending by one of them."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from dawnbrew.delivery.messages import DeliveryFailed, Message
from dawnbrew.farm.calling import CONSOLE, Channel, scheme_fault, scheme_of
from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import named, same_key

if TYPE_CHECKING:
    from dawnbrew.delivery.post import Post

LARGEST_URL_BYTES = 10_000
"""No URL is longer; a file that is, is another file. [bytes]"""

_NEED = "the channel takes the message"


class Channels:
    """Every channel of a farm; the console is always there.

    A URL is looked up anew for each message, so that a secret that was mended is used at once.

    Args:
        folder: Of the farm file; a channel's `url_file` is looked for there.
        environ: Where a channel's `url_env` is looked for.
        console: What the channel "console" prints to.
    """

    def __init__(self, farm: Farm, folder: Path, environ: Mapping[str, str], console: TextIO) -> None:
        self._channels = {same_key(channel.name): channel for channel in farm.channels}
        self._folder = folder
        self._environ = environ
        self._console = console
        self._posts: dict[str, tuple[str, Post]] = {}

    @property
    def names(self) -> tuple[str, ...]:
        """The names as they are declared, the console first."""
        return (CONSOLE, *(channel.name for channel in self._channels.values()))

    def scheme(self, channel: str) -> str:
        """Return by what a channel goes, e.g. `mailtos`; the console by `console`.

        Errors: DeliveryFailed where it cannot be known, or is none that can be used.
        """
        if same_key(channel) == CONSOLE:
            return CONSOLE
        return self._url(self._channel(channel))[1]

    def send(self, channel: str, message: Message) -> None:
        """Hand one message to a channel; blocks, for 20 s at the most.

        Errors: DeliveryFailed, with what the server said.
        """
        if same_key(channel) == CONSOLE:
            self._print(message.cleaned())
            return
        declared = self._channel(channel)
        answer = self._post(declared).send(message.cleaned())
        if answer is not None:
            fix = (
                "Look at the channel's URL and at what the server says; then try `dawnbrew channels --test`."
                if answer.is_final
                else "It is tried again by itself, less and less often, for a day."
            )
            raise DeliveryFailed(
                where=_where(declared.name), got=answer.text, need=_NEED, fix=fix, is_final=answer.is_final
            )

    def _print(self, message: Message) -> None:
        rows = [message.title, *(f"  {row}" for row in message.text.split("\n") if message.text), ""]
        text = "\n".join(rows) + "\n"
        coding = getattr(self._console, "encoding", None) or "utf-8"
        try:
            self._console.write(text.encode(coding, "replace").decode(coding))
            self._console.flush()
        except (OSError, ValueError) as error:  # ValueError: closed
            raise DeliveryFailed(
                where=_where(CONSOLE),
                got=f"an output that takes nothing ({getattr(error, 'strerror', None) or error})",
                need="what is printed goes somewhere",
                fix="Look where the output of dawnbrew goes.",
                is_final=False,
            ) from None

    def _channel(self, name: str) -> Channel:
        channel = self._channels.get(same_key(name))
        if channel is None:
            raise DeliveryFailed(
                where=_where(name),
                got="no channel of that name",
                need=f"a channel that the farm file declares; there is {named(self.names)}",
                fix="Declare it under [[channels]], or call the person by another one.",
                is_final=True,
            )
        return channel

    def _post(self, channel: Channel) -> "Post":
        from dawnbrew.delivery.post import Post  # noqa: PLC0415  # apprise takes long to import

        url, scheme = self._url(channel)
        kept = self._posts.get(channel.name)
        if kept is not None and kept[0] == url:
            return kept[1]
        post = Post(url, scheme)
        if post.fault:
            raise _refused(
                channel, f"a {scheme} URL that cannot be used ({post.fault})", f"a URL as {scheme} needs it",
                "Compare it with what the service asks for.",
            )  # fmt: skip
        self._posts[channel.name] = (url, post)
        return post

    def _url(self, channel: Channel) -> tuple[str, str]:
        """Return the URL of a channel and what it begins with."""
        if channel.url is not None:
            url = channel.url.get_secret_value()
        elif channel.url_env is not None:
            url = self._environ.get(channel.url_env, "").strip()
            if not url:
                raise _refused(
                    channel, f"nothing in the environment variable {channel.url_env}",
                    "it holds the channel's URL", "Set it where dawnbrew is started, then start it again.",
                )  # fmt: skip
        else:
            url = self._url_in_file(channel, self._folder / (channel.url_file or ""))
        fault = scheme_fault(url)
        if fault is not None:
            raise _refused(channel, fault.got, fault.need, fault.fix)
        return url, scheme_of(url) or ""

    def _url_in_file(self, channel: Channel, path: Path) -> str:
        try:
            with path.open("rb") as file:
                content = file.read(LARGEST_URL_BYTES + 1)
            rows = content.decode().split()
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or "not a text"
            raise _refused(
                channel, f"the file '{channel.url_file}', which cannot be read ({reason})",
                "a file that holds the channel's URL", "Look at its name, its folder and its permissions.",
            ) from None  # fmt: skip
        if len(rows) == 1 and len(content) <= LARGEST_URL_BYTES:
            return rows[0]
        held = "more than a URL" if rows else "nothing"
        raise _refused(
            channel, f"the file '{channel.url_file}', which holds {held}",
            "a file that holds the channel's URL and nothing else", "Write only the URL into it.",
        )  # fmt: skip


def _where(name: str) -> str:
    return f"the channel '{name}'"


def _refused(channel: Channel, got: str, need: str, fix: str) -> DeliveryFailed:
    return DeliveryFailed(where=_where(channel.name), got=got, need=need, fix=fix, is_final=True)
