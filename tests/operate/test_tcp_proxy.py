"""The spoilt network of the tests: a drill that believes in a partition which is none proves nothing."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from hosts.running_hosts import wait_until
from hosts.tcp_proxy import TcpProxy


@pytest.fixture
def echo() -> Iterator[tuple[socket.socket, socket.socket, TcpProxy]]:
    """A client and the server it speaks to, with a network between them."""
    with socket.create_server(("127.0.0.1", 0)) as door, TcpProxy(door.getsockname()) as net:
        near = socket.create_connection((net.host, net.port))
        far, _ = door.accept()
        yield near, far, net
        near.close()
        far.close()


def test_a_sound_network_carries_both_ways(echo: tuple[socket.socket, socket.socket, TcpProxy]) -> None:
    """Otherwise every drill would pass for the wrong reason."""
    near, far, net = echo
    near.sendall(b"question")
    assert far.recv(99) == b"question"
    net.delay(0.01)
    far.sendall(b"answer")
    assert near.recv(99) == b"answer"


def test_in_a_black_hole_nothing_arrives_until_it_is_healed(
    echo: tuple[socket.socket, socket.socket, TcpProxy],
) -> None:
    """A partition neither refuses nor answers: whoever waits must have a deadline of his own."""
    near, far, net = echo
    net.black_hole()
    near.sendall(b"question")
    far.settimeout(0.1)
    with pytest.raises(TimeoutError):
        far.recv(99)
    late = socket.create_connection((net.host, net.port))
    late.settimeout(0.1)
    with pytest.raises(TimeoutError):
        late.recv(1)
    net.forward()
    far.settimeout(None)
    assert far.recv(99) == b"question"
    late.close()


def test_a_cut_network_resets_and_refuses(echo: tuple[socket.socket, socket.socket, TcpProxy]) -> None:
    """A server that was killed answers with a reset, at once."""
    near, far, net = echo
    net.cut()
    for end in (near, far):
        with pytest.raises(ConnectionError):
            end.recv(1)
    with socket.create_connection((net.host, net.port)) as again, pytest.raises(ConnectionError):
        again.recv(1)
    net.forward()


def test_a_connection_that_both_sides_have_ended_leaves_nothing_open() -> None:
    """A thousand faults would use up the files of the process that holds cosigner and clients, and look like
    a fault of the log.
    """

    def files() -> int:
        return len(list(Path("/proc/self/fd").iterdir()))

    before = files()
    with socket.create_server(("127.0.0.1", 0)) as door, TcpProxy(door.getsockname()) as other:
        for _ in range(5):
            with socket.create_connection((other.host, other.port)) as one, door.accept()[0] as two:
                one.sendall(b"question")
                assert two.recv(99) == b"question"
        # What other tests left behind may be closed meanwhile.
        wait_until(lambda: files() <= before + 2, "only two doors are open")
