"""The modelled maker: the person at the chamber, who hangs, measures, weighs, confirms and sees alarms.

He looks once a simulated minute, and does what the batch asks. What he does not do: resume what waits for a person,
clear what is latched, or end a batch. A run in which that is needed stays as it is, so that it can be seen.
"""

from collections.abc import Callable
from random import Random
from typing import Final

from controller.core.memory import Alarm, Batch, Memory
from controller.core.plan import Stage
from controller.core.requests import Confirm, CoreTemp, Hang, Ph, Request, Seen, Weigh
from controller.simulator.meat import ELSEWHERE_W_PER_M2_K, HOT_W_PER_M2_K, Elsewhere, Meat
from controller.simulator.sausage import Sausage
from controller.simulator.world import CELLAR_RH_PCT, World

ACTOR: Final = "maker"
LOOKS_EVERY_S: Final = 60.0
HOUR_S: Final = 3600.0
DAY_S: Final = 86_400.0
DOOR_S: Final = 60.0

PH_NOISE: Final = 0.03
NEAR_PH: Final = 0.3
NEAR_EVERY_S: Final = 2.0 * HOUR_S
LATE_EVERY_S: Final = 4.0 * HOUR_S
"""After the profile's last pH time, while the ferment has not ended."""

PIECES: Final = {"A": 0.97, "B": 1.0, "C": 1.03}
"""The marked pieces, and how their loss compares with the mean."""
LARGEST_PIECE_G: Final = 450.0
SCALE_NOISE: Final = 0.0015
WEIGHS_EVERY_S: Final = 2.0 * DAY_S
NEAR_LOSS_PCT: Final = 2.0
DRYING: Final = frozenset({"dry", "equalise", "rest"})

CORE_EVERY_S: Final = 0.5 * HOUR_S
CORE_NOISE_K: Final = 0.2
CHILLED_ABOVE_K: Final = 3.0
PATIENCE_S: Final = {"smoke": 2.0 * HOUR_S, "cook": 1.5 * HOUR_S, "chill": 8.0 * HOUR_S}
SEES_AFTER_S: Final = 600.0
HOT: Final = frozenset({"smoke", "cook", "chill"})
WET_PCT: Final = 95.0
"""Figures of this page: common practice, no source."""


