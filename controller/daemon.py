"""The loop: read, decide, switch, record, report alive. Everything it knows of the world comes through ports.

The relays get their commands before anything is recorded, and the supervisor hears that the daemon is alive only when
a whole tick is done. The loop keeps its rhythm on the monotonic clock: no drift, and ticks that were missed while it
was blocked are counted, not replayed.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from msgspec.structs import replace

from controller.core.batch.stages import lead
from controller.core.memory import Inputs, Memory, Outcome
from controller.core.plan import Chamber
from controller.core.step import step
from controller.core.values import Event
from controller.ports import Chores, Clock, Machine, RecordKeeper, Relays, RequestBox, Sensors, Supervisor


@dataclass(frozen=True, slots=True)
class Ports:
    """Hold the world as the daemon sees it; `app` fills it with real or modelled adapters."""

    clock: Clock
    sensors: Sensors
    relays: Relays
    keeper: RecordKeeper
    box: RequestBox
    chores: Chores
    supervisor: Supervisor
    machine: Machine


def run(
    memory: Memory,
    chamber: Chamber,
    ports: Ports,
    told: Iterable[Event] = (),
    watch: Callable[[Memory, Outcome], None] | None = None,
) -> Memory:
    """Run ticks until the clock says that the daemon is to end; return the memory to save.

    Args:
        memory: where to begin: a first memory or one that came over a restart.
        chamber: what is fixed while the daemon runs.
        ports: the world.
        told: events from before the first tick, recorded with it.
        watch: called with memory and outcome after each tick; the progress bar and the modelled maker look through it.
    """
    ports.relays.all_off()
    try:
        memory = _loop(memory, chamber, ports, tuple(told), watch)
        ports.supervisor.stopping()
    finally:
        ports.relays.all_off()  # At every way out, before anything else that may take its time.
    return replace(memory, ended_cleanly=True)


def _loop(
    memory: Memory,
    chamber: Chamber,
    ports: Ports,
    told: tuple[Event, ...],
    watch: Callable[[Memory, Outcome], None] | None,
) -> Memory:
    clock = ports.clock
    due_s = clock.monotonic_s()
    missed = 0
    first = True
    status = ""
    while True:
        memory, outcome = step(memory, _inputs(ports, missed), chamber)
        ports.relays.apply(outcome.commands)
        if first:
            outcome = replace(outcome, events=(*told, *outcome.events), checkpoint=True)
        ports.keeper.keep(memory, outcome)
        if first:
            ports.supervisor.ready()
            first = False
        if outcome.checkpoint:  # Once a minute, and at every change that matters.
            status = _status(memory, outcome)
        ports.supervisor.alive(status)
        if watch is not None:
            watch(memory, outcome)
        due_s += chamber.tick_s
        late_s = clock.monotonic_s() - due_s
        missed = max(int(late_s // chamber.tick_s), 0)
        due_s += missed * chamber.tick_s
        if not clock.sleep_until(due_s):
            return memory


def _inputs(ports: Ports, missed: int) -> Inputs:
    """Gather all that is asked of the world. The clock is read last: what was slow to come is as old as it is.

    Else an output whose lease ended while a card was slow would be taken to be on still, and be switched on again.
    """
    readings, requests = ports.sensors.newest(), ports.box.take()
    summary_due = ports.chores.summary_due()
    trouble = (*ports.keeper.trouble(), *ports.box.trouble())
    health, disobedient, strangers = ports.machine.health(), ports.relays.disobedient(), ports.sensors.strangers()
    return Inputs(
        ports.clock.monotonic_s(),
        ports.clock.wall_s(),
        ports.clock.wall_trusted(),
        readings,
        requests,
        summary_due,
        trouble,
        missed,
        health,
        disobedient,
        strangers,
    )


def _status(memory: Memory, outcome: Outcome) -> str:
    """Return one line for whoever asks the supervisor."""
    air_c = outcome.known.air_temp_c
    air = "air unknown" if air_c is None else f"air {air_c:.1f} °C"
    leading = lead(memory)
    if leading is None:
        return f"idle, {air}"
    return f"{leading.id}: {leading.stage.name}, {leading.state}, {air}"
