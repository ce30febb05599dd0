"""A chamber and a world of a few lines for the tests of the deciding part: no model, just numbers that are told."""

from typing import Self

from msgspec.structs import replace

from controller.core.memory import Batch, Inputs, Memory, Outcome
from controller.core.plan import Chamber, Figures, Gains, Limits, Output, Profile, Recipe, Stage, Until
from controller.core.requests import Request
from controller.core.restart import first_memory
from controller.core.step import step
from controller.core.values import Channel, Fault, FaultKind, Health, Reading, Role, Trouble

WALL_S = 1_767_600_000.0  # 2026-01-05T08:00:00Z, an invented morning.
YEAR_S = 365.0 * 86_400.0
HAIR_K = 0.0001
"""A thermometer in a humidity sensor has a finer resolution than the others, and is never quite still."""

CHAMBER = Chamber(
    name="bench",
    channels=("air_temp", "rh", "rh_temp"),
    response_s={"air_temp": 120.0, "rh_temp": 8.0, "rh": 8.0},
    outputs=(
        Output(role="heater", switch="solid-state", window_s=60.0, min_on_s=2.0, min_off_s=2.0, w=60.0),
        Output(role="humidifier", window_s=150.0, min_on_s=1.0, min_off_s=120.0, max_duty=0.1, ml_per_h=150.0),
        Output(role="cooler", window_s=900.0, min_on_s=180.0, min_off_s=300.0),
        Output(role="fan", window_s=3600.0, min_on_s=10.0, min_off_s=10.0),
        Output(role="sounder", window_s=10.0, min_on_s=1.0, min_off_s=1.0),
        Output(role="master", window_s=60.0, min_on_s=0.0, min_off_s=0.0),
    ),
    limits=Limits(),
    gains=Gains(heat_per_k=0.2, heat_ti_s=1400.0),
    figures=Figures(heater_w=60.0, ua_w_per_k=0.9, air_j_per_k=390.0, wall_j_per_k=4000.0),
    drying="cool-and-reheat",
    heat_refused="",
)

PROFILE = Profile(
    name="bench",
    title="Invented for the tests",
    style="raw-dried",
    cure="2",
    starter="mesophilic",
    starter_temp_c=(18.0, 40.0),
    per_kg=Recipe(salt_pct=2.6, cure_pct=0.25, dextrose_pct=0.3),
    stages=(
        Stage(name="warm", kind="warm-up", until=Until(hours=0.25, confirm=True), air_temp_c=36.0, rh_pct=85.0),
        Stage(
            name="ferment",
            kind="ferment",
            until=Until(ph_at_most=4.8),
            air_temp_c=36.0,
            rh_pct=85.0,
            ph_due_h=(12.0, 24.0),
            at_most_h=48.0,
        ),
        Stage(name="dry", kind="dry", until=Until(weight_loss_pct=35.0), air_temp_c=13.0, rh_pct=78.0),
    ),
)


class Bench:
    """Tell the deciding part one tick after another what the sensors say, and keep what it answers."""

    def __init__(self, chamber: Chamber = CHAMBER, profile: Profile = PROFILE) -> None:
        self.chamber = chamber
        self.now_s = 1000.0
        self.wall_s = WALL_S
        self.wall_trusted = True
        self.memory: Memory = first_memory(chamber, self.now_s, WALL_S, "boot-1")
        self.memory = replace(self.memory, batches=(Batch(id="b", profile=profile, began_wall_s=WALL_S, meat_kg=5.0),))
        self.says: dict[Channel, float | FaultKind] = {"air_temp": 30.0, "rh": 85.0, "rh_temp": 30.0}
        self.outcome: Outcome | None = None
        self.health = Health()
        self.trouble: tuple[Trouble, ...] = ()
        self.events: list[str] = []
        self.leaves_days_out = True
        self.heat_spans: list[tuple[float, float]] = []
        self.strangers: tuple[str, ...] = ()
        self.disobedient: tuple[Role, ...] = ()
        self.stands_still: Channel | None = None  # Nothing new comes from it: the last reading keeps its time.
        self._last: dict[Channel, Reading | Fault] = {}

    def tick(self, *requests: Request, **says: float | FaultKind) -> Self:
        """Let one tick pass, after changing what the sensors say."""
        self.says.update(says)  # type: ignore[arg-type]
        self.now_s += self.chamber.tick_s
        self.wall_s += self.chamber.tick_s
        if self.leaves_days_out:
            self._leave_out(requests)
        readings: dict[Channel, Reading | Fault] = {
            channel: Fault(value) if isinstance(value, str) else Reading(value, self.now_s - 1.0)
            for channel, value in self.says.items()
        }
        if self.stands_still is not None:
            readings[self.stands_still] = self._last[self.stands_still]
        self._last = readings
        inputs = Inputs(
            self.now_s,
            self.wall_s,
            wall_trusted=self.wall_trusted,
            readings=readings,
            requests=requests,
            trouble=self.trouble,
            health=self.health,
            strangers=self.strangers,
            disobedient=self.disobedient,
        )
        self.memory, self.outcome = step(self.memory, inputs, self.chamber)
        self.events += [f"{event.kind}: {event.text}" for event in self.outcome.events]
        until_s = self.outcome.commands.on_until_s.get("heater")
        if until_s is not None:
            self.heat_spans.append((self.now_s, until_s))
        return self

    def _leave_out(self, requests: tuple[Request, ...]) -> None:
        """Go on to the day on which this is typed: nobody can type what is still to come. No tick is needed between.

        The clock on the wall is told so, and takes it for no step.
        """
        times = [at_s for request in requests if (at_s := getattr(request, "at_wall_s", None)) is not None]
        ahead_s = max(times, default=self.wall_s) - self.wall_s
        if 0.0 < ahead_s < YEAR_S:
            self.wall_s += ahead_s
            self.memory = replace(self.memory, wall_s=self.memory.wall_s + ahead_s)

    def run(self, minutes: float, **says: float | FaultKind) -> Self:
        """Let minutes pass while the sensors say the same, give or take a hair so that nothing looks frozen."""
        self.says.update(says)  # type: ignore[arg-type]
        inner = self.says.get("rh_temp")
        for number in range(round(minutes * 60.0 / self.chamber.tick_s)):
            if isinstance(inner, float):
                self.says["rh_temp"] = inner + HAIR_K * (number % 2)
            self.tick()
        if inner is not None:
            self.says["rh_temp"] = inner
        return self

    @property
    def heat_on(self) -> bool:
        """Say whether the lamp is commanded on beyond this instant."""
        return self.outcome is not None and self.outcome.commands.is_on("heater", self.now_s)

    @property
    def batch(self) -> Batch:
        """Return the only batch."""
        return self.memory.batches[0]

    def lamp_off_after(self, instant_s: float) -> float:
        """Return when the lamp goes off for good after this instant, by its own timer."""
        return max((until for began, until in self.heat_spans if began <= instant_s), default=float("-inf"))
