"""The first page: what it is, and the five figures that matter.

Each figure stands beside what is asked of it, what is left of that, and how it stands. No figure comes to a word on
whether meat may be eaten.
"""

from collections.abc import Sequence
from typing import Any, Final

from controller.food.degree_hours import BINDING, TARGET_PH, US
from controller.review.page.head import STATES
from controller.review.release.drying import cure_section, losses, unweighed, weight_section
from controller.review.release.evidence import Evidence, Section
from controller.review.release.heat import lethality_section
from controller.review.release.souring import degree_hours_section, ph_section
from controller.review.report.shown import NONE, Cell, Shown, Stands, Table, counted, number

OVER: Final = frozenset({"complete", "stopped", "aborted"})
"""States of a batch that does not go on."""
SHOWN: Final = 3
"""Of a kind so many stand on the first page."""
WAITS: Final = {"person": "waited for a person", "itself": "waited by itself"}
STYLES: Final = {"raw-dried": "raw, fermented and dried", "cooked": "fermented and cooked"}
RULE_NAMES: Final = {"us": "US", "canada": "Canada"}


def what_and_when(evidence: Evidence, shown: Shown) -> list[tuple[str, Cell]]:
    """Return what the batch is, and when it was what: each with its name."""
    card, figures, events = evidence.record.card, evidence.figures, evidence.record.events
    ended_s = next((event.time_s for event in reversed(events) if event.kind == "end"), None)
    sheet = evidence.sheet
    casing = f"{sheet.casing}, " if sheet is not None and sheet.casing else ""
    lines: list[tuple[str, Cell]] = [
        (
            "Profile",
            f"{card.profile.title} ({card.profile.name}; {STYLES.get(card.profile.style, card.profile.style)})",
        ),
        ("Meat", f"{shown.mass(card.batch.meat_kg)}, {casing}{card.batch.diameter_mm:g} mm"),
        ("Chamber", f"{card.chamber.name}: {card.chamber.title}" if card.chamber.title else card.chamber.name),
        ("Begun", shown.at(card.batch.began)),
        ("Meat hung", "not on record" if evidence.hung_s is None else shown.at(evidence.hung_s)),
        ("Taken out", shown.at(ended_s) if ended_s is not None else "not yet, as far as is recorded"),
        ("State", STATES.get(figures["state"], figures["state"])),
        ("Recorded until", shown.at(evidence.last_s) if evidence.last_s else "nothing is recorded"),
    ]
    return lines


def five_figures(evidence: Evidence, shown: Shown) -> Table:
    """Return the table of the five figures."""
    degree_hours = degree_hours_section(evidence)
    rows = [
        _ph(evidence),
        *_degree_hours(evidence),
        _heat(evidence, degree_hours, shown),
        _loss(evidence),
        _nitrite(evidence),
    ]
    return Table(
        caption="The five figures that matter: measured, asked, left",
        head=("Figure", "Measured", "Asked", "Left", "Stands"),
        rows=rows,
    )


def _ph(evidence: Evidence) -> tuple[Cell, ...]:
    row = ph_section(evidence).rows[0]
    hours = evidence.figures["ferment"]["hours_to_ph_5_3"]
    ph = evidence.figures["ph"]
    found = "no pH by a meter is on record"
    if ph["lowest"] is not None:
        found = f"lowest {ph['lowest']:.2f}; "
        found += (
            f"{TARGET_PH:g} not reached" if hours is None else f"{TARGET_PH:g} or lower {hours:.1f} h after hanging"
        )
    left = NONE
    if ph["lowest"] is not None:
        under = TARGET_PH - ph["lowest"]
        left = f"the lowest is {under:.2f} below" if under >= 0.0 else f"{-under:.2f} to go"
    words = {"met": "reached", "not met": "NOT REACHED"}.get(row.verdict, "not measured")
    asked = f"{TARGET_PH:g} or lower, the meter's error of {evidence.ph_error:g} added"
    return ("pH", f"{found}; counted reading: {row.found}" if row.found else found, asked, left,
            Stands(row.verdict, words))  # fmt: skip


