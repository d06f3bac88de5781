"""Holds back whoever asks too often."""

from collections import OrderedDict
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address
from threading import Lock

REQUESTS_A_MINUTE = 240
"""A phone that opens every page of a farm needs a tenth; our choice."""

WRONG_A_MINUTE = 30
"""Wrong links of one address in a minute; nobody mistypes so fast; our choice."""

REMEMBERED = 4096
"""So many addresses are remembered, those that asked last."""

LONGEST = 64
"""Characters of what a proxy calls an address; a real one has 45 at the most."""


@dataclass(frozen=True)
class Limits:
    """How often one address may do something in a minute."""

    requests: float = REQUESTS_A_MINUTE
    wrong: float = WRONG_A_MINUTE


class Buckets:
    """What each address may still do: full at first, filled again within a minute.

    Args:
        a_minute: How much fits into one, and how much runs into it in a minute.
    """

    def __init__(self, a_minute: float) -> None:
        self._most = a_minute
        self._a_second = a_minute / 60
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = Lock()

    def take(self, client: str, now_s: float) -> float:
        """Take one; return 0, or the seconds to wait where there was none."""
        with self._lock:
            left, at_s = self._left.pop(client, (self._most, now_s))
            left = min(self._most, left + max(0.0, now_s - at_s) * self._a_second)
            waits_s = 0.0 if left >= 1 else (1 - left) / self._a_second
            self._left[client] = (left if waits_s else left - 1, now_s)
            if len(self._left) > REMEMBERED:
                self._left.popitem(last=False)
            return waits_s


def whose(address: str) -> str:
    """Return what stands for one client: its address, of an IPv6 one the network of 64 bits."""
    if ":" not in address:
        return address[:LONGEST]
    try:
        found = ip_address(address.partition("%")[0])
    except ValueError:
        return address[:LONGEST]
    if not isinstance(found, IPv6Address):
        return address
    return str(found.ipv4_mapped) if found.ipv4_mapped else found.packed[:8].hex()
