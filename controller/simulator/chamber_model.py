"""The modelled chamber: lamp, air, inner wall, meat, evaporator plate, and the water that moves between them.

Theory of operation. Each body is one temperature (a lumped model). The air is light and follows its neighbours in
half a minute, the vapour in ten seconds; wall, meat and plate take minutes to days. So a step of at most 5 s goes:

1. The lamp is solved exactly with the air held still; what it has given off is known then.
2. Wall, meat and plate are looked at where they will be in the middle of the step, by their last rate of change.
3. The vapour, then the air, is solved exactly between these neighbours (an exponential). Every flux is reckoned once,
   from the *mean* of air or vapour during the step, and booked on both sides: no water or heat is lost by the method.
4. What crosses the chamber's boundary is added up in a ledger, so that a test can close both balances.

Simplifications: water that changes its place takes no sensible heat along (about one per cent of the latent heat;
the ledger counts it as `carried_j`), frost freezes without heat, mist in saturated air settles on the walls, and the
meat gives off water but never gathers any. Mass transfer follows heat transfer by the analogy of Chilton and Colburn
(from memory); the figures are common practice, no source, calibrated to behave like built chambers.
"""

from math import exp
from typing import Final

from controller.food.air import LATENT_J_PER_KG, VAPOUR_GAS_CONSTANT, ZERO_C_IN_K, saturation_pressure_pa
from controller.settings.model_figures import (
    AIR_J_PER_M3_K,
    COIL_KG_M3,
    COOLING_PER_K,
    DEHUMIDIFIER_M3_S_PER_W,
    FAN_HEAT,
    FAN_PLATE,
    FRESH_AIR_PER_H,
    LEWIS_J_PER_M3_K,
    MEAT_J_PER_KG_K,
    PLATE_HOLDS_KG,
    PULL_DOWN_S,
    RADIANT_ON_MEAT,
)
from controller.simulator.chamber_parameters import Parameters
from controller.simulator.ledger import Ledger

WATER_J_PER_KG_K: Final = 4186.0
LONGEST_STEP_S: Final = 5.0

DOOR_PER_H: Final = 120.0
"""Air changes while the door is open: 20 s are about half of the air. Common practice, no source."""
ICED: Final = 0.05
MIST_LEAKS: Final = 0.2
"""Shares of what a plate without ice passes on, and of what a humidifier gives that is on."""
WALL_HOLDS_KG: Final = 0.3
"""Water that stays on the walls; more than that drains away."""


def exact_saturation_kg_m3(temp_c: float) -> float:
    """Return the density of saturated vapour in kg/m³."""
    return saturation_pressure_pa(temp_c) / (VAPOUR_GAS_CONSTANT * (temp_c + ZERO_C_IN_K))


_LOWEST_C: Final = -50.0
_STEPS_PER_K: Final = 16.0
_SATURATION: Final = tuple(exact_saturation_kg_m3(_LOWEST_C + n / _STEPS_PER_K) for n in range(16 * 170 + 2))


def saturation_kg_m3(temp_c: float) -> float:
    """Return the same by interpolation in a table, four times as fast; -50 to 120 °C.

    It is within 1e-5 of the formula, and within 1e-4 in the step at 0 °C where ice becomes water.
    """
    place = (temp_c - _LOWEST_C) * _STEPS_PER_K
    step = int(place)
    if 0 <= step < len(_SATURATION) - 1:
        below = _SATURATION[step]
        return below + (place - step) * (_SATURATION[step + 1] - below)
    return exact_saturation_kg_m3(temp_c)


