"""One click of one relay, so that a person can see which one it is and which level switches it on.

Theory of operation. A click is a thread of its own: it claims the line at the level taken for OFF, waits, drives
it on, waits, drives it off. Nobody's answer is waited for in it, and whoever asked for it may be interrupted, fail, or
be gone: the thread goes on to its end, sooner where it was told to hurry, and the process does not end before it. No
second click begins while one is under way. The stop key of a terminal (Ctrl-Z) would stop the thread too, so it has no
effect meanwhile.

Which level is OFF may not be known yet. Until a person has seen it, a click therefore ends with the line an input
again, pulled as it is from power-up on: the relay is then as it is while the Pi starts, whichever level switches it on.
Once it is known, the line stays an output at OFF until `close`, which drives it OFF once more and gives it back.

What this does not end: a process that is killed outright (SIGKILL) in the second of a click. On a Raspberry Pi's kernel
the relay then stays as it was until the next start; hence an indicator lamp instead of the heat lamp.
"""

import contextlib
import signal
import threading
from collections.abc import Iterator
from typing import Any, Final, Literal

from msgspec import Struct

from controller.errors import UnavailableError
from controller.hardware.pins import Coil, claim_anew, claim_output, give_back

Active = Literal["high", "low"]

PULLED_UP_BELOW: Final = 9
"""GPIO 0 to 8 are pulled up from power-up on, the others down (BCM2835 ARM Peripherals; from memory)."""
JOIN_S: Final = 5.0


class Pace(Struct, frozen=True):
    """Hold how long a click takes: OFF before it, on, OFF after it. Long enough to be seen; common sense, no source."""

    lead_s: float = 0.7
    on_s: float = 1.0
    tail_s: float = 0.7


class _Click(Struct):
    """Hold one click while it is under way."""

    pin: int
    active: Active
    known: bool
    done: threading.Event
    trouble: Exception | None = None


class Clicker:
    """Click relays, one at a time. `factory` is the gpiozero pin factory, always handed in."""

    def __init__(self, factory: Any, pace: Pace | None = None) -> None:  # noqa: ANN401 gpiozero is not typed
        """Claim nothing yet."""
        self._factory = factory
        self._pace = pace or Pace()
        self._off: dict[int, tuple[Coil, Active]] = {}  # Held at OFF: their level is known.
        self._one_at_a_time = threading.Lock()
        self._hurry = threading.Event()
        self._thread: threading.Thread | None = None

    def click(self, pin: int, active: Active, *, known: bool = False) -> None:
        """Have this output on once, for a moment, and return when it is off again.

        Args:
            pin: BCM number.
            active: the level that is taken to switch it on.
            known: that level was seen: the line stays an output at OFF; else it becomes an input again.

        Raises:
            UnavailableError: somebody else holds the line, or it could not be driven.
            SettingsError: there is no such GPIO.
        """
        click = _Click(pin, active, known, threading.Event())
        self._hurry.clear()
        # No daemon thread: the interpreter waits for it.
        self._thread = threading.Thread(target=self._do, args=(click,), name=f"click of GPIO {pin}", daemon=False)
        with _no_stop_key():
            try:
                self._thread.start()
                click.done.wait()
            except BaseException:
                self._hurry.set()
                raise
        if click.trouble is not None:
            raise click.trouble

    def hold_off(self, pin: int, active: Active) -> None:
        """Claim a line OFF, now that its level is known, and keep it so. Raises as `click`."""
        with self._one_at_a_time:
            self._claim(pin, active)

    def close(self) -> None:
        """End what is under way, and give every line back at OFF. Never raises."""
        self._hurry.set()
        if self._thread is not None and self._thread.ident is not None:
            self._thread.join(JOIN_S)
        while self._off:
            _, (coil, _) = self._off.popitem()
            with contextlib.suppress(Exception):  # It is OFF already; this only says it again.
                give_back(coil)

    def _do(self, click: _Click) -> None:
        with self._one_at_a_time:
            try:
                coil = self._claim(click.pin, click.active)
                try:
                    if not self._hurry.wait(self._pace.lead_s):
                        coil.on()
                        self._hurry.wait(self._pace.on_s)
                finally:
                    self._end(coil, click)
            except Exception as error:  # noqa: BLE001 whatever the library throws is told by who asked
                click.trouble = error
            finally:
                click.done.set()

    def _claim(self, pin: int, active: Active) -> Coil:
        held = self._off.get(pin)
        if held is not None and held[1] == active:
            return held[0]
        if held is not None:
            self._let_go(pin)
        coil = claim_output(pin, active, self._factory)
        self._off[pin] = coil, active
        return coil

    def _end(self, coil: Coil, click: _Click) -> None:
        """Drive it off, by the second way where the first one fails; let go of it where its level is not known."""
        try:
            coil.off()
        except Exception:  # noqa: BLE001 the second way may still do
            try:
                claim_anew(coil)
            except Exception as error:
                raise UnavailableError(
                    f"GPIO {click.pin} could not be driven off: {error}.\nPull the plug of the relay's supply now."
                ) from error
        if not click.known:
            self._hurry.wait(self._pace.tail_s)
            self._let_go(click.pin)

    def _let_go(self, pin: int) -> None:
        """Make the line an input again, with the pull it has from power-up on, and give it back."""
        coil: Any = self._off.pop(pin)[0]
        coil.pin.input_with_pull("up" if pin < PULLED_UP_BELOW else "down")
        coil.close()


@contextlib.contextmanager
def _no_stop_key() -> Iterator[None]:
    """Let the terminal's stop key have no effect for the block; a stopped process would leave the relay on."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTSTP, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGTSTP, before)
