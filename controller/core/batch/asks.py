"""What a stage asks of a person, in the order in which it is to be done."""

from typing import Final

from controller.core.figures import degrees
from controller.core.plan import Stage

STEP_PCT: Final = 3.0
DAMPEST_PCT: Final = 92.0
"""One step of damper air, and how far it goes at most, in %RH. Common practice, no source."""


def stage_asks(stage: Stage) -> str:
    """Return the sentences for a person as this stage begins, the profile's note last; empty where there are none."""
    words = {"smoke": _smoke, "cook": _cook, "chill": _chill, "equalise": _equalise}.get(stage.kind)
    return " ".join(part for part in ("" if words is None else words(stage), stage.note) if part)


def _smoke(stage: Stage) -> str:
    at_c = "" if stage.air_temp_c is None else f" near {degrees(stage.air_temp_c)}"
    lasts = f", {stage.at_least_h:g} h or longer" if stage.at_least_h > 0.0 else ""
    say = "hangroom smoker 20C" if stage.air_temp_c is None else f"hangroom smoker {stage.air_temp_c:.0f}C"
    here = " Mist stays off. Carbon monoxide: never in a closed room." if stage.where == "chamber" else ""
    return (
        "First let the surface dry until it is tacky, then say: hangroom look --look tacky. Then smoke"
        f"{at_c}{lasts}. How warm is it? {say}.{here}{_end(stage)}"
    )


def _cook(stage: Stage) -> str:
    at_c = "" if stage.air_temp_c is None else f" at {degrees(stage.air_temp_c)} in moist heat"
    return (
        f"Cook{at_c}. Measure the core of several thick pieces every few minutes, each by name: hangroom core "
        f"60C --piece A. The lowest counts, and between two readings the lower one.{_end(stage)}"
    )


def _chill(stage: Stage) -> str:
    return (
        "Into cold water or ice at once; measure the core until it is cold: hangroom core 26C. What counts is the time "
        f"from the last hot reading.{_end(stage)}"
    )


def _equalise(stage: Stage) -> str:
    cold = "cold" if stage.air_temp_c is None else f"at {degrees(stage.air_temp_c)}"
    days = "" if stage.until.hours is None else f" for {stage.until.hours / 24.0:.1f} days".replace(".0 days", " days")
    return f"Seal the pieces airtight and keep them {cold}{days}: the water evens out, nothing is to be lost."


def damper_air(rh_pct: float | None) -> str:
    """Return what to do where it dries too fast, with the line to type.

    Args:
        rh_pct: what is wanted of the chamber's air; None where this chamber does not lead it.
    """
    if rh_pct is None:
        return "Make the air damper by 2 or 3 points and the fan weaker where it hangs."
    damper_pct = min(rh_pct + STEP_PCT, max(DAMPEST_PCT, rh_pct))
    return f'Make the air damper and the fan weaker: hangroom set --rh {damper_pct:.0f} --because "too fast"'


def _end(stage: Stage) -> str:
    until = stage.until
    core = "" if until.core_temp_c is None else f" It ends at {degrees(until.core_temp_c)} in the coolest piece."
    return core + (" Say when it is done: hangroom confirm." if until.confirm else "")
