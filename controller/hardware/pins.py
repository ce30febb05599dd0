"""The pins of the header: gpiozero in front, the kernel's GPIO character device behind, and our own small part between.

Why our own part. The pin factory that gpiozero takes by itself first makes a line an output at level LOW and only
then sets the wanted level: an active-low relay is pulsed on while it is being claimed. Here a line becomes an output
*at its OFF level in one request to the kernel*, which sets the level before the direction. The chip is found by its
label, never by its number. No board is detected (that reads /proc/cpuinfo, which a locked-down unit does not see):
every Raspberry Pi since the B+ has the same GPIO 0 to 27 on its 40-pin header, so the table of any of them will do.

How it ends. gpiozero's own way to close a pin turns it into an input without a pull, and then whatever hangs on the
wire decides. Here closing an output drives it OFF and keeps it claimed as an output for as long as the process
lives. When the process ends, the kernel takes the line back: a Raspberry Pi's kernel leaves it as it stands, which
is OFF; others make it an input, and then a resistor decides. The chip's own weak one is therefore set to pull to OFF
together with the level. It is no substitute for an external one: it is gone whenever the machine is switched on.

The factory is always built by hand and handed to each device. The environment variable GPIOZERO_PIN_FACTORY has no
say: with it, a daemon could run on pretended pins without an error.
"""

import time
import warnings
from collections.abc import Iterator
from typing import Any, Final, Literal, Protocol

import gpiod
from gpiod.line import Bias, Direction, Value
from gpiozero import InputDevice, OutputDevice, PinInvalidPin
from gpiozero.exc import PinFixedPull, PinInvalidFunction, PinSetInput
from gpiozero.pins.pi import PiFactory, PiPin

from controller.errors import SettingsError, UnavailableError
from controller.relays_off import CONSUMER, find_chip_path, off_settings

ANY_40_PIN_HEADER: Final = 0xA02082  # A 3B; all boards since the B+ have the same GPIO numbers on the same header.
BIAS: Final = {"floating": Bias.DISABLED, "up": Bias.PULL_UP, "down": Bias.PULL_DOWN}
Level = Literal[0, 1]


class Line(Protocol):
    """What is needed of a gpiod.LineRequest, a claimed line."""

    def reconfigure_lines(self, config: Any) -> None:  # noqa: ANN401 gpiod's own
        """Give it other settings, all in one call to the kernel."""
        ...

    def set_value(self, line: int, value: Value) -> None:
        """Drive it."""
        ...

    def get_value(self, line: int) -> Value:
        """Read it."""
        ...

    def release(self) -> None:
        """Give it back."""
        ...


class Chip(Protocol):
    """What is needed of a gpiod.Chip."""

    def request_lines(self, config: Any, consumer: str | None = None) -> Line:  # noqa: ANN401 gpiod's own
        """Claim lines, all settings in one call to the kernel."""
        ...


class LinePin(PiPin):  # type: ignore[misc] # gpiozero is not typed
    """Be one line of the chip. The level with which it is first made an output is its OFF level.

    Not locked: whoever drives it from several threads holds a lock of his own.
    """

    def __init__(self, factory: "HeaderFactory", info: Any) -> None:  # noqa: ANN401 gpiozero's own
        """Take note of the line; nothing is claimed before its direction is known."""
        super().__init__(factory, info)
        self._request: Line | None = None
        self._direction = "input"
        self._bias = "floating"
        self._off: Value | None = None

    def _claim(self, settings: gpiod.LineSettings) -> None:
        """Give the line these settings: direction and level together, in one call. The only place that claims."""
        if self._request is None:
            self._request = self.factory.chip.request_lines({self._number: settings}, consumer=CONSUMER)
        else:
            self._request.reconfigure_lines({self._number: settings})

    def output_with_state(self, state: int) -> None:
        """Make the line an output at this level, without an instant at the other one."""
        settings = off_settings(state)
        value = settings.output_value
        self._claim(settings)
        self._direction = "output"
        if self._off is None:
            self._off = value

    def input_with_pull(self, pull: str) -> None:
        """Make the line an input with this pull: "up", "down" or "floating"."""
        self._claim(gpiod.LineSettings(direction=Direction.INPUT, bias=BIAS[pull]))
        self._direction, self._bias = "input", pull
        self._off = None  # Whoever makes it an output again says anew which level is OFF.

    def close(self) -> None:
        """Drive an output OFF and keep it claimed; release an input."""
        if self._request is None:
            return
        if self._direction == "output" and self._off is not None:
            self._request.set_value(self._number, self._off)
        else:
            self._request.release()
            self._request = None

    def let_go(self) -> None:
        """Drive an output OFF and give the line back, for another program; what the kernel makes of it: see above."""
        self.close()
        if self._request is not None:
            self._request.release()
            self._request = self._off = None

    def _get_function(self) -> str:
        return self._direction

    def _set_function(self, value: str) -> None:
        if value != "input":
            # An output without a level is exactly the pulse that this class exists to prevent.
            raise PinInvalidFunction("an output is claimed together with its level: use output_with_state")
        self.input_with_pull(self._bias)

    def _get_state(self) -> int:
        if self._request is None:
            raise PinInvalidFunction(f"pin {self!r} is neither input nor output yet")
        return int(self._request.get_value(self._number) is Value.ACTIVE)

    def _set_state(self, value: int) -> None:
        if self._request is None or self._direction != "output":
            raise PinSetInput(f"cannot set the state of pin {self!r}: it is no output")
        self._request.set_value(self._number, Value.ACTIVE if value else Value.INACTIVE)

    def _get_pull(self) -> str:
        return self._bias

    def _set_pull(self, value: str) -> None:
        if self._direction != "input":
            raise PinFixedPull(f"cannot set the pull of pin {self!r}: it is an output")
        self.input_with_pull(value)


