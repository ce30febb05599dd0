"""The air against what is wanted: too hot (A2), off (P4), far too cold (P6), too damp (P7) and too dry (P8) for long.

These are minutes to hours, so the air is looked at once a minute; what was found stands until the next look. Nothing is
found before it was reached (`arm`), nor while a door is or was just open. The humidity is judged by its mean over about
an hour: each run of a compressor dries the air by tens of per cent for some minutes, and that is no fault.
"""

from collections.abc import Container
from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.batch.asks import damper_air
from controller.core.plan import StageKind
from controller.core.plant.arm import arm
from controller.core.plant.lasting import is_raised, since, spoken
from controller.core.plant.memory import AirWatch
from controller.core.thresholds import Thresholds
from controller.core.values import Known
from controller.core.watch.seen import Seen

LOOK_S: Final = 60.0
MEAN_S: Final = 3600.0
CYCLE_S: Final = 900.0
"""A mean of less than a compressor's cycle says nothing. Common practice, no source."""
PATIENCE_S: Final = 2700.0
"""So long the rules of minutes wait for another one that looks into why it is too cold; a box full of meat is slow to
tell whether its lamp burns. Then they speak for themselves, unless the air comes nearer. Common practice, no source."""
NEARER_K: Final = 1.0
NEARER_SHARE: Final = 1.0 / 3.0
"""For the wait to begin again it has to be so much warmer, and by so much of what was missing: air that makes up less
does not come back, as through a door that was left ajar. Common practice, no source."""
RAMP_SHARE: Final = 1.5
"""From this share of its planned time on a ramp counts as over, arrived or not."""
DRYING: Final[frozenset[StageKind]] = frozenset({"dry", "equalise", "rest"})


def looks_now(watch: AirWatch, now_s: float) -> bool:
    """Say whether the air is looked at in this tick."""
    return not now_s - watch.looked_s < LOOK_S


def watch_air(
    watch: AirWatch, seen: Seen, *, cold_undecided: bool, warm_undecided: bool, lamp_tried: bool
) -> tuple[AirWatch, tuple[Condition, ...]]:
    """Look at the air once a minute and raise what it is off; in between what was found last stands.

    Args:
        watch: what was seen of it.
        seen: this tick.
        cold_undecided: another rule still looks into why it is too cold: it will tell the cause.
        warm_undecided: the same for why it is too warm.
        lamp_tried: the lamp was found dead. Where that is no matter of haste (a drying), P6 goes on all the same.
    """
    now_s = seen.now_s
    if not looks_now(watch, now_s):
        return watch, watch.found
    known, wanted = seen.known, seen.wanted
    if seen.air_is_away or seen.rh_is_away:
        return watch, watch.found  # It is looked when there is something to be seen.
    mean_pct, mean_of_s = (known.rh_pct, 0.0) if seen.excused else _mean(watch, known.rh_pct, now_s)
    far = _is_far(seen)
    lasting_pct = mean_pct if mean_of_s >= CYCLE_S else None
    arms = arm(watch.arms, known.air_temp_c, None if far else lasting_pct, wanted, settling=seen.settling)
    arms = replace(arms, damp=False, dry=False) if far else arms
    stood = {condition.key for condition in watch.found}
    watch = replace(watch, looked_s=now_s, mean_pct=mean_pct, mean_of_s=mean_of_s, arms=arms, found=())
    if wanted.air_temp_c is None or known.air_temp_c is None:
        return _begun_anew(watch), ()
    if seen.excused:  # The rules of minutes begin anew; those of hours stand still.
        return replace(watch, hot_s=None, off_s=None, cold_s=None, rh_off_s=None), ()
    urgent = lamp_tried and not seen.in_ferment
    if lamp_tried or (watch.off_s is None and watch.cold_s is None):
        watch = watch if watch.waits_since_s is None else replace(watch, waits_since_s=None)
    elif watch.waits_since_s is None or _is_nearer(watch, known.air_temp_c, wanted.air_temp_c):
        watch = replace(watch, waits_since_s=now_s, waits_at_c=known.air_temp_c)
    is_over = watch.waits_since_s is not None and now_s - watch.waits_since_s > PATIENCE_S
    cold_undecided = cold_undecided and not is_over
    waits = cold_undecided and known.air_temp_c <= wanted.air_temp_c
    if watch.waits and not waits and not is_over:
        watch = _afresh(watch, seen, stood, urgent=urgent)
    watch = watch if watch.waits == waits else replace(watch, waits=waits)
    watch, found = _temperature(watch, seen, known.air_temp_c, wanted.air_temp_c)
    undecided = warm_undecided if known.air_temp_c > wanted.air_temp_c else cold_undecided
    found = tuple(
        one for one in found if one.key in stood or one.level or not undecided or (urgent and one.row == "P6")
    )
    if far or seen.hung_for_s is None:
        watch = replace(watch, rh_off_s=None)
    else:
        wanted_pct = None if seen.complete else wanted.rh_pct  # It only waits to be taken out.
        watch, wet = _humidity(watch, seen, lasting_pct, wanted_pct)
        watch, long = _for_hours(watch, seen, mean_pct, wanted_pct)
        found = (*found, *wet, *long)
    return (replace(watch, found=found) if found else watch), found


