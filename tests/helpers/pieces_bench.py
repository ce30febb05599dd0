"""A bench chamber with a batch that is already in the stage a story is about, and short words for what is typed."""

from msgspec.structs import replace

from controller.core.memory import StageEnd
from controller.core.plan import Profile, Stage, Until
from controller.core.requests import CoreTemp, Request, Weigh
from tests.helpers.bench_chamber import PROFILE, WALL_S, Bench

DAY_S = 86_400.0
DRY = Stage(
    name="dry", kind="dry", until=Until(weight_loss_pct=35.0), air_temp_c=13.0, rh_pct=78.0
)  # fmt: skip
REST = Stage(name="rest", kind="rest", until=Until(confirm=True), air_temp_c=13.0, rh_pct=80.0)


def bench_in(*stages: Stage, at: int = 0, diameter_mm: float = 55.0, profile: Profile = PROFILE) -> Bench:
    """Return a chamber whose batch has come to this one of these stages this very moment; 13 °C in it."""
    bench = Bench(profile=replace(profile, stages=stages))
    bench.says = {"air_temp": 13.0, "rh": 78.0, "rh_temp": 13.0}
    batch = replace(
        bench.batch,
        diameter_mm=diameter_mm,
        stage_index=at,
        stage_began_wall_s=WALL_S,
        hung_s=0.0,
        hung_wall_s=WALL_S,
        passed_5_3=True,
        ended=tuple(StageEnd(stage.name, WALL_S - 1.0, WALL_S, "until") for stage in stages[:at]),
    )
    bench.memory = replace(bench.memory, batches=(batch,))
    return bench


def weigh(name: str, days: float, *, replaces: str = "", sure: bool = False, **pieces_g: float) -> Weigh:
    """Return a weighing so many days after the stage began."""
    return Weigh(id=name, at_wall_s=WALL_S + days * DAY_S, pieces_g=pieces_g, replaces=replaces, sure=sure)


def core(name: str, minutes: float, value_c: float, piece: str = "", **more: object) -> CoreTemp:
    """Return a core reading so many minutes after the stage began."""
    at_wall_s = WALL_S + 60.0 * minutes
    return CoreTemp(id=name, at_wall_s=at_wall_s, value_c=value_c, piece=piece, **more)  # type: ignore[arg-type]


def told(bench: Bench, request: Request) -> str:
    """Ask, and return the answer to what was done."""
    bench.tick(request)
    assert bench.outcome is not None
    answer = bench.outcome.answers[-1]
    assert answer.done, answer.text
    return answer.text


def refused(bench: Bench, request: Request) -> str:
    """Ask, and return why it was not done; nothing but the refusal itself may have changed."""
    before = bench.batch
    bench.tick(request)
    assert bench.outcome is not None
    answer = bench.outcome.answers[-1]
    assert not answer.done, answer.text
    assert bench.outcome.entries == ()
    after = bench.batch
    assert (after.weighings, after.green_g, after.now_g) == (before.weighings, before.green_g, before.now_g)
    assert (after.core_temps, after.aw_taken, after.set_rh_pct) == (
        before.core_temps,
        before.aw_taken,
        before.set_rh_pct,
    )
    return answer.text


def alarms_of(bench: Bench) -> list[str]:
    """Return the rows of the fault table that are wrong now."""
    return [alarm.row for alarm in bench.memory.alarms if alarm.active]
