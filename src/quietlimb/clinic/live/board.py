"""What a capture has told since its present inflation began, for any number of screens to follow.

One thread tells, any number of pages ask again and again from where they are. What belongs to an inflation that is over
is forgotten when the next one begins, so that an hour's capture holds no more than its first minute.
"""

from __future__ import annotations

import json
import threading
from dataclasses import dataclass, field

MOST_TOLD = 12_000  # five minutes of an inflation that nobody ends, with a margin [invented]


@dataclass(slots=True)
class Board:
    """News in the order told. `ended` is True once nothing will come any more."""

    ended: bool = False
    _first: int = 0
    _told: list[str] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def tell(self, kind: str, **what: object) -> None:
        """Add a piece of news."""
        text = json.dumps({"kind": kind, **what}, allow_nan=False, separators=(",", ":"))
        with self._lock:
            self._told.append(text)
            if len(self._told) > MOST_TOLD:
                self._forget(len(self._told) - MOST_TOLD)

    def begin(self) -> None:
        """The next inflation begins: forget the one before."""
        with self._lock:
            self._forget(len(self._told))

    def end(self) -> None:
        """Nothing comes any more."""
        self.ended = True

    def after(self, place: int) -> tuple[list[str], int]:
        """The news from this place on, or from the first that is still known, and the place after them."""
        with self._lock:
            known = max(place, self._first)
            return self._told[known - self._first :], self._first + len(self._told)

    def __len__(self) -> int:
        return len(self._told)

    def _forget(self, count: int) -> None:
        del self._told[:count]
        self._first += count
