"""The sheet for the kitchen wall: one page of plain text, 80 columns wide, its great words to be read from afar.

It tells what was planned and what the limits are. It never says that anything is good to eat.
"""

import datetime as dt
import textwrap
from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Final
from zoneinfo import ZoneInfo

from controller.core.plan import Stage
from controller.core.sheet import Planned
from controller.food.bowl.cure import AUTHORITY_NAMES, CAUTION, CONFIRM, Checked
from controller.food.degree_hours import TARGET_PH
from controller.planning.bowl.text import ppm
from controller.planning.hours.day import HOUR_S, clock_of, is_awake
from controller.planning.hours.steps import plain_temp
from controller.planning.meats import shown_name
from controller.planning.places import CHAMBER_WORDS, USUAL_PLACES
from controller.planning.sheet import Plan
from controller.settings.units import GRAMS

WIDTH: Final = 80
LINES: Final = 66
"""What goes on a page of paper; common practice, no source."""
RULE: Final = "-" * WIDTH

_GLYPHS: Final = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", "###", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", "  #", "  #"),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    ":": (" ", "#", " ", "#", " "),
}  # fmt: skip

CAUTIONS: Final = (
    "Nitrite is poisonous in grams: weigh the cure, compare it with its pack, keep it from children. Too little is "
    "wrong too: nitrite, salt, acid and drying together hold off botulism; pack nothing airtight in the warm. No cook "
    "destroys the toxin of a slow ferment. Ferment and drying alone leave other germs alive. This sheet decides "
    "nothing: you do, and where you sell, your authority."
)


def page_of(plan: Plan) -> list[str]:
    """Return the lines of the page, each at most 80 wide.

    Where the warnings are too many for one page, only the first sentence of each stands on it; the whole of them is
    said when the plan is made (`shortened`), and kept with it.
    """
    lines = _page(plan, plan.sheet.warnings)
    if len(lines) <= LINES:
        return lines
    return _page(plan, tuple(_first_sentence(text) for text in plan.sheet.warnings))


def shortened(plan: Plan) -> tuple[str, ...]:
    """Return the warnings of which the page has the first sentence only."""
    if len(_page(plan, plan.sheet.warnings)) <= LINES:
        return ()
    told = [text for text in plan.sheet.warnings if not text.startswith(CAUTION)]
    return tuple(text for text in told if _first_sentence(text) != text)


def _page(plan: Plan, warnings: tuple[str, ...]) -> list[str]:
    return [
        *_head(plan),
        RULE,
        *_bowl(plan),
        RULE,
        *_ingoing(plan),
        RULE,
        *_day(plan),
        *_latest(plan),
        *_window(plan),
        *_later(plan),
        RULE,
        *_warnings(plan, warnings),
        *_fold(CAUTIONS),
    ]


def _first_sentence(text: str) -> str:
    first, dot, _ = text.partition(". ")
    return first + dot.strip()


def spaced(words: str) -> str:
    """Return capitals with room between them, to be read from two metres."""
    return "   ".join(" ".join(word) for word in words.upper().split())


def big(text: str) -> list[str]:
    """Return figures and a colon five lines high."""
    glyphs = [_GLYPHS[letter] for letter in text]
    return [
        "  ".join(glyph[row].replace("#", "##").replace(" ", "  ") for glyph in glyphs).rstrip() for row in range(5)
    ]


def _head(plan: Plan) -> Iterator[str]:
    sheet = plan.sheet
    day = dt.datetime.fromtimestamp(plan.times.stuffed_s, ZoneInfo(plan.timezone))
    yield "=" * WIDTH
    left, right = spaced(plan.profile.name), f"{day:%A %d %B %Y}"
    yield f"{left}{right:>{max(len(right) + 1, WIDTH - len(left))}}"
    about = (
        f"{plan.profile.title}. {_mass(sheet.formula.meat_kg, plan)} of meat, "
        f"{sheet.casing} {sheet.diameter_mm:.0f} mm, in {plan.chamber}; rules: {AUTHORITY_NAMES[sheet.authority]}."
    )
    if sheet.starter is not None:
        low_c, high_c = sheet.starter.temp_c
        about += f" Starter {sheet.starter.name} ({_temp(low_c, plan)} to {_temp(high_c, plan)})."
    yield from _fold(about)


def _bowl(plan: Plan) -> Iterator[str]:
    formula = plan.sheet.formula
    green = f"{1000.0 * formula.meat_kg:.0f} g" if plan.units == "F" else _mass(formula.meat_kg, plan)
    yield f"{spaced('weigh'):<34}all per cent are of the green meat, {green}"
    for meat in formula.meats:
        assumed = ", assumed" if meat.fat_assumed else ""
        treated = f", {meat.treated}" if meat.treated else ""
        yield from _fold(
            f"{shown_name(meat)}, {meat.fat_pct:g} % fat{assumed}{treated}",
            " " * 21,
            _amount(round(meat.kg * 1000.0), 100.0 * meat.kg / formula.meat_kg),
        )
    for line in formula.ingredients:
        row = f"{_amount(line.grams, line.pct)}{line.name}"
        noted = f"{row} ({line.note})"
        yield noted if line.note and len(noted) <= WIDTH else row
    if any(meat.fat_assumed for meat in formula.meats):
        yield "Fat that nobody said is assumed by the animal: common practice, no source."
    low, expected, high = formula.end_ph
    yield from _fold(
        f"The mix weighs {_mass(formula.mix_kg, plan)}; salt in all {formula.salt_pct:.2f} %. With this dextrose the "
        f"pH ends near {expected:.1f} ({low:.1f} to {high:.1f} by the meat's buffer and own sugar; a model, no "
        "promise)."
    )


