"""Whether what the scale showed can be so: slips of hand, unit, tare and name, each asked back before it counts."""

from collections.abc import Mapping
from difflib import get_close_matches
from math import pi
from typing import Final

from controller.core.memory import Batch
from controller.core.people.desk import HEAVIEST_KG, Refused
from controller.core.requests import Request
from controller.core.values import Event
from controller.food.drying_rate import DAY_S, for_diameter
from controller.food.germs.measured import time_words

MORE_G: Final = 2.0
MORE_SHARE: Final = 0.005
"""A kitchen scale shows whole grams, each time one too many or too few; a larger piece swings. Common practice."""
MOST_PCT_PER_DAY: Final = 8.0
"""Of 55 mm: 7.3 % leave in the first day before a fan at 60 %RH (model of the drying table); nothing dries faster."""
SPARE_PCT: Final = 3.0
HOT_PCT: Final = 20.0
"""What a smoke or a cook may take besides; common practice, no source."""
TOGETHER: Final = 1.1
"""The pieces together against the meat: salt, spices and water come on top of it. Common practice, no source."""
STUMP_CM: Final = 4.0
"""No piece that is hung and marked is shorter; common practice, no source."""
MEAT_G_PER_CM3: Final = 1.05
"""Of lean meat; from memory."""
HOOKS_G: Final = (3.0, 80.0)
SLIPS: Final = (
    ("lb typed as kg?", 2.2046226),
    ("kg typed as lb?", 0.45359237),
    ("oz typed as g?", 1.0 / 28.349523),
    ("g typed as oz?", 28.349523),
    ("a decimal point slipped?", 0.1),
    ("a decimal point slipped?", 10.0),
    ("kg typed as g?", 0.001),
    ("g typed as kg?", 1000.0),
)
"""What a weight is multiplied by where its unit was taken for another (1 lb = 0.45359237 kg, 1959 agreement)."""


def net_of(gross_g: Mapping[str, float], tare_g: float) -> dict[str, float]:
    """Return the net grams of each piece. Raises Refused where nothing, or more than can be, is left."""
    if not 0.0 <= tare_g < HEAVIEST_KG * 1000.0:
        raise Refused(f"--tare {tare_g:g}: hook and string weigh 0 g or more")
    net_g = {}
    for piece, grams in gross_g.items():
        if not 0.0 < grams < HEAVIEST_KG * 1000.0:
            raise Refused(f"{piece}={grams:g}: a weight is more than 0 g, and no piece weighs that much")
        net_g[piece] = round(grams - tare_g, 3)
        if net_g[piece] <= 0.0:
            raise Refused(f"{piece}={grams:g}: without hook and string ({tare_g:.0f} g) nothing is left; say --tare 0")
    return net_g


def note_of(gross_g: float, tare_g: float, note: str) -> str:
    """Return the remark beside a net weight: what the scale showed, and what was taken off."""
    shown = f"{gross_g:g} g gross, tare {tare_g:g} g" if tare_g > 0.0 else ""
    return "; ".join(part for part in (shown, note) if part)


def doubt_about(batch: Batch, at_wall_s: float, net_g: Mapping[str, float], tare_g: float, replaces: str) -> str:
    """Return the question that a weighing deserves, in words for the person; empty where it can be so.

    Args:
        batch: the batch before it.
        at_wall_s: when it was weighed.
        net_g: grams of each piece without hook and string.
        tare_g: what was taken off each.
        replaces: the entry that it corrects, which then does not count.
    """
    together = doubt_of_all(batch, net_g)
    if together:
        return together
    at_s = next((at_s for name, at_s, _ in batch.weighings if name == replaces), at_wall_s)
    for piece, grams in net_g.items():
        if batch.green_g and piece not in batch.green_g:
            return stranger(piece, batch)
        before = _before(batch, piece, at_s, replaces)
        if before is not None:
            asked = _against(batch, piece, grams, tare_g, before, at_s)
            if asked:
                return asked
    return ""


def asked_back(question: str, request: Request, batch: Batch) -> Refused:
    """Return the refusal of what may be a slip: the question, and how to say that it is none.

    It stands in the events too: it may have been typed while nobody could be asked back.
    """
    ended = question if question.endswith("?") else f"{question}."
    event = Event("refused", f"Not taken: {ended}", id=request.id, actor=request.actor, batch=batch.id)
    return Refused(f"{ended} If it is so, say it again with --sure", event)


