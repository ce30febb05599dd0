"""From a checked chamber file to what the deciding part goes by: defaults by kind of switch, gains from the model.

The gains are not tuned by hand. From the chamber's own figures follows how its thermometer answers to the full lamp;
the steepest tangent of that answer gives the slope k' and the dead time, to which half a window is added (the duty is
set once a window). From these the SIMC rule for an integrating process (Skogestad 2003, J. Process Control 13:291)
with tau_c = theta gives Kc = 1/(2 k' theta) and Ti = 8 theta. What is used is three quarters of Kc, and Ti longer in
the same proportion: the SIMC gains have Ms = 1.80 to 1.87 on the whole model, and a chamber whose figures are guessed
needs more room than that.
"""

from functools import lru_cache
from typing import Final, NamedTuple

from msgspec.structs import replace

from controller.core.chamber.heating import LAMP_ON_WALL
from controller.core.plan import Chamber, Figures, Gains, Limits, Output, Switch
from controller.core.tuning import simc_integrating
from controller.core.values import Channel, Role
from controller.food.air import saturation_pressure_pa, vapour_density_kg_m3
from controller.settings.chamber_tables import ChamberFile, ModelTable, OutputEntry, SensorEntry
from controller.settings.instrument_care import care_of
from controller.settings.learned_file import Learned, with_learned
from controller.settings.model_figures import AIR_J_PER_M3_K, LEWIS_J_PER_M3_K, MEAT_J_PER_KG_K

FITTINGS_J_PER_K: Final = 300.0
"""What follows the air at once: lamp holder, hooks, cables. Common practice, no source."""
MEAT_M2_PER_KG: Final = 0.069
"""Surface of a casing of 55 mm: 4/(d rho) with 1050 kg/m3."""
FASTEST_S: Final = 4.0
EMPTY_KG: Final = 0.01
SWIFT_S: Final = 20.0
"""How fast the thermometer on the chip of a humidity sensor follows the air. Common practice, no source."""
SHIPPED_SHARE: Final = 0.75
"""Of the SIMC gain; and its integral time divided by this."""

RESPONSE_S: Final = {"ds18b20": 120.0, "sht3x": 8.0, "sht4x": 8.0, "bme280": 8.0, "dht22": 10.0, "contact": 0.5}
"""SHT3x 8 s: data sheet (2014), table 1. A DS18B20 in a steel sleeve: estimate, 45 to 400 s occur. The rest is common
practice, no source."""

ERROR_K: Final = {"ds18b20": 0.5, "sht3x": 0.3, "sht4x": 0.2, "bme280": 1.0, "dht22": 0.5, "contact": 0.0}
"""DS18B20 ±0.5 °C, DHT22 ±0.5 °C, SHT3x and SHT4x ±0.2 and ±0.1 °C at best by their data sheets, taken with some room;
BME280 ±1.0 °C from memory."""

REPEAT_K: Final = {"dht22": 0.3}
"""How far a thermometer may differ from itself, minutes later: a step and its noise. 0.1 K for a DS18B20, whose step is
1/16 K, and for the chips of humidity sensors; a DHT22 ±0.2 °C and its step (data sheet)."""

HOTTEST_C: Final = 36.0
WETTEST_PCT: Final = 92.0
DRY_ROOM_PCT: Final = 30.0
FILLS_PER_H: Final = 3.0
"""Of how many openings in an hour the mist is to make good. Common practice, no source."""
LEAST_MIST_ML_PER_H: Final = 20.0


class Switching(NamedTuple):
    """Hold how an output is switched where the file says nothing, in seconds."""

    window_s: float
    min_on_s: float
    min_off_s: float


