"""Ports on the loopback address."""

from __future__ import annotations

import socket

ADDRESS = "127.0.0.1"
PORTS_TRIED = 50


def is_free(port: int) -> bool:
    """Tell whether a server could listen on ``port`` now."""
    with socket.socket() as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((ADDRESS, port))
        except OSError:
            return False
    return True


def first_free(port: int) -> int:
    """Return ``port``, or the first free one of the next fifty; ``port`` itself if none is."""
    candidates = range(port, min(port + PORTS_TRIED, 65536))
    return next((candidate for candidate in candidates if is_free(candidate)), port)
