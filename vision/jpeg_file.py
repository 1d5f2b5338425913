"""Is a JPEG file all there? Decoders fill what is missing with grey and say nothing."""

from __future__ import annotations

import io
import re

import numpy as np
from numpy.typing import NDArray
from PIL import Image

_MARKER = re.compile(rb"\xff[\x01-\xcf\xd8-\xfe]")
"""A marker other than those that may stand inside compressed data (ITU-T T.81, B.1.1)."""
_END, _SCAN = 0xD9, 0xDA
_AT_ONCE = 1 << 18
_STAND_ALONE = frozenset({0x01, 0xD8})
_CORNER_PX = 8
_STUFFING = bytes((37 * k + 11) % 251 for k in range(64))
"""Without 0xFF, so that it is data wherever it is read as such."""


def is_cut_short(data: bytes) -> bool:
    """Tell whether a JPEG file stops before the end of its first picture (ITU-T T.81, annex B).

    Pictures inside the header, such as the camera's small preview, do not count; what follows
    the end, such as padding or a second picture, does not matter.
    """
    return _end_of_picture(data) is None


def ends_early(data: bytes, rgb: NDArray[np.uint8]) -> bool:
    """Tell whether the compressed data stop before the picture is full, though the end is marked.

    Where data lack, decoders repeat the last tone to the very corner. A flat corner may be wood or
    board as well; so more data are put before the end marker: a picture that was full ignores
    them, one that was not changes.

    Parameters
    ----------
    data : bytes
        The file, not cut short.
    rgb : ndarray of uint8
        As decoded, not yet turned.
    """
    corner = rgb[-_CORNER_PX:, -_CORNER_PX:].reshape(-1, 3)
    if (corner != corner[0]).any():
        return False
    end = _end_of_picture(data)
    if end is None:
        return True
    try:
        return _eighth(data) != _eighth(data[:end] + _STUFFING + data[end:])
    except OSError:
        return True


def _eighth(data: bytes) -> bytes:
    """Return the picture at an eighth of its size, where decoding is soonest."""
    picture = Image.open(io.BytesIO(data), formats=["JPEG"])
    picture.draft("RGB", (picture.width // 8, picture.height // 8))
    return picture.tobytes()


def _end_of_picture(data: bytes) -> int | None:
    """Return where the end marker of the first picture stands, or None."""
    at = 2
    while (found := _MARKER.search(data, at)) is not None:
        at = found.start()
        code = data[at + 1]
        if code == _END:
            return at
        at += 2
        if code not in _STAND_ALONE:
            at += int.from_bytes(data[at : at + 2], "big")
        if code == _SCAN:
            at = _next_marker(data, at)
    return None


def _next_marker(data: bytes, at: int) -> int:
    """Return where compressed data end, or the file; sooner than by searching for it."""
    while at < len(data):
        part = np.frombuffer(data, np.uint8, min(_AT_ONCE, len(data) - at), at)
        may_be = part[:-1] == 0xFF
        may_be &= part[1:] > 0
        marks = np.flatnonzero(may_be) if may_be.any() else np.zeros(0, np.intp)
        follows = part[marks + 1]
        marks = marks[(follows < 0xFF) & ((follows < 0xD0) | (follows > 0xD7))]
        if len(marks):
            return at + int(marks[0])
        at += max(1, len(part) - 1)
    return at
