"""Bring over a restart what the slow rules have found and could not find again, or would find otherwise.

Most of what they remember hangs on the monotonic clock, and is begun afresh. Not so: a thermometer that was found stuck
and has not moved since, a quarrel or doubt of which one witness says nothing any more, a fan that stands, for what is
usual is learned from the air of the first half hour, a lamp that burned though it was off, or that gave no heat, how
much water this hour has had, a door that gives no peace, and a compressor that rests after it did nothing.
"""

from msgspec.structs import replace

from controller.core.plan import Chamber
from controller.core.plant.memory import ColdWatch, FanWatch
from controller.core.values import WITNESSES
from controller.core.watch.memory import AgreeWatch, DoorWatch, FrozenWatch, IdleWatch, MistWatch, Watch


def _doubts(kept: AgreeWatch, shift_s: float) -> AgreeWatch:
    """Return what is known of thermometers that disagreed: only when both speak can they be seen to agree again.

    Only the time in which they were watched counts.
    """
    agree = AgreeWatch(wary=kept.wary, lead_k=kept.lead_k)
    if kept.apart_since_s is not None:
        beyond_s = None if kept.beyond_since_s is None else kept.beyond_since_s + shift_s
        agree = AgreeWatch(kept.apart_since_s + shift_s, beyond_s, kept.apart_row, lead_k=kept.lead_k, wary=True)
    if kept.doubted:
        agree = replace(agree, doubt_since_s=float("-inf"), doubted=True)
    return agree


def carried_on(kept: Watch, chamber: Chamber, gap_s: float, shift_s: float, *, same_boot: bool) -> Watch:
    """Return what the slow rules go on with after a restart.

    Args:
        kept: what they remembered in the last checkpoint.
        chamber: what it has now; where a rule cannot see any more that something is over, nothing is kept.
        gap_s: for how long the program was away; 0 where nobody knows.
        shift_s: what is added to an instant of before, so that it lies right on the clock of now.
        same_boot: whether the machine has not been restarted since.
    """
    watch = Watch(machine=kept.machine) if same_boot else Watch()
    frozen, doubt, fan = kept.frozen, kept.agree, kept.plant.fan
    if kept.idle.found:
        watch = replace(watch, idle=IdleWatch(found=kept.idle.found))
    if frozen.found:
        since_s = frozen.since_s + shift_s
        watch = replace(watch, frozen=FrozenWatch(frozen.value, since_s, found=frozen.found))
    if kept.door.busy_s is not None:
        shut_s = max(kept.door.shut_s, kept.door.since_s or float("-inf")) + shift_s
        watch = replace(watch, door=DoorWatch(shut_s=shut_s, busy_s=kept.door.busy_s + shift_s))
    if sum(witness in chamber.channels for witness in WITNESSES) > 1:
        watch = replace(watch, agree=_doubts(doubt, shift_s + gap_s))
    if kept.heat.found and kept.heat.full_since_s is not None:
        watch = replace(watch, heat=replace(kept.heat, full_since_s=kept.heat.full_since_s + shift_s + gap_s))
    if kept.mist.hour_s > float("-inf"):
        watch = replace(watch, mist=MistWatch(hour_s=kept.mist.hour_s + shift_s, hour_on_s=kept.mist.hour_on_s))
    if "fan_turns" in chamber.channels or {"air_temp", "air_temp_2"} <= set(chamber.channels):
        fan = FanWatch(usual_k=fan.usual_k, learned_s=fan.learned_s, why=fan.why)
        watch = replace(watch, plant=replace(watch.plant, fan=fan))
    if kept.plant.cold.row:
        watch = replace(watch, plant=replace(watch.plant, cold=_rest(kept.plant.cold, shift_s)))
    return watch


def _rest(kept: ColdWatch, shift_s: float) -> ColdWatch:
    """Return what was found of a compressor, and until when it rests."""
    return ColdWatch(
        row=kept.row,
        by_current=kept.by_current,
        level=kept.level,
        rests_until_s=kept.rests_until_s + shift_s,
        tries=tuple(at_s + shift_s for at_s in kept.tries),
        iced=tuple(at_s + shift_s for at_s in kept.iced),
    )
