"""What the world needs to know of a sausage, and what becomes of it while it is not in the chamber."""

from math import exp
from typing import Final, Protocol

from controller.food.air import LATENT_J_PER_KG
from controller.settings.model_figures import MEAT_J_PER_KG_K
from controller.simulator.chamber_model import saturation_kg_m3

STILL_AIR_M_PER_S: Final = 0.0025
MOVED_AIR_M_PER_S: Final = 0.0075
"""Mass transfer in still air and before a fan; calibrated."""
ELSEWHERE_W_PER_M2_K: Final = 8.0
"""Heat to meat in a cellar or fridge; common practice, no source."""
HOT_W_PER_M2_K: Final = 20.0
"""The same in a smoker, in steam or in cold water, where more than still air moves; common practice, no source."""


class Meat(Protocol):
    """Stand for all the sausage of one batch, as one body of many pieces."""

    ph: float
    mass_kg: float

    @property
    def weight_loss_pct(self) -> float:
        """Return what has been lost in per cent of the green weight."""
        ...

    @property
    def surface_aw(self) -> float:
        """Return the water activity of the surface (0..1)."""
        ...

    @property
    def mean_aw(self) -> float:
        """Return the water activity of a whole slice (0..1)."""
        ...

    @property
    def area_m2(self) -> float:
        """Return the outer area of all pieces."""
        ...

    @property
    def core_temp_c(self) -> float:
        """Return the temperature in the middle of a piece."""
        ...

    def surface_mass_conductance(self, kc: float) -> float:
        """Return the conductance from surface to air in m/s, casing and cooling included, for this film of air."""
        ...

    def advance(self, dt_s: float, temp_c: float, evaporated_kg: float) -> None:
        """Live on for so long at this temperature, giving off this much water."""
        ...


class Elsewhere:
    """Be a place outside the chamber: a smoker, a kettle, a cellar. It has one temperature and one humidity."""

    def __init__(self, temp_c: float, rh_pct: float, w_per_m2_k: float = ELSEWHERE_W_PER_M2_K) -> None:
        """Take the place's climate."""
        self.temp_c, self.rh_pct, self.w_per_m2_k = temp_c, rh_pct, w_per_m2_k

    def keep(self, meat: Meat, meat_c: float, dt_s: float) -> float:
        """Let the meat be there for so long; return its temperature afterwards."""
        kc = STILL_AIR_M_PER_S if self.w_per_m2_k <= ELSEWHERE_W_PER_M2_K else MOVED_AIR_M_PER_S
        excess_kg_m3 = meat.surface_aw * saturation_kg_m3(meat_c) - self.rh_pct / 100.0 * saturation_kg_m3(self.temp_c)
        drying_kg_s_m2 = max(0.0, meat.surface_mass_conductance(kc) * excess_kg_m3)
        area_m2 = meat.area_m2
        ends_c = self.temp_c - drying_kg_s_m2 * LATENT_J_PER_KG / self.w_per_m2_k
        slow_s = meat.mass_kg * MEAT_J_PER_KG_K / (self.w_per_m2_k * area_m2)
        after_c = ends_c + (meat_c - ends_c) * exp(-dt_s / slow_s)
        meat.advance(dt_s, 0.5 * (meat_c + after_c), drying_kg_s_m2 * area_m2 * dt_s)
        return after_c
