"""The tables of a chamber file as they stand on disk: what hangs on which wire, what the box is like, its limits."""

import datetime as dt
from typing import Annotated, Literal

from msgspec import Meta, Struct

from controller.core.plan import Care, DegreeHoursRule, Drying, Switch
from controller.core.thresholds import Thresholds
from controller.core.values import Role

SensorKind = Literal["ds18b20", "sht3x", "sht4x", "bme280", "dht22", "contact"]


class SensorEntry(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Describe one sensor by its identity. A humidity sensor (`channel = "rh"`) also gives `rh_temp`.

    `id` is the 1-wire id (`28-000005443322`) of a DS18B20; `address` the kernel's device name of an I2C sensor
    (`1-0044`), or the driver's name where there is only one; `pin` the GPIO of a contact to ground. Closed means: the
    door is shut, the cut-out has not opened, there is voltage, or current; `fan_turns` is the fan's own speed signal.
    """

    channel: Literal[
        "air_temp",
        "air_temp_2",
        "rh",
        "rh_2",
        "core_temp",
        "ambient_temp",
        "evaporator_temp",
        "door",
        "heater_live",
        "heater_current",
        "cooler_current",
        "cutout",
        "fan_turns",
    ]
    kind: SensorKind
    id: str = ""
    address: str = ""
    pin: int | None = None
    response_s: Annotated[float, Meta(ge=0.5, le=900)] | None = None
    error_k: Annotated[float, Meta(ge=0, le=3)] | None = None  # How far it may be off; else by its kind. Never 0.
    offset_k: Annotated[float, Meta(ge=-3, le=3)] = 0.0
    offset_pct: Annotated[float, Meta(ge=-10, le=10)] = 0.0


class OutputEntry(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Describe one output by its pin (BCM number), the level that switches it on, and what it can do."""

    role: Role
    pin: int
    active: Literal["high", "low"] = "high"
    switch: Switch = "mechanical"
    w: Annotated[float, Meta(gt=0, le=3000)] | None = None
    ml_per_h: Annotated[float, Meta(gt=0, le=2000)] | None = None
    window_s: Annotated[float, Meta(ge=10, le=3600)] | None = None
    min_on_s: Annotated[float, Meta(ge=0, le=1800)] | None = None
    min_off_s: Annotated[float, Meta(ge=0, le=3600)] | None = None
    rated_operations: Annotated[float, Meta(ge=1000, le=100_000_000)] | None = None
    fitted_on: dt.date | None = None  # Of its relay; another day begins the count of its operations anew.


class LimitsTable(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold the limits a maker may set; what is left out is the program's default."""

    trip_c: Annotated[float, Meta(ge=30, le=60)] = 45.0
    agree_k: Annotated[float, Meta(ge=1, le=5)] = 3.0
    jump_k: Annotated[float, Meta(ge=1, le=10)] = 5.0
    rate_k_per_min: Annotated[float, Meta(ge=0.5, le=10)] = 2.0
    mist_ml_per_h: Annotated[float, Meta(gt=0, le=500)] | None = None
    log_every_s: Annotated[float, Meta(ge=10, le=600)] = 60.0


class ChecksTable(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold after how many days each kind of instrument is to be checked again; the defaults are those of `Care`."""

    thermometer_days: Annotated[float, Meta(gt=0, le=730)] = Care().thermometer_days
    humidity_days: Annotated[float, Meta(gt=0, le=730)] = Care().humidity_days
    ph_meter_days: Annotated[float, Meta(gt=0, le=31)] = Care().meter_days


class ModelTable(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold the figures of the modelled chamber; also what healthy heating is judged against.

    The lamp's power and the humidifier's flow are those of the outputs. `evaporator_*` only where there is a cooler.
    """

    volume_l: Annotated[float, Meta(ge=20, le=2000)]
    ua_w_per_k: Annotated[float, Meta(gt=0, le=30)]  # Air and walls to the room.
    air_wall_w_per_k: Annotated[float, Meta(gt=0, le=100)]
    wall_j_per_k: Annotated[float, Meta(gt=0, le=200_000)]
    lamp_radiant: Annotated[float, Meta(ge=0, le=0.9)] = 0.35
    lamp_j_per_k: Annotated[float, Meta(gt=0, le=2000)] = 60.0
    lamp_w_per_k: Annotated[float, Meta(gt=0, le=20)] = 0.9
    leak_per_h: Annotated[float, Meta(ge=0, le=20)] = 0.4
    meat_kg: Annotated[float, Meta(gt=0, le=200)] = 5.0
    meat_w_per_m2_k: Annotated[float, Meta(gt=0, le=50)] = 6.0
    meat_m_per_s: Annotated[float, Meta(gt=0, le=0.05)] = 0.0025
    evaporator_w_per_k: Annotated[float, Meta(gt=0, le=30)] | None = None
    evaporator_j_per_k: Annotated[float, Meta(gt=0, le=10_000)] = 900.0
    evaporator_w: Annotated[float, Meta(gt=0, le=2000)] = 200.0  # Cooling power with the plate at 0 °C.


class ChamberFile(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold one whole chamber file, checked."""

    name: str
    title: str = ""
    units: Literal["C", "F"] = "C"
    timezone: str = "UTC"
    state_dir: str = "/var/lib/hangroom"
    tick_s: Annotated[float, Meta(ge=1, le=8)] = 5.0
    thermal_cutout_c: Annotated[float, Meta(ge=35, le=90)] | None = None
    cutout_tested_on: dt.date | None = None
    room_temp_c: tuple[float, float] = (15.0, 24.0)
    drying: Drying = "none"
    clock_battery: bool = False
    degree_hours_rule: DegreeHoursRule = "both"
    ph_meter_error: Annotated[float, Meta(ge=0, le=0.3)] = 0.05
    smoke_in_chamber: bool = False
    gpio_chip: str = ""  # The label of the chip; empty: the header of this Pi.
    sensor: tuple[SensorEntry, ...]
    output: tuple[OutputEntry, ...]
    limits: LimitsTable = LimitsTable()
    faults: Thresholds = Thresholds()
    checks: ChecksTable = ChecksTable()
    model: ModelTable
