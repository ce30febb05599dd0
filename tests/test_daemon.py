"""The loop itself: relays before records, off at every way out, no drift, missed ticks counted and not replayed."""

from typing import Self

import pytest

from controller.core.memory import Memory, Outcome
from controller.core.requests import Request
from controller.core.restart import first_memory
from controller.core.values import Commands, Health, Reading, Readings, Role, Trouble
from controller.daemon import Ports, run
from tests.helpers.bench_chamber import CHAMBER, WALL_S


class World:
    """Be every port at once, and note in which order they are used."""

    def __init__(self, ticks: int, *, slow_at: int = -1, breaks: str = "", at: int = 1) -> None:
        self.now_s = 100.0
        self.left, self.slow_at, self.breaks, self.at = ticks, slow_at, breaks, at
        self.takes_s = 0.0  # To ask the request box.
        self.used: dict[str, int] = {}
        self.calls: list[str] = []
        self.woken: list[float] = []
        self.outcomes: list[Outcome] = []

    def ports(self: Self) -> Ports:
        return Ports(self, self, self, self, self, self, self, self)

    def use(self, port: str) -> None:
        """Break where a test says so: a mistake of the program in this port, the so-many-th time it is used."""
        self.used[port] = self.used.get(port, 0) + 1
        if port == self.breaks and self.used[port] == self.at:
            raise RuntimeError(f"{port} has a bug")

    def monotonic_s(self) -> float:
        return self.now_s

    def wall_s(self) -> float:
        return WALL_S + self.now_s

    def wall_trusted(self) -> bool:
        return True

    def boot_id(self) -> str:
        return "boot"

    def sleep_until(self, monotonic_s: float) -> bool:
        self.left -= 1
        self.now_s = max(self.now_s, monotonic_s)
        self.woken.append(self.now_s)
        return self.left > 0

    def newest(self) -> Readings:
        self.use("sensors")
        return {"air_temp": Reading(20.0, self.now_s), "rh_temp": Reading(20.0, self.now_s)}

    def apply(self, commands: Commands) -> None:  # noqa: ARG002
        self.calls.append("apply")
        self.use("relays")

    def all_off(self) -> None:
        self.calls.append("off")

    def keep(self, memory: Memory, outcome: Outcome) -> None:  # noqa: ARG002
        self.calls.append("keep")
        self.outcomes.append(outcome)
        self.now_s += 12.0 if len(self.outcomes) == self.slow_at else 0.2
        self.use("records")

    def trouble(self) -> tuple[Trouble, ...]:
        return ()

    def close(self) -> None:
        self.calls.append("close")

    def take(self) -> tuple[Request, ...]:
        self.use("box")
        self.now_s += self.takes_s
        return ()

    def summary_due(self) -> bool:
        return False

    def ready(self) -> None:
        self.calls.append("ready")

    def alive(self, status: str) -> None:
        assert "20.0 °C" in status
        self.calls.append("alive")

    def strangers(self) -> tuple[str, ...]:
        return ()

    def disobedient(self) -> tuple[Role, ...]:
        return ()

    def health(self) -> Health:
        self.use("machine")
        return Health()

    def stopping(self) -> None:
        self.calls.append("stopping")


def go(world: World) -> Memory:
    return run(first_memory(CHAMBER, world.now_s, WALL_S, "boot"), CHAMBER, world.ports())


def test_relays_are_off_first_driven_before_the_record_and_off_at_the_end() -> None:
    world = World(ticks=2)
    memory = go(world)
    assert world.calls == ["off", "apply", "keep", "ready", "alive", "apply", "keep", "alive", "stopping", "off"]
    assert memory.ended_cleanly


def test_relays_are_off_when_the_loop_breaks_and_nobody_is_told_that_it_is_alive() -> None:
    world = World(ticks=2, breaks="records")
    with pytest.raises(RuntimeError):
        go(world)
    assert world.calls == ["off", "apply", "keep", "off"]


@pytest.mark.fault_row("C1")
@pytest.mark.parametrize("port", ["sensors", "relays", "records", "box", "machine"])
@pytest.mark.parametrize("at", [1, 2, 5])
def test_the_watchdog_is_fed_once_for_each_whole_tick_and_by_nothing_else(port: str, at: int) -> None:
    world = World(ticks=99, breaks=port, at=at)
    with pytest.raises(RuntimeError, match=f"{port} has a bug"):
        go(world)
    whole = at - 1
    assert world.calls.count("alive") == whole
    assert world.calls.count("ready") == min(whole, 1)  # Nor is a start reported before its first whole tick.
    assert world.calls[-1] == "off"


def test_the_rhythm_does_not_drift_and_missed_ticks_are_counted_and_not_replayed() -> None:
    world = World(ticks=6, slow_at=3)
    go(world)
    assert world.woken == [105.0, 110.0, 122.0, 125.0, 130.0, 135.0]
    late = [event.text for outcome in world.outcomes for event in outcome.events if event.kind == "late"]
    assert late == ["1 ticks were missed; they are not made up for."]


def test_a_decision_knows_how_late_it_is_when_a_card_was_slow() -> None:
    """Else an output whose lease has ended meanwhile would be taken to be on still, and be switched on again."""
    world = World(ticks=3)
    world.takes_s = 11.0
    go(world)
    assert [outcome.now_s for outcome in world.outcomes] == [111.0, 122.2, 133.4]
