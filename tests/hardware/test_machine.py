"""What the kernel says of the computer, from trees that hold its exact text."""

import os
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from controller.core.values import Health
from controller.hardware.machine import KernelMachine, look_at, read_number, reset_by_watchdog, strict_gpiod

SOON_S = 0.01


class Sys:
    """Be /sys and /dev of a Raspberry Pi, as far as anybody looks.

    hwmon: Linux drivers/hwmon/raspberrypi-hwmon.c (`in0_lcrit_alarm`, 0 or 1); thermal: Documentation/ABI/testing/
    sysfs-class-thermal (m°C); watchdog: sysfs-class-watchdog (`options` from memory). Class numbers are invented.
    """

    def __init__(self, root: Path) -> None:
        self.sys, self.dev = root / "sys", root / "dev"
        for folder in (self.sys, self.dev):
            folder.mkdir(parents=True, exist_ok=True)

    def put(self, path: str, text: str) -> Path:
        file = self.sys / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(f"{text}\n")
        return file

    def supply(self, *, low: bool) -> None:
        self.put("class/hwmon/hwmon0/name", "cpu_thermal")
        self.put("class/hwmon/hwmon3/name", "rpi_volt")
        self.put("class/hwmon/hwmon3/in0_lcrit_alarm", str(int(low)))

    def processor(self, milli_c: int) -> None:
        self.put("class/thermal/thermal_zone0/type", "gpu-thermal")
        self.put("class/thermal/thermal_zone0/temp", "31000")
        self.put("class/thermal/thermal_zone1/type", "cpu-thermal")
        self.put("class/thermal/thermal_zone1/temp", str(milli_c))

    def watchdog(
        self, *, state: str = "active", timeout: int = 14, bootstatus: str = "0", options: str = "0x8180"
    ) -> None:
        for name, text in {
            "state": state,
            "timeout": str(timeout),
            "nowayout": "0",
            "bootstatus": bootstatus,
            "options": options,
            "identity": "Broadcom BCM2835 Watchdog timer",
        }.items():
            self.put(f"class/watchdog/watchdog0/{name}", text)


@pytest.fixture
def pi(tmp_path: Path) -> Sys:
    return Sys(tmp_path)


Begin = Callable[..., KernelMachine]


@pytest.fixture
def begin(pi: Sys, tmp_path: Path) -> Iterator[Begin]:
    begun: list[KernelMachine] = []

    def start(**options: Callable[[], float]) -> KernelMachine:
        one = KernelMachine(tmp_path, sys=pi.sys, supply_every_s=SOON_S, disk_every_s=SOON_S, **options)
        begun.append(one)
        return one

    yield start
    for one in begun:
        one.close()


def health_when(computer: KernelMachine, is_so: Callable[[Health], bool]) -> Health:
    """Return the first health that is so; fail where it never comes."""
    deadline_s = time.monotonic() + 5.0
    while time.monotonic() < deadline_s:
        health = computer.health()
        if is_so(health):
            return health
        time.sleep(SOON_S)
    raise AssertionError(f"it stayed {computer.health()}")


@pytest.mark.fault_row("C9")
def test_a_weak_supply_is_seen_and_also_that_it_is_well_again(pi: Sys, begin: Begin) -> None:
    pi.supply(low=False)
    computer = begin()
    health_when(computer, lambda health: health.low_voltage is False)
    pi.supply(low=True)
    health_when(computer, lambda health: health.low_voltage is True)
    pi.supply(low=False)
    health_when(computer, lambda health: health.low_voltage is False)


def test_a_moment_of_weakness_between_two_looks_of_the_daemon_is_not_missed(pi: Sys, begin: Begin) -> None:
    pi.supply(low=False)
    computer = begin()
    health_when(computer, lambda health: health.low_voltage is False)
    pi.supply(low=True)
    deadline_s = time.monotonic() + 5.0
    while computer._lows == 0 and time.monotonic() < deadline_s:  # Nobody asks meanwhile.
        time.sleep(SOON_S)
    pi.supply(low=False)
    time.sleep(10 * SOON_S)
    assert computer.health().low_voltage is True
    assert computer.health().low_voltage is False


