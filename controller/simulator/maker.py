"""The modelled maker: the person at the chamber, who hangs, measures, weighs, confirms and sees alarms.

He looks once a simulated minute, and does what the batch asks. What he does not do: resume what waits for a person,
clear what is latched, or end a batch. A run in which that is needed stays as it is, so that it can be seen.
"""

from collections.abc import Callable
from typing import Final

from controller.core.alarms.memory import Alarm
from controller.core.memory import Batch, Memory
from controller.core.people.heat import logs_of, target_log
from controller.core.people.sights import mould_is_planned
from controller.core.requests import (
    Confirm,
    CoreTemp,
    Hang,
    Look,
    Ph,
    Request,
    Sample,
    Seen,
    Smoker,
    Weigh,
)
from controller.core.values import Trouble
from controller.food.germs.lethality import lowest
from controller.simulator.bench import TARE_G, Bench
from controller.simulator.hands import Hands
from controller.simulator.meat import Meat
from controller.simulator.world import World

ACTOR: Final = "maker"
LOOKS_EVERY_S: Final = 60.0
HOUR_S: Final = 3600.0
DAY_S: Final = 86_400.0

NEAR_PH: Final = 0.3
NEAR_EVERY_S: Final = 2.0 * HOUR_S
LATE_EVERY_S: Final = 4.0 * HOUR_S
"""After the profile's last pH time, while the ferment has not ended."""

WEIGHS_EVERY_S: Final = 2.0 * DAY_S
NEAR_LOSS_PCT: Final = 2.0
DRYING: Final = frozenset({"dry", "equalise", "rest"})

CORE_EVERY_S: Final = 0.25 * HOUR_S
THICKEST: Final = "C"
CHILLED_ABOVE_K: Final = 2.0
PATIENCE_S: Final = {"smoke": 2.0 * HOUR_S, "cook": 1.5 * HOUR_S, "chill": 8.0 * HOUR_S}
SEES_AFTER_S: Final = 600.0
"""Figures of this page: common practice, no source."""


