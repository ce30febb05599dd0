"""Fixed points against which instruments are checked: buffers, saturated salt solutions, melting ice.

Between two rows of a table the straight line is taken, and outside the table there is no value. "7.00" (technical) and
"6.86" (standard) are two different liquids, as are 4.00 and 4.01; what stands on the bottle says which.
"""

from dataclasses import dataclass
from math import exp
from typing import Final

ICE_C: Final = 0.0
ICE_UNCERTAINTY_K: Final = 0.1
"""Of a slush as a kitchen makes it: crushed ice, filled to the top with clean water. Common practice, no source."""
KELVIN: Final = 273.15

BUFFER_UNCERTAINTY: Final = 0.02
"""In pH: what a bottle promises, ±0.01 to ±0.02 by its label (common practice, no source), and the table's rounding."""

JIS: Final = "JIS Z 8802 (read second-hand)"
TECHNICAL: Final = "technical buffers 4.00, 7.00 and 10.01 (table of an instrument manual)"
HETZER: Final = "Hetzer, Durst, Robinson and Bates (1977), J. Res. NBS 81A"
OIML: Final = "OIML R 121:1996, table 1, uncertainty for k = 2"
GREENSPAN: Final = "Greenspan (1977), J. Res. Natl. Bur. Stand. 81A:89-96 (coefficients read second-hand)"
CRC: Final = "CRC Handbook of Chemistry and Physics, section 15, Constant Humidity Solutions (about 2 %)"


@dataclass(frozen=True, slots=True)
class FixedPoint:
    """Hold what a fixed point is at the temperature that was asked for, its uncertainty, and who says so."""

    value: float
    uncertainty: float
    source: str


@dataclass(frozen=True, slots=True)
class Buffer:
    """Hold one buffer: what stands on its bottle, and its pH every 5 °C from 0 °C on."""

    bottle: str
    ph: tuple[float, ...]
    source: str

    @property
    def highest_c(self) -> float:
        """Return up to which temperature its table goes."""
        return STEP_C * (len(self.ph) - 1)


STEP_C: Final = 5.0
FORMULA: Final = "phthalate 0.05 mol/kg, formula"
FORMULA_BOTTLE: Final = "4.006"
FORMULA_C: Final = (0.0, 50.0)

BUFFERS: Final[dict[str, Buffer]] = {
    "oxalate": Buffer("1.68", (1.67, 1.67, 1.67, 1.67, 1.68, 1.68, 1.69, 1.69, 1.70, 1.70, 1.71), JIS),
    "phthalate": Buffer("4.01", (4.01, 4.01, 4.00, 4.00, 4.00, 4.01, 4.01, 4.02, 4.03, 4.04, 4.06), JIS),
    "neutral phosphate (equimolal)": Buffer(
        "6.86", (6.98, 6.95, 6.92, 6.90, 6.88, 6.86, 6.85, 6.84, 6.84, 6.83, 6.83), JIS
    ),
    "borate": Buffer("9.18", (9.46, 9.39, 9.33, 9.27, 9.22, 9.18, 9.14, 9.10, 9.07, 9.04, 9.01), JIS),
    "carbonate": Buffer("10.02", (10.32, 10.25, 10.18, 10.12, 10.07, 10.02, 9.97, 9.93), JIS),
    "technical 4.00": Buffer(
        "4.00", (4.00, 4.00, 4.00, 4.00, 4.00, 4.00, 4.01, 4.02, 4.03, 4.04, 4.06), TECHNICAL
    ),
    "technical 7.00": Buffer(
        "7.00", (7.12, 7.09, 7.06, 7.04, 7.02, 7.00, 6.99, 6.99, 6.98, 6.98, 6.97), TECHNICAL
    ),
    "technical 10.01": Buffer(
        "10.01", (10.32, 10.25, 10.18, 10.12, 10.06, 10.01, 9.97, 9.93, 9.89, 9.86, 9.83), TECHNICAL
    ),
}  # fmt: skip

