"""Runs in the guest, as root: does what the host asks for over a virtio-serial port, a line of JSON each way.

`{"id": 1, "sh": "…", "within_s": 60}` runs a command; `{"id": 2, "do": [["mark", "…"], ["write", path, text], …]}`
does small steps one after the other without a process in between, so that the stamp of a cause and the cause itself lie
next to each other. Each request has a thread of its own: a command that hangs keeps nobody else waiting.
"""

import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

PORT = "/dev/virtio-ports/rig"
TRACING = Path("/sys/kernel/tracing")


def mark(text: str) -> None:
    """Write a line into the kernel's trace, with the kernel's own stamp."""
    (TRACING / "trace_marker").write_text(text, encoding="utf-8")


def step(words: list[Any]) -> Any:  # noqa: ANN401 each step gives what it gives
    """Do one step and return what it gives."""
    verb, *given = words
    if verb == "mark":
        return mark(given[0])
    if verb == "write":
        descriptor = os.open(given[0], os.O_WRONLY)
        try:
            return os.write(descriptor, str(given[1]).encode())
        finally:
            os.close(descriptor)
    if verb == "read":
        return Path(given[0]).read_text(encoding="utf-8", errors="replace")
    if verb == "kill":
        return os.kill(int(given[0]), int(given[1]))
    if verb == "set_clock":
        return time.clock_settime(time.CLOCK_REALTIME, time.time() + float(given[0]))
    if verb == "monotonic":
        return time.monotonic()
    raise ValueError(f"{verb}: no such step")


def shell(command: str, timeout_s: float) -> dict[str, Any]:
    """Run a command by bash; return its exit code and all that it printed."""
    try:
        done = subprocess.run(
            ["/bin/bash", "-c", command],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            timeout=timeout_s,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        return {"code": -1, "out": (error.stdout or b"").decode(errors="replace") + f"\n[not over after {timeout_s} s]"}
    return {"code": done.returncode, "out": done.stdout.decode(errors="replace")}


def answer(request: dict[str, Any]) -> dict[str, Any]:
    """Do what a request asks for."""
    try:
        if "sh" in request:
            return shell(request["sh"], request.get("within_s", 60.0))
        if "do" in request:
            return {"did": [step(words) for words in request["do"]]}
        return {"boot_id": Path("/proc/sys/kernel/random/boot_id").read_text().strip(), "up_s": time.monotonic()}
    except Exception as error:  # noqa: BLE001 the host wants to know, whatever it was
        return {"error": f"{type(error).__name__}: {error}"}


def main() -> None:
    """Serve until the machine ends."""
    lock = threading.Lock()
    port = os.open(PORT, os.O_RDWR)

    def serve(request: dict[str, Any]) -> None:
        line = json.dumps({"id": request.get("id"), **answer(request)}).encode() + b"\n"
        with lock:
            while line:
                line = line[os.write(port, line) :]

    left = b""
    while True:
        got = os.read(port, 65536)
        if not got:  # Nobody holds the other end just now.
            time.sleep(0.05)
            continue
        *lines, left = (left + got).split(b"\n")
        for line in lines:
            try:
                request = json.loads(line)
            except ValueError:
                sys.stderr.write(f"not understood: {line[:80]!r}\n")
                continue
            threading.Thread(target=serve, args=(request,), daemon=True).start()


if __name__ == "__main__":
    main()
