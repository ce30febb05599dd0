"""What was true beside what was logged: only a simulation can know both, so it always says both.

Minutes are counted from the first arrival (after hanging, in a ferment); those before it are left out and told. A
sensor lags, creeps and rounds: a controller that looks good on its own log may be less good in the air.
"""

from collections.abc import Iterable
from typing import Final

from controller.core.batch.stages import lead
from controller.core.memory import Batch, Memory, Outcome
from controller.core.plan import Chamber, StageKind
from controller.simulator.world import World

BAND_K: Final = 0.5
BAND_PCT: Final = 4.0
MINUTE_S: Final = 60.0


class StageTruth:
    """Add up one stage: minute means of air and humidity, logged and true, against what was wanted."""

    def __init__(self, name: str, kind: StageKind) -> None:
        """Begin an empty account."""
        self.name, self.kind = name, kind
        self.minutes = self.counted = self.within = self.within_true = 0
        self.overshoot_k = self.overshoot_true_k = float("-inf")
        self.rh_sum = self.rh_true_sum = self.rh_wanted_sum = 0.0
        self.rh_minutes = self.rh_within = self.rh_within_true = self.rh_above = self.rh_below = 0
        self._rising = True

    def add(self, logged_c: float, true_c: float, wanted_c: float, *, arrived: bool) -> None:
        """Add one minute of air temperature."""
        self.minutes += 1
        if not arrived:
            return
        self.counted += 1
        self.within += abs(logged_c - wanted_c) <= BAND_K
        self.within_true += abs(true_c - wanted_c) <= BAND_K
        if self._rising:
            self.overshoot_k = max(self.overshoot_k, logged_c - wanted_c)
            self.overshoot_true_k = max(self.overshoot_true_k, true_c - wanted_c)
            self._rising = self.overshoot_k <= 0.0 or logged_c >= wanted_c

    def add_rh(self, logged_pct: float, true_pct: float, wanted_pct: float) -> None:
        """Add one minute of humidity after the arrival."""
        self.rh_minutes += 1
        self.rh_sum += logged_pct
        self.rh_true_sum += true_pct
        self.rh_wanted_sum += wanted_pct
        self.rh_within += abs(logged_pct - wanted_pct) <= BAND_PCT
        self.rh_within_true += abs(true_pct - wanted_pct) <= BAND_PCT
        self.rh_above += logged_pct > wanted_pct + BAND_PCT
        self.rh_below += logged_pct < wanted_pct - BAND_PCT

    @property
    def within_pct(self) -> float:
        """Return the share of counted minutes whose logged mean is within ±0.5 K."""
        return 100.0 * self.within / self.counted if self.counted else 0.0

    def lines(self, chamber: Chamber) -> list[str]:
        """Say in sentences how the climate was held."""
        if self.counted == 0:
            return [f"{self.name}: the wanted temperature was never reached in {self.minutes} minutes."]
        left_out = 100.0 * (1.0 - self.counted / self.minutes)
        true_pct = 100.0 * self.within_true / self.counted
        share = f"{self.within_pct:.1f} % of minutes as logged, {true_pct:.1f} % in the model"
        found = [
            f"{self.name}: air within ±{BAND_K:g} K in {share};",
            f"  {left_out:.1f} % of minutes left out (before the first arrival);",
            f"  {self._first_peak()}",
        ]
        if self.rh_minutes:
            logged, true = (100.0 * n / self.rh_minutes for n in (self.rh_within, self.rh_within_true))
            found.append(
                f"  humidity within ±{BAND_PCT:g} % in {logged:.1f} % of minutes as logged, {true:.1f} % in the model."
            )
            found += self._why_not(chamber)
            mean, true_mean, wanted = (x / self.rh_minutes for x in (self.rh_sum, self.rh_true_sum, self.rh_wanted_sum))
            found.append(
                f"  humidity mean {mean:.1f} % as logged, {true_mean:.1f} % in the model, {wanted:.0f} % wanted."
            )
        return found

    def _first_peak(self) -> str:
        """Say how far above what is wanted the air came first; where it never did, how near it came."""
        logged_k, true_k = self.overshoot_k, self.overshoot_true_k
        if max(logged_k, true_k) > 0.0:
            return f"first overshoot {logged_k:+.2f} K as logged, {true_k:+.2f} K in the model."
        return f"never above what is wanted: {-logged_k:.2f} K below as logged, {-true_k:.2f} K in the model."

    def _why_not(self, chamber: Chamber) -> Iterable[str]:
        above, below = (100.0 * n / self.rh_minutes for n in (self.rh_above, self.rh_below))
        if above >= 1.0:
            if self.kind in {"ferment", "warm-up"}:
                why = "meat gives off more water than the box loses, and a ferment asks for at least its own humidity"
            elif chamber.drying == "none":
                why = "this chamber has nothing that dries"
            elif chamber.drying == "cool-and-reheat":
                why = "between two runs of the compressor the meat and the film on its plate give off water"
            else:
                why = "the meat gives off more than the drying can take at times"
            yield f"  humidity was above in {above:.1f} %: {why}."
        if below >= 1.0:
            if self.kind in {"dry", "equalise"} and chamber.drying == "cool-and-reheat":
                why = "each run of the compressor dries the air for some minutes"
            elif chamber.output("humidifier") is None:
                why = "this chamber has no humidifier"
            else:
                why = "the humidifier could not keep up, or was not allowed yet"
            yield f"  humidity was below in {below:.1f} %: {why}."


class Truth:
    """Watch a whole run tick by tick and keep an account of each stage in the chamber."""

    def __init__(self, world: World, chamber: Chamber) -> None:
        """Begin with nothing seen."""
        self._world, self._chamber = world, chamber
        self.stages: dict[tuple[str, int], StageTruth] = {}
        self._begin_minute(float("-inf"))

    def _begin_minute(self, now_s: float) -> None:
        self._minute_s = now_s
        self._ticks = self._rh_ticks = 0
        self._logged_c = self._true_c = self._logged_pct = self._true_pct = 0.0

    def see(self, memory: Memory, outcome: Outcome) -> None:
        """See one tick."""
        known, world = outcome.known, self._world
        if known.air_temp_c is not None:
            self._ticks += 1
            self._logged_c += known.air_temp_c
            self._true_c += world.true_air_temp_c
            if known.rh_pct is not None:
                self._rh_ticks += 1
                self._logged_pct += known.rh_pct
                self._true_pct += world.true_rh_pct
        if outcome.now_s - self._minute_s >= MINUTE_S or outcome.now_s < self._minute_s:
            batch = lead(memory)
            if batch is not None and self._ticks and batch.state in {"running", "suspended"}:
                self._close_minute(batch, outcome)
            self._begin_minute(outcome.now_s)

    def _close_minute(self, batch: Batch, outcome: Outcome) -> None:
        wanted = outcome.wanted
        if wanted.air_temp_c is None:
            return
        key = (batch.id, batch.stage_index)
        account = self.stages.get(key)
        if account is None:
            account = self.stages[key] = StageTruth(batch.stage.name, batch.stage.kind)
        ticks = self._ticks
        account.add(self._logged_c / ticks, self._true_c / ticks, wanted.air_temp_c, arrived=batch.arrived)
        if batch.arrived and wanted.rh_pct is not None and self._rh_ticks:
            account.add_rh(self._logged_pct / self._rh_ticks, self._true_pct / self._rh_ticks, wanted.rh_pct)

    def lines(self) -> tuple[str, ...]:
        """Return the whole account in sentences."""
        return tuple(line for account in self.stages.values() for line in account.lines(self._chamber))
