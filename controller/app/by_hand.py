"""A simulated run by hand: time stands still until a person lets it pass, and shows what could be measured then."""

from pathlib import Path
from typing import TYPE_CHECKING, Final

from controller.core.memory import Memory, Outcome
from controller.core.people.sights import mould_is_planned
from controller.core.values import Trouble
from controller.records.keeper import Keeper
from controller.records.request_box import requests_that_wait
from controller.records.time_box import Measured, Said, TimeBox, Waited

if TYPE_CHECKING:
    from controller.simulator.hands import Hands
    from controller.simulator.world import World

SPEAKS: Final = frozenset({"prompt", "alarm", "stage", "state"})
"""The kinds of events by which the program speaks to a person."""


class ByHand:
    """Join standing time with the records: what a person asks, what the program said, what could be measured."""

    def __init__(self, out: Path) -> None:
        """Stand still in the folder of the run."""
        from controller.simulator.standing import StandingTime

        self._box = TimeBox(out)
        self._said: list[Said] = []
        self._newest: tuple[Memory, Outcome] | None = None
        self.time = StandingTime(
            take=self._box.take, done=self._done, requests=lambda: requests_that_wait(out), beat=self._show
        )

    def attach(self, world: "World", keeper: Keeper, hands: "Hands") -> None:
        """Take what is made after the world, which needs the pace."""
        from controller.simulator.bench import Bench

        self._keeper, self._hands, self._bench, self._world = keeper, hands, Bench(world), world

    def keep(self, memory: Memory, outcome: Outcome) -> None:
        """Show where things stand before a request is answered: who types the next one goes by that time."""
        self._newest = memory, outcome
        if outcome.answers:
            self._show()
        self._keeper.keep(memory, outcome)

    def trouble(self) -> tuple[Trouble, ...]:
        """Return what the keeper cannot do at present."""
        return self._keeper.trouble()

    def close(self) -> None:
        """Close the keeper."""
        self._keeper.close()

    def see(self, outcome: Outcome) -> None:
        """Remember what the program says of itself; a wait may end by it."""
        said = [event for event in outcome.events if event.kind in SPEAKS and event.actor == "hangroom"]
        self._said += [Said(wall_s=outcome.wall_s, text=event.text) for event in said]
        if said:
            self.time.program_speaks()

    def _show(self) -> None:
        if self._newest is not None:
            self._keeper.show(*self._newest)

    def _done(self, name: str, waited_s: float) -> None:
        self._show()
        world, said = self._world, tuple(self._said)
        self._said.clear()
        ended = world.elapsed_s >= world.ends_s
        self._box.answer(
            Waited(
                id=name,
                wall_s=world.clock.wall_s(),
                waited_s=waited_s,
                ended=ended,
                said=said,
                measured=self._measured(),
            )
        )

    def _measured(self) -> Measured | None:
        from controller.simulator.bench import TARE_G

        batches = () if self._newest is None else self._newest[0].batches
        batch = next((batch for batch in batches if batch.open), None)
        if batch is None:
            return None
        meat, bench = self._hands.meat_of(batch), self._bench
        return Measured(
            ph_mince=bench.ph(meat),
            ph_sausage=bench.ph(meat, "sausage"),
            sample_temp_c=bench.sample_temp_c(),
            pieces_g=bench.gross_g(batch.id, meat),
            tare_g=TARE_G,
            core_temp_c=bench.core_temp_c(meat),
            water_activity=bench.water_activity(meat),
            looks=bench.looks(meat, mould=mould_is_planned(batch)),
        )
