"""Humidity that cannot be believed: two sensors that are apart (S10), and one that is wet (S11).

A sensor is taken to be wet where it shows saturated air for half an hour without mist, outside a ferment; and where it
shows air that is nearly so and does not fall when an empty box gets warmer, for at constant moisture each kelvin takes
five per cent away (Magnus). The second is never asked while mist is given, or while meat hangs or a cold plate has a
film that gives off water; nor of a box that is merely damp, whose walls give back what warmth takes away. A box that
nobody leads may be as wet as it is.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.plan import WET_PCT
from controller.core.plant.lasting import spoken
from controller.core.watch.memory import PairWatch, WetWatch
from controller.core.watch.seen import Seen

DEADBAND_PCT: Final = 1.0
DRY_AGAIN_PCT: Final = 97.0
ROSE_K: Final = 1.0
FELL_PCT: Final = 1.0
WITHIN_S: Final = 900.0


def watch_pair(watch: PairWatch, seen: Seen) -> tuple[PairWatch, list[Condition]]:
    """Raise S10 where two humidity sensors have been apart for half an hour."""
    first, second = seen.known.rh_pct, seen.known.rh_2_pct
    if seen.rh_is_away:
        return watch, []
    if second is None or first is None:
        return (watch if watch.since_s is None else PairWatch()), []
    thresholds, now_s = seen.chamber.thresholds, seen.now_s
    apart = abs(first - second)
    since_s = _since(watch.since_s, apart, thresholds.rh_doubt_pct, now_s)
    far_since_s = _since(watch.far_since_s, apart, thresholds.rh_apart_pct, now_s)
    if since_s != watch.since_s or far_since_s != watch.far_since_s:
        watch = PairWatch(since_s, far_since_s)
    lasted_s = thresholds.rh_apart_s
    is_far = far_since_s is not None and now_s - far_since_s >= lasted_s
    if not is_far and (since_s is None or now_s - since_s < lasted_s):
        return watch, []
    limit = thresholds.rh_apart_pct if is_far else thresholds.rh_doubt_pct
    text = f"Humidity sensors show {first:.0f} and {second:.0f} %, {apart:.0f} apart, limit {limit:g}."
    if is_far:
        return watch, [Condition("S10", text, level=1)]
    return watch, [Condition("S10", text, priority="3", warns=True, did="Humidity goes by the first one.")]


def _since(since_s: float | None, apart: float, limit: float, now_s: float) -> float | None:
    """Return since when the limit is passed; once it is, it is over a little below it."""
    if apart > limit:
        return now_s if since_s is None else since_s
    return since_s if apart > limit - DEADBAND_PCT else None


def watch_wet(watch: WetWatch, seen: Seen) -> tuple[WetWatch, list[Condition]]:
    """Raise S11 where the humidity sensor is probably wet."""
    rh_pct = seen.known.rh_pct
    if rh_pct is None or rh_pct < DRY_AGAIN_PCT or seen.wanted.rh_pct is None:
        idle = watch.since_s is None and watch.lowest_c is None and not watch.wet
        return (watch if idle else WetWatch()), []
    now_s, lasts_s = seen.now_s, seen.chamber.thresholds.saturated_s
    mist = seen.outputs.get("humidifier")
    mist_off_s = float("inf") if mist is None else now_s - max(mist.on_until_s, mist.off_since_s)
    watch = _warmed(watch, seen, rh_pct, mist_off_s)
    is_saturated = rh_pct >= WET_PCT and mist_off_s >= lasts_s / 2 and not (seen.excused or seen.in_ferment)
    since_s = (now_s if watch.since_s is None else watch.since_s) if is_saturated else None
    if since_s != watch.since_s:
        watch = replace(watch, since_s=since_s)
    did_not_fall = watch.rose_s is not None and now_s - watch.rose_s >= WITHIN_S
    if (since_s is not None and now_s - since_s >= lasts_s) or did_not_fall:
        watch = watch if watch.wet else replace(watch, wet=True, warmed=did_not_fall)
    if not watch.wet:
        return watch, []
    stuck = "" if mist is None else ", or the humidifier does not stop"
    limit = f"limit {WET_PCT:g} % for {spoken(lasts_s)} without mist"
    if watch.warmed:
        limit = f"and did not fall by {FELL_PCT:g} % in {spoken(WITHIN_S)} though the air got {ROSE_K:g} K warmer"
    return watch, [Condition("S11", f"The humidity sensor shows {rh_pct:.1f} %, {limit}: it is probably wet{stuck}.")]


def _warmed(watch: WetWatch, seen: Seen, rh_pct: float, mist_off_s: float) -> WetWatch:
    """Remember what was shown before the empty box got a kelvin warmer, and since when it is."""
    air_c = seen.known.air_temp_c
    is_empty = seen.hung_kg == 0.0 and mist_off_s > 0.0 and not (seen.known.door_open or seen.plate_wets)
    if air_c is None or not is_empty:
        return watch if watch.lowest_c is None else replace(watch, lowest_c=None, rose_s=None)
    if watch.lowest_c is None or air_c < watch.lowest_c or rh_pct <= watch.lowest_pct - FELL_PCT:
        return replace(watch, lowest_c=air_c, lowest_pct=rh_pct, rose_s=None)
    if watch.rose_s is None and air_c >= watch.lowest_c + ROSE_K:
        return replace(watch, rose_s=seen.now_s)
    return watch
