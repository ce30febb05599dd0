"""Every fault of the computer and its disk that can be ordered, as the daemon's ports see it."""

import errno

import pytest

from controller.core.values import Commands, Health, Role
from controller.errors import UsageError
from controller.simulator.faults import OF_THE_COMPUTER, parse_fault, parse_faults
from controller.simulator.world import PowerCut, World
from tests.helpers.simulated_chambers import BEGIN_WALL_S, chamber_of


def world_with(*specs: str) -> World:
    """Return a world in which this goes wrong."""
    return World(chamber_of("insulated-box"), begin_wall_s=BEGIN_WALL_S, seed=1, faults=parse_faults(specs))


def run(world: World, seconds: float, *roles: Role) -> None:
    """Let the world go on in ticks of 5 s with these outputs renewed at each."""
    end_s = world.elapsed_s + seconds
    while world.elapsed_s < end_s:
        now_s = world.clock.monotonic_s()
        world.relays.apply(Commands(dict.fromkeys(roles, now_s + 10.0)))
        world.clock.sleep_until(now_s + 5.0)


@pytest.mark.parametrize(
    ("kind", "seen"),
    [
        ("low-voltage", {"low_voltage": True}),
        ("processor-hot", {"processor_c": 85.0}),
        ("disk-filling", {"disk_free_mb": 120.0, "disk_free_share": 0.003}),
        ("disk-full", {"disk_free_mb": 0.0, "disk_free_share": 0.0}),
        ("disk-read-only", {"disk_read_only": True}),
    ],
)
def test_the_computer_says_what_is_wrong_while_it_lasts_and_nothing_else(kind: str, seen: dict[str, object]) -> None:
    world = world_with(f"{kind}@1m/1m")
    assert world.machine.health() == Health()
    run(world, 60.0)
    health = world.machine.health()
    assert {name: getattr(health, name) for name in seen} == seen
    well = {
        "low_voltage": False,
        "processor_c": 50.0,
        "disk_free_mb": 20_000.0,
        "disk_free_share": 0.5,
        "disk_read_only": False,
        "reset_by_watchdog": None,
    }
    assert {name: getattr(health, name) for name in well if name not in seen} == {
        name: value for name, value in well.items() if name not in seen
    }
    run(world, 60.0)
    assert world.machine.health() == Health()


@pytest.mark.parametrize(("kind", "number"), [("disk-full", errno.ENOSPC), ("disk-read-only", errno.EROFS)])
def test_a_disk_refuses_with_the_number_of_the_kernel(kind: str, number: int) -> None:
    world = world_with(f"{kind}@1m/1m")
    world.disk.use()
    run(world, 60.0)
    with pytest.raises(OSError) as refused:  # noqa: PT011 - its number is the news
        world.disk.use()
    assert refused.value.errno == number
    run(world, 60.0)
    world.disk.use()


def test_a_slow_disk_takes_its_time_by_its_own_clock_and_not_the_worlds() -> None:
    world = world_with("disk-slow@1m/1m")
    run(world, 60.0)
    before_s = world.disk.now_s()
    world.disk.use()
    assert world.disk.now_s() - before_s == 8.0
    assert world.elapsed_s == 60.0


def test_a_program_that_gets_no_time_wakes_late_and_its_lamp_has_ended_by_its_own_timer() -> None:
    world = world_with("loop-late@1m/25s")
    run(world, 60.0, "heater")
    assert world.elapsed_s == 85.0
    assert world.lamp_edges == [(0.0, True), (65.0, False)]  # Renewed last at 55 s, for two ticks.
    world.clock.sleep_until(world.clock.monotonic_s() + 5.0)
    assert world.elapsed_s == 90.0


def test_a_computer_that_hangs_leaves_the_lamp_on_until_its_watchdog_resets_it_and_says_so_when_it_is_back() -> None:
    world = world_with("computer-hangs@1m/45s")
    with pytest.raises(PowerCut, match="the computer hung"):
        run(world, 120.0, "heater")
    assert world.heat_on
    assert world.restore_power()
    assert world.lamp_edges == [(0.0, True), (74.0, False)]  # 14 s: the longest that a Pi's watchdog can wait is 15.
    assert world.elapsed_s == 105.0
    assert world.boots == 2
    assert world.machine.health().reset_by_watchdog


def test_an_ordinary_power_cut_is_no_reset_by_the_watchdog() -> None:
    world = world_with("power-cut@1m/45s")
    with pytest.raises(PowerCut, match="the supply failed"):
        run(world, 120.0, "heater")
    assert not world.heat_on
    assert world.restore_power()
    assert world.machine.health() == Health()


@pytest.mark.parametrize("kind", ["loop-late", "computer-hangs"])
def test_what_must_end_asks_for_its_duration(kind: str) -> None:
    with pytest.raises(UsageError, match=f"{kind} needs a duration; write {kind}@26h/5m"):
        parse_fault(f"{kind}@6h")


def test_every_kind_has_a_test_on_this_page() -> None:
    tested = {"low-voltage", "processor-hot", "loop-late", "computer-hangs"}
    assert tested | {"disk-filling", "disk-full", "disk-slow", "disk-read-only"} == set(OF_THE_COMPUTER)
