"""What of a profile is well typed but cannot be meant: a ferment without a pH, an end that never comes, °F for °C."""

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from controller.food.degree_hours import BASE_C, TARGET_PH
from controller.settings.profile_parts import temp_c_of, until_of, values_of, where_of
from controller.settings.profile_recipe_checks import check_kill_step, check_kinds, check_starter
from controller.settings.profile_tables import PERSONS_KINDS
from controller.settings.reader import Table, fahrenheit_hint
from controller.settings.units import to_c

LOWEST_FERMENT_C: Final = 12.0
HIGHEST_FERMENT_C: Final = 45.0
"""Between the slow ferment of a cellar and the fast one at 110 °F. Common practice, no source."""
LOWEST_PH: Final = 4.2
"""The final pH with an excess of sugar is 4.5 to 4.75; the starters stop at about 4.4 (model of acidification)."""
TABLE_TEMP_C: Final = 45.0
"""Above it only smoke and cook are meant."""
HOT_KINDS: Final = {"smoke", "cook"}
CORE_KINDS: Final = {"smoke", "cook"}

MOST_LOSS_PCT: Final = (
    (75.0, 45.0),
    (78.0, 43.8),
    (82.0, 41.5),
    (85.0, 39.0),
    (88.4, 35.0),
    (90.9, 30.0),
    (93.7, 20.0),
    (96.1, 0.0),
)
"""%RH and the weight loss at which a sausage of 25 % fat and 2.7 % salt is in balance with it. Calculated from the
water activity of such a mix (salt by Pitzer's equation, meat by an isotherm): other mixes differ by some per cent."""

_NAME: Final = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


def check_profile(profile: Table) -> None:
    """Add a problem for everything that cannot be meant, beside what the reader has found already."""
    _check_head(profile)
    stages = profile.tables("stage")
    for stage in stages:
        _check_temp(stage)
        _check_end(stage)
        _check_pieces(stage)
        if stage.get("kind") == "ferment":
            _check_ferment(stage, profile)
        else:
            _check_cook(stage)
            _check_other(stage)
    _check_order(profile, stages)


def most_loss_pct(rh_pct: float) -> float:
    """Return the weight loss in % that air of this humidity ends at, by straight lines through the table."""
    if rh_pct <= MOST_LOSS_PCT[0][0]:
        return MOST_LOSS_PCT[0][1]
    for (low, more), (high, less) in pairwise(MOST_LOSS_PCT):
        if rh_pct <= high:
            return more + (less - more) * (rh_pct - low) / (high - low)
    return 0.0


def _check_head(profile: Table) -> None:
    name, cure, style = profile.get("name"), profile.get("cure"), profile.get("style")
    if name is not None and not _NAME.fullmatch(name):
        profile.say("name", 'must be small letters, digits and hyphens, as "tangy": folders are named after it')
    if style == "cooked" and cure == "2":
        profile.say("cure", 'no. 2 is for raw sausage that dries for weeks; a cooked one takes "1"')
    check_starter(profile)
    per_kg = profile.tables("per_kg")
    if cure == "other" and per_kg and per_kg[0].get("cure_pct") == 0.0:
        per_kg[0].say("cure_pct", "another cure is named, but none of it goes in; say how much of the meat's weight")


def _check_temp(stage: Table) -> None:
    if "air_temp_c" in stage.raw and "air_temp_f" in stage.raw:
        stage.say("air_temp_f", "air_temp_c is given too; leave one of them out")
        return
    name = _temp_name(stage)
    temp_c, kind = temp_c_of(stage), stage.get("kind")
    if stage.problems.of(stage.key(name)) or kind is None:
        return
    if temp_c is None:
        if kind == "ferment":
            stage.say(
                "air_temp_c",
                "missing; a ferment needs its temperature wherever it stands, or no degree-hours are counted: "
                "air_temp_c = 24.0",
            )
        elif where_of(stage) == "chamber":
            stage.say("air_temp_c", "missing; what is done in the chamber needs a temperature, as air_temp_c = 13.0")
        return
    ferment = kind == "ferment"
    low_c = LOWEST_FERMENT_C if ferment else -5.0
    high_c = HIGHEST_FERMENT_C if ferment else TABLE_TEMP_C
    if low_c <= temp_c <= high_c or (kind in HOT_KINDS and where_of(stage) == "elsewhere"):
        return
    hint = fahrenheit_hint(temp_c) if name == "air_temp_c" and low_c <= to_c(temp_c) <= high_c else ""
    write = f" Then write air_temp_f = {temp_c:g}" if hint else ""
    stage.say(name, f"a {kind} stage lies between {low_c:g} and {high_c:g} °C{hint}{write}")


def _temp_name(stage: Table) -> str:
    return "air_temp_f" if "air_temp_f" in stage.raw else "air_temp_c"