def _is_nearer(watch: AirWatch, air_c: float, wanted_c: float) -> bool:
    """Say whether the air has made up enough, since the wait began, of what it was too cold then."""
    return air_c - watch.waits_at_c >= max(NEARER_SHARE * (wanted_c - watch.waits_at_c), NEARER_K)


def _afresh(watch: AirWatch, seen: Seen, stood: Container[tuple[str, str, str]], *, urgent: bool) -> AirWatch:
    """Begin the minutes of P4 and P6 anew once the lamp was looked into: one that is back has to warm the air first.

    Not those of P6 where they are `urgent`: A3 has spoken, and not as urgently.
    """
    off_s = watch.off_s if ("P4", "", "") in stood else None
    frosty = (coldest(seen.known) or 0.0) < seen.chamber.thresholds.cold_c
    cold_s = watch.cold_s if frosty or urgent or ("P6", "", "") in stood else None
    return replace(watch, off_s=off_s, cold_s=cold_s)


def _temperature(watch: AirWatch, seen: Seen, air_c: float, wanted_c: float) -> tuple[AirWatch, tuple[Condition, ...]]:
    """Raise what the temperature is off; of an empty box only that it is too hot."""
    watch, hot = _hot(watch, seen, wanted_c)
    if seen.hung_for_s is None:
        return replace(watch, off_s=None, cold_s=None), hot
    watch, off = _off(watch, seen, air_c, wanted_c)
    watch, cold = _cold(watch, seen, wanted_c)
    return watch, (*hot, *off, *cold)


def _is_far(seen: Seen) -> bool:
    """Say whether the air is so far off in its temperature that its humidity tells of nothing else."""
    air_c, wanted_c = seen.known.air_temp_c, seen.wanted.air_temp_c
    return air_c is None or wanted_c is None or abs(air_c - wanted_c) > seen.chamber.thresholds.off_k


def _begun_anew(watch: AirWatch) -> AirWatch:
    return AirWatch(watch.looked_s, watch.mean_pct, watch.mean_of_s, watch.arms)


def _mean(watch: AirWatch, rh_pct: float | None, now_s: float) -> tuple[float | None, float]:
    """Return the mean of the humidity over about an hour, and of how many seconds it is.

    It begins anew with the first good value after none, and after a door; a plain mean until it is an hour's.
    """
    if rh_pct is None or watch.mean_pct is None:
        return rh_pct, 0.0
    passed_s = min(now_s - watch.looked_s, MEAN_S)
    of_s = min(watch.mean_of_s + passed_s, MEAN_S)
    return watch.mean_pct + (rh_pct - watch.mean_pct) * passed_s / of_s, of_s


