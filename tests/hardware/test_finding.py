"""Which sensors a machine has, on folders laid out as the kernel lays them."""

import time
from pathlib import Path

import pytest

from controller.core.values import Fault
from controller.hardware.finding import Live, LiveSensors, find_sensors
from controller.settings.found import Found
from tests.helpers.fake_pi import Tree

PROBE, OTHER = "28-00000a1b2c3d", "28-00000e4f5a6b"


@pytest.fixture
def tree(tmp_path: Path) -> Tree:
    return Tree(tmp_path)


def shown(tree: Tree, *found: Found) -> dict[str, Live]:
    live = LiveSensors(found, tree.roots, every_s=0.02)
    until_s = time.monotonic() + 5.0
    try:
        while True:
            newest = live.newest()
            first = [one for one in newest.values() if isinstance(one.temp_c, Fault) and one.temp_c.kind == "unread"]
            if not first:
                return newest
            assert time.monotonic() < until_s
            time.sleep(0.01)
    finally:
        live.close()


def test_a_machine_without_sensors_has_none(tree: Tree) -> None:
    assert find_sensors(tree.roots) == ((), ())


def test_thermometers_come_first_and_each_has_the_name_that_a_chamber_file_gives_it(tree: Tree) -> None:
    tree.sht4x("1-0044", 21.5, 82.0)
    tree.probe(OTHER, 21.0)
    tree.probe(PROBE, 21.0)
    found, strangers = find_sensors(tree.roots)
    assert found == (Found("ds18b20", PROBE), Found("ds18b20", OTHER), Found("sht4x", "1-0044"))
    assert strangers == ()


def test_a_bme280_is_found_among_the_iio_devices_by_its_address(tree: Tree) -> None:
    folder = tree.root / "devices" / "1-0076" / "iio:device0"
    folder.mkdir(parents=True)
    (folder / "name").write_text("bme280\n")
    (tree.roots.iio / "iio:device0").symlink_to(folder)
    assert find_sensors(tree.roots)[0] == (Found("bme280", "1-0076"),)


def test_what_no_chamber_file_can_name_is_told_apart_and_noise_is_left_out(tree: Tree) -> None:
    for name in ("10-000802b4f1a2", "00-400000000000", "w1_bus_master1"):
        (tree.roots.w1 / name).mkdir()
    (tree.roots.hwmon / "hwmon7").mkdir()
    (tree.roots.hwmon / "hwmon7" / "name").write_text("rpi_volt\n")
    assert find_sensors(tree.roots) == ((), ("10-000802b4f1a2",))


def test_each_shows_its_own_value(tree: Tree) -> None:
    tree.probe(PROBE, 21.0)
    tree.probe(OTHER, -3.5)
    tree.sht4x("1-0044", 19.25, 82.0)
    found, _ = find_sensors(tree.roots)
    assert shown(tree, *found) == {
        PROBE: Live(21.0),
        OTHER: Live(-3.5),
        "1-0044": Live(19.25, 82.0),
    }


def test_one_that_does_not_answer_is_a_named_fault_beside_the_others(tree: Tree) -> None:
    tree.probe(PROBE, 21.0)
    tree.probe(OTHER, 21.0)
    (tree.roots.w1 / OTHER / "w1_slave").write_text("")
    newest = shown(tree, *find_sensors(tree.roots)[0])
    assert newest[PROBE] == Live(21.0)
    fault = newest[OTHER].temp_c
    assert isinstance(fault, Fault)
    assert fault.kind == "empty"
