"""Row keys: UUIDs of version 7 (RFC 9562, 5.7); their order in time keeps the index of a large import compact."""

import os
from datetime import datetime

_LOW_BITS = 0xFFFF_FFFF_FFFF


class KeyMaker:
    """Makes keys for one act: time and 26 random bits are fixed, the last 48 bits count up from a random start."""

    def __init__(self, now: datetime) -> None:
        milliseconds = int(now.timestamp() * 1000)
        noise = int.from_bytes(os.urandom(10), "big")
        stamp = f"{milliseconds:012x}"
        variant = 0x8000 | (noise >> 12 & 0x3FFF)
        self._prefix = f"{stamp[:8]}-{stamp[8:]}-7{noise & 0xFFF:03x}-{variant:04x}-"
        self._next = noise >> 32 & (_LOW_BITS >> 1)

    def one(self) -> str:
        """A new key."""
        return self.many(1)[0]

    def many(self, count: int) -> list[str]:
        """``count`` new keys in ascending order."""
        first, prefix = self._next, self._prefix
        self._next += count
        return [f"{prefix}{number:012x}" for number in range(first, first + count)]
