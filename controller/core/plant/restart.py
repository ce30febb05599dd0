"""Bring over a restart what the air had reached and what it was off: neither is any news, nor is it forgotten.

After a short break all of it goes on, as if the program had only been busy. After a longer one the air is off because
of the break, so only what had been found before goes on, and the side on which it was found stays armed: what is still
true is told on, and what comes back is told again.
"""

from msgspec.structs import replace

from controller.core.plant.memory import AirWatch, ArmWatch

OURS = frozenset({"A2", "P4", "P6", "P7", "P8"})
A2, P4, P4_RH, P6, P7 = ("A2", "", ""), ("P4", "", ""), ("P4", "", "rh"), ("P6", "", ""), ("P7", "", "")


def carried_air(kept: AirWatch, air_c: float | None, now_s: float, shift_s: float, *, short: bool) -> AirWatch:
    """Return what the rules of the air go on with; they look in a minute, when there are good readings again.

    Args:
        kept: what they remembered in the last checkpoint.
        air_c: the last good air temperature of then.
        now_s: when they may begin to look, on the monotonic clock.
        shift_s: what is added to an instant of before, so that it lies right on the clock of now.
        short: the break was known to be short.
    """
    if kept.arms.wanted_c is None:
        return AirWatch()
    still = tuple(one for one in kept.found if one.row in OURS)
    found, names = {one.key for one in still}, {one.row for one in still}

    def goes_on(began_s: float | None, *, was_found: bool) -> float | None:
        return began_s + shift_s if began_s is not None and (short or was_found) else None

    return AirWatch(
        looked_s=now_s,
        mean_pct=kept.mean_pct if short else None,
        mean_of_s=kept.mean_of_s if short else 0.0,
        arms=kept.arms if short else _of_found(kept, air_c),
        hot_s=goes_on(kept.hot_s, was_found=A2 in found),
        off_s=goes_on(kept.off_s, was_found=P4 in found),
        cold_s=goes_on(kept.cold_s, was_found=P6 in found),
        rh_off_s=goes_on(kept.rh_off_s, was_found=P4_RH in found),
        damp_s=goes_on(kept.damp_s, was_found=P7 in found),
        mould_s=goes_on(kept.mould_s, was_found=P7 in found),
        dry_s=goes_on(kept.dry_s, was_found="P8" in names),
        found=still,
        waits_since_s=goes_on(kept.waits_since_s, was_found=False),
        waits_at_c=kept.waits_at_c,
        waits=kept.waits and short,
    )


def _of_found(kept: AirWatch, air_c: float | None) -> ArmWatch:
    """Return what was armed, of the sides alone on which something had been found."""
    found, arms = {one.key for one in kept.found}, kept.arms
    off_k = 0.0 if air_c is None or arms.wanted_c is None else air_c - arms.wanted_c
    off_pct = 0.0 if kept.mean_pct is None or arms.wanted_pct is None else kept.mean_pct - arms.wanted_pct
    return replace(
        arms,
        warm=arms.warm and (A2 in found or (P4 in found and off_k > 0.0)),
        cold=arms.cold and (P6 in found or (P4 in found and off_k < 0.0)),
        damp=arms.damp and P4_RH in found and off_pct > 0.0,
        dry=arms.dry and P4_RH in found and off_pct < 0.0,
    )