class Maker:
    """Be a `RequestBox` whose requests come from a modelled person."""

    def __init__(self, world: World, make_meat: Callable[[Batch], Meat] | None = None) -> None:
        """Begin with nothing done. `make_meat` gives what he hangs; without it, sausage as the batch card says."""
        self._world = world
        self._make_meat = make_meat or self._stuff
        self._random = Random(f"{world.seed}:maker")  # noqa: S311 - a model, no secret
        self._requests: list[Request] = []
        self._asked = 0
        self._looked_s = float("-inf")
        self._hung: set[str] = set()
        self._place: tuple[str, int] | None = None  # The batch and stage for which the meat was put where it is.
        self._confirmed: tuple[str, int] | None = None
        self._ph_taken = 0  # How many of the stage's pH times have been served,
        self._ph_stage = -1  # in this stage.
        self._ph_s = float("-inf")
        self._ph_seen: float | None = None
        self._weighed_s = float("-inf")
        self._core_s = float("-inf")
        self._seen: set[str] = set()

    def take(self) -> tuple[Request, ...]:
        """Return what he has asked since the last call."""
        requests, self._requests = tuple(self._requests), []
        return requests

    def trouble(self) -> tuple[str, ...]:
        """Return nothing: he can always ask."""
        return ()

    def look(self, memory: Memory, now_s: float) -> None:
        """Look at the batch, at most once a minute of the monotonic clock, and ask for what is to be asked."""
        if 0.0 <= now_s - self._looked_s < LOOKS_EVERY_S:
            return
        self._looked_s = now_s
        for alarm in memory.alarms:
            self._look_at_alarm(alarm)
        batch = next((batch for batch in memory.batches if batch.open and batch.state != "complete"), None)
        if batch is not None:
            self._tend(batch)

    def _tend(self, batch: Batch) -> None:
        if batch.hung_s is None:
            self._hang_when_warm(batch)
            return
        meat = self._world.meat
        if meat is None:
            return
        self._put_in_place(batch, meat)
        self._take_ph(batch, meat)
        self._weigh(batch, meat)
        self._measure_core(batch, meat)
        self._confirm(batch, meat)

    def _name(self) -> str:
        self._asked += 1
        return f"maker-{self._asked}"

    def _look_at_alarm(self, alarm: Alarm) -> None:
        waited = self._world.clock.wall_s() - alarm.since_wall_s >= SEES_AFTER_S
        if alarm.active and not alarm.seen and waited and alarm.id not in self._seen:
            self._seen.add(alarm.id)
            self._requests.append(Seen(id=self._name(), actor=ACTOR, alarm=alarm.id))

    def _hang_when_warm(self, batch: Batch) -> None:
        """Hang once the warm-up has arrived and its hours are over; without a warm-up at once."""
        stage = batch.stage
        hours = max(stage.at_least_h, stage.until.hours or 0.0)
        waiting = stage.kind == "warm-up" and (not batch.arrived or batch.stage_elapsed_s < hours * HOUR_S)
        if waiting or batch.id in self._hung:
            return
        self._hung.add(batch.id)
        meat = self._make_meat(batch)
        self._world.open_door(DOOR_S)
        self._world.hang(meat)
        piece_g = min(LARGEST_PIECE_G, meat.mass_kg * 1000.0 / len(PIECES))
        pieces = {name: float(round(piece_g * self._random.uniform(0.9, 1.1))) for name in PIECES}
        self._requests.append(Hang(id=self._name(), actor=ACTOR, batch=batch.id, pieces_g=pieces))

    def _stuff(self, batch: Batch) -> Sausage:
        """Stuff the batch's sausage: the usual one, or in a world that varies one that differs as batches do."""
        card = batch.profile
        mass_kg = batch.meat_kg or self._world.chamber.model.meat_kg
        dextrose_pct = card.per_kg.dextrose_pct
        if self._world.vary:
            return Sausage.varied(
                Random(f"{self._world.seed}:sausage:{batch.id}"),  # noqa: S311 - a model, no secret
                diameter_mm=batch.diameter_mm,
                mass_kg=mass_kg,
                dextrose_pct=dextrose_pct,
                culture=card.starter,
            )
        return Sausage(diameter_mm=batch.diameter_mm, mass_kg=mass_kg, dextrose_pct=dextrose_pct, culture=card.starter)

    def _put_in_place(self, batch: Batch, meat: Meat) -> None:
        here = (batch.id, batch.stage_index)
        if here == self._place:
            return
        self._place = here
        stage, world = batch.stage, self._world
        if stage.where == "elsewhere":
            if world.meat_is_in:
                world.open_door(DOOR_S)
            world.take_out(_place_for(stage, world.room_temp_c))
        elif not world.meat_is_in:
            world.open_door(DOOR_S)
            world.hang(meat)

    def _take_ph(self, batch: Batch, meat: Meat) -> None:
        stage, now_s = batch.stage, self._world.elapsed_s
        target = stage.until.ph_at_most
        if batch.stage_index != self._ph_stage:
            self._ph_stage, self._ph_taken = batch.stage_index, 0
        hung_h = (batch.elapsed_s - (batch.hung_s or 0.0)) / HOUR_S
        due = sum(1 for due_h in stage.ph_due_h if hung_h >= due_h)
        since_s = now_s - self._ph_s
        asked = due > self._ph_taken or (batch.overdue and since_s > LOOKS_EVERY_S)
        if target is not None:
            near = self._ph_seen is not None and self._ph_seen <= target + NEAR_PH
            asked = asked or (near and since_s >= NEAR_EVERY_S)
            asked = asked or (due == len(stage.ph_due_h) and since_s >= LATE_EVERY_S)
        if not asked:
            return
        self._ph_taken, self._ph_s = due, now_s
        self._ph_seen = round(meat.ph + self._random.gauss(0.0, PH_NOISE), 2)
        temp_c = self._world.true_meat_temp_c
        self._requests.append(
            Ph(
                id=self._name(),
                actor=ACTOR,
                batch=batch.id,
                at_wall_s=self._world.clock.wall_s(),
                value=self._ph_seen,
                instrument="meter",
                sample_temp_c=None if temp_c is None else round(temp_c, 1),
            )
        )

    def _weigh(self, batch: Batch, meat: Meat) -> None:
        target = batch.stage.until.weight_loss_pct
        if not batch.green_g or (batch.stage.kind not in DRYING and target is None):
            return
        now_s, loss_pct = self._world.elapsed_s, batch.weight_loss_pct
        near = target is not None and loss_pct is not None and loss_pct >= target - NEAR_LOSS_PCT
        if now_s - self._weighed_s < (DAY_S if near else WEIGHS_EVERY_S):
            return
        self._weighed_s = now_s
        pieces = {
            name: float(round(green_g * self._left(name, meat) * (1.0 + self._random.gauss(0.0, SCALE_NOISE)), 1))
            for name, green_g in batch.green_g.items()
        }
        wall_s = self._world.clock.wall_s()
        self._requests.append(Weigh(id=self._name(), actor=ACTOR, batch=batch.id, at_wall_s=wall_s, pieces_g=pieces))

    @staticmethod
    def _left(piece: str, meat: Meat) -> float:
        return 1.0 - PIECES.get(piece, 1.0) * meat.weight_loss_pct / 100.0

    def _measure_core(self, batch: Batch, meat: Meat) -> None:
        stage, now_s = batch.stage, self._world.elapsed_s
        wanted = stage.until.core_temp_c is not None or stage.kind in {"cook", "chill"}
        if not wanted or batch.stage_elapsed_s < CORE_EVERY_S or now_s - self._core_s < CORE_EVERY_S:
            return
        self._core_s = now_s
        value_c = round(meat.core_temp_c + self._random.gauss(0.0, CORE_NOISE_K), 1)
        wall_s = self._world.clock.wall_s()
        self._requests.append(CoreTemp(id=self._name(), actor=ACTOR, batch=batch.id, at_wall_s=wall_s, value_c=value_c))

    def _confirm(self, batch: Batch, meat: Meat) -> None:
        here = (batch.id, batch.stage_index)
        if not batch.stage.until.confirm or batch.confirmed or here == self._confirmed:
            return
        if _is_done(batch, meat):
            self._confirmed = here
            self._requests.append(Confirm(id=self._name(), actor=ACTOR, batch=batch.id))


def _place_for(stage: Stage, room_c: float) -> Elsewhere:
    """Return the place where this stage is done: as the stage says; hot or cold work is wet, the rest is a cellar."""
    busy = stage.kind in HOT
    rh_pct = stage.rh_pct if stage.rh_pct is not None else (WET_PCT if busy else CELLAR_RH_PCT)
    temp_c = stage.air_temp_c if stage.air_temp_c is not None else room_c
    return Elsewhere(temp_c, rh_pct, HOT_W_PER_M2_K if busy else ELSEWHERE_W_PER_M2_K)


def _is_done(batch: Batch, meat: Meat) -> bool:
    """Say whether a person would call the stage's work done."""
    stage = batch.stage
    patience_s = PATIENCE_S.get(stage.kind, HOUR_S)
    if batch.stage_elapsed_s < stage.at_least_h * HOUR_S:
        return False
    if stage.until.core_temp_c is not None:
        return batch.core_temp_c is not None and batch.core_temp_c >= stage.until.core_temp_c
    if stage.kind == "chill" and stage.air_temp_c is not None:
        return meat.core_temp_c <= stage.air_temp_c + CHILLED_ABOVE_K
    return batch.stage_elapsed_s >= patience_s
