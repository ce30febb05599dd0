"""What is written down of a run, five seconds by five, and the figures that are made of it."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from controller.core.values import Role
from controller.simulator.world import World

Series = NDArray[np.float64]
SAMPLE_S: Final = 5.0
HOUR_S: Final = 3600.0
TEN_MIN: Final = int(600.0 / SAMPLE_S)
ONE_H: Final = int(HOUR_S / SAMPLE_S)
REACHED_K: Final = 0.5
COMPRESSOR_W: Final = 100.0
"""What a small fridge's compressor draws. Common practice, no source."""
ROLES: Final[tuple[Role, ...]] = ("heater", "humidifier", "cooler", "dehumidifier", "fan", "fresh_air")


@dataclass
class Record:
    """Collect one run; true values come from the model, logged ones from the sensors."""

    wanted_c: float
    wanted_pct: float
    true_c: list[float] = field(default_factory=list)
    logged_c: list[float] = field(default_factory=list)
    meat_c: list[float] = field(default_factory=list)
    true_pct: list[float] = field(default_factory=list)
    logged_pct: list[float] = field(default_factory=list)
    at_s: list[float] = field(default_factory=list)
    marks: dict[str, float] = field(default_factory=dict)  # Instants of the schedule by name,
    counts: dict[str, dict[Role, int]] = field(default_factory=dict)  # and the closings at them,
    spent: dict[str, tuple[float, float, float]] = field(default_factory=dict)  # and lamp J, cooler s, water kg.
    cooler_s: float = 0.0
    alarms: tuple[str, ...] = ()

    def see(self, world: World, logged_c: float | None, logged_pct: float | None) -> None:
        """Write down this instant."""
        nothing = float("nan")
        self.at_s.append(world.elapsed_s)
        self.true_c.append(world.true_air_temp_c)
        self.logged_c.append(nothing if logged_c is None else logged_c)
        self.meat_c.append(world.model.meat_c if world.meat_is_in else nothing)
        self.true_pct.append(world.true_rh_pct)
        self.logged_pct.append(nothing if logged_pct is None else logged_pct)
        self.cooler_s += SAMPLE_S if world.model.cooler_on else 0.0

    def mark(self, name: str, world: World) -> None:
        """Remember this instant by its name."""
        self.marks[name] = world.elapsed_s
        self.counts[name] = {role: world.relays.closings.get(role, 0) for role in ROLES}
        ledger = world.model.ledger
        self.spent[name] = (ledger.lamp_j, self.cooler_s, ledger.water_mist_kg)

    def between(self, series: list[float], begin: str, end: str) -> Series:
        """Return what was written down between two marks."""
        at = np.asarray(self.at_s)
        chosen: Series = np.asarray(series)[(at >= self.marks[begin]) & (at < self.marks[end])]
        return chosen

    def p95_k(self, series: list[float], begin: str = "steady", end: str = "end") -> float:
        """Return the 95th percentile of |deviation| from the wanted temperature."""
        return _p95(self.between(series, begin, end) - self.wanted_c)

    def meat_p95_k(self) -> float:
        """Return the same of the meat about its own mean of an hour: it lies below the air by what it gives off."""
        meat = self.between(self.meat_c, "steady", "end")
        return _p95(meat[ONE_H // 2 : -ONE_H // 2 + 1] - _moving(meat, ONE_H)) if len(meat) > 2 * ONE_H else 0.0

    def rh_p95_pct(self, series: list[float]) -> float:
        """Return the 95th percentile of |deviation| of the ten-minute mean from the wanted humidity."""
        return _p95(_moving(self.between(series, "steady", "end"), TEN_MIN) - self.wanted_pct)

    def rh_mean_pct(self, series: list[float]) -> float:
        """Return the mean humidity when all has settled."""
        return float(np.nanmean(self.between(series, "steady", "end")))

    def overshoot_k(self, series: list[float], begin: str = "start", end: str = "hang") -> float:
        """Return how far the first rise (or fall) goes beyond what is wanted."""
        values = self.between(series, begin, end) - self.wanted_c
        first = values[np.isfinite(values)][0]
        return float(np.nanmax(values if first < 0.0 else -values))

    def reached_s(self, begin: str, end: str) -> float | None:
        """Return after how long the true air was within half a kelvin for the first time; None: never."""
        values = self.between(self.true_c, begin, end)
        near = np.flatnonzero(np.abs(values - self.wanted_c) <= REACHED_K)
        return float(near[0]) * SAMPLE_S if len(near) else None

    def per_h(self, role: Role) -> float:
        """Return the closings an hour when all has settled."""
        hours = (self.marks["end"] - self.marks["steady"]) / HOUR_S
        return (self.counts["end"][role] - self.counts["steady"][role]) / hours

    def energy_wh_per_h(self) -> float:
        """Return what lamp and compressor draw when all has settled."""
        (lamp_j, cooler_s, _), (lamp_end_j, cooler_end_s, _) = self.spent["steady"], self.spent["end"]
        joules = lamp_end_j - lamp_j + COMPRESSOR_W * (cooler_end_s - cooler_s)
        return joules / (self.marks["end"] - self.marks["steady"])

    def water_ml_per_h(self) -> float:
        """Return the water that was put in when all had settled."""
        hours = (self.marks["end"] - self.marks["steady"]) / HOUR_S
        return 1000.0 * (self.spent["end"][2] - self.spent["steady"][2]) / hours


def _p95(deviation: Series) -> float:
    finite = np.abs(deviation[np.isfinite(deviation)])
    return float(np.quantile(finite, 0.95)) if len(finite) else float("nan")


def _moving(values: Series, width: int) -> Series:
    if len(values) < width:
        return values
    sums = np.cumsum(np.insert(values, 0, 0.0))
    mean: Series = (sums[width:] - sums[:-width]) / width
    return mean