def test_a_supply_whose_driver_comes_late_or_anew_under_another_number_is_found(pi: Sys, begin: Begin) -> None:
    computer = begin()
    assert health_when(computer, lambda health: health.disk_free_mb is not None).low_voltage is None
    pi.supply(low=True)
    health_when(computer, lambda health: health.low_voltage is True)
    (pi.sys / "class/hwmon/hwmon3").rename(pi.sys / "class/hwmon/hwmon5")
    (pi.sys / "class/hwmon/hwmon5/in0_lcrit_alarm").write_text("0\n")
    health_when(computer, lambda health: health.low_voltage is False)


@pytest.mark.fault_row("C10")
def test_the_processors_zone_is_found_by_its_type_and_not_by_its_number(pi: Sys, begin: Begin) -> None:
    pi.processor(82_345)
    assert health_when(begin(), lambda health: health.processor_c is not None).processor_c == 82.345


def test_without_any_of_it_nothing_is_claimed(begin: Begin) -> None:
    health = health_when(begin(), lambda health: health.disk_free_mb is not None)
    assert (health.low_voltage, health.processor_c, health.reset_by_watchdog) == (None, None, None)


def test_the_room_on_the_disk_is_what_an_ordinary_user_may_take(begin: Begin, tmp_path: Path) -> None:
    health = health_when(begin(), lambda health: health.disk_free_mb is not None)
    blocks, free = _df(tmp_path)
    assert health.disk_free_mb == pytest.approx(free / 1e6, rel=0.02)
    assert health.disk_free_share == pytest.approx(free / blocks, rel=0.02)
    assert health.disk_read_only is False


def _df(place: Path) -> tuple[float, float]:
    """Return size and room in bytes, as coreutils' df has them."""
    said = subprocess.run(["df", "-B1", "--output=size,avail", str(place)], capture_output=True, text=True, check=True)
    size, free = said.stdout.splitlines()[1].split()
    return float(size), float(free)


@pytest.mark.fault_row("C7")
def test_a_disk_that_is_mounted_read_only_is_seen_on_a_real_mount(tmp_path: Path) -> None:
    place = tmp_path / "disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=64k,ro", "hangroom-test", str(place)]
    mounted = subprocess.run(command, capture_output=True, check=False)
    if mounted.returncode:
        pytest.skip(f"NOT SHOWN ON A REAL DISK: nothing may be mounted here ({mounted.stderr.decode().strip()})")
    try:
        assert look_at(place).health.disk_read_only
    finally:
        subprocess.run(["umount", str(place)], check=True)


def test_what_was_found_long_ago_is_not_handed_out_as_new(pi: Sys, begin: Begin) -> None:
    """A disk that hangs keeps its thread: what it said before is not what it says now."""
    pi.supply(low=False)
    pi.processor(50_000)
    ahead_s = 0.0
    computer = begin(now=lambda: time.monotonic() + ahead_s)
    health_when(computer, lambda health: health.low_voltage is False and health.disk_free_mb is not None)
    computer.close()
    ahead_s = 31.0
    health = computer.health()
    assert (health.low_voltage, health.processor_c, health.disk_free_mb) == (None, None, None)


def test_a_disk_that_hangs_hides_no_weak_supply_and_delays_nobody(
    pi: Sys, begin: Begin, monkeypatch: pytest.MonkeyPatch
) -> None:
    def hang(_path: object) -> os.statvfs_result:
        time.sleep(0.5)
        raise OSError

    monkeypatch.setattr("os.statvfs", hang)
    pi.supply(low=True)
    computer = begin()
    began_s = time.monotonic()
    health_when(computer, lambda health: health.low_voltage is True)
    for _ in range(1000):
        computer.health()
    assert time.monotonic() - began_s < 0.4


@pytest.mark.fault_row("C3")
@pytest.mark.parametrize(
    ("bootstatus", "options", "said"),
    [
        ("32", "0x81b0", True),  # WDIOF_CARDRESET, linux/watchdog.h.
        ("33", "0x81b0", True),  # With WDIOF_OVERHEAT beside it.
        ("0", "0x81b0", False),
        ("0", "0x8180", None),  # A driver that cannot tell, as that of the Pi.
        ("1", "0x8180", None),
    ],
)
def test_a_reset_by_the_watchdog_is_told_from_another_boot_where_the_driver_can(
    pi: Sys, bootstatus: str, options: str, *, said: bool | None
) -> None:
    pi.watchdog(bootstatus=bootstatus, options=options)
    assert reset_by_watchdog(pi.sys) is said


