"""The reader of the kernel's humidity sensors, on trees laid out as the kernel lays them (kernel_text.toml)."""

import errno
import os
import shutil
import tomllib
from pathlib import Path

import pytest

from controller.core.values import Fault
from controller.hardware.sysfs import KernelSensor, Kind

TEXT = tomllib.loads((Path(__file__).parents[1] / "data" / "kernel_text.toml").read_text())


class Tree:
    """Lay out devices, classes and drivers as under /sys."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.hwmon = root / "class" / "hwmon"
        self.iio = root / "bus" / "iio" / "devices"
        self.hwmon.mkdir(parents=True)
        self.iio.mkdir(parents=True)

    def device(self, address: str, driver: str) -> Path:
        device = self.root / "devices" / address
        device.mkdir(parents=True)
        (self.root / "drivers" / driver).mkdir(parents=True, exist_ok=True)
        (device / "driver").symlink_to(self.root / "drivers" / driver)
        return device

    def add_hwmon(self, address: str, number: int, driver: str = "sht4x") -> Path:
        device = self.device(address, driver)
        folder = device / "hwmon" / f"hwmon{number}"
        folder.mkdir(parents=True)
        (folder / "device").symlink_to(device)
        (self.hwmon / folder.name).symlink_to(folder)
        return self.fill(folder, {**TEXT["sht4x"], "name": f"{driver}\n"})

    def add_iio(self, address: str, number: int, files: dict[str, str], driver: str = "bmp280") -> Path:
        folder = self.device(address, driver) / f"iio:device{number}"
        folder.mkdir(parents=True)
        (self.iio / folder.name).symlink_to(folder)
        return self.fill(folder, files)

    def fill(self, folder: Path, files: dict[str, str]) -> Path:
        for name, text in files.items():
            (folder / name).write_text(text)
        return folder

    def sensor(self, kind: Kind, address: str = "") -> KernelSensor:
        return KernelSensor(kind, address, self.hwmon, self.iio)


@pytest.fixture
def tree(tmp_path: Path) -> Tree:
    return Tree(tmp_path)


def faults(sensor: KernelSensor) -> set[str]:
    answers = sensor.read().values()
    assert all(isinstance(answer, Fault) for answer in answers), answers
    return {answer.kind for answer in answers if isinstance(answer, Fault)}


def test_an_sht4x_is_found_by_its_driver_when_it_is_the_only_one(tree: Tree) -> None:
    tree.add_hwmon("1-0045", 3)
    assert tree.sensor("sht4x").read() == {"temp": 21.498, "rh": 81.997}


def test_of_two_sensors_the_address_decides(tree: Tree) -> None:
    tree.add_hwmon("1-0044", 0)
    tree.fill(tree.add_hwmon("1-0045", 1), {"temp1_input": "12000\n"})
    assert faults(tree.sensor("sht4x")) == {"missing"}
    assert tree.sensor("sht4x", "1-0045").read()["temp"] == 12.0
    assert tree.sensor("sht4x", "1-0044").read()["temp"] == 21.498


def test_a_bme280_is_read_from_its_iio_files(tree: Tree) -> None:
    tree.add_iio("1-0076", 0, TEXT["bme280"])
    assert tree.sensor("bme280").read() == {"temp": 25.08, "rh": 62.596}
    assert tree.sensor("bme280", "1-0076").read() == {"temp": 25.08, "rh": 62.596}


def test_a_dht22_is_found_by_the_driver_of_another_name(tree: Tree) -> None:
    files = {"name": "dht11@4\n", "in_temp_input": "23400\n", "in_humidityrelative_input": "81200\n"}
    tree.add_iio("dht11@4", 0, files, driver="dht11")
    assert tree.sensor("dht22").read() == {"temp": 23.4, "rh": 81.2}


def test_raw_values_are_offset_first_and_scaled_then(tree: Tree) -> None:
    """Scale and offset as of an SI7020 (kernel 6.1, drivers/iio/humidity/si7020.c); humidity without an offset."""
    files = {
        "name": "1-0040\n",
        "in_temp_raw": "6400\n",
        "in_temp_offset": "-4368\n",
        "in_temp_scale": "10.725\n",
        "in_humidityrelative_raw": "8000\n",
        "in_humidityrelative_scale": "10.0\n",
    }
    tree.add_iio("1-0040", 1, files, driver="si7020")
    assert tree.sensor("bme280", "1-0040").read() == {"temp": pytest.approx(21.7932), "rh": pytest.approx(80.0)}


def test_numbers_that_change_are_followed(tree: Tree) -> None:
    old = tree.add_hwmon("1-0045", 3)
    sensor = tree.sensor("sht4x", "1-0045")
    assert sensor.read()["temp"] == 21.498
    shutil.rmtree(tree.root / "devices")
    (tree.hwmon / old.name).unlink()
    assert faults(sensor) == {"missing"}
    tree.add_hwmon("1-0045", 7)
    assert sensor.read()["temp"] == 21.498


@pytest.mark.parametrize("text", ["", "214", "garbage\n"])
def test_half_a_number_is_no_number(tree: Tree, text: str) -> None:
    tree.fill(tree.add_hwmon("1-0045", 0), {"temp1_input": text, "humidity1_input": text})
    assert faults(tree.sensor("sht4x")) == {"half_read"}


def test_an_error_of_the_bus_keeps_its_name(tree: Tree) -> None:
    """A directory in place of the file makes the real read() fail with EISDIR, as the driver makes it with EIO."""
    folder = tree.add_hwmon("1-0045", 0)
    (folder / "temp1_input").unlink()
    (folder / "temp1_input").mkdir()
    answers = tree.sensor("sht4x").read()
    assert answers["temp"] == Fault("bus_error", f"sht4x: {errno.errorcode[errno.EISDIR]}")
    assert answers["rh"] == 81.997


def test_without_any_sensor_tree_the_sensor_is_missing(tmp_path: Path) -> None:
    nowhere = tmp_path / "no-sys"
    assert faults(KernelSensor("sht3x", "", nowhere, nowhere)) == {"missing"}
    assert not os.path.lexists(nowhere)
