import socket

import pytest

from tests.ui.running import run_ui


@pytest.fixture
def taken_port():
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        yield listener.getsockname()[1]


def test_a_port_in_use_is_said_in_one_sentence(taken_port):
    ran = run_ui("serve", "--port", taken_port)

    assert ran.code == 3
    assert f"Port {taken_port} is in use" in ran.stderr
    assert len(ran.stderr.splitlines()) == 1
