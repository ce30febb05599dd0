"""The modelled sausage: all pieces of a batch as one body that warms, sours and dries.

Theory of operation. Whoever holds the sausage (the modelled chamber, or a cellar) tells it every minute or so how long
it was, how warm the meat was and how much water it gave off; so no water is reckoned twice. The sausage answers with
what its surface is like. Inside,

1. the culture is moved on in steps of at most a minute, until there is nothing more to sour;
2. water given off is gathered, and the rings are solved once in five minutes; until then the surface stays as it is;
3. the core follows the meat's mean temperature with the lag of the conduction inside.

Simplifications: solids, salt and lactate stay where they are; acid is made evenly, at the core's water activity; the
ends of the pieces do not dry; the pH does not rise again in late ripening; a culture that was once at 60 °C is dead.
"""

from collections.abc import Iterator
from dataclasses import replace
from math import ceil, expm1
from random import Random
from typing import Final, Self

from controller.food.acid import (
    BUFFER,
    CULTURES,
    LACTIC_PKA,
    MIX_AW,
    MIX_PH,
    OWN_SUGAR,
    begin,
    ferment_on,
    sugar_at_start,
)
from controller.food.air import LATENT_J_PER_KG, saturation_pressure_pa, vapour_density_kg_m3
from controller.food.drying import (
    D13_M2_PER_S,
    STILL_M_PER_S,
    USUAL_DEXTROSE_PCT,
    USUAL_FAT_PCT,
    USUAL_SALT_PCT,
    mix_of,
    surface_m_per_s,
    water_activity,
)
from controller.settings.model_figures import LEWIS_J_PER_M3_K
from controller.simulator.rings import Rings

SOUR_STEP_S: Final = 60.0
RINGS_STEP_S: Final = 300.0
LONGEST_RINGS_STEP_S: Final = 1800.0
SUGAR_GONE: Final = 0.005
"""mmol/kg; what it would still sour is 0.0002 of a pH."""
KILLED_AT_C: Final = 60.0
"""Cultures do not outlive this; common practice, no source."""
MEAT_M2_PER_S: Final = 1.35e-7
"""Thermal diffusivity of meat, from memory."""
FIRST_ROOT_SQUARED: Final = 5.78
"""Of J0: the slowest mode of a round body warms with R²/(5.78 alpha)."""
RADIATION_W_PER_M2_K: Final = 4.5
"""Between meat and walls of nearly the same temperature at 13 °C: 4 x 0.85 x 5.67e-8 x 286³."""


