"""Word to systemd, over a real socket."""

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.hardware.supervisor import NoSupervisor, SystemdSupervisor, find_supervisor


@pytest.fixture
def listener() -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.settimeout(2.0)
        yield listener


def tell_a_whole_run(supervisor: SystemdSupervisor | NoSupervisor) -> None:
    supervisor.ready()
    supervisor.alive("ferment 23.9 °C\nlamp on 28 % of the time")
    supervisor.stopping()
    supervisor.close()


def assert_heard(listener: socket.socket) -> None:
    assert [listener.recv(1000).decode() for _ in range(3)] == [
        "READY=1",
        "WATCHDOG=1\nSTATUS=ferment 23.9 °C lamp on 28 % of the time",  # A line break would begin another field.
        "STOPPING=1",
    ]


def test_systemd_hears_ready_alive_and_stopping(
    listener: socket.socket,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    listener.bind(str(tmp_path / "notify"))
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
    tell_a_whole_run(find_supervisor())
    assert_heard(listener)


def test_an_address_with_an_at_sign_is_an_abstract_one(listener: socket.socket, tmp_path: Path) -> None:
    listener.bind(f"\0{tmp_path}")
    tell_a_whole_run(SystemdSupervisor(f"@{tmp_path}"))
    assert_heard(listener)


def test_a_supervisor_that_is_gone_stops_nothing(tmp_path: Path) -> None:
    tell_a_whole_run(SystemdSupervisor(str(tmp_path / "nobody")))


def test_at_a_prompt_there_is_no_supervisor(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    supervisor = find_supervisor()
    assert isinstance(supervisor, NoSupervisor)
    tell_a_whole_run(supervisor)