def _check_end(stage: Table) -> None:
    """See that the stage's end can come true, whatever its kind."""
    until = until_of(stage)
    if until is None:
        return
    if not until.raw or until.raw == {"confirm": False}:
        stage.say("until", "names nothing that ends the stage; as until = { hours = 24 }")
        return
    at_most_h, at_least_h, hours = stage.get("at_most_h"), stage.get("at_least_h"), until.get("hours")
    if at_most_h is not None:
        if hours is not None and hours > at_most_h:
            until.say("hours", f"never comes before at_most_h = {at_most_h:g}; take less, or a later at_most_h")
        if at_least_h is not None and at_least_h > at_most_h:
            stage.say("at_least_h", f"is more than at_most_h = {at_most_h:g}; take less")
    ramp_h = stage.get("ramp_h")
    if ramp_h and at_most_h is not None and ramp_h > at_most_h:
        stage.say("ramp_h", f"is longer than at_most_h = {at_most_h:g}; take less")
    ph = until.get("ph_at_most")
    if ph is not None and not LOWEST_PH <= ph <= TARGET_PH:
        why = "higher counts as not fermented" if ph > TARGET_PH else "starters stop before that"
        until.say("ph_at_most", f"must lie between {LOWEST_PH:g} and {TARGET_PH:g}: {why}")
    loss_pct, rh_pct = until.get("weight_loss_pct"), stage.get("rh_pct")
    if loss_pct is not None and rh_pct is not None and loss_pct >= most_loss_pct(rh_pct):
        until.say(
            "weight_loss_pct",
            f"is never reached at rh_pct = {rh_pct:g}, drying ends near {most_loss_pct(rh_pct):.0f} %; "
            "take less, or drier air",
        )


def _check_pieces(stage: Table) -> None:
    """See to the fields that stand alone."""
    name = stage.get("name")
    if name is not None and not (name.strip() and name.isprintable()):
        stage.say("name", 'must be a name on one line, as "ferment"')
    if stage.get("elsewhere_if_unfit") and where_of(stage) == "elsewhere":
        stage.say("elsewhere_if_unfit", 'the stage is elsewhere anyhow; leave this out, or where = "chamber"')
    due_h: Sequence[float] = stage.get("ph_due_h") or ()
    if not due_h:
        return
    until = until_of(stage)
    if stage.get("kind") not in {"ferment", None} and not (until is not None and "ph_at_most" in until.raw):
        stage.say("ph_due_h", "hours after hanging belong to a stage that ends on a pH; leave it out here")
    elif due_h[0] <= 0.0 or any(later <= earlier for earlier, later in pairwise(due_h)):
        stage.say(
            "ph_due_h", "must be hours after hanging, above 0 and each later than the one before, as [12, 16, 20]"
        )


def _check_ferment(stage: Table, profile: Table) -> None:
    until = until_of(stage)
    if until is not None and not stage.problems.of(stage.key("until")):
        if "ph_at_most" not in until.raw:
            until.say("ph_at_most", "missing; a ferment ends only on a measured pH, as ph_at_most = 5.2")
        if "weight_loss_pct" in until.raw:
            until.say("weight_loss_pct", "a ferment ends on its pH; put the loss into a stage of kind dry")
        if "core_temp_c" in until.raw:
            until.say("core_temp_c", "a ferment does not reach it; put it into a stage of kind cook")
    starter_c, temp_c = profile.get("starter_temp_c"), temp_c_of(stage)
    if temp_c is not None and round(temp_c, 1) <= BASE_C and stage.get("at_most_h") is None:
        stage.say(
            "at_most_h",
            "missing; at or below 15.6 °C (60 °F) degree-hours count nothing, so the days must have an end: "
            "at_most_h = 240",
        )
    bad = any(profile.problems.of(key) for key in ("starter_temp_c", stage.key("air_temp_c"), stage.key("air_temp_f")))
    if starter_c is not None and temp_c is not None and not bad and not starter_c[0] <= temp_c <= starter_c[1]:
        stage.say(
            _temp_name(stage),
            f"outside starter_temp_c = [{starter_c[0]:g}, {starter_c[1]:g}] of this starter; "
            "take a temperature inside, or another starter",
        )


def _check_cook(stage: Table) -> None:
    if stage.get("kind") == "cook" and where_of(stage) == "chamber":
        stage.say("where", 'the chamber does not cook: it cuts all heat far below; take where = "elsewhere"')


def _check_other(stage: Table) -> None:
    """See to the ends of stages that are no ferment."""
    kind, until = stage.get("kind"), until_of(stage)
    if kind is None or until is None or stage.problems.of(stage.key("until")):
        return
    if "core_temp_c" in until.raw:
        if kind not in CORE_KINDS:
            until.say("core_temp_c", f"a {kind} stage does not reach it; it belongs to a stage of kind cook")
        elif kind != "cook" and where_of(stage) == "chamber":
            until.say("core_temp_c", 'the chamber does not cook; take where = "elsewhere"')
    if kind == "warm-up":
        for name in ("ph_at_most", "weight_loss_pct"):
            if name in until.raw:
                until.say(name, "never comes: no meat hangs while the empty chamber warms; take confirm = true")
        if not until.get("confirm") and not stage.problems.of(until.key("confirm")):
            until.say("confirm", "missing; a warm-up waits until the meat is hung: confirm = true")
    by_person = "confirm" in until.raw or (kind == "cook" and "core_temp_c" in until.raw)
    if kind in PERSONS_KINDS and where_of(stage) == "elsewhere" and not by_person:
        core = " or core_temp_c" if kind == "cook" else ""
        until.say("confirm", f"missing; only you know when a {kind} elsewhere is done: confirm = true{core}")


def _check_order(profile: Table, stages: Sequence[Table]) -> None:
    """See to what the stages have to do with each other."""
    names: dict[str, str] = {}
    for stage in stages:
        name = stage.get("name")
        if name in names:
            stage.say("name", f"{names[name]} is called so too; each stage needs a name of its own")
        names.setdefault(name, stage.prefix.rstrip("."))
    losses = [(until, loss) for until, loss in values_of(stages, "weight_loss_pct")]
    for (_, earlier), (until, later) in pairwise(losses):
        if later <= earlier:
            until.say(
                "weight_loss_pct", f"an earlier stage ends at {earlier:g} % already; take more, of the green weight"
            )
    if stages and all(stage.get("kind") is not None for stage in stages):
        check_kinds(profile, stages)
        check_kill_step(profile, stages)