class ChamberModel:
    """Hold the state of one chamber and move it on in time. Switch the `*_on` attributes between two advances."""

    __slots__ = (
        "_air_m3_s",
        "_decay_s",
        "_fresh",
        "_lamp_decay",
        "_meat_m3_s",
        "_meat_rate",
        "_meat_w_per_k",
        "_plate_m3_s",
        "_plate_rate",
        "_plate_w_per_k",
        "_pull_decay",
        "_pull_left",
        "_radiant_meat",
        "_room_kg_m3",
        "_wall_m3_s",
        "_wall_rate",
        "air_c",
        "cooler_on",
        "dehumidifier_on",
        "door_open",
        "evaporated_kg",
        "fan_on",
        "fresh_air_on",
        "iced",
        "lamp_c",
        "lamp_on",
        "ledger",
        "meat_area_m2",
        "meat_aw",
        "meat_c",
        "meat_j_per_k",
        "meat_m_per_s",
        "meat_m_per_s_fan",
        "mist_leaks",
        "mist_on",
        "parameters",
        "plate_c",
        "plate_film_kg",
        "room_c",
        "room_rh_pct",
        "vapour_kg",
        "wall_c",
        "wall_film_kg",
    )

    def __init__(self, parameters: Parameters, *, room_c: float, room_rh_pct: float) -> None:
        """Build an empty chamber that has stood in its room for long."""
        self.parameters = parameters
        self.room_c, self.room_rh_pct = room_c, room_rh_pct
        self.air_c = self.wall_c = self.lamp_c = self.plate_c = self.meat_c = room_c
        self.vapour_kg = parameters.volume_m3 * room_rh_pct / 100.0 * saturation_kg_m3(room_c)
        self.plate_film_kg = self.wall_film_kg = 0.0
        self.lamp_on = self.mist_on = self.cooler_on = self.dehumidifier_on = False
        self.fan_on = self.fresh_air_on = self.door_open = False
        self.mist_leaks = self.iced = False  # What goes wrong: `iced` is the evaporator.
        self.meat_area_m2 = self.meat_j_per_k = self.meat_aw = 0.0
        self.meat_m_per_s = self.meat_m_per_s_fan = 0.0
        self.evaporated_kg = 0.0  # Since `take_evaporated_kg` was called last.
        self.ledger = Ledger()
        self._wall_rate = self._meat_rate = self._plate_rate = 0.0
        self._pull_left = 1.0
        self._decay_s = self._lamp_decay = self._pull_decay = 0.0
        self._fresh = False
        self._air_m3_s = self._room_kg_m3 = self._meat_w_per_k = self._radiant_meat = 0.0
        self._meat_m3_s = self._plate_w_per_k = self._plate_m3_s = self._wall_m3_s = 0.0

    @property
    def vapour_kg_m3(self) -> float:
        """Return the density of the vapour in the air."""
        return self.vapour_kg / self.parameters.volume_m3

    @property
    def vapour_pa(self) -> float:
        """Return the pressure of the vapour in the air."""
        return self.vapour_kg / self.parameters.volume_m3 * VAPOUR_GAS_CONSTANT * (self.air_c + ZERO_C_IN_K)

    @property
    def rh_pct(self) -> float:
        """Return the true relative humidity; above 100 means fog."""
        return 100.0 * self.vapour_pa / saturation_pressure_pa(self.air_c)

    def changed(self) -> None:
        """Tell the model that a switch, the room or the meat is not what it was."""
        self._fresh = False

    def hang(self, mass_kg: float, temp_c: float) -> None:
        """Put meat in; `set_meat` must say at once what its surface is like."""
        self.take_out()
        self.meat_c = temp_c
        self.meat_j_per_k = mass_kg * MEAT_J_PER_KG_K
        self.ledger.meat_j += self.meat_j_per_k * temp_c
        self._fresh = False

    def set_meat(self, mass_kg: float, area_m2: float, aw: float, m_per_s: float, m_per_s_fan: float) -> None:
        """Tell what the meat's surface is like now: area, water activity, conductance without and with the fan."""
        capacity = mass_kg * MEAT_J_PER_KG_K
        self.ledger.carried_j += (capacity - self.meat_j_per_k) * self.meat_c
        self.meat_j_per_k = capacity
        self.meat_area_m2, self.meat_aw = area_m2, aw
        self.meat_m_per_s, self.meat_m_per_s_fan = m_per_s, m_per_s_fan
        self._fresh = False

    def take_out(self) -> None:
        """Take the meat out, with its heat."""
        self.ledger.meat_j -= self.meat_j_per_k * self.meat_c
        self.meat_j_per_k = self.meat_area_m2 = self.meat_aw = self._meat_rate = 0.0
        self._fresh = False

    def take_evaporated_kg(self) -> float:
        """Return what the meat has given off since the last call."""
        evaporated_kg, self.evaporated_kg = self.evaporated_kg, 0.0
        return evaporated_kg

    def stored_heat_j(self) -> float:
        """Return the heat in all bodies and in the vapour, counted from 0 °C and liquid water."""
        p = self.parameters
        return (
            p.air_j_per_k * self.air_c
            + p.wall_j_per_k * self.wall_c
            + p.lamp_j_per_k * self.lamp_c
            + (p.plate_j_per_k + WATER_J_PER_KG_K * self.plate_film_kg) * self.plate_c
            + self.meat_j_per_k * self.meat_c
            + LATENT_J_PER_KG * self.vapour_kg
        )

    def stored_water_kg(self) -> float:
        """Return the water in the air and on plate and walls, without that in the meat."""
        return self.vapour_kg + self.plate_film_kg + self.wall_film_kg

    def advance(self, dt_s: float) -> None:
        """Move on by so many seconds with the switches as they are."""
        while dt_s > LONGEST_STEP_S:
            self._step(LONGEST_STEP_S)
            dt_s -= LONGEST_STEP_S
        if dt_s > 0.0:
            self._step(dt_s)

    def _refresh(self) -> None:
        """Reckon what stays the same until a switch, the room or the meat changes."""
        p, fan = self.parameters, self.fan_on
        changes_per_h = p.leak_per_h
        if self.door_open:
            changes_per_h += DOOR_PER_H
        if self.fresh_air_on:
            changes_per_h += FRESH_AIR_PER_H
        self._air_m3_s = changes_per_h / 3600.0 * p.volume_m3
        self._room_kg_m3 = self.room_rh_pct / 100.0 * saturation_kg_m3(self.room_c)
        area_m2 = self.meat_area_m2
        self._meat_w_per_k = p.meat_w_per_m2_k * area_m2 * (FAN_HEAT if fan else 1.0)
        self._meat_m3_s = area_m2 * (self.meat_m_per_s_fan if fan else self.meat_m_per_s)
        self._radiant_meat = RADIANT_ON_MEAT if area_m2 else 0.0
        self._plate_w_per_k = p.plate_w_per_k * (FAN_PLATE if fan else 1.0) * (ICED if self.iced else 1.0)
        self._plate_m3_s = self._plate_w_per_k / LEWIS_J_PER_M3_K
        self._wall_m3_s = p.air_wall_w_per_k / LEWIS_J_PER_M3_K
        self._fresh = True

    def _step(self, dt_s: float) -> None:
        """Move on by one step; see the theory of operation."""
        if not self._fresh:
            self._refresh()
        p = self.parameters
        if dt_s != self._decay_s:
            self._decay_s = dt_s
            self._lamp_decay = exp(-dt_s * p.lamp_w_per_k / p.lamp_j_per_k)
            self._pull_decay = exp(-dt_s / PULL_DOWN_S)
        # 1. The lamp.
        lamp_w = p.lamp_w if self.lamp_on else 0.0
        convective_w = lamp_w * (1.0 - p.lamp_radiant)
        lamp_ends_c = self.air_c + convective_w / p.lamp_w_per_k
        lamp_c = lamp_ends_c + (self.lamp_c - lamp_ends_c) * self._lamp_decay
        lamp_air_j = convective_w * dt_s - p.lamp_j_per_k * (lamp_c - self.lamp_c)
        self.lamp_c = lamp_c
        self.ledger.lamp_j += lamp_w * dt_s
        # 2. The neighbours in the middle of the step.
        half_s = 0.5 * dt_s
        wall_c = self.wall_c + half_s * self._wall_rate
        meat_c = self.meat_c + half_s * self._meat_rate
        plate_c = self.plate_c + half_s * self._plate_rate
        # 3. and 4.
        mist_kg, dried_kg, evaporated_kg, on_wall_kg, on_plate_kg = self._move_water(dt_s, wall_c, meat_c, plate_c)
        self._move_heat(
            dt_s,
            wall_c,
            meat_c,
            plate_c,
            lamp_air_j + (dried_kg - mist_kg) * LATENT_J_PER_KG,
            lamp_w * p.lamp_radiant * dt_s,
            on_wall_kg * LATENT_J_PER_KG,
            evaporated_kg * LATENT_J_PER_KG,
            on_plate_kg,
        )

    def _move_water(
        self, dt_s: float, wall_c: float, meat_c: float, plate_c: float
    ) -> tuple[float, float, float, float, float]:
        """Return the mist that became vapour, what was dried, given off by meat, gathered on wall and plate, in kg."""
        p, ledger = self.parameters, self.ledger
        volume_m3, vapour_kg, air_m3_s = p.volume_m3, self.vapour_kg, self._air_m3_s
        rho = vapour_kg / volume_m3
        lost_m3_s, gained_kg_s = air_m3_s, air_m3_s * self._room_kg_m3
        mist_kg = settled_kg = 0.0
        if self.mist_on or self.mist_leaks:
            mist_kg = p.mist_kg_s * dt_s * (1.0 if self.mist_on else MIST_LEAKS)
            ledger.water_mist_kg += mist_kg
            if rho >= saturation_kg_m3(self.air_c):
                mist_kg, settled_kg = 0.0, mist_kg
            gained_kg_s += mist_kg / dt_s
        meat_m3_s = meat_rho = 0.0
        if self._meat_m3_s and (meat_rho := self.meat_aw * saturation_kg_m3(meat_c)) > rho:
            meat_m3_s = self._meat_m3_s
            lost_m3_s += meat_m3_s
            gained_kg_s += meat_m3_s * meat_rho
        wall_m3_s = 0.0
        if (wall_rho := saturation_kg_m3(wall_c)) < rho or self.wall_film_kg:
            wall_m3_s = self._wall_m3_s
            lost_m3_s += wall_m3_s
            gained_kg_s += wall_m3_s * wall_rho
        plate_m3_s = plate_rho = 0.0
        if self._plate_m3_s and ((plate_rho := saturation_kg_m3(plate_c)) < rho or self.plate_film_kg):
            plate_m3_s = self._plate_m3_s
            lost_m3_s += plate_m3_s
            gained_kg_s += plate_m3_s * plate_rho
        dry_m3_s = 0.0
        if self.dehumidifier_on and rho > COIL_KG_M3:
            dry_m3_s = DEHUMIDIFIER_M3_S_PER_W * p.dehumidifier_w
            lost_m3_s += dry_m3_s
            gained_kg_s += dry_m3_s * COIL_KG_M3
        x = lost_m3_s * dt_s / volume_m3
        if x > 1e-7:
            end_rho = gained_kg_s / lost_m3_s
            mean = end_rho + (rho - end_rho) * (1.0 - exp(-x)) / x
        else:
            mean = rho + 0.5 * dt_s * (gained_kg_s - lost_m3_s * rho) / volume_m3
        evaporated_kg = max(0.0, meat_m3_s * (meat_rho - mean) * dt_s)
        on_wall_kg = max(-self.wall_film_kg, wall_m3_s * (mean - wall_rho) * dt_s)
        on_plate_kg = max(-self.plate_film_kg, plate_m3_s * (mean - plate_rho) * dt_s)
        dried_kg = dry_m3_s * (mean - COIL_KG_M3) * dt_s
        leak_kg = air_m3_s * (self._room_kg_m3 - mean) * dt_s
        self.vapour_kg = vapour_kg + mist_kg + evaporated_kg - on_wall_kg - on_plate_kg - dried_kg + leak_kg
        self.evaporated_kg += evaporated_kg
        ledger.water_evaporated_kg += evaporated_kg
        ledger.water_leak_kg += leak_kg
        ledger.water_drained_kg += dried_kg
        self._wet_wall(on_wall_kg + settled_kg)
        return mist_kg, dried_kg, evaporated_kg, on_wall_kg, on_plate_kg

    def _wet_wall(self, gathered_kg: float) -> None:
        film_kg = self.wall_film_kg + gathered_kg
        self.wall_film_kg = min(film_kg, WALL_HOLDS_KG)
        self.ledger.water_drained_kg += film_kg - self.wall_film_kg

    def _move_heat(
        self,
        dt_s: float,
        wall_c: float,
        meat_c: float,
        plate_c: float,
        air_j: float,
        radiant_j: float,
        wall_latent_j: float,
        meat_latent_j: float,
        on_plate_kg: float,
    ) -> None:
        """Solve the air between its neighbours, and book every flux on both sides."""
        p, ledger, room_c = self.parameters, self.ledger, self.room_c
        wall_w_per_k, meat_w_per_k, plate_w_per_k = p.air_wall_w_per_k, self._meat_w_per_k, self._plate_w_per_k
        leak_w_per_k = self._air_m3_s * AIR_J_PER_M3_K
        if self.fan_on:
            air_j += p.fan_w * dt_s
            ledger.fan_j += p.fan_w * dt_s
        if self.dehumidifier_on:
            air_j += p.dehumidifier_w * dt_s
            ledger.dehumidifier_j += p.dehumidifier_w * dt_s
        all_w_per_k = wall_w_per_k + meat_w_per_k + plate_w_per_k + leak_w_per_k
        end_c = (
            wall_w_per_k * wall_c
            + meat_w_per_k * meat_c
            + plate_w_per_k * plate_c
            + leak_w_per_k * room_c
            + air_j / dt_s
        ) / all_w_per_k
        y = all_w_per_k * dt_s / p.air_j_per_k
        mean_c = end_c + (self.air_c - end_c) * (1.0 - exp(-y)) / y
        to_wall_j = wall_w_per_k * (mean_c - wall_c) * dt_s
        to_meat_j = meat_w_per_k * (mean_c - meat_c) * dt_s
        to_plate_j = plate_w_per_k * (mean_c - plate_c) * dt_s
        leak_j = leak_w_per_k * (room_c - mean_c) * dt_s
        through_wall_j = p.room_w_per_k * (room_c - wall_c) * dt_s
        ledger.leak_j += leak_j
        ledger.wall_j += through_wall_j
        self.air_c += (air_j + leak_j - to_wall_j - to_meat_j - to_plate_j) / p.air_j_per_k
        on_meat_j = self._radiant_meat * radiant_j
        rise_k = (to_wall_j + through_wall_j + radiant_j - on_meat_j + wall_latent_j) / p.wall_j_per_k
        self.wall_c += rise_k
        self._wall_rate = rise_k / dt_s
        if self.meat_j_per_k:
            rise_k = (to_meat_j + on_meat_j - meat_latent_j) / self.meat_j_per_k
            self.meat_c += rise_k
            self._meat_rate = rise_k / dt_s
        if plate_w_per_k:
            self._cool_plate(dt_s, plate_c, to_plate_j, on_plate_kg)

    def _cool_plate(self, dt_s: float, plate_c: float, to_plate_j: float, on_plate_kg: float) -> None:
        p, ledger = self.parameters, self.ledger
        cooled_j = 0.0
        if self.cooler_on:
            left = self._pull_left
            self._pull_left = left * self._pull_decay
            pulled_s = dt_s - (left - self._pull_left) * PULL_DOWN_S
            cooled_j = p.cooling_w * max(0.0, 1.0 + COOLING_PER_K * plate_c) * pulled_s
            ledger.cooler_j -= cooled_j
        else:
            self._pull_left = 1.0
        film_kg = self.plate_film_kg
        rise_k = (to_plate_j + on_plate_kg * LATENT_J_PER_KG - cooled_j) / (
            p.plate_j_per_k + WATER_J_PER_KG_K * film_kg
        )
        self.plate_c += rise_k
        self._plate_rate = rise_k / dt_s
        if on_plate_kg:
            kept_kg = min(PLATE_HOLDS_KG, film_kg + on_plate_kg)
            ledger.water_drained_kg += film_kg + on_plate_kg - kept_kg
            ledger.carried_j += WATER_J_PER_KG_K * (kept_kg - film_kg) * self.plate_c
            self.plate_film_kg = kept_kg
