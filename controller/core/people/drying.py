"""What a weighing tells of the drying: how fast, whether the rim is at risk, whether it stands still, what would help.

Nothing here changes the chamber: what would help is said with the line to type.
"""

import datetime as dt
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from controller.core.batch.asks import DAMPEST_PCT, STEP_PCT
from controller.core.memory import Batch
from controller.core.values import Known
from controller.food.bowl.composition import composition_of, is_weighed
from controller.food.drying import USUAL_FAT_PCT, Mix, moisture_protein_ratio, water_activity_at_loss
from controller.food.drying_rate import (
    AW_ERROR,
    DAY_S,
    FAST_PCT_PER_DAY,
    MOST_POINTS,
    VERY_FAST_PCT_PER_DAY,
    for_diameter,
    is_stalled,
    is_unreachable,
    rate_pct_per_day,
    rh_that_reaches_pct,
    surface_activity,
    too_fast_level,
    usual_pct_per_day,
)

LOOK_BACK_DAYS: Final = 2.5
SHORTEST_DAYS: Final = 0.5
AT_BEGIN_S: Final = 2 * 3600.0
"""A weighing so shortly before the drying began still is its first one. Common practice, no source."""
SHOWN_EACH: Final = 4
LOWEST_AW: Final = 0.75
"""Salt water is saturated there (Greenspan 1977: 0.753 at 25 °C); below it the estimate means nothing."""
AIRED_EVERY_S: Final = 60.0
RH_KNOWN_S: Final = 12 * 3600.0
RH_OFF_PCT: Final = 3.0
LOSING: Final = frozenset({"dry", "equalise", "rest"})


def aired(batch: Batch, known: Known, dt_s: float) -> Batch:
    """Return the batch with the mean humidity of the air it dries in, over about a day; in this chamber only.

    Looked at once a minute. What is wanted need not be what the meat gets: many a box does not come down to it.
    """
    rh_pct, stage = known.rh_pct, batch.stage
    if batch.elapsed_s % AIRED_EVERY_S >= dt_s or rh_pct is None:
        return batch
    if stage.kind != "dry" or stage.where != "chamber" or batch.state == "complete":
        return batch
    spell_s = max(dt_s, AIRED_EVERY_S)
    taken_s = batch.rh_mean_s + spell_s
    mean_pct = rh_pct if batch.rh_mean_pct is None else batch.rh_mean_pct
    share = min(spell_s / min(taken_s, DAY_S), 1.0)
    return replace(batch, rh_mean_pct=mean_pct + (rh_pct - mean_pct) * share, rh_mean_s=taken_s)


def rh_of_air(batch: Batch) -> float | None:
    """Return the humidity in % that the meat dries in: the mean of about a day where it is known, else the wanted."""
    return batch.rh_mean_pct if batch.rh_mean_s >= RH_KNOWN_S else batch.stage.rh_pct


class Pace(Struct, frozen=True):
    """Hold how fast the pieces dry, in % of the green weight per day, and over how many days that was seen."""

    slowest: float
    fastest: float
    fastest_piece: str
    days: float


def pace_of(batch: Batch) -> Pace | None:
    """Return how fast the pieces that hang dry now; None outside a drying, or before two weighings of it.

    Each piece's newest weight is held against the one nearest to two and a half days before it. What left before the
    drying (in ferment, smoke or cook, or while it was sealed to even out) is no drying.
    """
    since_s = drying_since_s(batch)
    if since_s is None:
        return None
    rates = []
    for piece, green_g in batch.green_g.items():
        if piece in batch.pieces_out:
            continue
        taken = [(at_s, grams[piece]) for _, at_s, grams in batch.weighings if piece in grams and at_s >= since_s]
        earlier = [pair for pair in taken[:-1] if taken[-1][0] - pair[0] >= SHORTEST_DAYS * DAY_S]
        if not earlier:
            continue
        newest = taken[-1]
        old = min(earlier, key=lambda pair: abs(newest[0] - pair[0] - LOOK_BACK_DAYS * DAY_S))
        rate = rate_pct_per_day(green_g, old, newest)
        if rate is not None:
            rates.append((rate, piece, (newest[0] - old[0]) / DAY_S))
    if not rates:
        return None
    return Pace(min(rates)[0], max(rates)[0], max(rates)[1], min(rates)[2])


def drying_since_s(batch: Batch) -> float | None:
    """Return since when the batch dries without a break, in wall seconds; None where it does not dry now."""
    if batch.stage.kind != "dry" or batch.state == "complete":
        return None
    kinds = {stage.name: stage.kind for stage in batch.profile.stages}
    since_s = batch.stage_began_wall_s
    for end in reversed(batch.ended):
        if kinds.get(end.name) != "dry":
            break
        since_s = end.began_wall_s
    return since_s - AT_BEGIN_S


