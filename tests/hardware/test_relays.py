"""Relays on gpiozero's own mock pins. A coil draws current while its pin is an output and at the active level."""

import json
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal

import gpiozero
import pytest
from gpiozero.pins.mock import MockFactory, MockPin

from controller.core.values import Commands, Role
from controller.errors import SettingsError, StorageError, UnavailableError
from controller.hardware.relays import TimedRelays
from controller.settings.chamber_tables import OutputEntry

ROOT = Path(__file__).parents[2]
HEATER, MIST, MASTER = 17, 27, 22
LEASE_S = 10.0


class LoggingPin(MockPin):  # type: ignore[misc] # gpiozero is not typed
    """Log (function, state) after every change, and take function and state together as the kernel does."""

    def __init__(self, factory: MockFactory, info: gpiozero.PinInfo) -> None:
        self.log: list[tuple[str, bool]] = []
        self.stuck = False
        self.went_low = threading.Event()
        super().__init__(factory, info)

    def output_with_state(self, state: int) -> None:
        self._function = "output"
        self._state = bool(state)
        self.log.append(("output", bool(state)))

    def _set_function(self, value: str) -> None:
        super()._set_function(value)
        self.log.append((value, self._state))

    def _set_state(self, value: int) -> None:
        if self.stuck:
            raise OSError(5, "Input/output error")
        super()._set_state(value)
        self.log.append((self._function, bool(value)))
        if not value:
            self.went_low.set()

    def was_energised(self, active: Literal["high", "low"]) -> bool:
        return ("output", active == "high") in self.log

    def is_energised(self, active: Literal["high", "low"]) -> bool:
        return self.log[-1] == ("output", active == "high")


class Bench:
    """Hold relays on mock pins, and the clock they go by."""

    def __init__(self, run_dir: Path) -> None:
        self.factory = MockFactory(pin_class=LoggingPin)
        self.run_dir = run_dir
        self.now_s = 1000.0
        self.built: list[TimedRelays] = []

    def build(self, *outputs: OutputEntry) -> TimedRelays:
        relays = TimedRelays(
            outputs,
            self.factory,
            chip_label="pinctrl-bcm2711",
            run_dir=self.run_dir,
            lease_s=LEASE_S,
            now=lambda: self.now_s,
        )
        self.built.append(relays)
        return relays

    def pin(self, number: int) -> Any:  # noqa: ANN401 gpiozero is not typed
        return self.factory.pin(number)

    def until(self, **roles: float) -> Commands:
        on: dict[Any, float] = {role: self.now_s + s for role, s in roles.items()}
        return Commands(on)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path)
    yield bench
    for relays in bench.built:
        relays.close()


def heater(active: Literal["high", "low"] = "high") -> OutputEntry:
    return OutputEntry(role="heater", pin=HEATER, active=active)


def mist() -> OutputEntry:
    return OutputEntry(role="humidifier", pin=MIST, active="high")


@pytest.mark.parametrize("active", ["high", "low"])
def test_no_relay_is_pulsed_while_it_is_claimed(bench: Bench, active: Literal["high", "low"]) -> None:
    bench.build(heater(active))
    pin = bench.pin(HEATER)
    assert pin.log[0] == ("output", active == "low")  # The very first thing that happens to the line.
    assert not pin.was_energised(active)


def test_the_coil_model_would_see_a_pulse(bench: Bench) -> None:
    """A line that is claimed without its level, as gpiozero does where it is told nothing, energises an active-low."""
    device = gpiozero.OutputDevice(HEATER, active_high=False, initial_value=None, pin_factory=bench.factory)
    assert bench.pin(HEATER).was_energised("low")
    device.close()


def test_an_output_is_on_until_its_instant_and_no_longer(bench: Bench) -> None:
    relays = bench.build(heater("low"))
    relays.apply(bench.until(heater=5.0))
    assert bench.pin(HEATER).is_energised("low")
    assert relays.end_due(bench.now_s + 4.999) == bench.now_s + 5.0
    assert bench.pin(HEATER).is_energised("low")
    assert relays.end_due(bench.now_s + 5.0) is None
    assert not bench.pin(HEATER).is_energised("low")


def test_to_renew_is_to_move_the_instant(bench: Bench) -> None:
    relays = bench.build(heater())
    relays.apply(bench.until(heater=5.0))
    bench.now_s += 4.0
    relays.apply(bench.until(heater=5.0))
    relays.end_due(bench.now_s + 3.0)
    assert bench.pin(HEATER).is_energised("high")
    relays.end_due(bench.now_s + 5.0)
    assert not bench.pin(HEATER).is_energised("high")


def test_a_pulse_of_mist_ends_while_the_lamp_burns_on(bench: Bench) -> None:
    relays = bench.build(heater(), mist())
    relays.apply(bench.until(heater=8.0, humidifier=1.0))
    relays.end_due(bench.now_s + 1.0)
    assert not bench.pin(MIST).is_energised("high")
    assert bench.pin(HEATER).is_energised("high")


