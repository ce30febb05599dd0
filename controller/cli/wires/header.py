"""The 40-pin header as one counts it on the board."""

from typing import Final

PINS: Final[tuple[int | str, ...]] = (
    "3.3 V", "5 V", 2, "5 V", 3, "ground", 4, 14, "ground", 15, 17, 18, 27, "ground", 22, 23, "3.3 V", 24, 10, "ground",
    9, 25, 11, 8, "ground", 7, 0, 1, 5, "ground", 6, 12, 13, "ground", 19, 16, 26, 20, "ground", 21,
)  # fmt: skip
"""What each pin is, from pin 1 on: a GPIO by its BCM number, or what it carries. Odd pins are the inner row, even ones
the row along the edge of the board. Raspberry Pi documentation, "GPIO and the 40-pin header"."""

HEADER_PIN: Final[dict[int, int]] = {what: pin for pin, what in enumerate(PINS, 1) if isinstance(what, int)}
"""BCM number to the pin of the header."""

POWER_PIN: Final = 1
GROUND_PIN: Final = 39
"""The ends of the odd row; any other pin of 3.3 V, or of ground, is the same wire on the board."""

HELD_UP: Final = frozenset({2, 3})
"""GPIO 2 and 3 have resistors of 1.8 kΩ to 3.3 V on the board itself (Raspberry Pi documentation, I2C; the figure is
from memory). No resistor of a maker's pulls such a pin low enough."""


def name_pin(gpio: int) -> str:
    """Return how a pin is called on paper: its BCM number and where it sits on the header."""
    where = HEADER_PIN.get(gpio)
    return f"GPIO {gpio}" if where is None else f"GPIO {gpio} (header pin {where})"
