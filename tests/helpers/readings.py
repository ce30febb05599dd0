"""A ferment on the bench, hours that pass quickly, and what is answered."""

from controller.core.plan import Profile
from controller.core.requests import Hang, Request
from controller.core.values import FaultKind
from tests.helpers.bench_chamber import PROFILE, Bench

LEFT_OUT_S = 175.0


def fermenting(profile: Profile = PROFILE, air_c: float = 36.0) -> Bench:
    """Return a chamber at this temperature in which the meat has just been hung."""
    bench = Bench(profile=profile).run(minutes=20, air_temp=air_c, rh_temp=air_c)
    return bench.tick(Hang(id="hang", pieces_g={"A": 400.0, "B": 410.0}))


def later(bench: Bench, hours: float, **says: float | FaultKind) -> Bench:
    """Let hours pass in ticks of three minutes: the deciding part counts by the clock it is given."""
    for _ in range(round(hours * 20.0)):
        bench.now_s += LEFT_OUT_S
        bench.wall_s += LEFT_OUT_S
        bench.tick(**says)
    return bench


def answer(bench: Bench) -> str:
    """Return the newest answer."""
    assert bench.outcome is not None
    return bench.outcome.answers[-1].text


def refused(bench: Bench, request: Request) -> str:
    """Ask for what has to be refused, and return the reason."""
    bench.tick(request)
    assert bench.outcome is not None
    assert not bench.outcome.answers[-1].done
    return answer(bench)