HEATER: Final[dict[Switch, Switching]] = {
    "solid-state": Switching(60.0, 2.0, 2.0),
    "mechanical": Switching(300.0, 20.0, 20.0),
}
HUMIDIFIER: Final[dict[Switch, Switching]] = {
    "solid-state": Switching(30.0, 1.0, 20.0),
    "mechanical": Switching(150.0, 1.0, 120.0),
}
"""Mist takes its heat from the air at once: the shorter the puffs, the less the air swings. What does not wear out
rests as long as a humidity sensor of 8 s needs to see a puff."""
SWITCHING: Final[dict[Role, Switching]] = {
    "cooler": Switching(600.0, 120.0, 300.0),
    "dehumidifier": Switching(600.0, 180.0, 300.0),
    "fan": Switching(3600.0, 10.0, 10.0),
    "fresh_air": Switching(3600.0, 10.0, 10.0),
    "sounder": Switching(60.0, 0.0, 0.0),
    "master": Switching(60.0, 0.0, 0.0),
}
"""A mechanical relay lives about 1e5 operations, a window of 300 s is 12 an hour; a small compressor rests 5 min so
that its pressures equalise. Common practice, no source."""


def switching_of(role: Role, switch: Switch | None) -> Switching:
    """Return the window and the shortest times of an output where the chamber file says nothing."""
    if role == "heater":
        return HEATER[switch or "mechanical"]
    return HUMIDIFIER[switch or "mechanical"] if role == "humidifier" else SWITCHING[role]


def plan_of(chamber: ChamberFile, learned: Learned | None = None) -> Chamber:
    """Return the chamber as the deciding part sees it; what the file leaves out is filled in.

    What was learned of this very chamber goes before what the file says: its model figures, the gains that follow from
    how the thermometer answered to the lamp, and what a second of mist does.

    `heat_refused` says in words why no heat may be given, and is empty where the thermal cut-out is named and tested.
    """
    mist_ml_per_h = _mist_limit(chamber)
    model = chamber.model if learned is None else with_learned(chamber.model, learned)
    outputs = tuple(_output(entry, mist_ml_per_h) for entry in chamber.output)
    limits = chamber.limits
    responses = {channel: response for entry in chamber.sensor for channel, response in _responses(entry)}
    return Chamber(
        name=chamber.name,
        tick_s=chamber.tick_s,
        channels=tuple(responses),
        response_s=responses,
        outputs=outputs,
        limits=Limits(
            trip_c=limits.trip_c,
            agree_k=limits.agree_k,
            jump_k=limits.jump_k,
            rate_k_per_min=limits.rate_k_per_min,
            mist_ml_per_h=mist_ml_per_h,
        ),
        thresholds=chamber.faults,
        gains=gains_of(model, outputs, responses.get("air_temp", RESPONSE_S["ds18b20"]), learned),
        figures=_figures(replace(chamber, model=model), outputs, learned),
        drying=chamber.drying,
        room_c=chamber.room_temp_c,
        air_error_k=_air_error_k(chamber),
        ph_error=chamber.ph_meter_error,
        degree_hours_rule=chamber.degree_hours_rule,
        care=care_of(chamber),
        smoke_here=chamber.smoke_in_chamber,
        heat_refused=_heat_refused(chamber),
    )


def _air_error_k(chamber: ChamberFile) -> float:
    leading = next(entry for entry in chamber.sensor if entry.channel == "air_temp")
    return ERROR_K[leading.kind] if leading.error_k is None else leading.error_k


def _heat_refused(chamber: ChamberFile) -> str:
    lacking = [name for name in ("thermal_cutout_c", "cutout_tested_on") if getattr(chamber, name) is None]
    if not lacking:
        return ""
    return f"the chamber file names no tested thermal cut-out ({' and '.join(lacking)} missing)"


def _output(entry: OutputEntry, mist_ml_per_h: float) -> Output:
    usual = switching_of(entry.role, entry.switch)
    flow_ml_per_h = entry.ml_per_h or 0.0
    capped = entry.role == "humidifier" and flow_ml_per_h > mist_ml_per_h
    return Output(
        role=entry.role,
        switch=entry.switch,
        window_s=usual.window_s if entry.window_s is None else entry.window_s,
        min_on_s=usual.min_on_s if entry.min_on_s is None else entry.min_on_s,
        min_off_s=usual.min_off_s if entry.min_off_s is None else entry.min_off_s,
        max_duty=mist_ml_per_h / flow_ml_per_h if capped else 1.0,
        w=entry.w or 0.0,
        ml_per_h=flow_ml_per_h,
        rated_operations=entry.rated_operations,
        fitted_on="" if entry.fitted_on is None else entry.fitted_on.isoformat(),
    )