class Sausage:
    """Be all the sausage of one batch."""

    def __init__(
        self,
        *,
        diameter_mm: float,
        mass_kg: float,
        dextrose_pct: float = USUAL_DEXTROSE_PCT,
        culture: str = "mesophilic",
        fat_pct: float = USUAL_FAT_PCT,
        salt_pct: float = USUAL_SALT_PCT,
        start_temp_c: float = 4.0,
        ph0: float = MIX_PH,
        buffer: float = BUFFER,
        own_sugar: float = OWN_SUGAR,
        cells_factor: float = 1.0,
        d13_m2_s: float = D13_M2_PER_S,
    ) -> None:
        """Stuff it.

        Args:
            diameter_mm: of the fresh pieces, 15 to 120.
            mass_kg: of all pieces together, green (fresh).
            dextrose_pct: % of the mix, as fat and salt.
            culture: mesophilic or thermotolerant.
            fat_pct: % of the mix.
            salt_pct: % of the mix.
            start_temp_c: of the meat.
            ph0: of the mix.
            buffer: mmol of acid per kg and unit of pH, 42 to 58.
            own_sugar: mmol/kg of glucose the meat brings along, 1 to 6.
            cells_factor: cells at the start, of what the starter usually gives.
            d13_m2_s: diffusivity of water at 13 °C, 0.6e-10 to 2.5e-10.

        Raises:
            ValueError: a size that no sausage has, or a culture that is not known.
        """
        if not (diameter_mm > 0.0 and mass_kg > 0.0):
            message = f"diameter {diameter_mm} mm, mass {mass_kg} kg: both must be above 0"
            raise ValueError(message)
        if culture not in CULTURES:
            message = f"culture {culture!r}: known are {', '.join(CULTURES)}"
            raise ValueError(message)
        self.green_kg = self.mass_kg = mass_kg
        self.start_temp_c = self.core_temp_c = start_temp_c
        self._mix = mix_of(fat_pct, salt_pct, dextrose_pct)
        self._rings = Rings(diameter_mm / 1000.0, self._mix.water_kg, d13_m2_s)
        self._culture = CULTURES[culture]
        self._ph0, self._buffer = ph0, buffer
        fresh = begin(self._culture, sugar_at_start(dextrose_pct, own_sugar), ph0)
        self._ferment = replace(fresh, cells=fresh.cells * cells_factor)
        self.ph = ph0
        self._sours = True
        self._pending_s = self._pending_kg = 0.0
        self.area_m2 = self.surface_aw = self.core_aw = self._culture_aw = 0.0
        self._look(0.0)

    @classmethod
    def varied(
        cls,
        random: Random,
        *,
        diameter_mm: float,
        mass_kg: float,
        dextrose_pct: float = USUAL_DEXTROSE_PCT,
        culture: str = "mesophilic",
        start_temp_c: float = 4.0,
    ) -> Self:
        """Stuff one that differs from the usual as batches do.

        Buffer, own sugar and diffusivity lie in the ranges of their figures, near the usual value more often than at
        the ends; cells within a factor of three, pH within 0.1, fat and salt within 3 and 0.2 % of the mix (common
        practice, no source). The same random numbers give the same sausage.
        """
        return cls(
            diameter_mm=diameter_mm,
            mass_kg=mass_kg,
            dextrose_pct=dextrose_pct,
            culture=culture,
            start_temp_c=start_temp_c,
            fat_pct=random.triangular(22.0, 28.0, USUAL_FAT_PCT),
            salt_pct=random.triangular(2.5, 2.9, USUAL_SALT_PCT),
            ph0=random.triangular(5.65, 5.85, MIX_PH),
            buffer=random.triangular(42.0, 58.0, BUFFER),
            own_sugar=random.triangular(1.0, 6.0, OWN_SUGAR),
            cells_factor=3.0 ** random.triangular(-1.0, 1.0, 0.0),
            d13_m2_s=D13_M2_PER_S * 2.0 ** random.triangular(-1.0, 1.06, 0.0),
        )

    @classmethod
    def fermented(cls, *, diameter_mm: float, mass_kg: float, ph: float, start_temp_c: float = 12.0) -> Self:
        """Take one that was fermented elsewhere to this pH: it sours no more, and has its acid in it.

        acid = buffer (pH0 - pH) (1 + 10^(pKa - pH)), the balance that `ph_of_acid` solves.
        """
        sausage = cls(diameter_mm=diameter_mm, mass_kg=mass_kg, dextrose_pct=0.0, start_temp_c=start_temp_c)
        acid = BUFFER * (MIX_PH - ph) * (1.0 + 10.0 ** (LACTIC_PKA - ph))
        sausage._ferment = replace(sausage._ferment, sugar=0.0, acid=acid, ph=ph)
        sausage._sours, sausage.ph = False, ph
        sausage._look(0.0)
        return sausage

    @property
    def mean_aw(self) -> float:
        """Return the water activity of a whole slice, minced."""
        return water_activity(self._mix, self._rings.water_kg, self._ferment.acid / 1000.0)

    @property
    def weight_loss_pct(self) -> float:
        """Return what has been lost in per cent of the green weight."""
        return 100.0 * (1.0 - self.mass_kg / self.green_kg)

    @property
    def diameter_mm(self) -> float:
        """Return the diameter, which shrinks with drying."""
        return 2000.0 * self._rings.radius_m

    @property
    def cells_per_g(self) -> float:
        """Return the living cells of the culture."""
        return self._ferment.cells * 1e9

    @property
    def water_kg(self) -> float:
        """Return all water that is left, also what has been given off since the rings were solved last."""
        return self._rings.water_kg * self.green_kg - self._pending_kg

    @staticmethod
    def surface_mass_conductance(kc: float) -> float:
        """Return the conductance in m/s from the wet surface to the air: casing and film of air one after the other.

        The cooling by evaporation is not in it: the meat gets colder by it, which the chamber reckons.
        """
        return surface_m_per_s(kc)

    def advance(self, dt_s: float, temp_c: float, evaporated_kg: float) -> None:
        """Live on for so long at this mean temperature of the meat, giving off this much water in all."""
        self.mass_kg -= evaporated_kg
        if dt_s <= 0.0:
            self._pending_kg += evaporated_kg
            return
        self._warm(dt_s, temp_c)
        if self._sours:
            self._sour(dt_s, temp_c)
        self._pending_s += dt_s
        self._pending_kg += evaporated_kg
        if self._pending_s >= RINGS_STEP_S:
            self._dry(temp_c)

    def _warm(self, dt_s: float, temp_c: float) -> None:
        """Let the core follow. The lag outside the meat is in `temp_c`; here is only that of the conduction inside."""
        lag_s = self._rings.radius_m**2 / (FIRST_ROOT_SQUARED * MEAT_M2_PER_S)
        self.core_temp_c += (temp_c - self.core_temp_c) * -expm1(-dt_s / lag_s)
        if self.core_temp_c >= KILLED_AT_C:
            self._sours = False

    def _sour(self, dt_s: float, temp_c: float) -> None:
        steps = ceil(dt_s / SOUR_STEP_S)
        hours = dt_s / steps / 3600.0
        now = self._ferment
        for _ in range(steps):
            now = ferment_on(self._culture, now, hours, temp_c, self._culture_aw, self._ph0, self._buffer)
        self._ferment, self.ph = now, now.ph
        self._sours = now.sugar > SUGAR_GONE

    def _dry(self, temp_c: float) -> None:
        """Solve the rings for the time that has gathered."""
        lost_kg_s = self._pending_kg / self._pending_s / self.green_kg
        steps = ceil(self._pending_s / LONGEST_RINGS_STEP_S)
        for _ in range(steps):
            self._rings.advance(self._pending_s / steps, temp_c, lost_kg_s)
        self._pending_s = self._pending_kg = 0.0
        self._look(lost_kg_s)

    def _look(self, lost_kg_s: float) -> None:
        """Reckon what is seen from outside."""
        rings, mix, lactate_mol = self._rings, self._mix, self._ferment.acid / 1000.0
        self.area_m2 = rings.area_m2 * self.green_kg
        self.surface_aw = water_activity(mix, rings.surface_water_kg(lost_kg_s), lactate_mol)
        self.core_aw = water_activity(mix, rings.core_water_kg, lactate_mol)
        if self._sours:
            self._culture_aw = water_activity(mix, rings.core_water_kg) + _CULTURE_AW_SHIFT


