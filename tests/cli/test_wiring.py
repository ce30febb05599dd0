"""The wiring table against the header as gpiozero's own board data has it."""

import gpiozero

from controller.cli.pages.wiring import HEADER_PIN


def test_every_gpio_sits_where_gpiozeros_board_data_of_a_pi_3_has_it() -> None:
    header = gpiozero.PiBoardInfo.from_revision(0xA020D3).headers["J8"]  # Pi 3B+; the 40-pin header is the same since.
    published = {pin.name: number for number, pin in header.pins.items() if pin.name.startswith("GPIO")}
    assert {f"GPIO{bcm}": number for bcm, number in HEADER_PIN.items()} == published