def _hot(watch: AirWatch, seen: Seen, wanted_c: float) -> tuple[AirWatch, tuple[Condition, ...]]:
    """Warn of A2: some thermometer is well above what is wanted; the trip has its own rule."""
    limits, hottest_c, now_s = seen.chamber.thresholds, seen.known.highest_firm_c, seen.now_s
    over_k = 0.0 if hottest_c is None else hottest_c - wanted_c
    hot_s = since(
        watch.hot_s,
        now_s,
        limits.too_hot_s,
        beyond=watch.arms.warm and over_k > limits.too_hot_k,
        back=over_k < limits.too_hot_k - limits.back_by_k,
    )
    watch = watch if hot_s == watch.hot_s else replace(watch, hot_s=hot_s)
    if hot_s is None or not is_raised(hot_s, now_s, limits.too_hot_s):
        return watch, ()
    text = (
        f"Too hot: {hottest_c:.1f} °C for {spoken(now_s - hot_s)}, wanted {wanted_c:.1f} °C, "
        f"limit {wanted_c + limits.too_hot_k:.1f} °C."
    )
    return watch, (Condition("A2", text, priority="2", warns=True, did="The lamp is off while it is too warm."),)


def _off(watch: AirWatch, seen: Seen, air_c: float, wanted_c: float) -> tuple[AirWatch, tuple[Condition, ...]]:
    """Raise P4: the temperature is off what is wanted."""
    limits, now_s, share = seen.chamber.thresholds, seen.now_s, seen.ramp_share
    off_k, over = air_c - wanted_c, share is not None and share >= RAMP_SHARE
    armed = over or (share is None and (watch.arms.warm if off_k > 0.0 else watch.arms.cold))
    off_s = since(
        watch.off_s,
        now_s,
        limits.off_s,
        beyond=armed and abs(off_k) > limits.off_k,
        back=abs(off_k) < limits.off_k - limits.back_by_k,
    )
    watch = watch if off_s == watch.off_s else replace(watch, off_s=off_s)
    if off_s is None or not is_raised(off_s, now_s, limits.off_s):
        return watch, ()
    text = f"Air {air_c:.1f} °C, wanted {wanted_c:.1f} °C, limit ±{limits.off_k:g} K, for {spoken(now_s - off_s)}."
    return watch, (Condition("P4", text, priority=_priority(seen)),)


def _priority(seen: Seen) -> str:
    return "3" if seen.kind in DRYING else ""


def _cold(watch: AirWatch, seen: Seen, wanted_c: float) -> tuple[AirWatch, tuple[Condition, ...]]:
    """Raise P6: far too cold, by the coldest thermometer."""
    limits, now_s = seen.chamber.thresholds, seen.now_s
    coldest_c = coldest(seen.known)
    if coldest_c is None:
        return replace(watch, cold_s=None), ()
    limit_c = too_cold_c(wanted_c, limits)
    cold_s = since(
        watch.cold_s,
        now_s,
        limits.cold_s,
        beyond=watch.arms.cold and coldest_c < limit_c,
        back=coldest_c > limit_c + limits.cold_k / 2.0,
    )
    watch = watch if cold_s == watch.cold_s else replace(watch, cold_s=cold_s)
    if cold_s is None or not is_raised(cold_s, now_s, limits.cold_s):
        return watch, ()
    text = (
        f"Far too cold: {coldest_c:.1f} °C for {spoken(now_s - cold_s)}, wanted {wanted_c:.1f} °C, "
        f"limit {limit_c:.1f} °C."
    )
    return watch, (Condition("P6", text, level=int(coldest_c < limits.cold_c)),)


def too_cold_c(wanted_c: float, limits: Thresholds) -> float:
    """Return below which temperature it is far too cold, in °C: frost counts where no more than 5 °C is wanted."""
    return max(wanted_c - limits.cold_k, min(limits.cold_c, wanted_c - limits.off_k))


def coldest(known: Known) -> float | None:
    """Return the lowest temperature that a good thermometer in the air shows, each as slow as the slowest."""
    lowest_c = min(known.slowed_c.values(), default=known.air_temp_c)
    return lowest_c if known.air_temp_c is None or lowest_c is None else min(lowest_c, known.air_temp_c)


