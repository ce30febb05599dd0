"""What a step test has shown of this very chamber: `learned.toml`, read, checked, and held against the chamber file.

The file stands in the state folder once somebody has taken it over. It is used only for the chamber it was made with:
another lamp, switch, thermometer or box, and it says nothing. A damaged one is no reason not to run: the chamber file's
own figures are used then, and that is told.
"""

from pathlib import Path
from typing import Annotated, Any, Final

from msgspec import Meta, Struct
from msgspec.structs import fields, replace

from controller.core.plan import Switch
from controller.errors import AccessError, NoInputError, SettingsError
from controller.settings.chamber_tables import ChamberFile, ModelTable, OutputEntry, SensorEntry
from controller.settings.reader import Table, read_table

FILE: Final = "learned.toml"
VERSION: Final = 1
WATTS_SHARE: Final = 0.05
"""A lamp is the same one within this share of its power: what is typed is the number on it."""

Seconds = Annotated[float, Meta(ge=0, le=86_400)]


class Figure(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold one figure with its standard error, or why it could not be found; and what the chamber file has for it."""

    value: float | None = None
    error: Annotated[float, Meta(ge=0)] | None = None
    in_file: float | None = None
    because: str = ""


NOTHING: Final = Figure()


class Made(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold when and with what the figures were found."""

    test: str
    on: str  # The day, or the instant at which the test began, in UTC.
    chamber: str
    lamp_w: Annotated[float, Meta(gt=0, le=5000)]
    switch: Switch
    thermometer: str  # Its kind and identity.
    volume_l: Annotated[float, Meta(ge=20, le=2000)]
    ml_per_h: Annotated[float, Meta(ge=0, le=2000)] = 0.0
    loaded_kg: Annotated[float, Meta(ge=0, lt=1000)] = 0.0
    room_c: Annotated[float, Meta(ge=-30, le=50)]
    room_is: str  # "measured", or what was taken for it.
    batches: Annotated[int, Meta(ge=0)] = 0  # Of how many batches it was taken, where no step test made it.


class LearnedGains(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold the gains that follow (duty per K, s), and the largest sensitivity Ms of a loop with them."""

    window_s: Annotated[float, Meta(ge=0, le=3600)]
    heat_per_k: Annotated[float, Meta(gt=0, le=100)]
    heat_ti_s: Annotated[float, Meta(gt=0, le=1e6)]
    ms: Annotated[float, Meta(ge=1, le=100)]
    simc_per_k: Annotated[float, Meta(gt=0, le=100)]
    simc_ti_s: Annotated[float, Meta(gt=0, le=1e6)]
    simc_ms: Annotated[float, Meta(ge=1, le=100)]
    amigo_per_k: Annotated[float, Meta(gt=0, le=100)]
    amigo_ti_s: Annotated[float, Meta(gt=0, le=1e6)]
    amigo_ms: Annotated[float, Meta(ge=1, le=100)]


class Learned(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold all that was learned of a chamber. `dead_s` and `slope_k_per_min` are always there."""

    version: int = VERSION
    made: Made
    dead_s: Figure
    slope_k_per_min: Figure
    probe_s: Figure = NOTHING
    fast_lag_s: Figure = NOTHING
    slow_lag_s: Figure = NOTHING
    after_heat_k: Figure = NOTHING
    after_heat_s: Figure = NOTHING
    ua_w_per_k: Figure = NOTHING
    air_wall_w_per_k: Figure = NOTHING
    wall_j_per_k: Figure = NOTHING
    lamp_s: Figure = NOTHING
    noise_k: Figure = NOTHING
    offset_k: Figure = NOTHING
    mist_pct_per_s: Figure = NOTHING
    mist_delay_s: Figure = NOTHING
    mist_falls_s: Figure = NOTHING
    cool_dead_s: Figure = NOTHING
    cool_slope_k_per_min: Figure = NOTHING
    after_cool_k: Figure = NOTHING
    gains: LearnedGains


RANGES: Final[dict[str, tuple[float, float]]] = {
    "dead_s": (2.0, 1800.0),
    "slope_k_per_min": (0.01, 30.0),
    "probe_s": (1.0, 1800.0),
    "fast_lag_s": (1.0, 3600.0),
    "slow_lag_s": (60.0, 500_000.0),
    "after_heat_k": (0.0, 20.0),
    "after_heat_s": (0.0, 3600.0),
    "ua_w_per_k": (0.05, 30.0),
    "air_wall_w_per_k": (0.5, 100.0),
    "wall_j_per_k": (300.0, 200_000.0),
    "lamp_s": (2.0, 1800.0),
    "noise_k": (0.0, 1.0),
    "offset_k": (-3.0, 3.0),
    "mist_pct_per_s": (0.01, 50.0),
    "mist_delay_s": (0.0, 600.0),
    "mist_falls_s": (1.0, 500_000.0),
    "cool_dead_s": (0.0, 1200.0),
    "cool_slope_k_per_min": (0.01, 30.0),
    "after_cool_k": (0.0, 20.0),
}
"""What each figure can be; beyond it is no chamber that this program heats. Common practice, no source."""
MODEL: Final = ("ua_w_per_k", "air_wall_w_per_k", "wall_j_per_k")
"""These replace the chamber file's, all together: each was found beside the others."""

APART: Final = 10.0
"""Figures that are so many times off the chamber file's are not believed: A3 and A1 judge the lamp by them, and walls
that hold fifty times as much would let a dead lamp pass for hours. Common practice, no source."""


class Use(Struct, frozen=True):
    """Hold what is used of a learned file: the figures, or why none are; both empty where there is no file."""

    learned: Learned | None = None
    why_not: str = ""


def read_learned(path: Path) -> Learned:
    """Return what a file holds, checked.

    Raises:
        SettingsError: one line for each problem.
        NoInputError: there is no such file.
        AccessError: it may not be read.
    """
    table = read_table(path, Learned)
    if table.get("version") not in {None, VERSION}:
        table.say("version", f"this program reads {VERSION}")
    for name, (low, high) in RANGES.items():
        for figure in table.tables(name):
            _check(figure, low, high, needed=name in {"dead_s", "slope_k_per_min"})
    table.problems.raise_all()
    return table.build(Learned)


def _check(figure: Table, low: float, high: float, *, needed: bool) -> None:
    value = figure.get("value")
    if value is None and needed and "value" not in figure.raw:
        figure.say("value", f"missing; a number from {low:g} to {high:g}")
    if value is not None and not low <= value <= high:
        figure.say("value", f"take {low:g} to {high:g}")


def use_learned(state_dir: Path, chamber: ChamberFile) -> Use:
    """Return what is to be used of the learned file of this state folder; never raises."""
    path = state_dir / FILE
    try:
        learned = read_learned(path)
    except NoInputError:
        return Use()
    except (SettingsError, AccessError) as error:
        first = str(error).splitlines()[0]
        return Use(None, f"learned figures not used: {first}; the chamber file's own are")
    except OSError as error:  # A disk that does not give it.
        return Use(None, f"learned figures not used: {path}: {error.strerror or error}; the chamber file's own are")
    why = why_not_of(learned, chamber)
    return Use(None, f"learned figures not used: {why}") if why else Use(learned)


def why_not_of(learned: Learned, chamber: ChamberFile) -> str:
    """Return why these figures are not of this chamber; empty where they are."""
    made = learned.made
    heater = heater_of(chamber)
    watts = lamp_w_of(chamber)
    if heater is None or abs(watts - made.lamp_w) > WATTS_SHARE * made.lamp_w:
        return f"made with a lamp of {made.lamp_w:g} W, this one has {watts:g} W"
    if heater.switch != made.switch:
        return f"made with a {made.switch} switch at the lamp, this one is {heater.switch}"
    here = thermometer_of(chamber)
    if here != made.thermometer:
        return f"made with the air thermometer {made.thermometer}, this one is {here}"
    if abs(chamber.model.volume_l - made.volume_l) > WATTS_SHARE * made.volume_l:
        return f"made in a chamber of {made.volume_l:g} l, this one has {chamber.model.volume_l:g} l"
    return _why_too_far(learned, chamber.model)


def _why_too_far(learned: Learned, model: ModelTable) -> str:
    """Return which figure cannot be of the chamber that the file describes; empty where they are near enough."""
    for name in MODEL:
        value, in_file = value_of(learned, name), float(getattr(model, name))
        if value is not None and not in_file / APART <= value <= in_file * APART:
            off = f"more than {APART:g} times off the chamber file's {in_file:g}"
            return f"{name} = {value:g} is {off}; set the one that is wrong right"
    return ""


def heater_of(chamber: ChamberFile) -> OutputEntry | None:
    """Return the lamp's entry."""
    return next((entry for entry in chamber.output if entry.role == "heater"), None)


def lamp_w_of(chamber: ChamberFile) -> float:
    """Return the power of the lamp in W; 0 where the file names none."""
    return float(sum(entry.w or 0.0 for entry in chamber.output if entry.role == "heater"))


def mist_ml_per_h_of(chamber: ChamberFile) -> float:
    """Return the flow of the humidifier in ml/h; 0 where the file names none."""
    return float(sum(entry.ml_per_h or 0.0 for entry in chamber.output if entry.role == "humidifier"))


def thermometer_of(chamber: ChamberFile) -> str:
    """Return kind and identity of the leading air thermometer."""
    entry: SensorEntry = next(one for one in chamber.sensor if one.channel == "air_temp")
    return f"{entry.kind} {entry.id or entry.address}".strip()


def value_of(learned: Learned, name: str) -> float | None:
    """Return the value of one figure by its name, None where it is not known."""
    figure: Any = getattr(learned, name)
    return figure.value if isinstance(figure, Figure) else None


def with_learned(model: ModelTable, learned: Learned) -> ModelTable:
    """Return the model figures with those that were learned in the place of the file's."""
    found = {name: value_of(learned, name) for name in MODEL}
    if any(value is None for value in found.values()):
        return model
    lamp_s = value_of(learned, "lamp_s")
    if lamp_s is not None:
        found["lamp_w_per_k"] = min(model.lamp_j_per_k / lamp_s, 20.0)
    return replace(model, **found)


FIGURES: Final = tuple(field.name for field in fields(Learned) if field.name in RANGES)