def _responses(entry: SensorEntry) -> list[tuple[Channel, float]]:
    response_s = RESPONSE_S[entry.kind] if entry.response_s is None else entry.response_s
    return [("rh", response_s), ("rh_temp", response_s)] if entry.channel == "rh" else [(entry.channel, response_s)]


def _mist_limit(chamber: ChamberFile) -> float:
    """Return the most water in ml per hour: what the file says, else enough for the hottest ferment in a cold dry room.

    Enough is twice what leaks out, what condenses on the walls, and three fresh fillings of the box in each hour.
    """
    if chamber.limits.mist_ml_per_h is not None:
        return chamber.limits.mist_ml_per_h
    model, room_c = chamber.model, min(chamber.room_temp_c)
    wet_g_m3 = _vapour_g_m3(HOTTEST_C, WETTEST_PCT)
    lift_g_m3 = wet_g_m3 - _vapour_g_m3(room_c, DRY_ROOM_PCT)
    share = model.ua_w_per_k / (model.ua_w_per_k + model.air_wall_w_per_k)
    wall_g_m3 = _vapour_g_m3(HOTTEST_C - share * (HOTTEST_C - room_c), 100.0)
    condensing_g_per_h = max(wet_g_m3 - wall_g_m3, 0.0) * model.air_wall_w_per_k / LEWIS_J_PER_M3_K * 3600.0
    fills_g_per_h = lift_g_m3 * model.volume_l / 1000.0 * (model.leak_per_h + FILLS_PER_H)
    enough = max(2.0 * (condensing_g_per_h + fills_g_per_h), LEAST_MIST_ML_PER_H)
    flow = next((entry.ml_per_h or enough for entry in chamber.output if entry.role == "humidifier"), enough)
    return round(min(enough, flow), 1)


def _vapour_g_m3(temp_c: float, rh_pct: float) -> float:
    return 1000.0 * vapour_density_kg_m3(temp_c, saturation_pressure_pa(temp_c) * rh_pct / 100.0)


def _figures(chamber: ChamberFile, outputs: tuple[Output, ...], learned: Learned | None) -> Figures:
    model = chamber.model
    leading = next(entry for entry in chamber.sensor if entry.channel == "air_temp")
    slowest_s = max(
        seconds for entry in chamber.sensor if entry.channel != "core_temp" for _, seconds in _responses(entry)
    )
    flow_g_per_s = _sum_of(outputs, "humidifier", "ml_per_h") / 3600.0
    heater_w = _sum_of(outputs, "heater", "w")
    mist_pct_per_s = None if learned is None else learned.mist_pct_per_s.value
    if mist_pct_per_s is None:
        mist_pct_per_s = 100.0 * flow_g_per_s / (model.volume_l / 1000.0) / _vapour_g_m3(20.0, 100.0)
    return Figures(
        heater_w=heater_w,
        ua_w_per_k=model.ua_w_per_k,
        air_j_per_k=_air_j_per_k(model),
        wall_j_per_k=model.wall_j_per_k,
        meat_j_per_kg_k=MEAT_J_PER_KG_K,
        mist_pct_per_s=mist_pct_per_s,
        air_wall_w_per_k=model.air_wall_w_per_k,
        meat_w_per_m2_k=model.meat_w_per_m2_k,
        lamp_radiant=model.lamp_radiant,
        lamp_s=model.lamp_j_per_k / model.lamp_w_per_k,
        plate_j_per_k=model.evaporator_j_per_k if any(output.role == "cooler" for output in outputs) else 0.0,
        # Nobody knows how much of a lamp is radiation, and this is a bound: all of it warms the air.
        lamp_k_per_min=60.0 * lamp_response(replace(model, meat_kg=EMPTY_KG, lamp_radiant=0.0), heater_w, slowest_s)[0],
        repeat_k=REPEAT_K.get(leading.kind, 0.1),
    )


def _sum_of(outputs: tuple[Output, ...], role: Role, field: str) -> float:
    return float(sum(getattr(output, field) for output in outputs if output.role == role))


def _air_j_per_k(model: ModelTable) -> float:
    return model.volume_l / 1000.0 * AIR_J_PER_M3_K + FITTINGS_J_PER_K


