"""A second chamber written from other equations, to see what of a result hangs on the first one's.

The wall has two layers, the lamp two masses (bulb and shade), the air two zones that mix, with 15 s on the way from
one to the other; water moves by differences of pressure (Dalton), saturation is by Alduchov and Eskridge's formula
(1996, J. Appl. Meteorol. 35:601, from memory), and everything is stepped by Euler's rule once a second. Same figures,
same switches, no ledger: use it as `World(..., plant=SecondPlant)`.
"""

from collections import deque
from math import exp
from typing import Final

from controller.food.air import LATENT_J_PER_KG
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.chamber_parameters import Parameters

ON_THE_WAY_S: Final = 15
LAMP_ZONE: Final = 0.3
"""Share of the air that the lamp warms first,"""
MIXED_PER_S: Final = 0.08
"""and of this zone's air that is exchanged in a second; three times as much before a fan."""
R_VAPOUR: Final = 461.5


def saturation_pa(temp_c: float) -> float:
    """Return the saturation pressure over water in Pa."""
    return 610.94 * exp(17.625 * temp_c / (temp_c + 243.04))


class SecondPlant(ChamberModel):
    """Be a chamber by other equations."""

    __slots__ = ("_bulb_c", "_outer_c", "_over_s", "_pull", "_way", "_zone_c")

    def __init__(self, parameters: Parameters, *, room_c: float, room_rh_pct: float) -> None:
        """Begin like the first plant: empty, as warm and as damp as the room."""
        super().__init__(parameters, room_c=room_c, room_rh_pct=room_rh_pct)
        self._outer_c = self._bulb_c = self._zone_c = room_c
        self._way = deque([room_c] * ON_THE_WAY_S, maxlen=ON_THE_WAY_S)
        self._over_s = self._pull = 0.0

    def advance(self, dt_s: float) -> None:
        """Go on by whole seconds and remember the rest; a switch is felt for the share of its second."""
        self._over_s += dt_s
        while self._over_s >= 1.0:
            self._over_s -= 1.0
            self._second(1.0)
        if self._over_s > 1e-9:
            self._second(self._over_s)
            self._over_s = 0.0

    def _second(self, dt: float) -> None:
        p = self.parameters
        fan = 3.0 if self.fan_on else 1.0
        mix = MIXED_PER_S * fan
        near_j, far_j = p.air_j_per_k * LAMP_ZONE, p.air_j_per_k * (1.0 - LAMP_ZONE)
        # Lamp: the bulb warms the shade, the shade warms the near zone.
        lamp_w = p.lamp_w * (1.0 - p.lamp_radiant) if self.lamp_on else 0.0
        to_shade_w = 2.0 * p.lamp_w_per_k * (self._bulb_c - self.lamp_c)
        to_near_w = 2.0 * p.lamp_w_per_k * (self.lamp_c - self._zone_c)
        self._bulb_c += dt * (lamp_w - to_shade_w) / (0.5 * p.lamp_j_per_k)
        self.lamp_c += dt * (to_shade_w - to_near_w) / (0.5 * p.lamp_j_per_k)
        radiant_w = p.lamp_w * p.lamp_radiant if self.lamp_on else 0.0
        latent_w, wall_latent_w, meat_latent_w, plate_latent_w = self._water(dt)
        # Air: the near zone's air arrives in the far zone 15 s later.
        self._way.append(self._zone_c)
        to_far_w = near_j * mix * (self._way[0] - self.air_c)
        leak_w = self._exchange_m3_s() * 1207.0 * (self.room_c - self.air_c)
        to_wall_w = p.air_wall_w_per_k * (self.air_c - self.wall_c)
        meat_w_per_k = p.meat_w_per_m2_k * self.meat_area_m2 * (1.6 if self.fan_on else 1.0)
        to_meat_w = meat_w_per_k * (self.air_c - self.meat_c)
        plate_w_per_k = p.plate_w_per_k * (1.8 if self.fan_on else 1.0)
        to_plate_w = plate_w_per_k * (self.air_c - self.plate_c)
        fan_w = p.fan_w if self.fan_on else 0.0
        dryer_w = p.dehumidifier_w if self.dehumidifier_on else 0.0
        self._zone_c += dt * (to_near_w + near_j * mix * (self.air_c - self._zone_c)) / near_j
        self.air_c += dt * (to_far_w + leak_w + fan_w + dryer_w + latent_w - to_wall_w - to_meat_w - to_plate_w) / far_j
        # Wall: two layers of half the capacity, two resistances that add up to the same.
        through_w = 2.0 * p.room_w_per_k * (self.wall_c - self._outer_c)
        out_w = 2.0 * p.room_w_per_k * (self._outer_c - self.room_c)
        on_meat = 0.3 if self.meat_area_m2 else 0.0
        self.wall_c += (
            dt * (to_wall_w - through_w + (1.0 - on_meat) * radiant_w + wall_latent_w) / (0.6 * p.wall_j_per_k)
        )
        self._outer_c += dt * (through_w - out_w) / (0.4 * p.wall_j_per_k)
        if self.meat_j_per_k:
            self.meat_c += dt * (to_meat_w + on_meat * radiant_w - meat_latent_w) / self.meat_j_per_k
        if plate_w_per_k:
            # Compressor: full power down to a plate of 0 °C, then less, gathered within a minute and a half.
            self._pull += dt * ((1.0 if self.cooler_on else 0.0) - self._pull) / 45.0
            if not self.cooler_on:
                self._pull = 0.0
            cooled_w = p.cooling_w * self._pull * min(1.0, max(0.0, 1.0 + self.plate_c / 30.0))
            self.plate_c += dt * (to_plate_w + plate_latent_w - cooled_w) / (p.plate_j_per_k * 1.15)

    def _exchange_m3_s(self) -> float:
        per_h = self.parameters.leak_per_h + (120.0 if self.door_open else 0.0) + (3.0 if self.fresh_air_on else 0.0)
        return per_h * self.parameters.volume_m3 / 3600.0

    def _water(self, dt: float) -> tuple[float, float, float, float]:
        """Move the water for a moment; return the heat it brings to air, wall and plate and takes from the meat."""
        p = self.parameters
        pressure = self.vapour_pa
        per_pa = 1.0 / (R_VAPOUR * (self.air_c + 273.15))
        misted = p.mist_kg_s * dt if self.mist_on else 0.0
        settled = misted if pressure > saturation_pa(self.air_c) else 0.0
        kc = self.meat_m_per_s_fan if self.fan_on else self.meat_m_per_s
        driven = self.meat_aw * saturation_pa(self.meat_c) - pressure
        given = max(0.0, kc * self.meat_area_m2 * per_pa * driven * dt)
        wall_m3_s = p.air_wall_w_per_k / 1100.0
        on_wall = self._gather(wall_m3_s * per_pa * dt, pressure - saturation_pa(self.wall_c), self.wall_film_kg)
        plate_m3_s = p.plate_w_per_k * (1.8 if self.fan_on else 1.0) / 1100.0
        on_plate = self._gather(plate_m3_s * per_pa * dt, pressure - saturation_pa(self.plate_c), self.plate_film_kg)
        room_pa = self.room_rh_pct / 100.0 * saturation_pa(self.room_c)
        leaked = self._exchange_m3_s() * per_pa * (room_pa - pressure) * dt
        dried = 0.0
        if self.dehumidifier_on:
            dried = max(0.0, 8.5e-6 * p.dehumidifier_w * per_pa * (pressure - saturation_pa(2.0)) * dt)
        self.vapour_kg += misted - settled + given - on_wall - on_plate + leaked - dried
        self.evaporated_kg += given
        self.wall_film_kg = min(0.3, self.wall_film_kg + on_wall + settled)
        self.plate_film_kg = min(0.06, self.plate_film_kg + on_plate)
        per_s = LATENT_J_PER_KG / dt
        return (dried + settled - misted) * per_s, on_wall * per_s, given * per_s, on_plate * per_s

    @staticmethod
    def _gather(kg_per_pa: float, excess_pa: float, film_kg: float) -> float:
        return max(-film_kg, kg_per_pa * excess_pa)