@pytest.mark.fault_row("C1")
def test_the_timer_ends_the_lamp_though_the_loop_hangs(tmp_path: Path) -> None:
    factory = MockFactory(pin_class=LoggingPin)
    relays = TimedRelays([heater()], factory, chip_label="", run_dir=tmp_path, lease_s=0.05)
    relays.apply(Commands({"heater": float("inf")}))  # The real clock; the instant is cut to the lease.
    assert factory.pin(HEATER).went_low.wait(2.0)
    assert not factory.pin(HEATER).is_energised("high")
    relays.close()


@pytest.mark.parametrize("until_s", [float("nan"), float("-inf"), 0.0, 1000.0])
def test_an_instant_that_is_past_or_no_number_switches_nothing_on(bench: Bench, until_s: float) -> None:
    relays = bench.build(heater())
    relays.apply(Commands({"heater": until_s}))
    assert not bench.pin(HEATER).was_energised("high")


def test_no_instant_reaches_beyond_the_lease(bench: Bench) -> None:
    relays = bench.build(heater())
    relays.apply(bench.until(heater=3600.0))
    assert relays.end_due(bench.now_s) == bench.now_s + LEASE_S


def test_what_is_not_named_is_off_and_off_comes_before_on(bench: Bench) -> None:
    relays = bench.build(heater(), mist())
    order: list[tuple[int, bool]] = []
    for number in (HEATER, MIST):
        pin = bench.pin(number)
        pin.log = _Tee(number, order)
    relays.apply(bench.until(humidifier=5.0))
    order.clear()
    relays.apply(bench.until(heater=5.0))
    assert order == [(MIST, False), (HEATER, True)]


class _Tee(list[tuple[str, bool]]):
    def __init__(self, number: int, order: list[tuple[int, bool]]) -> None:
        super().__init__()
        self.number, self.order = number, order

    def append(self, item: tuple[str, bool]) -> None:
        super().append(item)
        self.order.append((self.number, item[1]))


def test_the_master_contactor_is_an_output_like_the_others(bench: Bench) -> None:
    relays = bench.build(heater(), OutputEntry(role="master", pin=MASTER))
    relays.apply(bench.until(master=5.0, heater=5.0))
    assert bench.pin(MASTER).is_energised("high")
    relays.end_due(bench.now_s + 5.0)
    assert not bench.pin(MASTER).is_energised("high")


@pytest.mark.parametrize("active", ["high", "low"])
def test_after_close_the_line_is_still_an_output_and_off(bench: Bench, active: Literal["high", "low"]) -> None:
    relays = bench.build(heater(active))
    relays.apply(bench.until(heater=5.0))
    relays.close()
    assert bench.pin(HEATER).log[-1] == ("output", active == "low")
    relays.apply(bench.until(heater=5.0))
    assert not bench.pin(HEATER).is_energised(active)


ENDS = {
    "falls off the end": "",
    "sys.exit in a SIGTERM handler": "os.kill(os.getpid(), signal.SIGTERM); threading.Event().wait(5)",
    "an error nobody caught": "raise RuntimeError",
}


@pytest.mark.parametrize("end", ENDS.values(), ids=ENDS)
def test_at_every_end_of_the_interpreter_the_lamp_is_off(tmp_path: Path, end: str) -> None:
    program = f"""
import atexit, os, pathlib, signal, sys, threading
from gpiozero.pins.mock import MockFactory
from controller.core.values import Commands
from controller.hardware.relays import TimedRelays
from controller.settings.chamber_tables import OutputEntry
factory = MockFactory()
atexit.register(lambda: print("at the end", factory.pin(17).function, factory.pin(17).state))
signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
relays = TimedRelays([OutputEntry(role="heater", pin=17)], factory, chip_label="", run_dir=pathlib.Path(sys.argv[1]),
                     lease_s=60)
relays.apply(Commands({{"heater": float("inf")}}))
print("before", factory.pin(17).function, factory.pin(17).state, flush=True)
{end}
"""
    command = [sys.executable, "-c", program, str(tmp_path)]
    said = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert said.stdout.splitlines() == ["before output True", "at the end output False"]


def test_a_line_that_will_not_go_off_does_not_keep_the_next_one_on(bench: Bench) -> None:
    relays = bench.build(heater(), mist())
    relays.apply(bench.until(heater=5.0, humidifier=5.0))
    bench.pin(HEATER).stuck = True
    with pytest.raises(UnavailableError, match="Input/output error"):
        relays.all_off()
    assert not bench.pin(MIST).is_energised("high")


def test_a_line_that_cannot_be_driven_ends_the_others_too(bench: Bench) -> None:
    relays = bench.build(heater(), mist())
    relays.apply(bench.until(heater=5.0))
    bench.pin(MIST).stuck = True
    with pytest.raises(UnavailableError, match="Input/output error"):
        relays.apply(bench.until(heater=5.0, humidifier=5.0))
    assert not bench.pin(HEATER).is_energised("high")