def _humidity(
    watch: AirWatch, seen: Seen, mean_pct: float | None, wanted_pct: float | None
) -> tuple[AirWatch, tuple[Condition, ...]]:
    """Raise P4: the humidity is off what is wanted; in a ferment only below."""
    limits, now_s, share = seen.chamber.thresholds, seen.now_s, seen.ramp_share
    if mean_pct is None or wanted_pct is None:
        return (watch if watch.rh_off_s is None else replace(watch, rh_off_s=None)), ()
    off_pct, over = mean_pct - wanted_pct, share is not None and share >= RAMP_SHARE
    damp_counts = (over or (share is None and watch.arms.damp)) and not seen.in_ferment
    dry_counts = over or (share is None and watch.arms.dry)
    rh_off_s = since(
        watch.rh_off_s,
        now_s,
        limits.off_rh_s,
        beyond=(off_pct > limits.off_pct and damp_counts) or (off_pct < -limits.off_pct and dry_counts),
        back=abs(off_pct) < limits.off_pct - limits.back_by_pct,
    )
    watch = watch if rh_off_s == watch.rh_off_s else replace(watch, rh_off_s=rh_off_s)
    if rh_off_s is None or not is_raised(rh_off_s, now_s, limits.off_rh_s):
        return watch, ()
    text = (
        f"Humidity {mean_pct:.0f} % (mean of an hour), wanted {wanted_pct:.0f} ± {limits.off_pct:g} %, "
        f"for {spoken(now_s - rh_off_s)}."
    )
    return watch, (Condition("P4", text, about="rh", priority=_priority(seen)),)


def _for_hours(
    watch: AirWatch, seen: Seen, mean_pct: float | None, wanted_pct: float | None
) -> tuple[AirWatch, tuple[Condition, ...]]:
    """Raise P7 (mould) and P8 (a hard rim): too damp or too dry for hours while it dries."""
    if mean_pct is None or wanted_pct is None or seen.kind not in DRYING:
        calm = watch.damp_s is None and watch.mould_s is None and watch.dry_s is None
        return (watch if calm else replace(watch, damp_s=None, mould_s=None, dry_s=None)), ()
    limits, now_s, off_pct, nearer = (
        seen.chamber.thresholds, seen.now_s, mean_pct - wanted_pct, seen.chamber.thresholds.nearer_pct
    )  # fmt: skip
    damp_s = since(
        watch.damp_s, now_s, limits.damp_s, beyond=off_pct > limits.damp_pct, back=off_pct < limits.damp_pct - nearer
    )
    mould_s = since(
        watch.mould_s,
        now_s,
        limits.mould_s,
        beyond=mean_pct > limits.mould_pct,
        back=mean_pct < limits.mould_pct - nearer,
    )
    dry_s = since(
        watch.dry_s, now_s, limits.dry_s, beyond=off_pct < -limits.dry_pct, back=off_pct > nearer - limits.dry_pct
    )
    if (damp_s, mould_s, dry_s) != (watch.damp_s, watch.mould_s, watch.dry_s):
        watch = replace(watch, damp_s=damp_s, mould_s=mould_s, dry_s=dry_s)
    found: list[Condition] = []
    if damp_s is not None and is_raised(damp_s, now_s, limits.damp_s):
        limit = f"limit +{limits.damp_pct:g} % for {spoken(limits.damp_s)}"
        text = f"Humidity {mean_pct:.0f} %, wanted {wanted_pct:.0f} %, for {spoken(now_s - damp_s)}, {limit}."
        found.append(Condition("P7", text))
    elif mould_s is not None and is_raised(mould_s, now_s, limits.mould_s):
        limit = f"limit {limits.mould_pct:g} % for {spoken(limits.mould_s)}"
        text = f"Humidity {mean_pct:.0f} % for {spoken(now_s - mould_s)}, {limit}."
        found.append(Condition("P7", text))
    if dry_s is not None and is_raised(dry_s, now_s, limits.dry_s):
        text = (
            f"Humidity {mean_pct:.0f} %, wanted {wanted_pct:.0f} %, for {spoken(now_s - dry_s)}, limit "
            f"−{limits.dry_pct:g} % for {spoken(limits.dry_s)}: a hard rim may form."
        )
        found.append(Condition("P8", text, seen.batch, first=damper_air(wanted_pct)))
    return watch, tuple(found)
