"""The two things that are fixed while the daemon runs: what the chamber is, and what a batch is to go through."""

from typing import Final, Literal

from msgspec import Struct

from controller.core.thresholds import Thresholds
from controller.core.values import Channel, Role

Switch = Literal["solid-state", "mechanical"]
StageKind = Literal["warm-up", "ferment", "smoke", "cook", "chill", "dry", "equalise", "rest"]
Where = Literal["chamber", "elsewhere"]
Drying = Literal["none", "cool-and-reheat", "dehumidifier", "vent"]
DegreeHoursRule = Literal["us", "canada", "both"]
"""Which rule binds; `both`: whichever of the two is used up first."""


WET_PCT: Final = 99.0
"""A humidity sensor that shows this is wet, or the air is; common practice, no source."""
BELOW_TRIP_K: Final = 3.0
"""Every wanted temperature lies at least so far below the trip."""


class Output(Struct, frozen=True, kw_only=True):
    """Describe how one output may be switched: its window, shortest on and off times, and hard duty cap (0..1)."""

    role: Role
    switch: Switch = "mechanical"
    window_s: float
    min_on_s: float
    min_off_s: float
    max_duty: float = 1.0
    w: float = 0.0
    ml_per_h: float = 0.0
    rated_operations: float | None = None  # What its relay is made for; None: as the threshold says.
    fitted_on: str = ""  # The day its relay was fitted: another one begins the count of its operations anew.


class Limits(Struct, frozen=True, kw_only=True):
    """Hold the thresholds of judging and of the gate. Every default is common practice, no source, unless noted."""

    trip_c: float = 45.0
    fresh_s: float = 12.0  # Heat burns only while the newest good air temperature is at most this old.
    agree_k: float = 3.0
    settle_s: float = 30.0  # After each start of the program heat waits this long,
    settle_readings: int = 3  # and for this many good readings.
    lowest_c: float = -10.0
    highest_c: float = 60.0
    lowest_rh_pct: float = 1.0
    highest_rh_pct: float = 100.5
    jump_k: float = 5.0
    rate_k_per_min: float = 2.0
    lost_s: float = 60.0  # A value older than this is lost.
    frozen_s: float = 1800.0
    heat_cool_gap_s: float = 600.0
    mist_ml_per_h: float = 100.0  # The most water that may be put into the chamber in any hour.


class Figures(Struct, frozen=True, kw_only=True):
    """Hold what the chamber's own model figures lead one to expect.

    The judge of "heating, but not warming" uses it, and who asks how long a cut of the power can have been.
    """

    heater_w: float = 0.0
    ua_w_per_k: float = 1.0
    air_j_per_k: float = 400.0
    wall_j_per_k: float = 5000.0
    meat_j_per_kg_k: float = 3300.0
    mist_pct_per_s: float = 1.0  # How many %RH one second of mist adds at 20 °C.
    air_wall_w_per_k: float = 15.0  # From the air to the inner wall,
    meat_w_per_m2_k: float = 6.0  # and to the meat.
    lamp_radiant: float = 0.35
    lamp_s: float = 70.0  # The lamp's own time constant.
    plate_j_per_k: float = 0.0  # The evaporator; 0 without a cooler.
    lamp_k_per_min: float = 0.0  # The full lamp lifts a slow thermometer no faster than that.
    repeat_k: float = 0.1  # How far the leading thermometer may differ from itself.


class Gains(Struct, frozen=True, kw_only=True):
    """Hold the gains of the loops: duty (0..1) per K, and the integral time in seconds; drying per %RH.

    The humidifier's gain follows from `Figures.mist_pct_per_s`.
    """

    heat_per_k: float
    heat_ti_s: float
    swift_per_k: float = 0.0  # The same where a quicker thermometer can be had than the leading one; 0: no others.
    swift_ti_s: float = 3600.0
    cool_per_k: float = 0.15
    cool_ti_s: float = 3600.0
    mist_ti_s: float = 1200.0
    dry_per_pct: float = 0.008
    dry_ti_s: float = 900.0


