"""The real w1thermsensor on folders that hold the kernel's own text (tests/data/kernel_text.toml)."""

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from controller.core.values import Fault
from controller.hardware.w1 import ProbeOnWire

ID = "28-000544332211"
TEXT = tomllib.loads((Path(__file__).parents[1] / "data" / "kernel_text.toml").read_text())["w1_slave"]


@pytest.fixture
def probe(tmp_path: Path) -> ProbeOnWire:
    (tmp_path / ID).mkdir()
    return ProbeOnWire(ID, tmp_path)


def put(tmp_path: Path, text: str | bytes) -> None:
    (tmp_path / ID / "w1_slave").write_bytes(text if isinstance(text, bytes) else text.encode())


def kind(answer: float | Fault) -> str:
    assert isinstance(answer, Fault), answer
    assert ID in answer.detail
    return answer.kind


@pytest.mark.parametrize(("name", "value_c"), [("good", 21.0), ("below_zero", -10.125), ("zero", 0.0)])
def test_a_good_text_is_its_temperature(probe: ProbeOnWire, tmp_path: Path, name: str, value_c: float) -> None:
    put(tmp_path, TEXT[name])
    assert probe.read_c() == value_c


@pytest.mark.parametrize(
    ("name", "fault"),
    [
        ("empty", "empty"),
        ("old_style_no", "checksum"),
        ("power_on", "power_on_value"),
        ("low_supply", "low_supply"),
        ("all_zero", "no_reply"),
    ],
)
def test_a_bad_text_is_a_named_fault(probe: ProbeOnWire, tmp_path: Path, name: str, fault: str) -> None:
    put(tmp_path, TEXT[name])
    assert kind(probe.read_c()) == fault


def test_no_part_of_a_text_is_ever_taken_for_a_temperature(probe: ProbeOnWire, tmp_path: Path) -> None:
    """Cut after "50 0" in its second line, the good text reads 5.0 °C to the library."""
    whole = TEXT["good"]
    for length in range(1, len(whole)):
        put(tmp_path, whole[:length])
        assert kind(probe.read_c()) == "half_read", whole[:length]
    put(tmp_path, whole)
    assert probe.read_c() == 21.0


def test_lines_of_two_measurements_are_not_one_temperature(probe: ProbeOnWire, tmp_path: Path) -> None:
    put(tmp_path, TEXT["good"].splitlines()[0] + "\n" + TEXT["zero"].splitlines()[1] + "\n")
    assert kind(probe.read_c()) == "half_read"


def test_bytes_that_are_no_text_are_half_a_reading(probe: ProbeOnWire, tmp_path: Path) -> None:
    put(tmp_path, b"\xff\xfe\x80 YES\n")
    assert kind(probe.read_c()) == "half_read"


def test_a_probe_that_vanishes_is_missing_and_comes_back(probe: ProbeOnWire, tmp_path: Path) -> None:
    assert kind(probe.read_c()) == "missing"
    put(tmp_path, TEXT["good"])
    assert probe.read_c() == 21.0
    (tmp_path / ID / "w1_slave").unlink()
    (tmp_path / ID).rmdir()
    assert kind(probe.read_c()) == "missing"


def test_an_error_of_the_kernel_keeps_its_name(probe: ProbeOnWire, tmp_path: Path) -> None:
    (tmp_path / ID / "w1_slave").mkdir()
    assert probe.read_c() == Fault("bus_error", f"{ID}: EISDIR")


def test_without_a_bus_the_probe_is_missing(tmp_path: Path) -> None:
    assert kind(ProbeOnWire(ID, tmp_path / "no-bus").read_c()) == "missing"


def test_reading_never_runs_modprobe(tmp_path: Path) -> None:
    """The library would run it when it is imported, and wait a second, where this machine has no 1-wire."""
    witness = tmp_path / "modprobe"
    witness.write_text(f"#!/bin/sh\ntouch {tmp_path}/was-run\n")
    witness.chmod(0o755)
    program = f"from controller.hardware.w1 import ProbeOnWire\nprint(ProbeOnWire({ID!r}).read_c().kind)"
    said = subprocess.run(
        [sys.executable, "-c", program],
        env={"PATH": str(tmp_path), "PYTHONPATH": str(Path(__file__).parents[2])},
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout == "missing\n"
    assert not (tmp_path / "was-run").exists()
