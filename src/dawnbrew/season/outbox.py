"""Sends what is in the outbox: each delivery at its time, by its channel, noted before and after."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from threading import Lock

from dawnbrew.delivery.again import next_try
from dawnbrew.delivery.messages import DeliveryFailed, Message
from dawnbrew.errors import DawnbrewError
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import Delivery, Nudge
from dawnbrew.moments import Instant
from dawnbrew.nudges.values import NudgeRow

Send = Callable[[str, Message], None]
"""Sends a message by the channel of a name and comes back when it is out; raises DeliveryFailed."""

Do = Callable[[str, Callable[[], None]], None]
"""Does a job, at once or soon; jobs of one name one after the other."""

Tell = Callable[..., None]
"""Takes the word for an event and its facts by name, for the log."""

TOO_LATE = "it came too late to be of use"


def fault_words(problem: Exception) -> str:
    """Return what went wrong, in words for the log."""
    if isinstance(problem, DawnbrewError):
        return str(problem)
    return f"a defect, {type(problem).__name__}: {problem}"


def at_once(_: str, job: Callable[[], None]) -> None:
    """Do a job before coming back."""
    job()


class Outbox:
    """The deliveries of one journal on their way.

    Args:
        answered: The keys of those nudges whose task needs nobody any more at a moment.
        as_told: A nudge in the words that are true at a moment, None where it is of no use any more.
        is_hushed: Whether a nudge must wait because of the hour.
        answer_line: The line in a message that leads to where its nudge is answered, made anew for each try;
            None where there is none.
        clock: When it is; a send takes its time.

    Attributes:
        send: How messages leave; another one once the farm file names other channels.
    """

    def __init__(
        self, journal: Journal, *, send: Send, answered: Callable[[Sequence[Nudge], Instant], set[str]],
        as_told: Callable[[Nudge, Instant], NudgeRow | None],
        is_hushed: Callable[[Nudge, Instant], bool], answer_line: Callable[[Nudge, Delivery], str | None],
        clock: Callable[[], Instant], do: Do, tell: Tell,
    ) -> None:  # fmt: skip
        self.send = send
        self._journal = journal
        self._answered = answered
        self._as_told = as_told
        self._is_hushed = is_hushed
        self._answer_line = answer_line
        self._clock = clock
        self._do = do
        self._tell = tell
        self._lock = Lock()
        self._under_way: set[int] = set()
        self._unnoted: dict[int, Callable[[], object]] = {}

    @property
    def is_idle(self) -> bool:
        """Whether nothing is being sent and everything that was sent is noted."""
        with self._lock:
            return not self._under_way and not self._unnoted

    def deliver(self, *, due_at: Instant, now: Instant) -> list[Nudge]:
        """Begin every try that is due at a moment; return the nudges given up because they are of no use now.

        Errors: those of a journal.
        """
        self._note_again()
        due = [(one, self._nudge_of(one)) for one in self._journal.due_deliveries(now=due_at)]
        answered = self._answered([nudge for _, nudge in due], now) if due else set()
        given_up = []
        for one, nudge in due:
            if nudge.key in answered:
                self._withdraw(one, nudge, now)
            elif (late := self._begin(one, nudge, now)) is not None:
                given_up.append(late)
        return given_up

    def withdraw(self, nudge: Nudge, now: Instant) -> bool:
        """Take an open nudge back before it is sent; return False where it is being sent or was.

        Errors: those of a journal.
        """
        if nudge.state == "waiting":
            return self._journal.withdraw_nudge(nudge.key, now=now)
        for one in self._journal.deliveries_of(nudge.key):
            self._withdraw(one, nudge, now)
        ended = self._journal.nudge(nudge.key)
        return ended is not None and ended.state not in ("handed", "delivered")

    def _nudge_of(self, delivery: Delivery) -> Nudge:
        nudge = self._journal.nudge(delivery.nudge)
        assert nudge is not None  # a delivery refers to its nudge
        return nudge

    def _begin(self, delivery: Delivery, nudge: Nudge, now: Instant) -> Nudge | None:
        """Begin one try, unless it is under way; return its nudge where that came too late."""
        with self._lock:
            if delivery.id in self._under_way:
                return None
        if self._is_hushed(nudge, now):
            return None
        told = self._as_told(nudge, now)
        if told is None:
            return self._give_up(delivery, nudge, now)
        message = Message(key=nudge.key, title=told.title, text=told.text)
        with self._lock:
            self._under_way.add(delivery.id)
        self._do(f"channel {delivery.channel}", lambda: self._try(delivery, nudge, message))
        return None

    def _withdraw(self, delivery: Delivery, nudge: Nudge, now: Instant) -> None:
        """Take an open delivery out of the outbox because nobody needs it."""
        if self._journal.take_back(delivery.id, nudge.key, now=now):
            self._tell("withdrawn", nudge=nudge.key, channel=delivery.channel)

    def _give_up(self, delivery: Delivery, nudge: Nudge, now: Instant) -> Nudge | None:
        if not self._journal.begin_attempt(delivery.id, now=now):
            return None
        error = f"{TOO_LATE}; {delivery.error}" if delivery.error else TOO_LATE
        self._journal.mark_failed(delivery.id, error, now=now)
        self._tell("delivery-failed", nudge=nudge.key, channel=delivery.channel, error=error, is_final=True)
        ended = self._journal.nudge(nudge.key)
        return nudge if ended is not None and ended.state == "failed" else None

    def _try(self, delivery: Delivery, nudge: Nudge, message: Message) -> None:
        try:
            if self._journal.begin_attempt(delivery.id, now=self._clock()):
                self._send(delivery, self._with_line(delivery, nudge, message))
        except DawnbrewError as fault:
            self._tell("journal-failed", error=str(fault))  # the delivery is open still and is tried again
        finally:
            with self._lock:
                self._under_way.discard(delivery.id)

    def _with_line(self, delivery: Delivery, nudge: Nudge, message: Message) -> Message:
        """Return a message with the line by which it is answered; without it where none can be made."""
        try:
            line = self._answer_line(nudge, delivery)
        except Exception as problem:  # the call itself matters more than the way to answer it
            self._tell("link-failed", nudge=nudge.key, channel=delivery.channel, error=fault_words(problem))
            return message
        return message if line is None else replace(message, text=f"{message.text}\n{line}")

    def _send(self, delivery: Delivery, message: Message) -> None:
        about = {"nudge": message.key, "channel": delivery.channel, "attempt": delivery.attempts + 1}
        try:
            self.send(delivery.channel, message)
        except DeliveryFailed as fault:
            self._failed(delivery, about, fault.got, is_final=fault.is_final)
        except (
            Exception
        ) as problem:  # a channel's defect must not stop the others; its words may hold secrets
            self._failed(delivery, about, f"a defect, {type(problem).__name__}", is_final=False)
        else:
            self._note(delivery.id, lambda: self._journal.mark_delivered(delivery.id, now=self._clock()))
            self._tell("delivered", **about)

    def _failed(self, delivery: Delivery, about: dict[str, object], error: str, *, is_final: bool) -> None:
        now = self._clock()
        again_at = None if is_final else next_try(delivery.attempts + 1, now=now)
        self._tell("delivery-failed", **about, error=error, is_final=again_at is None)
        self._note(
            delivery.id, lambda: self._journal.mark_failed(delivery.id, error, now=now, again_at=again_at)
        )

    def _note(self, number: int, note: Callable[[], object]) -> None:
        """Note how a try went; where the journal cannot take it, keep it until it can."""
        try:
            note()
        except DawnbrewError as fault:
            with self._lock:
                self._unnoted[number] = note
            self._tell("journal-failed", error=str(fault))

    def _note_again(self) -> None:
        with self._lock:
            unnoted = dict(self._unnoted)
        for number, note in unnoted.items():
            note()
            with self._lock:
                self._unnoted.pop(number, None)