def dry_in_still_air(
    sausage: Sausage,
    *,
    temp_c: float,
    rh_pct: float,
    days: float,
    kc: float = STILL_M_PER_S,
    step_s: float = 600.0,
) -> Iterator[tuple[float, float]]:
    """Let a sausage hang in air that never changes, and give (days, weight loss in %) after each step.

    The surface is cooler than the air by what the evaporation takes:
    j = k (aw rho_s(T) - rho) / (1 + k aw rho_s' h_fg / h), where h is radiation and, by the analogy of Chilton and
    Colburn, the convection that belongs to `kc`.

    Args:
        sausage: what hangs.
        temp_c: of the air.
        rh_pct: of the air.
        days: how long.
        kc: mass transfer through the film of air, m/s.
        step_s: between two looks at the surface.
    """
    saturated = vapour_density_kg_m3(temp_c, saturation_pressure_pa(temp_c))
    above = vapour_density_kg_m3(temp_c + 0.5, saturation_pressure_pa(temp_c + 0.5))
    below = vapour_density_kg_m3(temp_c - 0.5, saturation_pressure_pa(temp_c - 0.5))
    cooling = LATENT_J_PER_KG * (above - below) / (kc * LEWIS_J_PER_M3_K + RADIATION_W_PER_M2_K)
    k = sausage.surface_mass_conductance(kc)
    for step in range(1, ceil(days * 86_400.0 / step_s) + 1):
        aw = sausage.surface_aw
        kg_s_m2 = max(0.0, k * saturated * (aw - rh_pct / 100.0)) / (1.0 + k * aw * cooling)
        sausage.advance(step_s, temp_c, kg_s_m2 * sausage.area_m2 * step_s)
        yield step * step_s / 86_400.0, sausage.weight_loss_pct


_CULTURE_AW_SHIFT: Final = MIX_AW - water_activity(
    usual := mix_of(USUAL_FAT_PCT, USUAL_SALT_PCT, USUAL_DEXTROSE_PCT), usual.water_kg
)
"""The cultures are calibrated at the round figure for the usual mix; the sum of its parts gives 0.001 less."""
