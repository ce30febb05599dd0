"""The interview: what is asked, how an answer is read, and how the answers come together.

Every answer is an option too; the command asks at a terminal for what is missing. Figures without their unit are
refused with the question where the unit could be mistaken.
"""

import datetime as dt
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, Final

from controller.core.plan import Profile
from controller.core.sheet import StarterChoice
from controller.food.germs.trichinae import needs_option
from controller.planning import meats, typed
from controller.planning.answers import Accelerator, Answers
from controller.planning.bowl.meat import WITH_COLI
from controller.planning.question import Question
from controller.settings.chamber_file import ChamberFile
from controller.settings.units import to_f


def questions(profile: Profile, chamber: ChamberFile) -> tuple[Question, ...]:
    """Return all questions, in the order in which a maker thinks of them; `concerns` says which of them are asked."""
    room_c = sum(chamber.room_temp_c) / 2.0
    here = any(stage.kind == "dry" and stage.where == "chamber" for stage in profile.stages)
    in_f = chamber.units == "F"
    room = f"{to_f(room_c):g}F" if in_f else f"{room_c:g}C"
    meat_words = '"pork shoulder 10lb 25%"' if in_f else '"pork shoulder 4kg 25%"'
    waking, noon = ("7am-10pm", "2pm") if in_f else ("7:00-22:00", "14:30")
    return (
        Question("meats", "--meat", f"Which meat, how much, how fat? As {meat_words}", meats.meat, many=True),
        Question("casing", "--casing", 'Which casing? As "natural 55mm"', typed.casing),
        Question("starter", "--starter", "Which starter? Its name, as on the packet", typed.words),
        Question(
            "starter_dose", "--starter-dose", "Its dose, as the label has it, as 0.25g/kg or 25g per 100lb",
            typed.grams_per_kg, f"{profile.per_kg.starter_g_per_kg:g}g/kg",
        ),
        Question(
            "starter_range", "--starter-range", f"For which temperatures? As {'64F-90F' if in_f else '18C-32C'}",
            typed.temp_range_c,
        ),
        Question("starter_left", "--starter-left", "How much is left? As 20g", typed.grams_or_unknown, "unknown"),
        Question("starter_opened", "--starter-opened", "Opened when? As 2026-01-30", typed.day_or_new, "new"),
        Question("starter_expires", "--starter-expires", "Its date? As 2027-01-30", typed.packet_day, "none"),
        Question("cure", "--cure", "Which cure: 1, 2, other or none?", typed.cure, profile.cure),
        Question(
            "strength", "--cure-strength",
            "How strong is the cure, by its pack? Nitrite as 6.25%, with nitrate as 6.25%+4%", typed.strength,
        ),
        Question("scale_g", "--scale", "What does the fine scale show at best? As 0.1g", typed.scale, "0.1g"),
        Question("spices", "--spice", 'Spices? Each as "black pepper=3g/kg"', typed.spice, "", many=True),
        Question("room_c", "--room", f"How warm is the chamber's room? As {room}", typed.room_c, room),
        Question("smokes", "--smokes", "Where is it smoked? A place, or no", typed.place, "no"),
        Question("dries", "--dries", "Where does it dry?", typed.place, "chamber" if here else "elsewhere"),
        Question(
            "trichinae", "--trichinae", "Which option against trichinae? Its name, none yet, or help",
            typed.trichinae, "none",
        ),
        Question(
            "kill_step", "--kill-step", "Which process against E. coli? Its name, or help", typed.kill_step, "none"
        ),
        Question("awake", "--awake", f"When are you awake to measure? As {waking}", typed.awake, "7:00-23:00"),
        Question("authority", "--authority", "Under whose rules: us, canada, eu or uk?", typed.authority, "us"),
        Question("stuffing", "--stuffing", f"When is the stuffing to be done? As {noon}, or auto", typed.words, "auto"),
    )  # fmt: skip


def concerns(question: Question, profile: Profile, given: Mapping[str, Any]) -> bool:
    """Say whether this is asked at all, by the profile and by what is known already."""
    kinds = {stage.kind for stage in profile.stages}
    block = given.get("meats", ())
    raw = "cook" not in kinds
    trichinae = raw and any(needs_option([meat.species]) and not meat.treated for meat in block)
    coli = raw and not profile.kill_step and any(meat.species in WITH_COLI for meat in block)
    where = {
        "strength": given.get("cure") != "none",
        "smokes": "smoke" in kinds,
        "dries": "dry" in kinds,
        "trichinae": trichinae,
        "kill_step": coli,
    }
    return profile.starter != "none" if question.key.startswith("starter") else where.get(question.key, True)


