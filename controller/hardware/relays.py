"""The relays: each output is on until an instant, and a timer of its own ends it, whatever becomes of the daemon.

Theory of operation. `apply` is told for every output until when it is on, on the monotonic clock, at most
`lease_s` ahead. It switches off what is to be off, then on what is to be on, and notes the instants. One thread does
nothing but wait for the earliest instant and switch off what is due; to renew an output is to move its instant. So a
control loop that hangs, for whatever reason, leaves the lamp burning for one lease and no longer. What this does *not*
end: a stopped process or an interpreter that hangs as a whole. For those stand the service watchdog, the safe-off after
every stop, and the thermal cut-out.

A note with every pin and its OFF level is in the run directory before the first line is claimed, so that
`hangroom-relays-off` works after any end. All outputs are claimed OFF before anything else happens, and are OFF after
`close`, which also runs at every exit of the interpreter.
"""

import atexit
import contextlib
import json
import os
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final

from controller.core.values import Commands, Role
from controller.errors import StorageError, UnavailableError
from controller.hardware.pins import Coil, claim_anew, claim_output
from controller.relays_off import NOTE
from controller.settings.chamber_tables import OutputEntry

RETRY_S: Final = 0.5
"""A line that would not go off is tried again after this long. Common practice, no source."""


class TimedRelays:
    """Drive the outputs of a chamber file; see the head of this module.

    `factory` is the gpiozero pin factory, always handed in; `lease_s` the longest time an output may be on without
    being renewed (a later instant is cut to it). Raises UnavailableError or SettingsError for a pin that is not to be
    had, StorageError where the note cannot be written; no output is on then.
    """

    def __init__(
        self,
        outputs: Sequence[OutputEntry],
        factory: Any,  # noqa: ANN401 gpiozero is not typed
        *,
        chip_label: str,
        run_dir: Path,
        lease_s: float,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        """Write the note, claim every output OFF, start the timer."""
        self._lease_s = lease_s
        self._now = now
        self._ends_s: dict[Role, float] = {}  # Of the outputs that are on.
        self._wake = threading.Condition()  # Its lock guards the coils too: one writer at a time.
        self._closed = False
        self._trouble: Exception | None = None
        leave_note(outputs, chip_label, run_dir)
        self._coils: dict[Role, Coil] = {
            output.role: claim_output(output.pin, output.active, factory) for output in outputs
        }
        atexit.register(self.close)
        self._timer = threading.Thread(target=self._wait_and_end, name="relay timer", daemon=True)
        self._timer.start()

    def apply(self, commands: Commands) -> None:
        """Take over all outputs in one call: first off, then on. What is not named or past is off at once.

        Raises UnavailableError where a line cannot be driven, or where the timer no longer runs; every output that
        can be driven is off then.
        """
        with self._wake:
            now_s = self._now()
            wanted: dict[Role, float] = {
                role: min(until_s, now_s + self._lease_s)
                for role, until_s in commands.on_until_s.items()
                if role in self._coils and until_s > now_s and not self._closed
            }
            try:
                self._raise_trouble()
                self._switch_off([role for role in self._coils if role not in wanted])
                self._raise_trouble()
                for role, until_s in wanted.items():
                    self._ends_s[role] = until_s  # Before it is on, so that nothing can be on without an end.
                    self._coils[role].on()
            except Exception as error:
                self._switch_off(list(self._coils))
                raise UnavailableError(f"the relays cannot be driven: {error}") from error
            finally:
                self._wake.notify()

    def all_off(self) -> None:
        """Drive every output off now. Raises UnavailableError where one cannot be driven, after trying them all."""
        self.apply(Commands())

    def disobedient(self) -> tuple[Role, ...]:
        """Return the outputs whose pin, read back, is not at the level that was set last; claim them anew, OFF.

        A line that cannot be claimed anew is told by the next `apply`. What is read is the line's own level: a relay
        that is stuck behind it is not seen here.
        """
        with self._wake:
            if self._closed:
                return ()
            found = tuple(role for role, coil in self._coils.items() if not self._obeys(role, coil))
            for role in found:
                self._ends_s.pop(role, None)
                try:
                    claim_anew(self._coils[role])
                except Exception as error:  # noqa: BLE001 as in _switch_off
                    self._trouble = error
            return found

    def _obeys(self, role: Role, coil: Coil) -> bool:
        try:
            return coil.is_active == (role in self._ends_s)
        except Exception as error:  # noqa: BLE001 as in _switch_off
            self._trouble = error
            return False

    def end_due(self, now_s: float) -> float | None:
        """Switch off what is due at this instant; return the next instant at which something is, or None."""
        with self._wake:
            self._switch_off([role for role, end_s in self._ends_s.items() if end_s <= now_s], retry_s=now_s + RETRY_S)
            return min(self._ends_s.values(), default=None)

    def close(self) -> None:
        """Drive every output off for good; the lines stay claimed as outputs until the process ends. Never raises."""
        with self._wake:
            self._closed = True
            self._switch_off(list(self._coils))
            self._wake.notify()
        atexit.unregister(self.close)
        self._timer.join(timeout=1.0)

    def _switch_off(self, roles: list[Role], retry_s: float | None = None) -> None:
        """Switch these off, each for itself: one that fails keeps its end, moved to `retry_s`, and is remembered."""
        for role in roles:
            try:
                self._coils[role].off()
            except Exception as error:  # noqa: BLE001 whatever the library throws must not keep the next one on
                self._trouble = error
                self._ends_s[role] = self._now() if retry_s is None else retry_s
            else:
                self._ends_s.pop(role, None)

    def _raise_trouble(self) -> None:
        """Raise what went wrong since the last time, in this thread or in the timer's."""
        trouble, self._trouble = self._trouble, None
        if trouble is not None:
            raise trouble
        if not self._closed and not self._timer.is_alive():
            raise RuntimeError("the timer that ends them has died")

    def _wait_and_end(self) -> None:
        """Wait for the earliest instant and end what is due, until closed."""
        with self._wake:
            while not self._closed:
                due_s = self.end_due(self._now())
                self._wake.wait(None if due_s is None else max(0.0, due_s - self._now()))


def leave_note(outputs: Sequence[OutputEntry], chip_label: str, run_dir: Path) -> None:
    """Write which pins there are and which level is off, for `hangroom-relays-off`; whole or not at all.

    And which run of the service it is, by systemd's own name for it.

    Raises StorageError where the run directory cannot be written: without the note nothing may be switched on.
    """
    lines = [{"role": output.role, "pin": output.pin, "off": int(output.active == "low")} for output in outputs]
    aside = run_dir / f"{NOTE}.new"
    try:
        with aside.open("w", encoding="utf-8") as file:
            json.dump({"chip": chip_label, "lines": lines, "run": os.environ.get("INVOCATION_ID", "")}, file)
            file.flush()
            os.fsync(file.fileno())
        aside.replace(run_dir / NOTE)
    except OSError as error:
        with contextlib.suppress(OSError):
            aside.unlink()
        raise StorageError(
            f"{run_dir / NOTE}: cannot be written ({error.strerror}); without it no relay could be driven off"
            " after a crash, so nothing was switched.\n"
            "The directory must belong to the daemon's user; the systemd unit makes it (RuntimeDirectory=).",
        ) from error
