"""Word to systemd: ready, alive, stopping (sd_notify(3)). Without systemd nobody is told."""

import contextlib
import os
import socket


class SystemdSupervisor:
    """Tell systemd over the socket in $NOTIFY_SOCKET. `alive` pets its watchdog: only after a whole tick."""

    def __init__(self, address: str) -> None:
        """Open the socket; "@name" is an abstract one."""
        self._address = "\0" + address[1:] if address.startswith("@") else address
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC)
        self._socket.setblocking(False)

    def _say(self, word: str) -> None:
        # If systemd does not hear that all is well it restarts the daemon: the error is on the right side.
        with contextlib.suppress(OSError):
            self._socket.sendto(word.encode(), self._address)

    def ready(self) -> None:
        """Say that the first tick is done."""
        self._say("READY=1")

    def alive(self, status: str) -> None:
        """Say that a whole tick is done, with a line for `systemctl status`."""
        self._say("WATCHDOG=1\nSTATUS=" + status.replace("\n", " "))

    def stopping(self) -> None:
        """Say that the daemon ends on purpose."""
        self._say("STOPPING=1")

    def close(self) -> None:
        """Close the socket."""
        self._socket.close()


class NoSupervisor:
    """Stand in where nobody supervises: `hangroom run` typed at a prompt."""

    def ready(self) -> None:
        """Tell nobody."""

    def alive(self, status: str) -> None:
        """Tell nobody."""

    def stopping(self) -> None:
        """Tell nobody."""

    def close(self) -> None:
        """Close nothing."""


def find_supervisor() -> SystemdSupervisor | NoSupervisor:
    """Return the supervisor that started this process, as $NOTIFY_SOCKET says."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    return SystemdSupervisor(address) if address else NoSupervisor()