def _mass(kg: float, plan: Plan) -> str:
    """Return a mass as kg; where the chamber is shown in °F as lb, with the grams for the scale."""
    if plan.units == "F":
        return f"{1000.0 * kg / GRAMS['lb']:.1f} lb ({1000.0 * kg:.0f} g)"
    return f"{f'{kg:.2f}'.rstrip('0').rstrip('.')} kg"


def _amount(grams: float, pct: float) -> str:
    shown = f"{grams:.0f}" if grams >= 100.0 and grams == round(grams) else f"{grams:g}"  # noqa: PLR2004 - grams
    return f"{shown:>8} g {pct:7.3g} %  " if pct < 1.0 else f"{shown:>8} g {pct:7.2f} %  "


def _ingoing(plan: Plan) -> Iterator[str]:
    formula, name = plan.sheet.formula, AUTHORITY_NAMES[plan.sheet.authority]
    yield f"{spaced('going in')}      mg/kg (ppm); * {CONFIRM}"
    yield from _fold(
        f"nitrite {formula.nitrite_ppm_us:.0f} (US, of meat), {formula.nitrite_ppm_ca:.0f} (Canada, of batch), "
        f"{formula.nitrite_ppm_eu_ion:.0f} (EU, ion); nitrate {formula.nitrate_ppm:.0f}"
    )
    weighed = [limit for limit in formula.limits if limit.value_ppm is not None and not _is_idle(limit)]
    for limit in weighed:
        if limit.authority == name:
            yield from _fold(f"{name}, {limit.agent}: {_judged(limit)}", "    ")
    told_too = set(AUTHORITY_NAMES.values()) - {name} | ({"Denmark"} if plan.sheet.authority == "eu" else set())
    others = [limit for limit in weighed if limit.authority in told_too]
    told = []
    for authority, limits in groupby(others, key=lambda limit: limit.authority):
        kept = list(limits)
        broken = [limit for limit in kept if limit.verdict != "within"]
        told.append(f"{authority} " + ", ".join(f"{limit.agent} {_judged(limit)}" for limit in broken or kept[:1]))
    if told:
        yield from _fold("; ".join(told), "    ", "    For information, not your rules: ")


def _is_idle(limit: Checked) -> bool:
    """Say whether a limit says nothing here: of an agent that does not go in, or a useful minimum that is kept."""
    return limit.verdict == "within" and (limit.value_ppm == 0.0 or limit.kind == "useful minimum")


def _judged(limit: Checked) -> str:
    bound = {"max": "at most", "min": "at least"}.get(limit.kind, limit.kind)
    star = " *" if limit.confirm else ""
    return f"{ppm(limit.value_ppm or 0.0, limit.limit_ppm)}, {bound} {limit.limit_ppm:g}: {limit.verdict.upper()}{star}"


def _day(plan: Plan) -> Iterator[str]:
    zone = ZoneInfo(plan.timezone)
    clock = clock_of(zone)
    yield f"{spaced('the day')}      local time ({plan.timezone}), counted back from stuffing"
    last = ""
    for step in plan.sheet.steps:
        if is_reading(step) or step.wall_s == plan.sheet.latest_5_3_wall_s:
            continue
        day, _, hour = clock(step.wall_s).partition(" ")
        shown = "   " if day == last else day
        last = day
        yield from _fold(step.what, " " * 11, f"{shown} {hour}  ")
    due = [step for step in plan.sheet.steps if is_reading(step)]
    if due:
        yield from _fold(_due(plan, due), " " * 11, "pH due     ")


def is_reading(step: Planned) -> bool:
    """Say whether this step is a pH that is due."""
    return step.what.startswith(("First pH", "pH "))


def _due(plan: Plan, due: list[Planned]) -> str:
    """Return the hours of the readings, by day; what falls into the maker's sleep stands in brackets."""
    zone = ZoneInfo(plan.timezone)
    days = []
    for day, steps in groupby(due, key=lambda step: f"{dt.datetime.fromtimestamp(step.wall_s, zone):%a}"):
        hours = [
            hour if is_awake(step.wall_s, plan.sheet.awake, zone) else f"({hour})"
            for step in steps
            for hour in [f"{dt.datetime.fromtimestamp(step.wall_s, zone):%H:%M}"]
        ]
        days.append(f"{day} {' '.join(hours)}")
    return "; ".join(days) + (
        "; (in brackets) you sleep. A portion gives two, one from each end; the last one comes from the middle of a "
        "real sausage."
    )