def gains_of(
    model: ModelTable, outputs: tuple[Output, ...], response_s: float, learned: Learned | None = None
) -> Gains:
    """Return the gains of the loops; those of the heat by the rule that the module's head gives.

    Args:
        model: the figures of the chamber.
        outputs: of which the heater's power in W and its window in seconds count.
        response_s: of the thermometer that leads, in seconds.
        learned: how it really answered, where that was measured; it goes before what the model says.
    """
    heater = next((output for output in outputs if output.role == "heater"), None)
    if heater is None or heater.w <= 0.0:
        return Gains(heat_per_k=0.0, heat_ti_s=3600.0)
    slope_k_per_s, dead_s = lamp_response(model, heater.w, response_s)
    swift_k_per_s, swift_dead_s = lamp_response(model, heater.w, min(response_s, SWIFT_S))
    if learned is not None and learned.slope_k_per_min.value and learned.dead_s.value:
        measured_k_per_s = learned.slope_k_per_min.value / 60.0
        swift_k_per_s *= measured_k_per_s / slope_k_per_s  # What is wrong with the figures is wrong with both.
        slope_k_per_s, dead_s = measured_k_per_s, learned.dead_s.value
    kc, ti_s = used_of(slope_k_per_s, dead_s, heater.window_s)
    swift_kc, swift_ti_s = used_of(swift_k_per_s, swift_dead_s, heater.window_s)
    return Gains(heat_per_k=kc, heat_ti_s=ti_s, swift_per_k=swift_kc, swift_ti_s=swift_ti_s)


def used_of(slope_k_per_s: float, dead_s: float, window_s: float) -> tuple[float, float]:
    """Return the gain (duty per K) and integral time (s) that are used of a lamp that is answered to like this."""
    kc, ti_s = simc(slope_k_per_s, dead_s, window_s)
    return SHIPPED_SHARE * kc, ti_s / SHIPPED_SHARE


def simc(slope_k_per_s: float, dead_s: float, window_s: float) -> tuple[float, float]:
    """Return gain (duty per K) and integral time (s) by the SIMC rule for an integrating process, tau_c = theta."""
    return simc_integrating(slope_k_per_s, dead_s + window_s / 2.0)


@lru_cache(maxsize=64)  # The status asks for it every few seconds, always for the same chamber.
def lamp_response(model: ModelTable, lamp_w: float, response_s: float) -> tuple[float, float]:
    """Return the steepest slope in K/s, and the dead time in s of its tangent, of the thermometer under the full lamp.

    The loaded chamber begins in balance with its room; lamp, air, wall, meat and thermometer are followed in steps of
    1 s for an hour, by when every slope is past its steepest. Nothing is taken to answer faster than in 4 s, so that
    the steps stay stable whatever the file says.
    """
    air = wall = meat = lamp = shown = 0.0  # Kelvin above the room.
    meat_w_per_k = model.meat_w_per_m2_k * MEAT_M2_PER_KG * model.meat_kg
    lamp_j = max(model.lamp_j_per_k, FASTEST_S * model.lamp_w_per_k)
    air_j = max(_air_j_per_k(model), FASTEST_S * (model.lamp_w_per_k + model.air_wall_w_per_k + meat_w_per_k))
    wall_j = max(model.wall_j_per_k, FASTEST_S * (model.air_wall_w_per_k + model.ua_w_per_k))
    meat_j, response_s = model.meat_kg * MEAT_J_PER_KG_K, max(response_s, FASTEST_S)
    radiant_w = model.lamp_radiant * lamp_w
    steepest, dead_s = 0.0, 0.0
    for second in range(3600):
        slope = (air - shown) / response_s
        if slope > steepest:
            steepest, dead_s = slope, second - shown / slope
        from_lamp = model.lamp_w_per_k * (lamp - air)
        to_wall, to_meat = model.air_wall_w_per_k * (air - wall), meat_w_per_k * (air - meat)
        lamp += (lamp_w - radiant_w - from_lamp) / lamp_j
        wall += (to_wall - model.ua_w_per_k * wall + LAMP_ON_WALL * radiant_w) / wall_j
        meat += (to_meat + (1.0 - LAMP_ON_WALL) * radiant_w) / meat_j
        air += (from_lamp - to_wall - to_meat) / air_j
        shown += slope
    return steepest, dead_s