def doubt_of_all(batch: Batch, net_g: Mapping[str, float]) -> str:
    """Return the question that pieces deserve which are heavier together than the meat of the batch."""
    total_kg = sum(net_g.values()) / 1000.0
    if batch.meat_kg <= 0.0 or total_kg <= batch.meat_kg * TOGETHER:
        return ""
    return (
        f"{total_kg:.2f} kg together, but the batch has {round(batch.meat_kg, 2):g} kg of meat: lb for kg, or a digit "
        "too many?"
    )


def doubt_of_light(batch: Batch, net_g: Mapping[str, float]) -> str:
    """Return the question that a piece deserves which is lighter than a stump of its casing."""
    least_g = STUMP_CM * 0.25 * pi * (batch.diameter_mm / 10.0) ** 2 * MEAT_G_PER_CM3
    for piece, grams in net_g.items():
        if grams < least_g:
            near = next((words for words, factor in SLIPS[2:] if grams / factor >= least_g), "is it so light?")
            return (
                f"{piece}: {grams:.0f} g is less than {STUMP_CM:g} cm of {batch.diameter_mm:.0f} mm casing weigh "
                f"({least_g:.0f} g): {near}"
            )
    return ""


def stranger(piece: str, batch: Batch) -> str:
    """Return the question that a name deserves which no weighed piece has."""
    lower = {name.lower(): name for name in batch.green_g}
    near = get_close_matches(piece.lower(), lower, n=1, cutoff=0.5)
    hint = f"did you mean {lower[near[0]]}?" if near else "is it a new one?"
    return f"{piece}: has never been weighed, known are {', '.join(sorted(batch.green_g))}; {hint}"


def _before(batch: Batch, piece: str, at_s: float, replaces: str) -> tuple[float, float, str] | None:
    """Return (wall seconds, grams, id) of the last weighing of this piece before this instant."""
    found = [(when, grams[piece], name) for name, when, grams in batch.weighings if piece in grams and name != replaces]
    return max((pair for pair in found if pair[0] <= at_s), default=None)


def _against(
    batch: Batch, piece: str, grams: float, tare_g: float, before: tuple[float, float, str], at_s: float
) -> str:  # fmt: skip
    before_s, before_g, name = before
    days = (at_s - before_s) / DAY_S
    said = f"{piece}: {grams:.0f} g"
    slip = f" If {before_g:.0f} g was the slip: hangroom weigh {piece}=GRAMS --replaces {name}"
    hint = _hint(batch, grams, tare_g, before_g)
    hint = hint if hint.endswith("?") else f"{hint}."
    if grams > before_g + max(MORE_G, MORE_SHARE * before_g):
        return f"{said} is more than {before_g:.0f} g, as it was {time_words(24.0 * days)} before. {hint}{slip}"
    lost_pct = 100.0 * (before_g - grams) / batch.green_g.get(piece, before_g)
    most_pct = SPARE_PCT + for_diameter(MOST_PCT_PER_DAY, batch.diameter_mm) * days + _hot_pct(batch, before_s)
    if lost_pct > most_pct:
        return (
            f"{said} would be {lost_pct:.0f} % of the green weight lost in {time_words(24.0 * days)}, "
            f"from {before_g:.0f} g; {batch.diameter_mm:.0f} mm lose {most_pct:.0f} % at most. "
            f"{hint}{slip}"
        )
    return ""


def _hot_pct(batch: Batch, since_s: float) -> float:
    kinds = {stage.name: stage.kind for stage in batch.profile.stages}
    kinds_since = {kinds.get(end.name) for end in batch.ended if end.ended_wall_s > since_s} | {batch.stage.kind}
    return HOT_PCT if kinds_since & {"smoke", "cook"} else 0.0


def _hint(batch: Batch, grams: float, tare_g: float, before_g: float) -> str:
    """Return what was probably meant."""
    near_g = max(MORE_G, 0.03 * before_g)
    over_g = grams - before_g
    if over_g > 0.0:
        if batch.tare_g > tare_g and abs(over_g - (batch.tare_g - tare_g)) <= near_g:
            return f"Hook and string forgotten? Last time: --tare {batch.tare_g:.0f}"
        if tare_g == 0.0 and HOOKS_G[0] <= over_g <= HOOKS_G[1]:
            return "Are hook and string in it? Say what they weigh: --tare 18"
    elif tare_g > 0.0 and abs(over_g + tare_g) <= near_g:
        return f"Were hook and string ({tare_g:.0f} g) off already? Then --tare 0"
    for words, factor in SLIPS:
        if 0.8 <= grams / before_g / factor <= 1.06:  # noqa: PLR2004 - what it may have lost since
            return words[0].upper() + words[1:]
    return "Weigh it again"
