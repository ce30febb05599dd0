"""The bench beside the chamber: what a person measures at the modelled meat, with instruments that err a little.

What is shown depends on the seed, the instrument and the second in which it is read, and on nothing else: who looks
twice at once sees the same twice, and a run can be repeated.
"""

from random import Random
from typing import Final

from controller.core.values import LookKind
from controller.food.degree_hours import TARGET_PH
from controller.simulator.meat import Meat
from controller.simulator.world import World

PH_NOISE: Final = 0.03
SCALE_NOISE: Final = 0.0015
CORE_NOISE_K: Final = 0.2
AW_NOISE: Final = 0.003
TARE_G: Final = 6.0
PIECES: Final = {"A": 0.97, "B": 1.0, "C": 1.03}
"""The marked pieces, and how their loss compares with the mean."""
LARGEST_PIECE_G: Final = 450.0
WET_AW: Final = 0.955
TACKY_AW: Final = 0.93
SOFT_LOSS_PCT: Final = 10.0
FIRM_LOSS_PCT: Final = 25.0
MOULD_LOSS_PCT: Final = 8.0
SOUR_PH: Final = 5.4
"""Figures of this page: common practice, no source. TARE_G is hook and string of one piece."""


class Bench:
    """Measure at the meat of one world."""

    def __init__(self, world: World) -> None:
        """Take the world; its seed is that of all errors."""
        self._world = world

    def ph(self, meat: Meat, sample: str = "mince") -> float:
        """Return what the meter shows, of the wrapped sample ("mince") or in the middle of a real sausage."""
        return round(meat.ph + self._error(f"ph:{sample}", PH_NOISE), 2)

    def sample_temp_c(self) -> float | None:
        """Return the temperature of the sample, as a thermometer shows it in °C."""
        temp_c = self._world.true_meat_temp_c
        return None if temp_c is None else round(temp_c, 1)

    def core_temp_c(self, meat: Meat) -> float:
        """Return what the probe shows in the thickest piece, in °C."""
        return round(meat.core_temp_c + self._error("core", CORE_NOISE_K), 1)

    def water_activity(self, meat: Meat) -> float:
        """Return what an instrument shows of a whole slice, minced."""
        return round(meat.mean_aw + self._error("aw", AW_NOISE), 3)

    def gross_g(self, batch: str, meat: Meat) -> dict[str, float]:
        """Return what the scale shows of each marked piece in whole grams, hook and string included."""
        lost = meat.weight_loss_pct / 100.0
        return {
            piece: float(
                round(green_g * (1.0 - PIECES[piece] * lost) * (1.0 + self._error(piece, SCALE_NOISE)) + TARE_G)
            )
            for piece, green_g in self.green_g(batch, meat).items()
        }

    def green_g(self, batch: str, meat: Meat) -> dict[str, float]:
        """Return what the marked pieces of this batch weighed in truth when they were stuffed, without hook."""
        random = Random(f"{self._world.seed}:pieces:{batch}")  # noqa: S311 - a model, no secret
        green_kg = meat.mass_kg / (1.0 - meat.weight_loss_pct / 100.0)
        mean_g = min(LARGEST_PIECE_G, green_kg * 1000.0 / len(PIECES))
        return {piece: mean_g * random.uniform(0.9, 1.1) for piece in PIECES}

    def looks(self, meat: Meat, *, mould: bool = False) -> dict[LookKind, str]:
        """Return what is seen, felt and smelled, in the words of the program; `mould`: white mould was put on."""
        lost_pct = meat.weight_loss_pct
        surface = "wet" if meat.surface_aw > WET_AW else "tacky" if meat.surface_aw > TACKY_AW else "dry"
        soft = lost_pct < SOFT_LOSS_PCT and meat.ph > TARGET_PH  # From there on the proteins have set.
        firmness = "soft" if soft else "springy" if lost_pct < FIRM_LOSS_PCT else "firm"
        return {
            "look": "white-mould" if mould and lost_pct > MOULD_LOSS_PCT else surface,
            "firmness": firmness,
            "smell": "fresh" if meat.ph > SOUR_PH else "sour" if lost_pct < FIRM_LOSS_PCT else "ripe",
        }

    def _error(self, what: str, spread: float) -> float:
        world = self._world
        return Random(f"{world.seed}:{what}:{world.elapsed_s:.0f}").gauss(0.0, spread)  # noqa: S311 - a model
