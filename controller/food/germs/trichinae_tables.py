"""Trichinae in pork, the printed figures: freezing, heating, and the methods of curing, fermenting and drying.

Status: 9 CFR 318.10 was removed by 83 FR 25302 (31 May 2018); the methods live on as options in the FSIS Compliance
Guideline for the Prevention and Control of Trichinella (2016, 2018), and in metric with the CFIA. They are for domestic
pork. They are no proof against any other germ (CFIA).
"""

from dataclasses import dataclass
from typing import Final, Literal

STATUS: Final = (
    "9 CFR 318.10 was removed by 83 FR 25302 (31 May 2018); its methods live on as options in the FSIS Compliance "
    "Guideline on Trichinella (2016, 2018) and with the CFIA."
)
_CFR: Final = "former 9 CFR 318.10 (removed by 83 FR 25302, 31 May 2018)"
FREEZING_1_SOURCE: Final = f"{_CFR}(c)(2) Table 1"
FREEZING_2_SOURCE: Final = f"{_CFR}(c)(2) Table 2, as quoted in a review"
EU_SOURCE: Final = "Commission Implementing Regulation (EU) 2015/1375, Annex II, method 3"
HEATING_SOURCE: Final = f"{_CFR}(c)(1)"
HILL_SOURCE: Final = "Hill et al. (2017), Food and Waterborne Parasitology 6-7:1-8, read second-hand"

DAY_H: Final = 24.0

FREEZING_1: Final = ((5.0, 20.0, 30.0), (-10.0, 10.0, 20.0), (-20.0, 6.0, 12.0))
"""(°F, days for pieces or layers up to 6 in, days for over 6 up to 27 in)."""
FREEZING_1_IN: Final = (6.0, 27.0)
FREEZING_2: Final = (
    (0.0, 106.0), (-5.0, 82.0), (-10.0, 63.0), (-15.0, 48.0), (-20.0, 35.0), (-25.0, 22.0), (-30.0, 8.0), (-35.0, 0.5),
)  # fmt: skip
"""(°F at the centre of the piece, hours)."""
EU_FREEZING: Final = (
    (-18.0, 106.0), (-21.0, 82.0), (-23.5, 63.0), (-26.0, 48.0), (-29.0, 35.0), (-32.0, 22.0), (-35.0, 8.0),
    (-37.0, 0.5),
)  # fmt: skip
"""(°C at the centre of the piece, hours)."""
HEATING: Final = (
    (120.0, 21.0 * 60.0), (122.0, 9.5 * 60.0), (124.0, 4.5 * 60.0), (126.0, 2.2 * 60.0), (128.0, 60.0), (130.0, 30.0),
    (132.0, 15.0), (134.0, 6.0), (136.0, 3.0), (138.0, 2.0), (140.0, 1.0), (142.0, 1.0), (144.0, 0.0),
)  # fmt: skip
"""(°F in all parts, minutes); 0: at once."""


@dataclass(frozen=True, slots=True)
class Need:
    """Hold one thing a method asks for: so long in a place at so many °F or more; None: at any temperature."""

    place: Literal["holding", "smoke", "heat", "drying room", "from cure to release"]
    hours: float
    temp_f: float | None = None
    in_a_row: bool = False


@dataclass(frozen=True, slots=True)
class Size:
    """Hold what a method asks of casings up to this diameter in inches; `only` names the one product it is for."""

    up_to_in: float
    needs: tuple[Need, ...]
    only: str = ""


@dataclass(frozen=True, slots=True)
class Method:
    """Hold one curing method: grind at most, salt at least, and by casing what time it takes.

    `salt_of` says what the salt is reckoned on: the unstuffed sausage, the meat, or the sausage without its dry
    ingredients.
    """

    id: str
    grind_in: float
    salt_pct: float
    sizes: tuple[Size, ...]
    source: str
    confirm: bool
    note: str = ""
    salt_of: Literal["sausage", "meat", "wet"] = "sausage"


def _days(days: float, temp_f: float) -> Need:
    return Need("drying room", days * DAY_H, temp_f)


def _from_cure(days: float) -> Need:
    return Need("from cure to release", days * DAY_H)


def _smoked(hours: float, temp_f: float) -> Need:
    return Need("smoke", hours, temp_f)


def _by_heat(*steps: tuple[float, float], days: float) -> tuple[Need, ...]:
    return (*(Need("heat", hours, temp_f) for temp_f, hours in steps), _days(days, 50.0))