class Maker:
    """Be a `RequestBox` whose requests come from a modelled person."""

    def __init__(self, world: World, make_meat: Callable[[Batch], Meat] | None = None) -> None:
        """Begin with nothing done. `make_meat` gives what he hangs; without it, sausage as the batch card says."""
        self._world = world
        self._hands, self._bench = Hands(world, make_meat), Bench(world)
        self._requests: list[Request] = []
        self._asked = 0
        self._looked_s = float("-inf")
        self._hung: set[str] = set()
        self._confirmed: tuple[str, int] | None = None
        self._ph_taken = 0  # How many of the stage's pH times have been served,
        self._ph_stage = -1  # in this stage.
        self._ph_s = float("-inf")
        self._ph_seen: float | None = None
        self._weighed_s = float("-inf")
        self._core_s = float("-inf")
        self._looked_at: tuple[str, int] | None = None  # The batch and stage in which he said what the pieces are like.
        self._seen: set[str] = set()

    def take(self) -> tuple[Request, ...]:
        """Return what he has asked since the last call."""
        requests, self._requests = tuple(self._requests), []
        return requests

    def trouble(self) -> tuple[Trouble, ...]:
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
        self._hands.follow(batch)
        self._take_ph(batch, meat)
        self._weigh(batch, meat)
        self._look_at_pieces(batch, meat)
        self._measure_core(batch, meat)
        self._confirm(batch)

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
        self._hands.hang(batch)
        pieces = self._bench.gross_g(batch.id, self._hands.meat_of(batch))
        name = self._name()
        self._requests.append(Hang(id=name, actor=ACTOR, batch=batch.id, pieces_g=pieces, tare_g=TARE_G))

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
        if batch.asks_sausage:
            self._ph_s = now_s
            self._measure_ph(batch, meat, "sausage")
            return
        if not asked:
            return
        self._ph_taken, self._ph_s = due, now_s
        self._ph_seen = self._measure_ph(batch, meat, "mince")

    def _measure_ph(self, batch: Batch, meat: Meat, sample: Sample) -> float:
        value = self._bench.ph(meat, sample)
        self._requests.append(
            Ph(
                id=self._name(),
                actor=ACTOR,
                batch=batch.id,
                at_wall_s=self._world.clock.wall_s(),
                value=value,
                instrument="meter",
                sample=sample,
                sample_temp_c=self._bench.sample_temp_c(),
            )
        )
        return value

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
            piece: grams
            for piece, grams in self._bench.gross_g(batch.id, meat).items()
            if piece in batch.green_g and piece not in batch.pieces_out
        }
        name, wall_s = self._name(), self._world.clock.wall_s()
        self._requests.append(
            Weigh(id=name, actor=ACTOR, batch=batch.id, at_wall_s=wall_s, pieces_g=pieces, tare_g=TARE_G)
        )

    def _look_at_pieces(self, batch: Batch, meat: Meat) -> None:
        """Say once in a smoke that the surface is dry enough, and once in a drying what the pieces are like."""
        here = (batch.id, batch.stage_index)
        if here == self._looked_at or batch.stage.kind not in {"smoke", *DRYING}:
            return
        looks = self._bench.looks(meat, mould=mould_is_planned(batch))
        if batch.stage.kind == "smoke" and looks["look"] == "wet":
            return
        self._looked_at = here
        name, wall_s = self._name(), self._world.clock.wall_s()
        self._requests.append(Look(id=name, actor=ACTOR, batch=batch.id, at_wall_s=wall_s, looks=looks))

    def _measure_core(self, batch: Batch, meat: Meat) -> None:
        """Measure the core in cook and chill, and the smoker or oven beside it."""
        stage, now_s = batch.stage, self._world.elapsed_s
        wanted = stage.until.core_temp_c is not None or stage.kind in {"smoke", "cook", "chill"}
        every_s = CORE_EVERY_S if stage.kind == "cook" else 2.0 * CORE_EVERY_S
        if not wanted or batch.stage_elapsed_s < CORE_EVERY_S or now_s - self._core_s < every_s:
            return
        self._core_s = now_s
        wall_s = self._world.clock.wall_s()
        if stage.kind in {"smoke", "cook"}:
            around_c = round(self._world.elsewhere.temp_c)
            self._requests.append(
                Smoker(id=self._name(), actor=ACTOR, batch=batch.id, at_wall_s=wall_s, value_c=around_c)
            )
        value_c = self._bench.core_temp_c(meat)
        self._requests.append(
            CoreTemp(id=self._name(), actor=ACTOR, batch=batch.id, at_wall_s=wall_s, value_c=value_c, piece=THICKEST)
        )

    def _confirm(self, batch: Batch) -> None:
        here = (batch.id, batch.stage_index)
        if not batch.stage.until.confirm or batch.confirmed or here == self._confirmed:
            return
        if _is_done(batch):
            self._confirmed = here
            self._requests.append(Confirm(id=self._name(), actor=ACTOR, batch=batch.id))


def _is_done(batch: Batch) -> bool:
    """Say whether a person would call the stage's work done."""
    stage = batch.stage
    patience_s = PATIENCE_S.get(stage.kind, HOUR_S)
    if batch.stage_elapsed_s < stage.at_least_h * HOUR_S:
        return False
    if stage.until.core_temp_c is not None:
        return batch.core_temp_c is not None and batch.core_temp_c >= stage.until.core_temp_c and _is_cooked(batch)
    if stage.kind == "chill" and stage.air_temp_c is not None:
        return batch.core_temp_c is not None and batch.core_temp_c <= stage.air_temp_c + CHILLED_ABOVE_K
    return batch.stage_elapsed_s >= patience_s


def _is_cooked(batch: Batch) -> bool:
    """Say whether his readings give what the printed table asks for."""
    found = lowest(logs_of(batch), target_log(batch))
    return found is not None and found[1].reached
