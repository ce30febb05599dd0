"""What is answered about the weights at hanging: those that count, what was taken off, and how one is put right."""

from typing import Final

from controller.core.memory import Batch

NOTHING_OFF: Final = "nothing is taken off: were hook and string on the scale, hang with --tare the next time"


def tell_green(name: str, net_g: dict[str, float], tare_g: float) -> str:
    """Return the green weights in words, as they count from now on.

    Args:
        name: the id of the entry.
        net_g: grams of each piece, at least one.
        tare_g: grams that were taken off each.
    """
    piece = next(iter(net_g))
    off = f"{tare_g:.0f} g each for hook and string are off" if tare_g else NOTHING_OFF
    return (
        f"Green weights: {_listed(net_g)}; {off}.\n"
        f"Typed wrong? hangroom weigh {piece}={net_g[piece] + tare_g:.0f} --replaces {name}"
    )


def tell_unweighed(batch: Batch) -> str:
    """Return what cannot be judged where no piece was weighed."""
    ends = [stage.name for stage in batch.profile.stages if stage.until.weight_loss_pct is not None]
    waits = f" {', '.join(ends)} cannot end by weight before that." if ends else ""
    return (
        "No piece was weighed: its loss cannot be judged. Weigh some marked pieces now, within the hour: hangroom "
        f"weigh A=412 B=398.{waits}"
    )


def instead_of_hanging(batch: Batch) -> str:
    """Return how a weight is typed or put right after hanging."""
    if not batch.weighings:
        return "weights are typed so: hangroom weigh A=412 B=398 (the first one of a piece is its green weight)"
    name, _, grams = batch.weighings[0]
    piece, net_g = next(iter(grams.items()))
    return (
        f"its green weights are {_listed(grams)}. A wrong one is put right so, with what the scale should have said: "
        f"hangroom weigh {piece}={net_g + batch.tare_g:.0f} --replaces {name}; a new piece: hangroom weigh PIECE=GRAMS"
    )


def _listed(grams: dict[str, float]) -> str:
    return ", ".join(f"{piece} {value:.0f} g" for piece, value in grams.items())