METHOD_1: Final = Method(
    "method-1",
    0.75,
    3.3333,
    (
        Size(1.375, (_days(15, 45.0), _from_cure(20)), only="pepperoni"),
        Size(3.5, (_days(20, 45.0), _from_cure(25))),
        Size(4.0, (_days(35, 45.0), _from_cure(40))),
    ),
    "7 Pa. Code 1.334(a)(1), the same words as former 9 CFR 318.10(c)(3)(i)(A)",
    confirm=False,
    note="Salt is 3 1/3 lb for each 100 lb of the unstuffed sausage.",
)
METHOD_2: Final = Method(
    "method-2",
    0.75,
    3.33,
    (
        Size(3.5, (_smoked(40, 80.0), _days(10, 45.0), _from_cure(18))),
        Size(4.0, (_smoked(40, 80.0), _days(25, 45.0), _from_cure(33))),
    ),
    "CFIA, Control recommendations for the inactivation of Trichinella spiralis in pork products, A.1",
    confirm=False,
)
_HOLD_3: Final = Need("holding", 36, 34.0)
_ALL_3: Final = Need("holding", 144, 34.0)
METHOD_3: Final = Method(
    "method-3",
    0.75,
    3.3333,
    (
        Size(3.5, (_HOLD_3, _ALL_3, _smoked(12, 90.0), Need("smoke", 4, 128.0, in_a_row=True))),
        Size(4.0, (_HOLD_3, _ALL_3, _smoked(15, 90.0), Need("smoke", 7, 128.0, in_a_row=True))),
    ),
    f"{_CFR}(c)(3)(i)(C)",
    confirm=True,
    note=(
        "36 h of the holding are before stuffing, 144 h in all from the cure on, at 34 °F or more, or in a "
        "pickle of at least 50 degrees salometer at 44 °F. 128 °F is reached in not less than 4 h."
    ),
)
PICKLE_3: Final = (50.0, 44.0)
"""Degrees of the salometer and °F of the pickle that method 3 allows instead."""
RISE_3_H: Final = 4.0
METHOD_4: Final = Method(
    "method-4",
    0.25,
    2.5,
    (Size(10.0 / 3.0, (Need("holding", 240, 36.0), _days(25, 45.0), _from_cure(35))),),
    f"{_CFR}(c)(3)(i)(D)",
    confirm=True,
    note=(
        "The drying room is for what is left of the 35 days from the cure. Before stuffing the mass lies at most 6 in "
        "deep. A water bath of up to 3 h at 85 °F or more, or smoke at 80 °F or more, may come before drying; its time "
        "is added to the 35 days."
    ),
)
DEPTH_4_IN: Final = 6.0
BATH_4: Final = (3.0, 85.0, 80.0)
"""Hours of the water bath of method 4 at most, its °F at least, and °F of the smoke at least."""
METHOD_5: Final = Method(
    "method-5",
    0.75,
    3.3333,
    (Size(99.0, (_days(65, 45.0),)),),
    f"{_CFR}(c)(3)(i)(E)",
    confirm=True,
    note="The 65 days count from stuffing; the casing may be coated at any time before or during them.",
)
METHOD_6: Final = Method(
    "method-6",
    0.75,
    2.0,
    (),
    f"{_CFR}(c)(3)(i)(F), Tables 3A, 3B and 4",
    confirm=True,
    note="Salt is reckoned without the dry ingredients; below 3.33 % Table 4 adds days, it ends at 2.0 %.",
    salt_of="wet",
)
HOLD_6: Final = Need("holding", 48, 35.0)
DRY_6_F: Final = 50.0
FULL_SALT_6_PCT: Final = 3.33
TABLE_3A: Final = (
    (1.0, 14), (1.5, 15), (2.0, 16), (2.5, 18), (3.0, 20), (3.5, 23), (4.0, 25), (4.5, 30), (5.0, 35), (5.5, 43),
    (6.0, 50),
)  # fmt: skip
"""(casing at stuffing up to in, days in a drying room of 50 °F or more)."""
TABLE_3B_F: Final = (70.0, 75.0, 80.0, 85.0, 90.0, 95.0, 100.0, 105.0, 110.0, 120.0)
TABLE_3B: Final = {
    24.0: (4, 5, 8, 10, 15, 23, 37, 57, 90, 100),
    48.0: (9, 12, 18, 25, 35, 49, 88, 100, 100, 100),
    72.0: (14, 19, 28, 39, 55, 74, 100, 100, 100, 100),
    96.0: (19, 26, 38, 53, 75, 98, 100, 100, 100, 100),
    120.0: (24, 33, 48, 67, 95, 100, 100, 100, 100, 100),
}
"""% off the drying days, by hours held before drying and by the °F of `TABLE_3B_F`. No interpolation."""
TABLE_4: Final = {
    3.3: 1, 3.2: 4, 3.1: 7, 3.0: 10, 2.9: 13, 2.8: 16, 2.7: 19, 2.6: 22, 2.5: 25, 2.4: 28, 2.3: 31, 2.2: 34, 2.1: 37,
    2.0: 40,
}  # fmt: skip
"""% more drying days by the % of salt, rounded down to 0.1."""
METHOD_7: Final = Method(
    "method-7",
    0.25,
    2.7,
    (
        Size(55.0 / 25.4, _by_heat((50.0, 12), (100.0, 1), (125.0, 6), days=4)),
        Size(105.0 / 25.4, _by_heat((50.0, 12), (90.0, 1), (100.0, 1), (110.0, 1), (120.0, 1), (125.0, 7), days=7)),
    ),
    f"{_CFR}(c)(3)(i)(G), Tables 5 and 6",
    confirm=True,
    note="The temperatures are those of the chamber; each step begins when the one before it is full.",
    salt_of="meat",
)
METHODS: Final = (METHOD_1, METHOD_2, METHOD_3, METHOD_4, METHOD_5, METHOD_6, METHOD_7)

HILL_PH: Final = (4.6, 5.2)
HILL_SALT_PCT: Final = 1.3
HILL_AW: Final = 0.92
HILL_FERMENT_C: Final = 23.8
HILL_DRY_C: Final = 15.5
HILL_RH_PCT: Final = 75.0
HILL_AT_4_6_DAYS: Final = 8
HILL_DAYS: Final = ((1.3, 11), (1.8, 9), (2.8, 8))
"""Above pH 4.6 up to 5.2: (salt from this %, days)."""
