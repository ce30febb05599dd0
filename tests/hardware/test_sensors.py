"""All sensors of a chamber, each in a thread of its own, with real files and a clock that the test moves."""

import os
import threading
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from gpiozero.pins.mock import MockFactory

from controller.core.values import Channel, Fault, Reading
from controller.hardware.sensors import (
    EVERY_S,
    MOST_LEFT,
    Reader,
    ReaderThread,
    Roots,
    ThreadedSensors,
    Values,
    read_once,
)
from controller.hardware.w1 import thermometers_on
from controller.settings.chamber_tables import SensorEntry

TEXT = tomllib.loads((Path(__file__).parents[1] / "data" / "kernel_text.toml").read_text())
AIR, CORE = "28-000544332211", "28-000544332212"


def comes_true(what: Callable[[], bool]) -> bool:
    """Give other threads up to 3 s to make it true."""
    pause = threading.Event()
    return any(what() or pause.wait(0.005) for _ in range(600))


def comes_true_soon(what: Callable[[], bool]) -> bool:
    """Give other threads 50 ms to make it true."""
    pause = threading.Event()
    return any(what() or pause.wait(0.005) for _ in range(10))


class Rig:
    """Hold a tree of sensor files, a clock, and the sensors that were started on them."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.now_s = 100.0
        self.factory = MockFactory()
        self.started: list[ThreadedSensors] = []
        hwmon = root / "hwmon" / "hwmon0"
        hwmon.mkdir(parents=True)
        (root / "iio").mkdir()
        for name, text in TEXT["sht4x"].items():
            (hwmon / name).write_text(text)
        for id in (AIR, CORE):
            (root / "w1" / id).mkdir(parents=True)
            (root / "w1" / id / "w1_slave").write_text(TEXT["w1_slave"]["good"])

    def hang(self, id: str) -> Path:
        fifo = self.root / "w1" / id / "w1_slave"
        fifo.unlink()
        os.mkfifo(fifo)
        return fifo

    def start(self, *entries: SensorEntry, strangers_every_s: float = 60.0) -> ThreadedSensors:
        roots = Roots(self.root / "w1", self.root / "hwmon", self.root / "iio")
        sensors = ThreadedSensors(
            entries,
            self.factory,
            roots=roots,
            every_s=0.01,
            strangers_every_s=strangers_every_s,
            now=lambda: self.now_s,
        )
        self.started.append(sensors)
        return sensors

    def end(self) -> None:
        for sensors in self.started:
            sensors.close()


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[Rig]:
    rig = Rig(tmp_path)
    yield rig
    rig.end()


class Scripted:
    """Be a device whose measurement is what the test says, at the cost of time that the test says."""

    name = "scripted"
    channels: tuple[Channel, ...] = ("air_temp",)

    def __init__(self) -> None:
        self.answer: float | Fault | Exception = 24.0
        self.takes_s = 0.75
        self.now_s = 100.0

    def measure(self) -> Values:
        self.now_s += self.takes_s
        if isinstance(self.answer, Exception):
            raise self.answer
        return {"air_temp": self.answer}

    def reader(self) -> ReaderThread:
        return ReaderThread(self, every_s=EVERY_S, hung_s=5.0, now=lambda: self.now_s)


def air_temp(offset_k: float = 0.0) -> SensorEntry:
    return SensorEntry(channel="air_temp", kind="ds18b20", id=AIR, offset_k=offset_k)


def humidity(**offsets: float) -> SensorEntry:
    return SensorEntry(channel="rh", kind="sht4x", **offsets)  # type: ignore[arg-type]


def test_every_channel_of_the_chamber_gets_its_value(rig: Rig) -> None:
    sensors = rig.start(air_temp(), humidity(), SensorEntry(channel="core_temp", kind="ds18b20", id=CORE))
    assert set(sensors.newest()) == {"air_temp", "rh", "rh_temp", "core_temp"}
    assert comes_true(lambda: all(isinstance(word, Reading) for word in sensors.newest().values()))
    assert sensors.newest() == {
        "air_temp": Reading(21.0, 100.0),
        "rh": Reading(81.997, 100.0),
        "rh_temp": Reading(21.498, 100.0),
        "core_temp": Reading(21.0, 100.0),
    }


def test_offsets_of_the_chamber_file_are_added(rig: Rig) -> None:
    sensors = rig.start(air_temp(offset_k=-0.5), humidity(offset_k=1.0, offset_pct=-2.0))
    assert comes_true(lambda: all(isinstance(word, Reading) for word in sensors.newest().values()))
    values = {channel: word.value for channel, word in sensors.newest().items() if isinstance(word, Reading)}
    assert values == {"air_temp": 20.5, "rh": pytest.approx(79.997), "rh_temp": pytest.approx(22.498)}


def test_an_offset_lifts_no_humidity_over_100(rig: Rig) -> None:
    sensors = rig.start(humidity(offset_pct=25.0))  # More than a chamber file takes; 81.997 % is what it says.
    assert comes_true(lambda: sensors.newest()["rh"] == Reading(100.0, 100.0))


def test_a_humidity_sensor_elsewhere_is_a_thermometer_only(rig: Rig) -> None:
    sensors = rig.start(SensorEntry(channel="ambient_temp", kind="sht4x"))
    assert comes_true(lambda: sensors.newest() == {"ambient_temp": Reading(21.498, 100.0)})


@pytest.mark.fault_row("S4")
def test_a_probe_that_hangs_is_told_costs_nobody_else_and_is_read_anew_by_another_thread(rig: Rig) -> None:
    fifo = rig.hang(AIR)
    sensors = rig.start(air_temp(), humidity())
    assert comes_true(lambda: isinstance(sensors.newest()["rh"], Reading))
    assert sensors.newest()["air_temp"] == Fault("unread", AIR)
    writer = opened_for_writing(fifo)
    # The probe is there again, and the read that hung hangs on: nobody has answered it.
    fifo.unlink()
    fifo.write_text(TEXT["w1_slave"]["good"])
    rig.now_s += 5.1
    assert sensors.newest()["air_temp"] == Fault("hung", f"{AIR}: no answer for 5 s")
    assert comes_true(lambda: sensors.newest()["air_temp"] == Reading(21.0, 105.1))
    assert comes_true(lambda: sensors.newest()["rh"] == Reading(81.997, 105.1))
    os.close(writer)


def opened_for_writing(fifo: Path) -> int:
    """Return the other end of a pipe as soon as somebody reads it."""
    pause = threading.Event()
    for _ in range(600):
        try:
            return os.open(fifo, os.O_WRONLY | os.O_NONBLOCK)
        except OSError:
            pause.wait(0.005)
    raise AssertionError("nobody reads")


class Stuck:
    """Be a device that hangs until the test lets it go, and then says what it was asked long ago."""

    name = "stuck"
    channels: tuple[Channel, ...] = ("air_temp",)

    def __init__(self) -> None:
        self.gate = threading.Event()
        self.began = 0

    def measure(self) -> Values:
        self.began += 1
        assert self.gate.wait(10.0)
        return {"air_temp": 24.0}


@pytest.mark.fault_row("S4")
def test_a_device_that_hangs_for_ever_costs_three_threads_and_no_more() -> None:
    device, now_s = Stuck(), 100.0
    reader = Reader(lambda: device, every_s=0.01, hung_s=5.0, now=lambda: now_s)
    for number in range(1, 40):
        assert comes_true(lambda number=number: device.began == min(number, 1 + MOST_LEFT))  # type: ignore[misc]
        now_s += 5.1
        word = reader.newest(now_s)["air_temp"]
        assert isinstance(word, Fault)
        assert word.kind == "hung"
    assert device.began == 1 + MOST_LEFT
    device.gate.set()
    assert comes_true(lambda: isinstance(reader.newest(now_s)["air_temp"], Reading))
    reader.end()


def test_what_a_thread_that_was_left_says_late_is_heard_by_nobody() -> None:
    first, second = Stuck(), Scripted()
    devices: list[Any] = [first, second]
    now_s = 100.0
    reader = Reader(lambda: devices.pop(0), every_s=0.01, hung_s=5.0, now=lambda: now_s)
    assert comes_true(lambda: first.began == 1)
    now_s += 5.1
    second.answer = 12.5
    reader.newest(now_s)
    first.gate.set()
    assert comes_true(lambda: reader.newest(now_s) == {"air_temp": Reading(12.5, 105.1)})
    assert not comes_true_soon(lambda: reader.newest(now_s) != {"air_temp": Reading(12.5, 105.1)})
    reader.end()


@pytest.mark.fault_row("S13")
def test_a_thermometer_that_nobody_named_is_found_and_noise_on_the_bus_is_not(rig: Rig) -> None:
    for name in ("w1_bus_master1", "00-400000000000", "1c-0000000000aa"):
        (rig.root / "w1" / name).mkdir()
    sensors = rig.start(air_temp(), strangers_every_s=0.01)
    assert comes_true(lambda: sensors.strangers() == (CORE,))
    (rig.root / "w1" / "10-0008019c4a12").mkdir()
    assert comes_true(lambda: sensors.strangers() == ("10-0008019c4a12", CORE))
    for name in (CORE, "10-0008019c4a12"):
        (rig.root / "w1" / name).rename(rig.root / name)
    assert comes_true(lambda: sensors.strangers() == ())


def test_a_machine_without_a_1_wire_bus_has_no_strangers(tmp_path: Path) -> None:
    assert thermometers_on(tmp_path / "none") == ()


def test_a_probe_that_vanishes_is_a_fault_and_not_its_last_value(rig: Rig) -> None:
    sensors = rig.start(air_temp())
    assert comes_true(lambda: isinstance(sensors.newest()["air_temp"], Reading))
    (rig.root / "w1" / AIR / "w1_slave").unlink()
    assert comes_true(lambda: isinstance(sensors.newest()["air_temp"], Fault))
    word = sensors.newest()["air_temp"]
    assert isinstance(word, Fault)
    assert word.kind == "missing"


def test_the_stamp_is_the_end_of_the_measurement() -> None:
    device = Scripted()
    reader = device.reader()
    reader.measure_once()
    assert reader.newest(device.now_s) == {"air_temp": Reading(24.0, 100.75)}
    assert reader.newest(device.now_s + 60.0) == {"air_temp": Reading(24.0, 100.75)}  # It keeps its own time.


def test_before_the_first_value_a_channel_is_unread() -> None:
    assert Scripted().reader().newest(0.0) == {"air_temp": Fault("unread", "scripted")}


@pytest.mark.parametrize(("takes_s", "fault"), [(5.0, False), (5.01, True)])
def test_a_measurement_that_took_too_long_is_not_believed(takes_s: float, fault: bool) -> None:  # noqa: FBT001
    device = Scripted()
    device.takes_s = takes_s
    reader = device.reader()
    reader.measure_once()
    assert isinstance(reader.newest(device.now_s)["air_temp"], Fault) is fault


def test_whatever_a_device_throws_is_a_fault_of_that_device() -> None:
    device = Scripted()
    device.answer = ZeroDivisionError("division by zero")
    reader = device.reader()
    reader.measure_once()
    assert reader.newest(0.0) == {"air_temp": Fault("bus_error", "scripted: ZeroDivisionError: division by zero")}


def test_the_door_is_open_while_its_contact_is(rig: Rig) -> None:
    sensors = rig.start(SensorEntry(channel="door", kind="contact", pin=22))
    pin: Any = rig.factory.pin(22)
    assert pin.pull == "up"
    assert comes_true(lambda: sensors.newest()["door"] == Reading(1.0, 100.0))
    pin.drive_low()
    assert comes_true(lambda: sensors.newest()["door"] == Reading(0.0, 100.0))


@pytest.mark.parametrize(
    ("channel", "when_open", "when_closed"),
    [("door", 1.0, 0.0), ("cutout", 1.0, 0.0), ("heater_live", 0.0, 1.0), ("cooler_current", 0.0, 1.0)],
)
def test_a_contact_says_yes_by_opening_or_by_closing(
    rig: Rig, channel: Channel, when_open: float, when_closed: float
) -> None:
    sensors = rig.start(SensorEntry(channel=channel, kind="contact", pin=22))  # type: ignore[arg-type]
    pin: Any = rig.factory.pin(22)
    assert comes_true(lambda: sensors.newest()[channel] == Reading(when_open, 100.0))
    pin.drive_low()
    assert comes_true(lambda: sensors.newest()[channel] == Reading(when_closed, 100.0))


def test_a_fan_turns_while_its_signal_pulses_and_stands_whatever_its_level(rig: Rig) -> None:
    sensors = rig.start(SensorEntry(channel="fan_turns", kind="contact", pin=22))
    pin: Any = rig.factory.pin(22)
    assert comes_true(lambda: sensors.newest()["fan_turns"] == Reading(0.0, 100.0))
    ended = threading.Event()

    def turn() -> None:
        while not ended.wait(0.01):
            pin.drive_low()
            if not ended.wait(0.01):
                pin.drive_high()

    turning = threading.Thread(target=turn)
    turning.start()
    assert comes_true(lambda: sensors.newest()["fan_turns"] == Reading(1.0, 100.0))
    ended.set()
    turning.join()
    pin.drive_low()
    assert comes_true(lambda: sensors.newest()["fan_turns"] == Reading(0.0, 100.0))


def test_a_second_humidity_sensor_gives_its_humidity_and_no_second_temperature(rig: Rig) -> None:
    sensors = rig.start(SensorEntry(channel="rh_2", kind="sht4x", offset_pct=-2.0))
    assert comes_true(lambda: sensors.newest() == {"rh_2": Reading(pytest.approx(79.997), 100.0)})  # type: ignore[arg-type]


def test_reading_once_tells_values_and_faults_and_waits_for_no_one_for_ever(tmp_path: Path) -> None:
    rig = Rig(tmp_path)
    rig.hang(CORE)
    roots = Roots(tmp_path / "w1", tmp_path / "hwmon", tmp_path / "iio")
    entries = (
        SensorEntry(channel="air_temp", kind="ds18b20", id=AIR),
        SensorEntry(channel="core_temp", kind="ds18b20", id=CORE),
        SensorEntry(channel="ambient_temp", kind="ds18b20", id="28-00000000ffff"),
    )
    found = read_once(entries, roots=roots, patience_s=0.2)
    air, core, ambient = found["air_temp"], found["core_temp"], found["ambient_temp"]
    assert isinstance(air, Reading)
    assert isinstance(core, Fault)
    assert core.kind == "unread"
    assert isinstance(ambient, Fault)
    assert ambient.kind == "missing"
