"""The hands at the chamber: they put the meat where its batch says it is, whoever says so to the daemon."""

from collections.abc import Callable
from random import Random
from typing import Final

from controller.core.memory import Batch
from controller.core.plan import Stage
from controller.simulator.meat import ELSEWHERE_W_PER_M2_K, HOT_W_PER_M2_K, Elsewhere, Meat
from controller.simulator.sausage import Sausage
from controller.simulator.world import CELLAR_RH_PCT, World

DOOR_S: Final = 60.0
HOT: Final = frozenset({"smoke", "cook", "chill"})
WET_PCT: Final = 95.0
ARRIVING_PH: Final = 5.0
"""Of sausage that was fermented elsewhere. Figures of this page: common practice, no source."""


class Hands:
    """Stuff the sausage of a batch, hang it, and carry it to where each stage is done."""

    def __init__(self, world: World, make_meat: Callable[[Batch], Meat] | None = None) -> None:
        """Begin with empty hands. `make_meat` gives what is hung; without it, sausage as the batch card says."""
        self._world = world
        self._make_meat = make_meat or self._stuff
        self._stuffed: dict[str, Meat] = {}
        self._place: tuple[str, int] | None = None  # The batch and stage for which the meat was put where it is.

    def meat_of(self, batch: Batch) -> Meat:
        """Return the meat of this batch, stuffed when it is first asked for."""
        meat = self._stuffed.get(batch.id)
        if meat is None:
            meat = self._stuffed[batch.id] = self._make_meat(batch)
        return meat

    def hang(self, batch: Batch) -> None:
        """Open the door and hang the meat."""
        self._world.open_door(DOOR_S)
        self._world.hang(self.meat_of(batch))

    def follow(self, batch: Batch) -> None:
        """Put meat that was hung where its stage is done: in the chamber or elsewhere."""
        here = (batch.id, batch.stage_index)
        if batch.hung_s is None or here == self._place:
            return
        self._place = here
        stage, world = batch.stage, self._world
        if stage.where == "elsewhere":
            if world.meat is None:
                world.hang(self.meat_of(batch))
            if world.meat_is_in:
                world.open_door(DOOR_S)
            world.take_out(_place_for(stage, world.room_temp_c))
        elif not world.meat_is_in:
            self.hang(batch)

    def _stuff(self, batch: Batch) -> Sausage:
        """Stuff the batch's sausage: the usual one, or in a world that varies one that differs as batches do."""
        card = batch.profile
        mass_kg = batch.meat_kg or self._world.chamber.model.meat_kg
        dextrose_pct = card.per_kg.dextrose_pct
        if card.starter == "none":
            return Sausage.fermented(diameter_mm=batch.diameter_mm, mass_kg=mass_kg, ph=ARRIVING_PH)
        if self._world.vary:
            return Sausage.varied(
                Random(f"{self._world.seed}:sausage:{batch.id}"),  # noqa: S311 - a model, no secret
                diameter_mm=batch.diameter_mm,
                mass_kg=mass_kg,
                dextrose_pct=dextrose_pct,
                culture=card.starter,
            )
        return Sausage(diameter_mm=batch.diameter_mm, mass_kg=mass_kg, dextrose_pct=dextrose_pct, culture=card.starter)


def _place_for(stage: Stage, room_c: float) -> Elsewhere:
    """Return the place where this stage is done: as the stage says; hot or cold work is wet, the rest is a cellar."""
    busy = stage.kind in HOT
    rh_pct = stage.rh_pct if stage.rh_pct is not None else (WET_PCT if busy else CELLAR_RH_PCT)
    temp_c = stage.air_temp_c if stage.air_temp_c is not None else room_c
    return Elsewhere(temp_c, rh_pct, HOT_W_PER_M2_K if busy else ELSEWHERE_W_PER_M2_K)
