"""Whether starter, ferment and kill step of a profile go together."""

from collections.abc import Sequence
from typing import Final

from controller.food.germs.kill_steps import KILL_STEPS, kill_step_of
from controller.settings.problems import nearest, written
from controller.settings.profile_parts import names_of, until_of, values_of
from controller.settings.reader import Table, fahrenheit_hint
from controller.settings.units import to_c

COLDEST_STARTER_C: Final = 2.0
WARMEST_STARTER_C: Final = 50.0
"""Between the cold end of a mesophilic label and the warm end of a thermotolerant one. Common practice, no source."""
LOWEST_STARTER_TOP_C: Final = 12.0
"""No label's warm end is colder: a number that is warmer in °F was meant in °F."""
COOKED_C: Final = 45.0
"""Above it a core is cooked, not fermented."""


def check_starter(profile: Table) -> None:
    """See that there is a starter with its range and dose, or nothing of it."""
    starter, starter_c = profile.get("starter"), profile.get("starter_temp_c")
    per_kg = profile.tables("per_kg")
    dose = per_kg[0].raw.get("starter_g_per_kg") if per_kg else None
    if starter == "none":
        if "starter_temp_c" in profile.raw:
            profile.say("starter_temp_c", "no starter goes in; leave it out")
        if dose:
            per_kg[0].say("starter_g_per_kg", 'starter = "none", so none goes in; leave it out')
        return
    if dose == 0:
        per_kg[0].say("starter_g_per_kg", 'without a starter nothing sours in time; as 0.25, or starter = "none"')
    if starter_c is None:
        if starter is not None and "starter_temp_c" not in profile.raw:
            profile.say("starter_temp_c", "missing; the range on the starter's label, as [18, 32]")
        return
    low_c, high_c = starter_c
    if not COLDEST_STARTER_C <= min(starter_c) <= max(starter_c) <= WARMEST_STARTER_C:
        hint = fahrenheit_hint(high_c) if LOWEST_STARTER_TOP_C <= to_c(high_c) <= WARMEST_STARTER_C else ""
        profile.say("starter_temp_c", f"starters work between 2 and 50 °C, as its label says{hint}")
    elif low_c > high_c:
        profile.say("starter_temp_c", f"the lower comes first: [{high_c:g}, {low_c:g}]")


def check_kinds(profile: Table, stages: Sequence[Table]) -> None:
    """See that the kinds of the stages go with starter, mould and style; the kind of each must be known."""
    kinds = [stage.get("kind") for stage in stages]
    if "ferment" not in kinds:
        _check_unfermented(profile, stages)
    elif profile.get("starter") == "none":
        profile.say("starter", f"{names_of(stages, 'ferment')} ferments; name a starter, or leave that stage out")
    elif kinds[0] not in {"warm-up", "ferment"}:
        stages[0].say("kind", 'the first stage is a warm-up of the empty chamber, or the ferment: "warm-up"')
    if profile.get("mould") and "smoke" in kinds:
        smoke = names_of(stages, "smoke")
        profile.say("mould", f"white mould does not grow on smoke; leave out {smoke}, or mould = false")
    if profile.get("style") == "cooked" and "cook" not in kinds:
        profile.say("style", 'no stage cooks; add one of kind cook, or take "raw-dried"')
    if profile.get("style") == "raw-dried" and "cook" in kinds:
        profile.say("style", f'{names_of(stages, "cook")} cooks; take "cooked"')


def _check_unfermented(profile: Table, stages: Sequence[Table]) -> None:
    """See that what was fermented elsewhere shows its pH before anything else is done to it."""
    if profile.get("starter") in {"mesophilic", "thermotolerant"}:
        profile.say(
            "stage",
            'none is a ferment; a starter without one does nothing: kind = "ferment", or starter = "none" for what was '
            "fermented elsewhere",
        )
        return
    first = stages[0]
    until = until_of(first)
    if first.get("kind") != "rest":
        first.say("kind", 'without a ferment the first stage waits for the pH on arrival: "rest"')
    elif until is not None and "ph_at_most" not in until.raw:
        until.say("ph_at_most", "missing; what was fermented elsewhere shows its pH on arrival, as ph_at_most = 5.3")


def check_kill_step(profile: Table, stages: Sequence[Table]) -> None:
    """See that the process which the profile names is published, and that the stages go as far as it asks."""
    name = profile.get("kill_step")
    if not name or profile.problems.of("kill_step"):
        return
    try:
        step = kill_step_of(name)
    except KeyError:
        known = tuple(step.id for step in KILL_STEPS)
        guess = nearest(name, known)
        hint = f"did you mean {written(guess)}?" if guess else f"there are {', '.join(known)}"
        profile.say("kill_step", f"no such process; {hint}")
        return
    acids = [ph for _, ph in values_of(stages, "ph_at_most")]
    if step.ph is not None and step.ph[0] == "<=" and acids and min(acids) > step.ph[1]:
        at_most = f"{step.ph[1]:g}"
        profile.say("kill_step", f"asks for pH {at_most} or lower; no stage waits for it: ph_at_most = {at_most}")
    cores = [hold.temp_f for hold in step.steps if hold.of == "core"]
    core_c = round(to_c(max(cores)), 1) if cores else None
    reached = [temp_c for _, temp_c in values_of(stages, "core_temp_c")]
    if core_c is not None and core_c > COOKED_C and max(reached, default=0.0) < core_c:
        profile.say("kill_step", f"asks for {core_c:g} °C in the core; no stage waits for it: core_temp_c = {core_c:g}")