def _degree_hours(evidence: Evidence) -> list[tuple[Cell, ...]]:
    """Return a row for each rule in force, as measured and with the instruments' errors added."""
    ferment = evidence.figures["ferment"]
    if ferment["limit_f"] is None:
        return [("Degree-hours", "nothing was counted", NONE, NONE, Stands("not measured"))]
    guarded, found = ferment["guarded"], []
    for rule in BINDING[evidence.record.card.chamber.degree_hours_rule]:
        name, unit = ("us", "f") if rule is US else ("canada", "c")
        used, limit = ferment[f"degree_hours_{unit}"], ferment[f"limit_{unit}"]
        sure, bound = guarded[f"degree_hours_{unit}"], guarded[f"limit_{unit}"]
        measured = f"{used:.0f} °{rule.unit}·h; {sure:.0f} with the instruments' errors added"
        asked = f"at most {limit:.0f} °{rule.unit}·h" + (f"; {bound:.0f} with them added" if bound != limit else "")
        left = f"{bound - sure:.0f} °{rule.unit}·h ({100.0 * (bound - sure) / bound:.0f} %) with them added"
        found.append((f"Degree-hours, {RULE_NAMES[name]}", measured, asked, left, _count_stands(ferment, name)))
    return found


def _count_stands(ferment: dict[str, Any], name: str) -> Stands:
    """Return how one rule stands: as measured, and what the guarded count of all in force adds to that."""
    as_measured = str(ferment[f"verdict_{name}"])
    guarded = str(ferment["guarded_verdict"])
    if as_measured != "over" and ferment["climate_missing"]:
        return Stands("open", "open: climate is missing")
    if as_measured == "within" and guarded == "over":
        return Stands("over", "within as measured; OVER with the errors added")
    if as_measured == "within" and guarded == "open":
        return Stands("open", "within as measured; open with the errors added")
    return Stands(as_measured)


def _heat(evidence: Evidence, degree_hours: Section, shown: Shown) -> tuple[Cell, ...]:
    """Return the highest air of the ferment and, where it is cooked, the kill step."""
    highest = shown.temp(evidence.figures["ferment"]["highest_air_temp_c"])
    first = f"highest minute of air in the ferment {highest}"
    if evidence.record.card.profile.style != "cooked" and not _kill_step(evidence):
        return ("Highest temperature", first, "its band sets the limit of the degree-hours; no kill step is planned",
                NONE if highest == NONE else "see degree-hours", Stands("not measured", "for the record"))  # fmt: skip
    section = lethality_section(evidence, degree_hours.comes_to)
    counting = [row for row in section.rows if row.counts] or list(section.rows)
    hottest = max(
        (temp_c for log in evidence.heated_cores().values() for _, temp_c in log if temp_c > 0.0), default=None
    )
    core = "no core temperature is on record" if hottest is None else f"hottest core {shown.temp(hottest)}"
    found = "; ".join(row.found for row in counting if row.found) or "nothing is on record"
    asked = "; ".join(dict.fromkeys(row.wanted for row in counting))
    return ("Kill step and highest temperature", shown.words(f"{core}; {found}; {first}"), shown.words(asked),
            "see the criteria", Stands(section.comes_to))  # fmt: skip


def _kill_step(evidence: Evidence) -> str:
    planned = evidence.sheet.kill_step if evidence.sheet is not None else ""
    return planned or evidence.record.card.profile.kill_step


def _loss(evidence: Evidence) -> tuple[Cell, ...]:
    row = weight_section(evidence).rows[0]
    goals = [stage.until.weight_loss_pct for stage in evidence.record.card.profile.stages]
    goal = max((goal for goal in goals if goal is not None), default=None)
    lost, missing = min(losses(evidence).values(), default=None), unweighed(evidence)
    left = NONE
    if goal is not None and lost is not None and not missing:
        left = f"none; {lost - goal:.1f} % beyond it" if lost >= goal else f"{goal - lost:.1f} % to go"
    stands = Stands(row.verdict)
    if row.verdict == "not met" and evidence.figures["state"] not in OVER:
        stands = Stands("open", "not yet")
    return ("Weight loss", row.found or "not weighed twice", row.wanted, left, stands)


