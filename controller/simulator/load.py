"""A load for a step test: bottles of water, which take heat and give off no vapour."""

from typing import Final

from controller.settings.model_figures import MEAT_J_PER_KG_K

WATER_J_PER_KG_K: Final = 4186.0
M2_PER_KG: Final = 0.06
"""Bottles of half a litre, upright; common practice, no source."""


class Bottles:
    """Be so many kilograms of water in bottles, as warm as the room; the model's "meat" of that heat capacity."""

    ph = 7.0

    def __init__(self, water_kg: float, temp_c: float) -> None:
        """Take the water and its temperature."""
        self.mass_kg = water_kg * WATER_J_PER_KG_K / MEAT_J_PER_KG_K
        self.area_m2 = water_kg * M2_PER_KG
        self.core_temp_c = temp_c
        self.weight_loss_pct = self.surface_aw = self.mean_aw = 0.0

    def surface_mass_conductance(self, kc: float) -> float:
        """Return 0: they are shut."""
        del kc
        return 0.0

    def advance(self, dt_s: float, temp_c: float, evaporated_kg: float) -> None:
        """Take the temperature over; nothing else becomes of them."""
        del dt_s, evaporated_kg
        self.core_temp_c = temp_c
