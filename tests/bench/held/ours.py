"""The production daemon goes through the schedule."""

from msgspec.structs import replace

from controller.core.memory import Memory, Outcome
from controller.core.plan import Chamber, Profile, Stage, Until
from controller.settings.chamber_file import ChamberFile
from controller.simulator.weather import Room
from tests.bench.held.chambers import Variant
from tests.bench.held.record import HOUR_S, Record
from tests.bench.held.schedule import DOOR_S, WANTED, Played, Scene, least_s, plan_for, room_of, sausage_for
from tests.helpers.bench_chamber import PROFILE
from tests.helpers.chamber_story import BEGIN_WALL_S, ChamberStory


class _Watched(ChamberStory):
    """Be a story that is written down tick by tick."""

    record: Record

    def _see(self, memory: Memory, outcome: Outcome) -> None:  # noqa: ARG002 - the hook gives it
        self.record.see(self.world, outcome.known.air_temp_c, outcome.known.rh_pct)


def stages_of(scene: Scene, wanted_c: float, wanted_pct: float) -> Profile:
    """Return a profile that wants this climate and never ends."""
    is_dry = scene == "drying"
    until = Until(weight_loss_pct=60.0) if is_dry else Until(ph_at_most=4.0)
    stage = Stage(name="hold", kind="dry" if is_dry else "ferment", until=until, air_temp_c=wanted_c, rh_pct=wanted_pct)
    return replace(PROFILE, stages=(stage,))


def play(variant: Variant, truth: ChamberFile, believed: Chamber, scene: Scene) -> Played:
    """Let the daemon hold this chamber.

    Args:
        variant: whose room and seed are taken.
        truth: the chamber as it is.
        believed: the chamber as the daemon takes it to be.
        scene: what is to be gone through.
    """
    wanted_c, wanted_pct = WANTED[scene]
    room, begin_s = room_of(variant, scene)
    start_least_s = least_s(truth, room, begin_s, wanted_c)
    plan = plan_for(scene, start_least_s)
    story = _Watched(
        changed=truth,
        seed=variant.seed,
        stages=stages_of(scene, wanted_c, wanted_pct),
        weather=_Later(room, begin_s - BEGIN_WALL_S),
    )
    story.chamber = believed
    record = story.record = Record(wanted_c, wanted_pct)
    world = story.world
    record.mark("start", world)
    story.start()
    if plan.hang_h:
        story.run_for(hours=plan.hang_h)
    record.mark("hang", world)
    story.hang_this(sausage_for(truth))
    story.run_for(seconds=plan.door_h * HOUR_S - world.elapsed_s)
    world.open_door(DOOR_S)
    story.run_for(seconds=DOOR_S)
    record.mark("door", world)
    rests_s = _compressor_rests_s(story)
    door_least_s = least_s(truth, room, begin_s, wanted_c, world.model, rests_s)
    story.run_for(seconds=plan.steady_h * HOUR_S - world.elapsed_s)
    record.mark("steady", world)
    story.run_for(seconds=plan.end_h * HOUR_S - world.elapsed_s)
    record.mark("end", world)
    record.alarms = tuple(story.rows)
    return Played(record, start_least_s, door_least_s)


def _compressor_rests_s(story: ChamberStory) -> float:
    """Return for how long its compressor may not start now, whoever decides: one that has stopped rests."""
    output, memory = story.chamber.output("cooler"), story.memory.outputs.get("cooler")
    if output is None or memory is None:
        return 0.0
    off_s = story.world.clock.monotonic_s() - max(memory.off_since_s, memory.on_until_s)
    return max(output.min_off_s - off_s, 0.0)


class _Later:
    """Be a room whose weather is that of another day."""

    def __init__(self, room: Room, by_s: float) -> None:
        self._room, self._by_s = room, by_s

    def at(self, wall_s: float) -> tuple[float, float]:
        return self._room.at(wall_s + self._by_s)