BOTTLES: Final[dict[str, str]] = {buffer.bottle: name for name, buffer in BUFFERS.items()} | {FORMULA_BOTTLE: FORMULA}
"""What stands on a bottle, to the name of the liquid in it."""


def buffer_ph(name: str, temp_c: float) -> FixedPoint:
    """Return the pH of a buffer at its temperature.

    Args:
        name: a key of `BUFFERS`, or `FORMULA`.
        temp_c: of the liquid, 0 to 50 °C (carbonate to 35 °C).

    Raises:
        ValueError: no such buffer, or its table does not go that far.
    """
    if name == FORMULA:
        return FixedPoint(phthalate_ph(temp_c), BUFFER_UNCERTAINTY, HETZER)
    buffer = BUFFERS.get(name)
    if buffer is None:
        raise ValueError(f"{name}: no such buffer; there are {', '.join(BUFFERS)}")
    _within(temp_c, 0.0, buffer.highest_c, f"buffer {buffer.bottle}")
    place = min(int(temp_c / STEP_C), len(buffer.ph) - 2)
    low, high = buffer.ph[place], buffer.ph[place + 1]
    value = low + (high - low) * (temp_c / STEP_C - place)
    return FixedPoint(value, BUFFER_UNCERTAINTY, buffer.source)


def phthalate_ph(temp_c: float) -> float:
    """Return pH(S) of potassium hydrogen phthalate, 0.05 mol/kg, at 0 to 50 °C.

    pH(S) = 2073.44/T - 13.3270 + 0.045199 T - 3.4846e-5 T², T in kelvin: Hetzer, Durst, Robinson and Bates (1977),
    J. Res. NBS 81A. Raises ValueError outside that range.
    """
    _within(temp_c, *FORMULA_C, f"buffer {FORMULA_BOTTLE}")
    temp_k = temp_c + KELVIN
    return 2073.44 / temp_k - 13.3270 + 0.045199 * temp_k - 3.4846e-5 * temp_k**2