def mix_of_batch(batch: Batch) -> tuple[Mix, float, bool]:
    """Return the mix, the lactate in mol per kg, and whether the recipe's own fat is known (else 25 % is taken)."""
    per_kg, formula = batch.profile.per_kg, None if batch.sheet is None else batch.sheet.formula
    salt_pct, soured = per_kg.salt_pct + per_kg.cure_pct, batch.profile.starter != "none"
    mix, lactate = composition_of(formula, salt_pct, per_kg.dextrose_pct, soured=soured)
    return mix, lactate, is_weighed(formula)


def judged(batch: Batch) -> Batch:
    """Return the batch with what its newest weighing tells of drying too fast or not at all, for the alarms."""
    pace = pace_of(batch)
    if pace is None:
        return replace(batch, too_fast="", too_fast_level=0, stalled="")
    level = too_fast_level(pace.fastest, batch.diameter_mm)
    limit = for_diameter(FAST_PCT_PER_DAY if level < 2 else VERY_FAST_PCT_PER_DAY, batch.diameter_mm)  # noqa: PLR2004
    fast = (
        f"{pace.fastest_piece} loses {pace.fastest:.1f} % of its green weight a day; above {limit:.1f} % at "
        f"{batch.diameter_mm:.0f} mm the rim {'may harden' if level == 1 else 'hardens and shuts the water in'}."
    )
    target, loss = batch.stage.until.weight_loss_pct, batch.known_loss_pct
    stands = is_stalled(pace.slowest, pace.days) and not (target is not None and loss is not None and loss >= target)
    stalled = f"The slowest piece has lost {pace.slowest:.2f} % a day over {pace.days:.1f} days." if stands else ""
    return replace(batch, too_fast=fast if level else "", too_fast_level=level, stalled=stalled)


def words_of(batch: Batch) -> list[str]:
    """Return the answer to a weighing, a line each; the batch is already the one after it."""
    lines = [loss_words(batch), *_unweighed_words(batch)]
    loss = batch.known_loss_pct
    if loss is None or batch.stage.kind not in LOSING:
        return lines
    if batch.stage.kind == "equalise":
        lines.append("Sealed to even out: a small loss is as it should be here.")
    pace = pace_of(batch)
    if pace is not None:
        low, high = usual_pct_per_day(batch.diameter_mm, loss)
        rate, most = f"{pace.slowest:.2f}", f"{pace.fastest:.2f}"
        rate = rate if rate == most else f"{rate} to {most}"
        usual = f"usual at {batch.diameter_mm:.0f} mm: {low:.1f} to {high:.1f}"
        lines.append(f"{rate} % a day since the weighing {pace.days:.1f} days ago; {usual}.")
    elif batch.stage.kind == "dry":
        lines.append("No rate yet: it takes two weighings of the drying, half a day or more apart.")
    lines.append(_estimates(batch, loss))
    return lines + _warnings(batch, pace, loss)


def _unweighed_words(batch: Batch) -> list[str]:
    """Return which pieces have a green weight and nothing since: they keep a stage open that ends by its loss."""
    pieces = batch.unweighed
    if not pieces or not batch.now_g or batch.stage.until.weight_loss_pct is None:
        return []
    green_s = max(at_s for _, at_s, grams in batch.weighings if pieces[0] in grams)
    day = dt.datetime.fromtimestamp(green_s, dt.UTC)
    have, them = ("has", "it") if len(pieces) == 1 else ("have", "them")
    out = " ".join(f"{piece}=out" for piece in pieces)
    return [
        f"{', '.join(pieces)} {have} not been weighed since {day.day} {day:%b}, and the stage waits for {them};",
        f"weigh {them}, or take {them} out: {out}",
    ]


def loss_words(batch: Batch) -> str:
    """Return what the pieces have lost of their green weight, beside what the stage wants."""
    losses = {piece: loss for piece, loss in batch.losses_pct.items() if piece not in batch.pieces_out}
    losses = losses or batch.losses_pct
    if not losses:
        return "green weights noted."
    target = batch.stage.until.weight_loss_pct
    aim = "" if target is None else f" (the stage ends at {target:g} %)"
    slowest = min(losses, key=lambda piece: losses[piece])
    fastest = max(losses, key=lambda piece: losses[piece])
    if len(losses) == 1:
        return f"{slowest} has lost {losses[slowest]:.1f} % of its green weight{aim}."
    if len(losses) > SHOWN_EACH:
        return f"slowest {slowest} {losses[slowest]:.1f} %, fastest {fastest} {losses[fastest]:.1f} % lost{aim}."
    each = ", ".join(
        f"{piece} {loss:.1f} %{' (slowest)' if piece == slowest else ''}" for piece, loss in sorted(losses.items())
    )
    return f"lost of the green weight: {each}{aim}."