def _latest(plan: Plan) -> Iterator[str]:
    latest_s = plan.sheet.latest_5_3_wall_s
    yield RULE
    if latest_s is None or plan.allowed is None:
        yield "NO LATEST HOUR FOR pH 5.3: so cool, this rule protects nothing here."
        return
    at = dt.datetime.fromtimestamp(latest_s, ZoneInfo(plan.timezone))
    hours = ", ".join(f"{name} {value:.1f} h" for name, value in plan.allowed.hours)
    words = (
        spaced("latest hour"),
        "F O R   p H   5 . 3",
        f"{at:%A %d %B}",
        f"from hanging: {hours}",
        "thermometer's error counted in",
    )
    for row, said in zip(big(f"{at:%H:%M}"), words, strict=True):
        yield f"{row:<40}{said}".rstrip()


def _window(plan: Plan) -> Iterator[str]:
    """Yield when 5.3 is expected, which is what the latest hour is for; then the pH at which the stage ends."""
    course, hung_s = plan.course, plan.times.hung_s
    if course is None:
        return
    cases = (course.fast, course.expected, course.slow)
    to_5_3 = [None if case.to_5_3 is None else hung_s + case.to_5_3 * HOUR_S for case in cases]
    to_aim = [None if case.to_aim is None else hung_s + case.to_aim * HOUR_S for case in cases]
    if to_5_3 != to_aim:
        yield from _fold(f"pH {TARGET_PH:g} (meter {course.meter_5_3_ph:.2f}) {_expected(to_5_3, plan)}.")
    yield from _fold(
        f"pH {course.aim_ph:g} (meter {course.meter_ph:.2f}), the end of the ferment: {_expected(to_aim, plan)}; "
        f"{_awake_words(plan, to_aim)}. A model, no promise."
    )


def _expected(instants: list[float | None], plan: Plan) -> str:
    fast, expected, slow = (_told(at_s, plan) for at_s in instants)
    return f"expected {expected}; fast {fast}, slow {slow}"


def _told(at_s: float | None, plan: Plan) -> str:
    """Return an hour, in brackets where the maker sleeps then; what never comes is said."""
    if at_s is None:
        return "maybe never"
    zone = ZoneInfo(plan.timezone)
    told = clock_of(zone)(at_s)
    return told if is_awake(at_s, plan.sheet.awake, zone) else f"({told})"


def _awake_words(plan: Plan, instants: list[float | None]) -> str:
    """Return how much of that time is in waking hours; what is not quite all is not called all."""
    share = plan.awake_share
    told = [_told(at_s, plan) for at_s in instants]
    if share >= 1.0 and not any(words.startswith("(") for words in told):
        return "all of that while you are awake"
    return f"{min(99.0, 100.0 * share):.0f} % of that while you are awake"


def _later(plan: Plan) -> Iterator[str]:
    """Yield what comes after the ferment, a few words for each stage."""
    told = []
    begun = False
    for stage in plan.profile.stages:
        if begun:
            told.append(_stage(stage, plan))
        begun = begun or stage.kind == "ferment"
    dries = plan.sheet.dries
    here = any(stage.kind == "dry" and stage.where == "chamber" for stage in plan.profile.stages)
    typed = f" Typed for the drying was: {dries}." if here and dries and dries.lower() not in USUAL_PLACES else ""
    if told:
        yield from _fold("; ".join(told) + "." + typed, "      ", "Then: ")


def _stage(stage: Stage, plan: Plan) -> str:
    climate = [_temp(stage.air_temp_c, plan)] if stage.air_temp_c is not None else []
    climate += [f"{stage.rh_pct:g} %"] if stage.rh_pct is not None else []
    return " ".join([stage.name, *_where(stage, plan), *climate])


def _where(stage: Stage, plan: Plan) -> list[str]:
    """Return the place of a stage: as the maker typed it, where that is another one than the chamber."""
    said = {"smoke": plan.sheet.smokes, "dry": plan.sheet.dries}.get(stage.kind, "")
    if said.lower() in CHAMBER_WORDS and stage.where == "elsewhere":
        return [f"elsewhere (typed was: {said})"]
    if not said or said.lower() in USUAL_PLACES:
        return ["elsewhere"] if stage.where == "elsewhere" else []
    return [f"in: {said},"] if stage.where == "elsewhere" else []


def _temp(temp_c: float, plan: Plan) -> str:
    return plain_temp(temp_c, plan.units)


def _warnings(plan: Plan, warnings: tuple[str, ...]) -> Iterator[str]:
    for text in warnings:
        if not text.startswith(CAUTION):  # It stands below, with the others.
            yield from _fold(text, "  ", "! ")
    if plan.sheet.accepted:
        yield from _fold("; ".join(plan.sheet.accepted), "  ", "Typed out by the maker: ")


def _fold(text: str, indent: str = "", first: str | None = None) -> Iterable[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