InstrumentKind = Literal["thermometer", "humidity", "meter"]


class Care(Struct, frozen=True, kw_only=True):
    """Say how often each kind of instrument is to be checked, which are fixed in the chamber, and their offsets.

    Yearly, and before first use, for thermometers: CFIA, Meat Hygiene Manual of Procedures, ch. 4, Annex B (read);
    90 days for humidity sensors, each day of use for a pH meter: common practice, no source.
    """

    sensors: tuple[Channel, ...] = ()
    offsets: dict[Channel, float] = {}  # What the chamber file adds to each already, in K or %RH.
    thermometer_days: float = 365.0
    humidity_days: float = 180.0
    humidity_wet_h: float = 72.0  # Hours in wet air after which a humidity sensor is to be checked all the same.
    meter_days: float = 1.0


class Chamber(Struct, frozen=True, kw_only=True):
    """Describe one chamber as the deciding part sees it. Without `heat_refused == ""` no heat is ever given."""

    name: str
    tick_s: float = 5.0
    channels: tuple[Channel, ...]
    response_s: dict[Channel, float]
    outputs: tuple[Output, ...]
    limits: Limits
    thresholds: Thresholds = Thresholds()
    gains: Gains
    figures: Figures
    drying: Drying = "none"
    room_c: tuple[float, float] = (15.0, 24.0)
    air_error_k: float = 0.5
    """How far the leading air thermometer may be off: DS18B20 ±0.5 °C (data sheet). It is added to degree-hours."""
    ph_error: float = 0.05
    """How far a pH meter may be off, added to a reading before it counts; common practice, no source."""
    degree_hours_rule: DegreeHoursRule = "both"
    care: Care = Care()
    smoke_here: bool = False  # The chamber file allows smoke in this chamber, after its cautions.
    heat_refused: str = "the chamber file names no tested thermal cut-out"

    @property
    def parts(self) -> frozenset[Channel | Role]:
        """Return the channels of its sensors and the roles of its outputs."""
        return frozenset((*self.channels, *(output.role for output in self.outputs)))

    def output(self, role: Role) -> Output | None:
        """Return the output with this role, or None where the chamber has none."""
        for output in self.outputs:
            if output.role == role:
                return output
        return None


class Until(Struct, frozen=True, kw_only=True):
    """Hold the conditions that end a stage; all that are given must hold."""

    ph_at_most: float | None = None
    hours: float | None = None  # Time at conditions.
    weight_loss_pct: float | None = None  # Of the slowest weighed piece.
    core_temp_c: float | None = None
    confirm: bool = False


class Stage(Struct, frozen=True, kw_only=True):
    """Describe one stage of a profile."""

    name: str
    kind: StageKind
    until: Until
    where: Where = "chamber"
    air_temp_c: float | None = None
    rh_pct: float | None = None
    fan_min_per_h: float = 0.0
    fresh_air_min_per_day: float = 0.0
    ramp_h: float = 0.0
    at_least_h: float = 0.0
    at_most_h: float | None = None
    ph_due_h: tuple[float, ...] = ()
    note: str = ""


class Recipe(Struct, frozen=True, kw_only=True):
    """Hold per kg of meat what goes into the bowl, all in per cent of the meat but the starter's grams."""

    salt_pct: float
    cure_pct: float
    dextrose_pct: float
    starter_g_per_kg: float = 0.25


class Profile(Struct, frozen=True, kw_only=True):
    """Hold what a maker chooses; frozen into a batch it is the batch card."""

    name: str
    title: str
    style: Literal["raw-dried", "cooked"]
    cure: Literal["1", "2", "other"]
    starter: Literal["mesophilic", "thermotolerant", "none"]
    starter_temp_c: tuple[float, float] = (0.0, 0.0)  # Of no meaning without a starter.
    per_kg: Recipe
    stages: tuple[Stage, ...]
    kill_step: str = ""  # The id of a validated heat or hold process (food.lethality) that the stages carry out.
    mould: bool = False  # White mould is wanted on the casing.