def test_it_is_known_before_the_first_tick_whether_the_watchdog_has_caused_this_boot(pi: Sys, begin: Begin) -> None:
    pi.watchdog(bootstatus="32")
    assert begin().health().reset_by_watchdog is True


def test_a_machine_without_a_watchdog_says_nothing_of_resets(pi: Sys) -> None:
    assert reset_by_watchdog(pi.sys) is None


@pytest.mark.parametrize(
    ("driver", "option", "value", "strict"),
    [
        ("pinctrl_bcm2835", "persist_gpio_outputs", "N", True),
        ("pinctrl_bcm2835", "persist_gpio_outputs", "Y", False),
        ("pinctrl_rp1", "persist_gpio_outputs", "Y", False),
        ("pinctrl_bcm2835", "strict_gpiod", "Y", True),
        ("pinctrl_bcm2835", "strict_gpiod", "N", False),
        ("pinctrl_bcm2835", "other", "Y", None),
    ],
)
def test_whether_a_dead_programs_pins_are_let_go_is_read_from_the_pin_driver(
    pi: Sys, driver: str, option: str, value: str, *, strict: bool | None
) -> None:
    pi.put(f"module/{driver}/parameters/{option}", value)
    assert strict_gpiod(pi.sys) is strict


@pytest.mark.parametrize(("bound", "strict"), [("pinctrl-rp1", True), ("pinctrl-bcm2835", False), (None, None)])
def test_of_two_drivers_in_one_kernel_the_one_counts_that_has_a_device_here(
    pi: Sys, bound: str | None, *, strict: bool | None
) -> None:
    """A driver's folder in /sys/bus/platform/drivers holds a link to each of its devices, and one to its module."""
    pi.put("module/pinctrl_bcm2835/parameters/persist_gpio_outputs", "Y")
    pi.put("module/pinctrl_rp1/parameters/persist_gpio_outputs", "N")
    for driver in ("pinctrl-bcm2835", "pinctrl-rp1"):
        pi.put(f"bus/platform/drivers/{driver}/uevent", "")
        (pi.sys / f"bus/platform/drivers/{driver}/module").symlink_to("../../../../module")
    if bound is not None:
        (pi.sys / f"bus/platform/drivers/{bound}/1f000d0000.gpio").symlink_to("../../../../devices/platform/soc")
    assert strict_gpiod(pi.sys) is strict


def test_one_look_tells_everything_that_check_shows(pi: Sys, tmp_path: Path) -> None:
    pi.supply(low=True)
    pi.processor(55_000)
    pi.watchdog(state="inactive", timeout=15)
    (pi.dev / "rtc0").touch()
    seen = look_at(tmp_path / "not" / "made" / "yet", sys=pi.sys, dev=pi.dev)
    assert (seen.watchdog, seen.watchdog_armed, seen.watchdog_s) == ("Broadcom BCM2835 Watchdog timer", False, 15)
    assert seen.clock
    assert seen.strict_gpiod is None
    assert (seen.health.low_voltage, seen.health.processor_c) == (True, 55.0)
    assert seen.health.disk_free_mb is not None


def test_a_look_at_a_machine_without_anything_finds_nothing(tmp_path: Path) -> None:
    bare = Sys(tmp_path)
    seen = look_at(tmp_path, sys=bare.sys, dev=bare.dev)
    assert (seen.watchdog, seen.watchdog_armed, seen.watchdog_s, seen.clock) == ("", None, None, False)


def test_a_number_that_no_kernel_writes_is_none(tmp_path: Path) -> None:
    path = tmp_path / "temp"
    for text, wanted in (("48312\n", 48312), ("-5\n", -5), ("9" * 400 + "\n", None), ("9" * 5000, None), ("x", None)):
        path.write_text(text)
        assert read_number(path) == wanted