def read_rest(said: Mapping[str, Any]) -> dict[str, Any]:
    """Read the options that nobody is asked for; what was not typed is left out. Raises UsageError, DataError."""
    return {key: read(said[key]) for key, read in REST.items() if said.get(key)}


def answers_of(given: Mapping[str, Any], profile: Profile, chamber: ChamberFile, now_wall_s: float) -> Answers:
    """Put the answers together; what was not asked is as the profile or the usual has it.

    Args:
        given: read values by key; a missing key is what nobody was asked and nobody said.
        profile: for what stands there.
        chamber: for its zone of time.
        now_wall_s: what time it is.

    Raises:
        UsageError: the hour of stuffing cannot be understood.
    """
    zone = typed.zone(chamber.timezone)
    kind, diameter_mm = given["casing"]
    stuffing = given.get("stuffing", "auto")
    used = next((key for key in ACCELERATOR_OF if given.get(key)), None)
    plain = {key: given[key] for key in PLAIN if given.get(key) is not None}
    return Answers(
        meats=tuple(given["meats"]),
        casing=kind,
        diameter_mm=diameter_mm,
        starter=_starter(given),
        starter_expires=given.get("starter_expires") or "",
        cure=given.get("cure", profile.cure),
        strength=None if given.get("cure") == "none" else given.get("strength"),
        accelerator="" if used is None else ACCELERATOR_OF[used],
        accelerator_pct=0.0 if used is None else given[used],
        spices=tuple(given.get("spices", ())),
        trichinae=given.get("trichinae") or "",
        kill_step=given.get("kill_step") or profile.kill_step,
        mould=bool(given.get("mould")) or profile.mould,
        on=dt.datetime.fromtimestamp(now_wall_s, zone).date(),
        timezone=chamber.timezone,
        units=chamber.units,
        now_wall_s=now_wall_s,
        stuffing_wall_s=None if stuffing == "auto" else typed.coming_s(stuffing, zone, now_wall_s),
        **plain,
    )


ACCELERATOR_OF: Final[dict[str, Accelerator]] = {
    "erythorbate_pct": "erythorbate",
    "ascorbate_pct": "ascorbate",
    "ascorbic_acid_pct": "ascorbic acid",
    "erythorbic_acid_pct": "erythorbic acid",
}
REST: Final[Mapping[str, Callable[[Any], Any]]] = {
    **{
        key: partial(typed.share_pct, what=f"--{key.replace('_', '-')}")
        for key in ("cure_pct", "salt_pct", "dextrose_pct", *ACCELERATOR_OF)
    },
    "salt_nitrite_pct": partial(typed.share_pct, what="--salt-nitrite"),
    "aim_ph": typed.aim_ph,
    "starter_water_g": partial(typed.grams, what="--starter-water"),
    "big_scale_g": partial(typed.grams, what="--big-scale"),
    "meat_c": typed.meat_c,
    "waits_cold_h": typed.hours,
    "criteria": typed.criteria,
    "trichinae": typed.trichinae,
    "kill_step": typed.kill_step,
    "mould": bool,
    "accepted": tuple,
    "kept": str,
}
"""How the options are read that nobody is asked for, or that not every batch is asked for."""
PLAIN: Final = {
    "cure_pct", "salt_pct", "salt_nitrite_pct", "dextrose_pct", "aim_ph", "starter_water_g", "scale_g", "big_scale_g",
    "room_c", "meat_c", "smokes", "dries", "authority", "waits_cold_h", "awake", "criteria", "accepted", "kept",
}  # fmt: skip
"""Keys that are named as the fields of the answers."""


def _starter(given: Mapping[str, Any]) -> StarterChoice | None:
    if given.get("starter") is None:
        return None
    return StarterChoice(
        name=given["starter"],
        dose_g_per_kg=given["starter_dose"],
        temp_c=given["starter_range"],
        grams_left=given.get("starter_left"),
        opened_on=given.get("starter_opened") or "",
    )
