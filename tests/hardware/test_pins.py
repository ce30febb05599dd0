"""Our own pin factory, with the real settings of gpiod and a chip that writes down what it is asked.

A real chip is no part of the ordinary test run; the same calls were traced on a kernel's simulated one by hand.
"""

from pathlib import Path
from typing import Any, Literal

import gpiozero
import pytest
from gpiod import LineSettings
from gpiod.line import Bias, Direction, Value

from controller.errors import UnavailableError
from controller.hardware.pins import Contact, HeaderFactory, claim_anew, claim_output
from controller.relays_off import find_chip_path

Active = Literal["high", "low"]


class WrittenLine:
    """Stand for one claimed line: what it was asked, in order."""

    def __init__(self, asked: list[tuple[str, Any]]) -> None:
        self.asked = asked
        self.level = Value.INACTIVE

    def reconfigure_lines(self, config: dict[int, LineSettings]) -> None:
        self.asked.append(("reconfigure", config))

    def set_value(self, line: int, value: Value) -> None:
        self.level = value
        self.asked.append(("set", (line, value)))

    def get_value(self, line: int) -> Value:
        self.asked.append(("get", line))
        return self.level

    def release(self) -> None:
        self.asked.append(("release", None))


class WrittenChip:
    """Stand for the chip: what it was asked, in order."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, Any]] = []

    def request_lines(self, config: dict[int, LineSettings], consumer: str | None = None) -> WrittenLine:
        assert consumer == "hangroom"
        self.asked.append(("request", config))
        return WrittenLine(self.asked)


@pytest.mark.parametrize(
    ("active", "off", "pull"),
    [("high", Value.INACTIVE, Bias.PULL_DOWN), ("low", Value.ACTIVE, Bias.PULL_UP)],
)
def test_a_line_becomes_an_output_at_its_off_level_in_one_request(active: Active, off: Value, pull: Bias) -> None:
    chip = WrittenChip()
    coil = claim_output(17, active, HeaderFactory(chip))
    assert chip.asked == [("request", {17: LineSettings(direction=Direction.OUTPUT, output_value=off, bias=pull)})]
    coil.on()
    on = Value.INACTIVE if off is Value.ACTIVE else Value.ACTIVE
    assert chip.asked[1:] == [("set", (17, on))]


@pytest.mark.parametrize(("active", "off"), [("high", Value.INACTIVE), ("low", Value.ACTIVE)])
def test_closing_an_output_drives_it_off_and_keeps_it(active: Active, off: Value) -> None:
    chip = WrittenChip()
    coil: Any = claim_output(17, active, HeaderFactory(chip))
    coil.on()
    coil.close()
    assert chip.asked[-1] == ("set", (17, off))
    assert "release" not in [what for what, _ in chip.asked]


def test_a_line_cannot_become_an_output_without_its_level() -> None:
    chip = WrittenChip()
    with pytest.raises(gpiozero.PinInvalidFunction, match="together with its level"):
        gpiozero.OutputDevice(17, initial_value=None, pin_factory=HeaderFactory(chip))  # "As found", gpiozero says.
    assert chip.asked == []


def test_a_contact_is_an_input_with_pull_up_and_is_released() -> None:
    chip = WrittenChip()
    contact = Contact(22, HeaderFactory(chip))
    last = chip.asked[-1][1][22]
    assert (last.direction, last.bias) == (Direction.INPUT, Bias.PULL_UP)
    assert contact.is_open() == 0.0  # Pulled to ground: the contact is closed.
    assert all(kind in {"request", "reconfigure", "get"} for kind, _ in chip.asked)


def test_two_factories_do_not_share_their_pins() -> None:
    first, second = WrittenChip(), WrittenChip()
    one = claim_output(17, "high", HeaderFactory(first))
    other = claim_output(17, "high", HeaderFactory(second))
    assert len(first.asked) == len(second.asked) == 1
    assert one is not other


def test_no_chip_with_this_label_is_told_with_the_label(tmp_path: Path) -> None:
    with pytest.raises(UnavailableError, match="no GPIO chips are labelled pinctrl-rp1 or"):
        find_chip_path("", str(tmp_path))


@pytest.mark.parametrize(("active", "off"), [("high", Value.INACTIVE), ("low", Value.ACTIVE)])
def test_a_line_is_read_back_and_claimed_anew_in_one_call_at_its_off_level(active: Active, off: Value) -> None:
    chip = WrittenChip()
    coil = claim_output(17, active, HeaderFactory(chip))
    coil.on()
    chip.asked.clear()
    assert coil.is_active
    claim_anew(coil)
    bias = Bias.PULL_UP if active == "low" else Bias.PULL_DOWN
    settings = LineSettings(direction=Direction.OUTPUT, output_value=off, bias=bias)
    assert chip.asked == [("get", 17), ("reconfigure", {17: settings})]