def _nitrite(evidence: Evidence) -> tuple[Cell, ...]:
    """Return the ingoing nitrite beside the highest that the authority allows."""
    rows = cure_section(evidence).rows
    row = next((row for row in rows if "nitrite" in row.what.lower() and "or less" in row.wanted), rows[0])
    limit = None if evidence.sheet is None else next(
        (one for one in evidence.sheet.formula.limits if one.rule == row.what and one.kind == "max"), None
    )  # fmt: skip
    left = NONE
    if limit is not None and limit.value_ppm is not None:
        left = f"{limit.limit_ppm - limit.value_ppm:.1f} ppm"
    return ("Ingoing nitrite", row.found or "not on record", f"{row.wanted} ({row.what})", left, Stands(row.verdict))


def deviations(evidence: Evidence, criteria: Sequence[Section], shown: Shown) -> Table:
    """Return what was not as it should be, kind by kind; also where there was nothing of a kind."""
    figures = evidence.figures
    rows: list[tuple[Cell, ...]] = [
        ("Alarms", _alarms(figures)),
        ("Gaps in the climate record", _gaps(figures, shown)),
        ("Pauses", _pauses(figures, shown)),
        ("Record damaged or missing", "; ".join(shown.words(said) for said in figures["damage"]) or "none"),
        ("Corrections", counted(len(figures["corrections"]), "reading was corrected", "readings were corrected")
         if figures["corrections"] else "none"),
        ("Decided by a person", _decided(figures)),
        ("Not measured", ", ".join(part.title for part in criteria if part.comes_to == "not measured") or "none"),
        (
            "Not met" if figures["state"] in OVER else "Not met so far",
            ", ".join(part.title for part in criteria if part.comes_to == "not met") or "none",
        ),
    ]  # fmt: skip
    return Table(caption="Deviations", head=("Kind", "On record"), rows=rows)


def _alarms(figures: dict[str, Any]) -> str:
    """Return how many there were, the worst of them by name."""
    history = figures["alarm_history"]
    if not history:
        return "none"
    by = ", ".join(f"{count} of priority {name}" for name, count in figures["alarms"]["by_priority"].items())
    urgent = sorted(history, key=lambda one: one["priority"])[:4]
    told = "; ".join(f"{one['id']} {one['title']}" for one in urgent)
    more = f"; and {len(history) - len(urgent)} more" if len(history) > len(urgent) else ""
    open_still = [one["id"] for one in history if one["open"]]
    return f"{by}: {told}{more}" + (
        f". Still there at the end of the record: {', '.join(open_still)}" if open_still else ""
    )


def _gaps(figures: dict[str, Any], shown: Shown) -> str:
    gaps = figures["gaps"]
    if not gaps:
        return "none"
    told = "; ".join(f"from {shown.at(gap['from'])} for {gap['hours']:.1f} h" for gap in gaps[:SHOWN])
    more = f"; and {len(gaps) - SHOWN} more" if len(gaps) > SHOWN else ""
    return f"{counted(len(gaps), 'gap')}, {number(sum(gap['hours'] for gap in gaps))} h in all: {told}{more}"


def _pauses(figures: dict[str, Any], shown: Shown) -> str:
    """Return when the batch waited, for a person or by itself, and for how long."""
    pauses = figures["pauses"]
    told = "; ".join(
        f"from {shown.at(one['from'])} for {one['hours']:.1f} h, {WAITS.get(one['waits_for'], 'waited')}"
        f"{'' if one['until'] else ', to the end of the record'}"
        for one in pauses[:SHOWN]
    )
    return told + (f"; and {len(pauses) - SHOWN} more" if len(pauses) > SHOWN else "") or "none"


def _decided(figures: dict[str, Any]) -> str:
    """Return the stages that a person ended, and other climates that were set."""
    stages = [stage["name"] for stage in figures["stages"] if stage["by"] == "person"]
    changes = sum(decision["kind"] in {"set", "cool"} for decision in figures["decisions"])
    refused = sum(decision["kind"] == "refused" for decision in figures["decisions"])
    told = [f"stage ended before its own end: {', '.join(stages)}"] if stages else []
    told += [counted(changes, "change of the climate", "changes of the climate")] if changes else []
    told += [counted(refused, "request was refused", "requests were refused")] if refused else []
    return "; ".join(told) or "none"
