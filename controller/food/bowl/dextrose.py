"""Dextrose: how much of it leads to which pH, as a range.

The inverse of `controller.food.acid.end_ph`; the same calibrated model, and no promise.
"""

from math import pow as power
from typing import Final

from controller.food import acid

SUGAR_G_PER_KG_AND_TENTH: Final = (0.3, 1.0)
"""Grams of sugar per kg that the trade reckons for 0.1 pH. 1.0: Toldra, Dry-Cured Meat Products, p. 93 (about 1 % for a
pH unit; read second-hand); 0.3: quoted in the same family of sources. They differ by three: never a promise."""
SOFT_AND_STIFF: Final = ((42.0, 6.0), (acid.BUFFER, acid.OWN_SUGAR), (58.0, 1.0))
"""(buffer in mmol per kg and pH, own sugar in mmol per kg) of the meat that falls lowest, usually, and least."""


def dextrose_for_ph(ph: float, *, ph_at_start: float = acid.MIX_PH) -> tuple[float, float, float]:
    """Return (lowest, expected, highest) dextrose in % of the mix after which a ferment ends at this pH.

    The inverse of `acid.end_ph`: sugar = buffer (pH0 - pH) (1 + 10^(pKa - pH)) / 1.8 - own sugar, for a buffer of 42,
    50 and 58 mmol per kg and own sugar of 6, 3 and 1 mmol per kg. A calibrated model: a range, never a promise.

    Args:
        ph: aimed at; above 4.40, where cultures stop by themselves, up to `ph_at_start`.
        ph_at_start: of the mix.

    Raises:
        ValueError: no sugar leads to this pH.
    """
    stops = acid.MESOPHILIC.ph_min
    if not stops < ph <= ph_at_start:
        message = f"pH {ph}: above {stops:.1f}, where cultures stop by themselves, up to {ph_at_start} is right"
        raise ValueError(message)
    lowest, expected, highest = (_sugar_pct(ph, ph_at_start, buffer, own) for buffer, own in SOFT_AND_STIFF)
    return lowest, expected, highest


def _sugar_pct(ph: float, ph_at_start: float, buffer: float, own: float) -> float:
    """Return the dextrose in % of the mix for this pH, never below 0."""
    made = buffer * (ph_at_start - ph) * (1.0 + power(10.0, acid.LACTIC_PKA - ph))
    return max(0.0, (made / acid.ACID_PER_SUGAR - own) / (10.0 * acid.GLUCOSE_MMOL_PER_G))


def end_ph_range(
    dextrose_pct_of_mix: float, *, ph_at_start: float = acid.MIX_PH, starter: bool = True
) -> tuple[float, float, float]:
    """Return the (lowest, expected, highest) pH where a ferment with so much dextrose ends.

    Buffer 42 to 58 mmol per kg, own sugar 6 to 1 mmol per kg. Without a starter nothing says that any acid comes: the
    highest is then the pH at the start.
    """
    lowest, expected, highest = (
        acid.end_ph(dextrose_pct_of_mix, ph_at_start=ph_at_start, buffer=buffer, own_sugar=own)
        for buffer, own in SOFT_AND_STIFF
    )
    return lowest, expected, highest if starter else ph_at_start


def sugar_by_rule_of_thumb_g_per_kg(ph_drop: float) -> tuple[float, float]:
    """Return the (lowest, highest) grams of sugar per kg that the trade reckons for this fall of the pH."""
    low, high = SUGAR_G_PER_KG_AND_TENTH
    return low * ph_drop / 0.1, high * ph_drop / 0.1