def test_the_timer_tries_a_stuck_line_again_and_the_loop_hears_of_it(bench: Bench) -> None:
    relays = bench.build(heater())
    relays.apply(bench.until(heater=5.0))
    bench.pin(HEATER).stuck = True
    retry_s = relays.end_due(bench.now_s + 5.0)
    assert retry_s is not None
    bench.pin(HEATER).stuck = False
    relays.end_due(retry_s)
    assert not bench.pin(HEATER).is_energised("high")
    with pytest.raises(UnavailableError):
        relays.apply(bench.until(heater=5.0))
    assert not bench.pin(HEATER).is_energised("high")


def test_the_note_for_the_safe_off_is_written_before_the_first_line_is_claimed(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("INVOCATION_ID", "run-7")
    seen: list[dict[str, Any]] = []

    class Looking(LoggingPin):
        def output_with_state(self, state: int) -> None:
            seen.append(json.loads((bench.run_dir / "relays.json").read_text()))
            super().output_with_state(state)

    bench.factory = MockFactory(pin_class=Looking)
    bench.build(heater("low"), mist())
    assert seen[0] == {
        "chip": "pinctrl-bcm2711",
        "lines": [{"role": "heater", "pin": HEATER, "off": 1}, {"role": "humidifier", "pin": MIST, "off": 0}],
        "run": "run-7",
    }


def test_without_a_place_for_the_note_nothing_is_claimed(bench: Bench) -> None:
    bench.run_dir /= "nowhere"
    with pytest.raises(StorageError, match=r"relays\.json: cannot be written"):
        bench.build(heater())
    assert bench.pin(HEATER).log == []


def test_a_pin_that_is_no_gpio_is_told_with_its_number(bench: Bench) -> None:
    with pytest.raises(SettingsError, match="pin: 99 is no GPIO"):
        bench.build(OutputEntry(role="heater", pin=99))


def test_a_pin_that_another_device_holds_is_told_with_its_number(bench: Bench) -> None:
    other = gpiozero.OutputDevice(HEATER, pin_factory=bench.factory)
    with pytest.raises(UnavailableError, match=f"GPIO {HEATER} cannot be claimed"):
        bench.build(heater())
    other.close()


def test_the_environment_has_no_say_in_the_pins(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "nonsense")
    bench.build(heater()).apply(bench.until(heater=5.0))
    assert bench.pin(HEATER).is_energised("high")


def test_every_role_of_the_design_can_be_driven(bench: Bench) -> None:
    roles: list[Role] = ["heater", "humidifier", "cooler", "dehumidifier", "fan", "fresh_air", "sounder", "master"]
    relays = bench.build(*(OutputEntry(role=role, pin=number) for number, role in enumerate(roles, start=16)))
    relays.apply(bench.until(**dict.fromkeys(roles, 5.0)))
    assert all(bench.pin(number).is_energised("high") for number in range(16, 24))
    relays.all_off()
    assert not any(bench.pin(number).is_energised("high") for number in range(16, 24))


@pytest.mark.fault_row("A10")
@pytest.mark.parametrize("active", ["high", "low"])
def test_a_pin_that_is_not_where_it_was_set_is_named_and_claimed_anew_at_off(
    bench: Bench, active: Literal["high", "low"]
) -> None:
    relays = bench.build(heater(active), mist())
    relays.apply(bench.until(heater=5.0))
    assert relays.disobedient() == ()
    pin = bench.pin(HEATER)
    pin._state = active == "low"  # Somebody else has driven the line off.
    assert relays.disobedient() == ("heater",)
    assert pin.log[-1] == ("output", active == "low")
    relays.apply(Commands())
    pin._state = active == "high"  # Somebody else has driven it on.
    assert relays.disobedient() == ("heater",)
    assert not pin.is_energised(active)
    assert relays.disobedient() == ()
    assert relays.end_due(bench.now_s) is None, "what was claimed anew is on until no instant"


@pytest.mark.fault_row("A10")
def test_a_line_that_cannot_be_read_back_or_claimed_anew_is_told_by_the_next_command(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    relays = bench.build(heater(), mist())
    relays.apply(bench.until(heater=5.0))

    def fails(*_: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(bench.pin(HEATER), "_get_state", fails)
    monkeypatch.setattr(bench.pin(HEATER), "output_with_state", fails)
    assert relays.disobedient() == ("heater",)
    with pytest.raises(UnavailableError, match="Input/output error"):
        relays.apply(bench.until(heater=5.0, humidifier=5.0))
    assert not bench.pin(MIST).is_energised("high")


def test_nothing_is_disobedient_after_close(bench: Bench) -> None:
    relays = bench.build(heater())
    relays.close()
    bench.pin(HEATER)._state = True
    assert relays.disobedient() == ()