def _estimates(batch: Batch, loss: float) -> str:
    mix, lactate, own = mix_of_batch(batch)
    aw = water_activity_at_loss(mix, loss, lactate)
    if aw < LOWEST_AW:
        return f"No estimate: after {loss:.0f} % its salt would fall out of solution. Is each weight right?"
    ratio = moisture_protein_ratio(mix, loss)
    by = "the recipe" if own else f"{USUAL_FAT_PCT:g} % fat"
    return f"Estimated by {by} and the loss: aw {aw:.2f} ±{AW_ERROR:g}, moisture to protein {ratio:.1f}; not measured."


def _warnings(batch: Batch, pace: Pace | None, loss: float) -> list[str]:
    """Return what is wrong with the drying and what would help, a line each."""
    stage = batch.stage
    if stage.kind != "dry":
        return []
    lines = _air_words(batch)
    too_dry = f"Too fast: {batch.too_fast}" if batch.too_fast else _surface_words(batch, pace, loss)
    if too_dry:
        lines += [too_dry, _advice(batch, STEP_PCT, "dries too fast", "Damper air, less fan")]
    forbidden = _unreachable_words(batch, loss)
    if forbidden:
        lines += forbidden
    elif batch.stalled:
        lines.append(f"Stands still: {batch.stalled} A closed rim? Cut one open; seal it cold some days to even out,")
        lines.append(_advice(batch, -STEP_PCT, "stands still", "or drier air"))
    return lines


def _air_words(batch: Batch) -> list[str]:
    """Return what is to be said where the chamber does not hold the wanted humidity."""
    air_pct, wanted_pct = rh_of_air(batch), batch.stage.rh_pct
    if air_pct is None or wanted_pct is None or abs(air_pct - wanted_pct) <= RH_OFF_PCT:
        return []
    return [f"The air had {air_pct:.0f} % RH on the mean of about a day, {wanted_pct:g} is wanted."]


def _unreachable_words(batch: Batch, loss: float) -> list[str]:
    """Return that the wanted loss lies beyond where drying ends in this air, and what would do; nothing else."""
    air_pct, stage = rh_of_air(batch), batch.stage
    target = stage.until.weight_loss_pct
    if air_pct is None or target is None or loss >= target:
        return []
    mix, lactate, _ = mix_of_batch(batch)
    ends_pct = is_unreachable(mix, lactate, air_pct, target)
    if ends_pct is None:
        return []
    need = rh_that_reaches_pct(mix, lactate, target)
    told = f"{target:g} % is not reached at {air_pct:.0f} % RH: by the estimate drying ends near {ends_pct:.0f} % there"
    lines = [f"{told}; it takes {need} % RH or less."]
    if stage.rh_pct is not None and stage.rh_pct <= need:
        return [
            *lines,
            "What is wanted would do; the air does not come to it: more fresh air, less meat, other place.",
        ]
    step_pct = -STEP_PCT if stage.rh_pct is None else max(need - stage.rh_pct, -STEP_PCT)
    return [*lines, _advice(batch, step_pct, f"{target:g} % is not reached", "Drier air, by steps")]


def _surface_words(batch: Batch, pace: Pace | None, loss: float) -> str:
    """Return the warning that the air asks more of the surface than is usual; empty where it does not."""
    stage, air_pct = batch.stage, rh_of_air(batch)
    if pace is None or air_pct is None or stage.air_temp_c is None:
        return ""
    if pace.fastest <= usual_pct_per_day(batch.diameter_mm, loss)[1]:
        return ""
    mix, lactate, _ = mix_of_batch(batch)
    air = (stage.air_temp_c, air_pct)
    fan_share = stage.fan_min_per_h / 60.0
    surface = surface_activity(mix, lactate, air, pace.fastest, loss, batch.diameter_mm, fan_share)
    points = 100.0 * surface - air_pct
    if points <= MOST_POINTS:
        return ""
    return (
        f"Surface at risk: faster than usual, and the air is {points:.0f} % RH drier than the surface (estimated aw "
        f"{surface:.2f}); 5 to {MOST_POINTS:.0f} is usual."
    )


def _advice(batch: Batch, change_pct: float, because: str, what: str) -> str:
    """Return what would help, with the line to type where this chamber leads the climate."""
    rh_pct = batch.stage.rh_pct
    if batch.stage.where != "chamber" or rh_pct is None:
        return f"{what}: about {abs(change_pct):.0f} % RH {'more' if change_pct > 0.0 else 'less'} where it hangs."
    wanted = min(rh_pct + change_pct, DAMPEST_PCT)
    return f'{what}: hangroom set --rh {wanted:.0f} --because "{because}"'