SALTS: Final[dict[str, tuple[tuple[float, float, float], ...]]] = {
    "LiCl": (
        (0, 11.23, 0.54), (5, 13, 1.8), (10, 13, 1.7), (15, 12, 1.8), (20, 12, 0.9), (25, 11.3, 0.3), (30, 11.3, 0.3),
        (35, 11.3, 0.3), (40, 11.2, 0.3), (45, 11.2, 0.3), (50, 11.1, 0.3),
    ),
    "CH3COOK": ((10, 23.4, 0.6), (15, 23.4, 0.4), (20, 23.1, 0.3), (25, 22.5, 0.4), (30, 21.6, 0.6)),
    "MgCl2": (
        (0, 33.67, 0.33), (5, 33.6, 0.3), (10, 33.5, 0.3), (15, 33.3, 0.3), (20, 33.1, 0.2), (25, 32.8, 0.2),
        (30, 32.4, 0.2), (35, 32.1, 0.2), (40, 31.6, 0.2), (45, 31.1, 0.2), (50, 30.5, 0.2),
    ),
    "K2CO3": (
        (0, 43.13, 0.66), (5, 43.1, 0.5), (10, 43.1, 0.4), (15, 43.2, 0.4), (20, 43.2, 0.4), (25, 43.2, 0.4),
        (30, 43.2, 0.5),
    ),
    "NaBr": (
        (5, 63.5, 0.8), (10, 62.2, 0.6), (15, 60.7, 0.6), (20, 59.1, 0.5), (25, 57.6, 0.4), (30, 56.0, 0.4),
        (35, 54.6, 0.4), (40, 53.2, 0.5), (45, 52.0, 0.5), (50, 50.9, 0.6),
    ),
    "KI": (
        (5, 73.3, 0.4), (10, 72.1, 0.4), (15, 71.0, 0.3), (20, 69.9, 0.3), (25, 68.9, 0.3), (30, 67.9, 0.3),
        (35, 67.0, 0.3), (40, 66.1, 0.3), (45, 65.3, 0.3), (50, 64.5, 0.3),
    ),
    "NaCl": (
        (0, 75.52, 0.34), (5, 75.7, 0.3), (10, 75.7, 0.3), (15, 75.6, 0.2), (20, 75.5, 0.2), (25, 75.3, 0.2),
        (30, 75.1, 0.2), (35, 74.9, 0.2), (40, 74.7, 0.2), (45, 74.5, 0.2), (50, 74.5, 0.9),
    ),
    "KCl": (
        (0, 88.62, 0.53), (5, 87.7, 0.5), (10, 86.8, 0.4), (15, 85.9, 0.4), (20, 85.1, 0.3), (25, 84.2, 0.3),
        (30, 83.6, 0.3), (35, 83.0, 0.3), (40, 82.3, 0.3), (45, 81.7, 0.3), (50, 81.2, 0.4),
    ),
    "KNO3": (
        (0, 96.34, 2.9), (5, 96.27, 2.2), (10, 95.96, 2.2), (15, 95.41, 2.2), (20, 94.62, 2.2), (25, 93.59, 2.2),
        (30, 92.31, 2.2), (35, 90.79, 2.2), (40, 89.03, 2.2), (45, 87.03, 2.2), (50, 84.79, 2.2),
    ),
    "K2SO4": (
        (0, 98.78, 1.1), (5, 98.5, 1.0), (10, 98.2, 0.8), (15, 97.9, 0.7), (20, 97.6, 0.6), (25, 97.3, 0.5),
        (30, 97.0, 0.4), (35, 96.7, 0.4), (40, 96.4, 0.4), (45, 96.1, 0.4), (50, 95.8, 0.5),
    ),
}  # fmt: skip
"""°C, %RH over the saturated solution, uncertainty. OIML R 121:1996, table 1 (k = 2), but: the rows at 0 °C and all of
KNO3 are Greenspan's polynomials, the uncertainties at 0 °C from memory of his table 2. Of LiCl below 25 °C OIML gives
no uncertainty but how far published values spread; the farther end is taken. Of KNO3 no uncertainty is at hand: the
CRC form and Greenspan's differ by up to 2.2 %RH between 0 and 50 °C, and that is taken."""


def rh_of(salt: str, temp_c: float) -> FixedPoint:
    """Return the relative humidity in % over a saturated solution of this salt.

    Args:
        salt: a key of `SALTS`, as "NaCl".
        temp_c: of solution and air; 0 to 50 °C for most salts.

    Raises:
        ValueError: no such salt, or its table does not go that far.
    """
    rows = SALTS.get(salt)
    if rows is None:
        raise ValueError(f"{salt}: no such salt in the table; there are {', '.join(SALTS)}")
    _within(temp_c, rows[0][0], rows[-1][0], salt)
    place = next((place for place, row in enumerate(rows[1:-1], start=1) if temp_c < row[0]), len(rows) - 1)
    (low_c, low, low_error), (high_c, high, high_error) = rows[place - 1], rows[place]
    share = (temp_c - low_c) / (high_c - low_c)
    source = GREENSPAN if salt == "KNO3" else OIML
    if low_c == 0.0 and share < 1.0:
        source = f"{source}; below 5 °C partly from memory"
    return FixedPoint(low + (high - low) * share, low_error + (high_error - low_error) * share, source)


POLYNOMIALS: Final[dict[str, tuple[float, float, tuple[float, ...]]]] = {
    "LiCl": (0, 80, (11.2323, 0.00824245, -0.00021489)),
    "MgCl2": (0, 99.4, (33.6686, -0.00797397, -0.00108988)),
    "NaCl": (0, 80, (75.5164, 0.0398321, -0.00265459, 2.848e-05)),
    "KCl": (0, 90, (88.619, -0.19334, 0.000899706)),
    "K2CO3": (0, 30, (43.1315, 0.00147523)),
    "CH3COOK": (10, 30, (22.4388, 0.156288, -0.00612268)),
    "KNO3": (0, 50, (96.3361, 0.0112371, -0.00484514)),
    "K2SO4": (0, 50, (98.7792, -0.0590502)),
}
"""From °C, to °C, coefficients of rising powers of °C. Greenspan (1977), read second-hand; of LiCl and K2CO3 the linear
term and of CH3COOK the square one have the other sign there, here the one with which OIML R 121 is met."""


