"""A small store of arrays worked out before, the longest unused given up first."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, Protocol, TypeVar


class Sized(Protocol):
    """What says how many bytes it takes."""

    @property
    def nbytes(self) -> int:
        """Bytes taken."""


Kept = TypeVar("Kept", bound=Sized)


class KeptArrays(Generic[Kept]):
    """Keep what was worked out, up to so many bytes together; safe to use from several threads.

    Examples
    --------
    >>> import numpy as np
    >>> kept: KeptArrays[np.ndarray] = KeptArrays(most_bytes=1000)
    >>> kept.get("a", lambda: np.zeros(10)) is kept.get("a", lambda: np.ones(10))
    True
    """

    def __init__(self, most_bytes: int) -> None:
        self._most = most_bytes
        self._bytes = 0
        self._kept: OrderedDict[Hashable, Kept] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable, work_out: Callable[[], Kept]) -> Kept:
        """Return what is kept under ``key``; what is not is worked out, and kept if it fits."""
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
                return found
        made = work_out()
        with self._lock:
            if key not in self._kept and made.nbytes <= self._most:
                self._kept[key] = made
                self._bytes += made.nbytes
            while self._bytes > self._most:
                _, dropped = self._kept.popitem(last=False)
                self._bytes -= dropped.nbytes
        return made

    def forget(self) -> None:
        """Drop everything kept."""
        with self._lock:
            self._kept.clear()
            self._bytes = 0
