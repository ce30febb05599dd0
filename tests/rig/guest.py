"""One running guest: start it, ask it for things, snapshot it, cut its power.

QEMU interprets every instruction (TCG): no KVM is needed, and the guest is about ten times slower than its host. The
guest's clocks run with the host's while it runs, and stand still in a snapshot.
"""

import contextlib
import itertools
import json
import queue
import shutil
import socket
import subprocess
import tempfile
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final, Self

MEMORY_MB: Final = 512  # As the smallest Raspberry Pi that the README names.
BOOT_S: Final = 120.0


class GuestError(Exception):
    """Say that the guest, or a command in it, did not do what was asked."""


class Guest:
    """Run a guest on `disk` (qcow2, written to), with `kernel` (a folder with vmlinuz and initrd.img) and `share`."""

    def __init__(
        self, disk: Path, kernel: Path, *, share: Path | None = None, words: str = "", from_snapshot: str = ""
    ) -> None:
        """Start QEMU; `words` go to the kernel's command line, `from_snapshot` names where it begins instead."""
        self.disk, self._kernel, self.share = disk, kernel, share
        self._folder = Path(tempfile.mkdtemp(prefix="rig-"))
        self.serial, self.said = self._folder / "serial.txt", self._folder / "said.txt"
        self._ids = itertools.count(1)
        self._waiting: dict[int, queue.Queue[dict[str, Any]]] = {}
        self._boot_id = ""
        self._start(words, from_snapshot)

    def _start(self, words: str, from_snapshot: str) -> None:
        sockets = {name: self._folder / name for name in ("agent", "qmp")}
        for path in sockets.values():
            path.unlink(missing_ok=True)
        command = ["qemu-system-x86_64", "-accel", "tcg,thread=multi", "-cpu", "max", "-smp", "2", "-M", "q35"]
        command += ["-m", str(MEMORY_MB), "-display", "none", "-nodefaults", "-no-reboot", "-nic", "none"]
        command += ["-rtc", "base=utc,clock=vm", "-global", "ICH9-LPC.noreboot=false"]
        command += ["-kernel", f"{self._kernel}/vmlinuz", "-initrd", f"{self._kernel}/initrd.img"]
        command += ["-append", f"root=/dev/vda rw console=ttyS0 quiet panic=0 {words}"]
        command += ["-drive", f"file={self.disk},if=virtio,format=qcow2"]
        if self.share:
            command += ["-drive", f"file={self.share},if=virtio,format=raw,readonly=on"]
        command += ["-serial", f"file:{self.serial}", "-device", "virtio-serial-pci", "-device", "virtio-rng-pci"]
        command += ["-chardev", f"socket,id=rig,path={sockets['agent']},server=on,wait=off"]
        command += ["-device", "virtserialport,chardev=rig,name=rig"]
        command += ["-qmp", f"unix:{sockets['qmp']},server=on,wait=off"]
        if from_snapshot:
            command += ["-loadvm", from_snapshot]
        with self.said.open("w") as said:
            self._qemu = subprocess.Popen(command, stdin=subprocess.DEVNULL, stderr=said)
        self._agent = self._connect(sockets["agent"])
        with self._connect(sockets["qmp"]) as qmp:  # The file keeps it open.
            self._qmp = qmp.makefile("rw", encoding="utf-8")
        self._qmp.readline()
        self._ask_qemu("qmp_capabilities")
        threading.Thread(target=self._listen, args=(self._agent,), daemon=True).start()

    def _connect(self, path: Path) -> socket.socket:
        until_s = time.monotonic() + 20.0
        while True:
            connection = socket.socket(socket.AF_UNIX)
            try:
                connection.connect(str(path))
            except OSError:
                connection.close()
                if self._qemu.poll() is not None:
                    raise GuestError(f"QEMU ended at once: {self.said.read_text()}") from None
                if time.monotonic() > until_s:
                    raise
                time.sleep(0.05)
            else:
                return connection

    def _listen(self, agent: socket.socket) -> None:
        left = b""
        while True:
            try:
                got = agent.recv(65536)
            except OSError:
                return
            if not got:
                return
            *lines, left = (left + got).split(b"\n")
            for line in lines:
                try:
                    said = json.loads(line)
                except ValueError:
                    continue  # The rest of a line whose beginning went with a boot or a snapshot.
                waiting = self._waiting.pop(said.get("id"), None)
                if waiting is not None:
                    waiting.put(said)

    # What can be asked of the guest.

    def ask(self, *, timeout_s: float, **request: object) -> dict[str, Any]:
        """Ask the agent and return its answer. Raises GuestError where none comes, or where it tells of an error."""
        number = next(self._ids)
        answer: queue.Queue[dict[str, Any]] = queue.Queue()
        self._waiting[number] = answer
        try:
            self._agent.sendall(json.dumps({"id": number, **request}).encode() + b"\n")
        except OSError as error:
            raise GuestError(f"no guest to ask: {error}") from None
        try:
            said = answer.get(timeout=timeout_s)
        except queue.Empty:
            self._waiting.pop(number, None)
            raise GuestError(f"no answer in {timeout_s:.0f} s to {request}\n{self.last_words()}") from None
        if "error" in said:
            raise GuestError(f"{request}: {said['error']}")
        return said

    def try_(self, command: str, *, user: str = "", timeout_s: float = 120.0) -> tuple[int, str]:
        """Run a command in the guest, as root or as another; return its exit code and all that it printed."""
        if user:
            command = f"exec su - {user} -c {quoted(command)}"
        said = self.ask(sh=command, within_s=timeout_s, timeout_s=timeout_s + 30.0)
        return int(said["code"]), str(said["out"])

    def sh(self, command: str, *, user: str = "", timeout_s: float = 120.0) -> str:
        """Run a command in the guest and return what it printed. Raises GuestError where it fails."""
        code, out = self.try_(command, user=user, timeout_s=timeout_s)
        if code:
            raise GuestError(f"{command}: exit {code}\n{out}")
        return out

    def do(self, *steps: Sequence[Any], timeout_s: float = 30.0) -> list[Any]:
        """Do small steps one right after the other (see the agent) and return what each gave."""
        return list(self.ask(do=steps, timeout_s=timeout_s)["did"])

    def now_s(self) -> float:
        """Return the guest's monotonic clock, which is the clock of its trace."""
        return float(self.do(["monotonic"])[0])

    # Its life.

    def wait_up(self, *, timeout_s: float = BOOT_S) -> Self:
        """Wait until the agent of another boot than the one known last answers."""
        until_s = time.monotonic() + timeout_s
        while time.monotonic() < until_s:
            try:
                boot_id = str(self.ask(timeout_s=2.0)["boot_id"])
            except GuestError:
                continue
            if boot_id != self._boot_id:
                self._boot_id = boot_id
                return self
            time.sleep(0.2)
        raise GuestError(f"not up after {timeout_s:.0f} s\n{self.last_words()}")

    def reboot(self, command: str = "systemctl reboot", *, words: str = "", timeout_s: float = BOOT_S) -> Self:
        """Boot the machine anew by a command in it, and wait until it is back.

        The machine's reset ends QEMU, and another QEMU begins on the same disk: a boot after a reset within one takes
        several times as long.
        """
        self.try_later(command)
        self.wait_reset(timeout_s)
        return self.power_on(words)

    def wait_reset(self, timeout_s: float) -> None:
        """Wait until the machine is reset, by whatever. Raises GuestError where it is not."""
        try:
            self._qemu.wait(timeout=timeout_s)
        except subprocess.TimeoutExpired:
            raise GuestError(f"no reset in {timeout_s:.0f} s\n{self.last_words()}") from None
        self._gone()

    def try_later(self, command: str) -> None:
        """Run a command whose end nobody will hear of."""
        self._agent.sendall(json.dumps({"id": next(self._ids), "sh": command}).encode() + b"\n")

    def cut_power(self) -> None:
        """End QEMU at once (SIGKILL): what the guest had not flushed to its disk is gone."""
        self._qemu.kill()
        self._gone()

    def _gone(self) -> None:
        """Let go of a QEMU that has ended or is about to."""
        self._qemu.wait()
        self._agent.close()
        with contextlib.suppress(OSError):  # What was not sent any more.
            self._qmp.close()

    def power_on(self, words: str = "") -> Self:
        """Boot after a power cut or a reset, with other words for the kernel if wished."""
        self._boot_id = ""
        self._start(words, "")
        return self.wait_up()

    def power_off(self) -> None:
        """Shut the guest down in order."""
        self.try_later("systemctl poweroff")
        try:
            self._qemu.wait(timeout=60.0)
        except subprocess.TimeoutExpired:
            raise GuestError(f"does not power off\n{self.last_words()}") from None
        finally:
            self.close()

    def save(self, name: str) -> None:
        """Keep the whole machine as it is now under this name, in its disk."""
        self._monitor(f"savevm {name}")

    def back_to(self, name: str) -> None:
        """Put the whole machine back to what it was when it was saved."""
        self._waiting.clear()
        self._monitor(f"loadvm {name}")

    def wait_answer(self, timeout_s: float = 30.0) -> None:
        """Wait until the agent answers again."""
        until_s = time.monotonic() + timeout_s
        while True:
            try:
                self.ask(timeout_s=2.0)
            except GuestError:
                if time.monotonic() > until_s:
                    raise
            else:
                return

    def last_words(self) -> str:
        """Return the end of what the guest printed on its serial line."""
        return "\n".join(self.serial.read_text(encoding="utf-8", errors="replace").splitlines()[-15:])

    def close(self) -> None:
        """End QEMU and forget its folder."""
        if self._qemu.poll() is None:
            self._qemu.kill()
        self._gone()
        shutil.rmtree(self._folder, ignore_errors=True)

    def __enter__(self) -> Self:
        """Run for the block."""
        return self

    def __exit__(self, *_: object) -> None:
        """End with it."""
        self.close()

    def _monitor(self, line: str) -> None:
        said = self._ask_qemu("human-monitor-command", {"command-line": line})
        if said:
            raise GuestError(f"{line}: {said}")

    def _ask_qemu(self, command: str, arguments: dict[str, str] | None = None) -> object:
        self._qmp.write(json.dumps({"execute": command, "arguments": arguments or {}}) + "\n")
        self._qmp.flush()
        while True:
            said = json.loads(self._qmp.readline())
            if "return" in said:
                return said["return"]
            if "error" in said:
                raise GuestError(f"{command}: {said['error']}")


def quoted(text: str) -> str:
    """Return the text as one word of a shell."""
    return "'" + text.replace("'", "'\\''") + "'"
