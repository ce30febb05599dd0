"""Ticks told by hand for the tests of the records: a memory and an outcome of a few lines, under an invented clock."""

from dataclasses import dataclass, field
from typing import Any

from msgspec.structs import replace

from controller.core.memory import Batch, Memory, Outcome, OutputMemory
from controller.core.plan import Profile, Recipe, Stage, Until
from controller.core.values import Commands, Known, Role, Wanted
from controller.settings.chamber_file import ChamberFile, LimitsTable, ModelTable, OutputEntry, SensorEntry

WALL_S = 1_767_592_800.0  # 2026-01-05T06:00:00Z, an invented morning.
DAY = "2026-01-05"
NAME = f"{DAY}-bench-1"

PROFILE = Profile(
    name="bench",
    title="Invented for the tests",
    style="raw-dried",
    cure="2",
    starter="mesophilic",
    starter_temp_c=(18.0, 40.0),
    per_kg=Recipe(salt_pct=2.6, cure_pct=0.25, dextrose_pct=0.3),
    stages=(
        Stage(name="warm", kind="warm-up", until=Until(confirm=True), air_temp_c=36.0, rh_pct=85.0),
        Stage(name="ferment", kind="ferment", until=Until(ph_at_most=4.8), air_temp_c=36.0, rh_pct=85.0),
        Stage(name="smoke", kind="smoke", where="elsewhere", until=Until(confirm=True)),
        Stage(name="dry", kind="dry", until=Until(weight_loss_pct=35.0), air_temp_c=13.0, rh_pct=78.0),
    ),
)

CHAMBER = ChamberFile(
    name="bench",
    sensor=(
        SensorEntry(channel="air_temp", kind="ds18b20", id="28-000000000001"),
        SensorEntry(channel="rh", kind="sht4x", address="1-0044"),
    ),
    output=(OutputEntry(role="heater", pin=17, w=60.0), OutputEntry(role="humidifier", pin=27, ml_per_h=150.0)),
    model=ModelTable(volume_l=200.0, ua_w_per_k=0.9, air_wall_w_per_k=8.0, wall_j_per_k=4000.0),
)


def chamber(log_every_s: float = 60.0) -> ChamberFile:
    """Return the chamber file, with rows of this length."""
    return replace(CHAMBER, limits=LimitsTable(log_every_s=log_every_s))


def batch(name: str = NAME, **changes: Any) -> Batch:  # noqa: ANN401 - any field of a batch
    """Return a batch in its ferment."""
    return replace(
        Batch(id=name, profile=PROFILE, began_wall_s=WALL_S, stage_began_wall_s=WALL_S, meat_kg=4.5, stage_index=1),
        **changes,
    )


@dataclass
class Ticks:
    """Make one tick after another: what is told of the last one holds until something else is told."""

    now_s: float = 1000.0
    wall_s: float = WALL_S
    batches: tuple[Batch, ...] = field(default_factory=lambda: (batch(),))
    known: Known = field(default_factory=lambda: Known(air_temp_c=36.0, rh_pct=85.0))
    on_total_s: float = 0.0
    closings: int = 0
    roles: tuple[Role, ...] = ("heater", "humidifier")
    started_s: float = 1000.0
    boot_id: str = "boot-1"

    def tick(self, lasts_s: float = 5.0, **told: Any) -> tuple[Memory, Outcome]:  # noqa: ANN401 - fields of an outcome
        """Return memory and outcome of the next tick."""
        self.now_s += lasts_s
        self.wall_s += lasts_s
        known = told.pop("known", None)
        if known is not None:
            self.known = known
        outputs = {role: OutputMemory(on_total_s=self.on_total_s, closings=self.closings) for role in self.roles}
        memory = Memory(
            started_s=self.started_s,
            last_s=self.now_s,
            wall_s=self.wall_s,
            boot_id=self.boot_id,
            batches=self.batches,
            outputs=outputs,
        )
        outcome = Outcome(
            self.now_s, self.wall_s, Commands(), self.known, Wanted(36.0, 85.0), **{"wall_trusted": True, **told}
        )
        return memory, outcome
