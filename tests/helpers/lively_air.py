"""A bench whose air never stands still, and goes from one value to the next as air does."""

from copy import deepcopy
from typing import Self

from msgspec.structs import replace

from controller.core.plan import Chamber, Stage, Until
from controller.core.requests import Hang
from controller.core.values import Role
from tests.helpers.bench_chamber import CHAMBER, PROFILE, Bench

DRY = Stage(name="dry", kind="dry", until=Until(weight_loss_pct=35.0), air_temp_c=13.0, rh_pct=78.0)
FERMENT = replace(PROFILE.stages[1], until=Until(ph_at_most=5.3), air_temp_c=24.0, ph_due_h=(), at_most_h=None)
PCT_PER_MIN = 5.0


class Air(Bench):
    """Be a bench whose air never stands still, and goes from one value to the next as air does."""

    true: tuple[float, float] = (13.0, 78.0)

    def begin(self, c: float, pct: float) -> Self:
        """Hang the meat in air that is so."""
        self.true = (c, pct)
        return self.tick(Hang(id="h"), air_temp=c, rh_temp=c, rh=pct)

    def go(self, minutes: float, *, c: float | None = None, pct: float | None = None, k_per_min: float = 1.0) -> Self:
        """Let minutes pass while the air goes to these values."""
        for number in range(round(minutes * 60.0 / self.chamber.tick_s)):
            air_c, rh_pct = self.true
            step_k, step_pct = (rate * self.chamber.tick_s / 60.0 for rate in (k_per_min, PCT_PER_MIN))
            if c is not None:
                air_c += min(max(c - air_c, -step_k), step_k)
            if pct is not None:
                rh_pct += min(max(pct - rh_pct, -step_pct), step_pct)
            self.true = (air_c, rh_pct)
            hair = 0.0625 * (number % 2)
            self.tick(air_temp=air_c + hair, rh=rh_pct + hair, rh_temp=air_c - hair)
        return self

    @property
    def rows(self) -> list[tuple[str, str, bool]]:
        """Return row, priority and whether it is there now, of each alarm on the list."""
        return [(alarm.row, alarm.priority, alarm.active) for alarm in self.memory.alarms]

    def has(self, row: str) -> bool:
        """Say whether this alarm is there now."""
        return any(alarm.row == row and alarm.active for alarm in self.memory.alarms)


def without(*roles: Role) -> Chamber:
    """Return the bench's chamber without some of its outputs, deciding every 8 s."""
    return replace(CHAMBER, tick_s=8.0, outputs=tuple(output for output in CHAMBER.outputs if output.role not in roles))


PLAIN = without("humidifier", "cooler")


HUNG: dict[str, Air] = {}
"""Those two hours, which many stories have in common; each goes on with a copy."""


def hung(stage: Stage = DRY, chamber: Chamber = PLAIN, c: float | None = None) -> Air:
    """Return meat that was hung two hours ago, in air that is as it is wanted, or as told."""
    key = repr((stage, chamber, c))
    if key not in HUNG:
        air = Air(chamber, replace(PROFILE, stages=(stage,)))
        HUNG[key] = air.begin((stage.air_temp_c or 13.0) if c is None else c, stage.rh_pct or 78.0).go(120)
    return deepcopy(HUNG[key])
