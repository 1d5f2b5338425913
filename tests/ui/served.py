"""The screens served on a port of their own, as ``serve`` does it."""

import os
import socket
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import pytest

from tests.ui.running import ROOT


@contextmanager
def screens_served(environment: Mapping[str, str]) -> Iterator[str]:
    """Serve the screens in a process of its own and yield their address."""
    port = free_port()
    server = subprocess.Popen(
        [sys.executable, "-m", "ui", "serve", "--port", str(port)],
        cwd=ROOT,
        env={**os.environ, **environment, "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    assert server.stdout is not None
    said = ""
    for line in server.stdout:
        said += line
        if "URL:" in line:
            break
    else:
        pytest.fail(f"The server ended: {said}")
    yield f"http://127.0.0.1:{port}"
    server.terminate()
    server.wait(timeout=20)
    server.stdout.close()


def free_port() -> int:
    """Return a port on the loopback address that nobody listens on now."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])
