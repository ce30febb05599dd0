"""What a maker would use instead: a plug-in thermostat and a plug-in hygrostat, at the same sensors."""

from typing import Final

from controller.core.values import Commands, Reading, Role
from controller.simulator.world import World
from tests.bench.held.chambers import Variant
from tests.bench.held.record import HOUR_S, SAMPLE_S, Record
from tests.bench.held.schedule import DOOR_S, WANTED, Played, Scene, least_s, plan_for, room_of, sausage_for

REST_S: Final = 300.0
COOLS_ABOVE_K: Final = 1.0
BOTH_PCT: Final = 3.0
RIVALS: Final[dict[str, tuple[float, float]]] = {
    "on/off ±0.5 K": (-0.5, 0.5),
    "on 1 K below, off at it": (-1.0, 0.0),
}
"""Where the lamp comes on and goes off, in kelvin from what is wanted."""


class Thermostat:
    """Switch the lamp, the cooler (the same band, a kelvin higher where there is a lamp too), and the humidifier."""

    def __init__(self, world: World, on_k: float, off_k: float, wanted_c: float, wanted_pct: float) -> None:
        self._world, self._on_k, self._off_k = world, on_k, off_k
        self._wanted_c, self._wanted_pct = wanted_c, wanted_pct
        self._on: set[Role] = set()
        self._rests_until_s = REST_S

    def look(self) -> tuple[float | None, float | None]:
        """Read, switch for one sample, and return what was read."""
        readings = self._world.sensors.newest()
        air, rh = readings.get("air_temp"), readings.get("rh")
        air_c = air.value if isinstance(air, Reading) else None
        rh_pct = rh.value if isinstance(rh, Reading) else None
        if air_c is not None:
            off_k = air_c - self._wanted_c
            self._switch("heater", on=off_k <= self._on_k, off=off_k >= self._off_k)
            self._cool(off_k)
        if rh_pct is not None:
            away_pct = rh_pct - self._wanted_pct
            self._switch("humidifier", on=away_pct <= -BOTH_PCT, off=away_pct >= 0.0)
        clock = self._world.clock
        until_s = clock.monotonic_s() + 2.0 * SAMPLE_S
        roles = self._world.relays.closings
        self._world.relays.apply(Commands({role: until_s for role in self._on if role in roles}))
        return air_c, rh_pct

    @property
    def rests_s(self) -> float:
        """Return for how long its compressor may not start now."""
        return max(self._rests_until_s - self._world.elapsed_s, 0.0)

    def _switch(self, role: Role, *, on: bool, off: bool) -> None:
        if on:
            self._on.add(role)
        elif off:
            self._on.discard(role)

    def _cool(self, off_k: float) -> None:
        now_s = self._world.elapsed_s
        was_on = "cooler" in self._on
        above_k = COOLS_ABOVE_K if self._wanted_c > self._world.room_temp_c else 0.0
        self._switch("cooler", on=off_k >= above_k - self._on_k and now_s >= self._rests_until_s, off=off_k <= above_k)
        if was_on and "cooler" not in self._on:
            self._rests_until_s = now_s + REST_S


def play_rival(variant: Variant, name: str, scene: Scene) -> Played:
    """Let a thermostat hold this chamber."""
    wanted_c, wanted_pct = WANTED[scene]
    truth = variant.file
    room, begin_s = room_of(variant, scene)
    start_least_s = least_s(truth, room, begin_s, wanted_c)
    plan = plan_for(scene, start_least_s)
    world = World(truth, begin_wall_s=begin_s, seed=variant.seed, weather=room)
    record = Record(wanted_c, wanted_pct)
    rival = Thermostat(world, *RIVALS[name], wanted_c, wanted_pct)

    def until(end_s: float) -> None:
        while world.elapsed_s < end_s:
            world.run_to(min(world.elapsed_s + SAMPLE_S, end_s))
            record.see(world, *rival.look())

    record.mark("start", world)
    until(plan.hang_h * HOUR_S)
    record.mark("hang", world)
    world.open_door(DOOR_S)
    world.hang(sausage_for(truth))
    until(plan.door_h * HOUR_S)
    world.open_door(DOOR_S)
    until(world.elapsed_s + DOOR_S)
    record.mark("door", world)
    door_least_s = least_s(truth, room, begin_s, wanted_c, world.model, rival.rests_s)
    until(plan.steady_h * HOUR_S)
    record.mark("steady", world)
    until(plan.end_h * HOUR_S)
    record.mark("end", world)
    return Played(record, start_least_s, door_least_s)