def greenspan_pct(salt: str, temp_c: float) -> float:
    """Return the relative humidity in % by Greenspan's polynomial. Raises ValueError where there is none."""
    if salt not in POLYNOMIALS:
        raise ValueError(f"{salt}: has no polynomial; there are {', '.join(POLYNOMIALS)}")
    low_c, high_c, factors = POLYNOMIALS[salt]
    _within(temp_c, low_c, high_c, salt)
    return sum(factor * temp_c**power for power, factor in enumerate(factors))


EXPONENTIALS: Final[dict[str, tuple[float, float, float, float]]] = {
    "LiCl": (20, 65, 14.53, -75),
    "MgCl2": (5, 45, 29.26, 34),
    "Mg(NO3)2": (5, 35, 25.28, 220),
    "NaBr": (0, 35, 20.49, 308),
    "KI": (5, 30, 29.35, 254),
    "NaCl": (10, 40, 69.2, 25),
    "KCl": (5, 25, 49.38, 159),
    "KNO3": (0, 50, 43.22, 225),
    "K2SO4": (10, 50, 86.75, 34),
}
"""From °C, to °C, A in %, B in kelvin. CRC Handbook of Chemistry and Physics, section 15 (A. Wexler), about 2 %."""


def crc_pct(salt: str, temp_c: float) -> float:
    """Return the relative humidity in % by A exp(B/T). Raises ValueError for a salt or range that has none."""
    if salt not in EXPONENTIALS:
        raise ValueError(f"{salt}: has no such figures; there are {', '.join(EXPONENTIALS)}")
    low_c, high_c, factor, temp_k = EXPONENTIALS[salt]
    _within(temp_c, low_c, high_c, salt)
    return factor * exp(temp_k / (temp_c + KELVIN))


def _within(temp_c: float, low_c: float, high_c: float, what: str) -> None:
    if not low_c <= temp_c <= high_c:
        raise ValueError(f"{what} at {temp_c:g} °C: its table goes from {low_c:g} to {high_c:g} °C")


ICE_PRACTICE: Final = (
    "Fill a cup with crushed ice, pour clean cold water to the top of the ice, and stir.",
    "Put the sensing part in the middle, clear of walls and bottom; a humidity sensor never goes into water.",
    "Stir, wait 30 s or until it stays the same, and read to 0.1 degrees.",
)
SALT_PRACTICE: Final = (
    "Stir a pure salt with a little pure water to a wet mash: 30 to 90 % of the salt stays undissolved.",
    "Put mash and sensor into a small vessel that closes tightly: much wet surface, little air, the sensor above it.",
    "Where nothing stirs its air it is no taller than the surface is wide, and the sensor never touches the mash.",
    "Keep it wrapped in a room that changes by less than 1 K, until it shows the same for an hour; measure there.",
    "NaCl and KCl stand on either side of where a chamber works.",
)
"""OIML R 121:1996; the hour and not touching are common practice, no source."""
BUFFER_PRACTICE: Final = (
    "Take fresh buffers on each day of use, one around 4 and one around 7, both at the temperature that you type.",
    "Rinse the electrode with pure water before each, dab it, never rub it, and wait until it stays the same.",
    "Type what stands on each bottle and what the meter shows: 7.00 and 6.86 are two different liquids.",
)
REFERENCE_PRACTICE: Final = (
    "Put both side by side, in the same stirred water or in the same moving air, until both stay the same.",
    "The other instrument must be the better one, and have been checked itself.",
)
"""Common practice, no source."""