class HeaderFactory(PiFactory):  # type: ignore[misc] # gpiozero is not typed
    """Make pins on one GPIO chip. Build it with `open_header`; tests hand in gpiozero's MockFactory instead."""

    def __init__(self, chip: Chip) -> None:
        """Use this chip."""
        super().__init__()
        self.pins: dict[
            Any, LinePin
        ] = {}  # gpiozero shares these between all factories of a process; here each has its own.
        self.chip = chip
        self.pin_class = LinePin

    def ticks(self) -> float:
        """Return seconds of the monotonic clock, as gpiozero wants to compare them."""
        return time.monotonic()

    def ticks_diff(self, later: float, earlier: float) -> float:
        """Return the seconds between two ticks."""
        return later - earlier

    def _get_revision(self) -> int:
        return ANY_40_PIN_HEADER


def open_header(label: str = "") -> HeaderFactory:
    """Return the factory for the chip with this label; "" stands for the header of this Raspberry Pi.

    Raises UnavailableError where not exactly one chip fits, AccessError where it may not be opened.
    """
    return HeaderFactory(gpiod.Chip(find_chip_path(label)))


class Coil(Protocol):
    """What relays need of a gpiozero OutputDevice."""

    pin: Any
    active_high: bool

    @property
    def is_active(self) -> bool:
        """Say whether the line, read back, is at the level that energises."""
        ...

    def on(self) -> None:
        """Energise."""
        ...

    def off(self) -> None:
        """Release."""
        ...


def claim_output(pin: int, active: Literal["high", "low"], factory: Any) -> Coil:  # noqa: ANN401 gpiozero is not typed
    """Claim this pin (BCM number) as an output and have it OFF from the first instant.

    Raises SettingsError where there is no such GPIO, UnavailableError where somebody else holds it.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # A library that falls back to something else is no relay.
            device: Coil = OutputDevice(pin, active_high=active == "high", initial_value=False, pin_factory=factory)
    except PinInvalidPin as error:
        raise SettingsError(f"pin: {pin} is no GPIO of the header; GPIO 0 to 27 are (BCM numbers).") from error
    except Exception as error:
        raise UnavailableError(
            f"GPIO {pin} cannot be claimed: {error}.\n"
            "Does another program hold it, or an overlay in config.txt? gpioinfo names who uses a line.",
        ) from error
    return device


def claim_anew(coil: Coil) -> None:
    """Make the line an output at its OFF level once more, whatever has become of it; in one call, as at first."""
    coil.pin.output_with_state(int(not coil.active_high))


def give_back(coil: Coil) -> None:
    """Drive an output OFF and give its line back, while the process lives on."""
    coil.off()
    coil.pin.let_go()


LOOK_S: Final = 0.001
"""A contact is looked at so often while it may pulse."""


class Contact:
    """Be a contact between a pin and ground, with the pin pulled up: closed reads 0.0, open 1.0."""

    def __init__(self, pin: int, factory: Any) -> None:  # noqa: ANN401 gpiozero is not typed
        """Claim the pin (BCM number) as an input with pull-up. Raises UnavailableError where somebody else holds it."""
        try:
            self._device = InputDevice(pin, pull_up=True, pin_factory=factory)
        except Exception as error:
            raise UnavailableError(f"GPIO {pin} cannot be claimed for the contact: {error}.") from error

    def is_open(self) -> float:
        """Return 1.0 while the contact is open, else 0.0."""
        return 0.0 if self._device.is_active else 1.0

    def closes_within(self, lasts_s: float) -> float:
        """Return 1.0 as soon as it is seen closed, 0.0 after so many seconds without.

        An opto-coupler on the mains conducts in a part of each period only.
        """
        return 1.0 if any(level == 0.0 for level in self._levels(lasts_s)) else 0.0

    def pulses_within(self, lasts_s: float) -> float:
        """Return 1.0 as soon as it has been seen open and closed, 0.0 after so many seconds without."""
        first: float | None = None
        for level in self._levels(lasts_s):
            if first is not None and level != first:
                return 1.0
            first = level
        return 0.0

    def _levels(self, lasts_s: float) -> Iterator[float]:
        until_s = time.monotonic() + lasts_s
        yield self.is_open()
        while time.monotonic() < until_s:
            time.sleep(LOOK_S)
            yield self.is_open()
