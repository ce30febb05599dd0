"""What the ferment was to bring: the pH, and the degree-hours that it took."""

from math import floor
from typing import Any, Final

from controller.food.degree_hours import CANADA, TARGET_PH, US, Rule
from controller.food.germs.measured import Verdict, verdict_of
from controller.review.batch import ReadingRow
from controller.review.contradicted import uncontradicted
from controller.review.readings import STRIPS
from controller.review.release.evidence import Evidence, Row, Section, is_of_sausage

PRACTICE: Final = "common practice, no source"
HOLD: Final = "Over the limit: do not taste; hold the batch; a laboratory test and a competent person decide."
UNTOLD: Final = (
    "The program was away for a time that no clock has told: these degree-hours lack it and are no upper bound. Reckon "
    "by hand with the longest it can have been."
)
MISSING: Final = (
    "Climate is missing between hanging and pH 5.3: how warm it was there is on no record, and what is counted above "
    "is a part of the degree-hours only."
)
RISES: Final = (
    "In ripening the pH rises again, as 4.65 to 4.88 from day 14 to 20 (Korean J. Food Sci. Anim. Resour. 36(3), table "
    "2); that is no fault by itself."
)


def ph_section(evidence: Evidence) -> Section:
    """Set the pH readings beside 5.3, beside the profile's own end, and the meter beside its last check."""
    taken, error = evidence.ferment_ph(), evidence.ph_error
    stands = uncontradicted(taken, evidence.hung_s or 0.0, None, error)
    first = next((row for row in stands if _passed(row, error)), None)
    lowest = min(stands, key=_value, default=None)
    chosen = first or lowest
    source = f"{US.source}; {CANADA.source}"
    wanted = f"{TARGET_PH:g} or lower by a meter, its error of {error:g} added"
    rows = [
        Row("pH after the ferment", wanted, _words(evidence, chosen, error), _verdict(chosen, error), source),
        _sausage_row(evidence, error),
    ]
    goals = [placed.stage.until.ph_at_most for placed in evidence.of_kind("ferment")]
    goal = next((goal for goal in goals if goal is not None), None)
    if goal is not None:
        holds = None if lowest is None else _value(lowest) + error <= goal + 1e-9
        words = _words(evidence, lowest, error)
        rows.append(
            Row("the profile's own end", f"{goal:g} or lower", words, verdict_of(holds), "profile", counts=False)
        )
    rows.append(_check_row(evidence, taken))
    return Section(name="ph", title="pH", rows=tuple(rows), notes=_notes(evidence))


def _value(row: ReadingRow) -> float:
    return 14.0 if row.value is None else row.value


def _passed(row: ReadingRow, error: float) -> bool:
    return _value(row) + error <= TARGET_PH + 1e-9


def _verdict(row: ReadingRow | None, error: float) -> Verdict:
    return verdict_of(None if row is None else _passed(row, error))


def _words(evidence: Evidence, row: ReadingRow | None, error: float) -> str:
    if row is None:
        return ""
    return f"{row.value:.2f} + {error:g}, {row.instrument}, {evidence.when(row.time_s)}"


def _sausage_row(evidence: Evidence, error: float) -> Row:
    # What was read weeks after the ferment proves no end of it, and that it rose again takes none away.
    taken = [row for row in evidence.ferment_ph() if is_of_sausage(row)]
    last = taken[-1] if taken else None
    wanted = f"{TARGET_PH:g} or lower in the middle of a real sausage at the end of the ferment, the error added"
    return Row("pH of a real sausage", wanted, _words(evidence, last, error), _verdict(last, error), PRACTICE)


def _check_row(evidence: Evidence, taken: list[ReadingRow]) -> Row:
    instrument = taken[-1].instrument if taken else ""
    said = evidence.last_check(instrument)
    verdict = verdict_of(None if not said else said.endswith(": good") or ": good." in said)
    words = f"{instrument}, {said}" if said else f"{instrument}: no check is on record" if instrument else ""
    return Row("check of the meter", "two buffers, on each day of use", words, verdict, PRACTICE, counts=False)


def _notes(evidence: Evidence) -> tuple[str, ...]:
    notes = []
    taken = evidence.meter_ph()
    if taken:
        last = taken[-1]
        of = "a real sausage" if is_of_sausage(last) else "the sample"
        notes.append(f"Last reading of all: {last.value:.2f} in {of}, {last.instrument}, {evidence.when(last.time_s)}.")
        lowest = min(_value(row) for row in taken)
        if _value(last) > lowest + 0.05:
            notes.append(RISES)
    strips = [row for row in evidence.readings if row.kind == "ph" and row.instrument.startswith(STRIPS)]
    if strips:
        notes.append(f"{len(strips)} by strips: noted, and counted for nothing.")
    if not evidence.of_kind("ferment"):
        notes.append("Nothing of a ferment was recorded here; what was done elsewhere needs a record from there.")
    return tuple(notes)


def degree_hours_section(evidence: Evidence) -> Section:
    """Set the degree-hours beside the limit of each rule in force, and again with the thermometer's error added."""
    ferment = evidence.figures["ferment"]
    in_force = evidence.record.card.chamber.degree_hours_rule
    rules = [rule for rule, name in ((US, "us"), (CANADA, "canada")) if in_force in {name, "both"}]
    rows = [row for rule in rules for row in (_plain(rule, ferment), _guarded(rule, ferment))]
    notes = []
    if ferment["limit_f"] is None:
        notes.append(
            "No temperature was recorded between hanging and pH 5.3; what was done elsewhere is not known here."
        )
    if any(row.verdict == "not met" for row in rows):
        notes.append(HOLD)
    hours = ferment["hours_to_ph_5_3"]
    if hours is not None:
        notes.append(f"pH 5.3 after {hours:.1f} h, by the first reading at or below it.")
    if ferment["untold_gaps"]:
        notes.append(UNTOLD)
    if ferment["climate_missing"]:
        notes.append(MISSING)
    if evidence.figures["gaps"]:
        gap_h = sum(gap["hours"] for gap in evidence.figures["gaps"])
        notes.append(f"The log has gaps, {gap_h:.1f} h in all; in the ferment they count at the higher neighbour.")
    return Section(name="degree-hours", title="Degree-hours", rows=tuple(rows), notes=tuple(notes))


def _plain(rule: Rule, ferment: dict[str, Any]) -> Row:
    unit = rule.unit.lower()
    reached = ferment["hours_to_ph_5_3"] is not None
    used, limit = ferment[f"degree_hours_{unit}"], ferment[f"limit_{unit}"]
    return _row(rule, "as measured", used, limit, reached=reached, ferment=ferment)


def _guarded(rule: Rule, ferment: dict[str, Any]) -> Row:
    """Return the line with the errors of the thermometer and of the meter added: what alarms go by too."""
    unit = rule.unit.lower()
    used, limit = ferment[f"guarded_degree_hours_{unit}"], ferment[f"guarded_limit_{unit}"]
    how = f"with {ferment['guarded']['sensor_error_k']:g} K and {ferment['guarded']['ph_error']:g} pH of error added"
    reached = ferment["hours_to_ph_5_3_guarded"] is not None
    return _row(rule, how, used, limit, reached=reached, ferment=ferment)


def _row(rule: Rule, how: str, used: float, limit: float | None, *, reached: bool, ferment: dict[str, Any]) -> Row:
    authority = rule.name.split(" ")[0]
    source = f"{rule.source}; {rule.how_known}"
    if limit is None:
        return Row(
            f"{authority}, {how}", "by the highest chamber temperature", "", "not measured", source, confirm=True
        )
    over = floor(used + 0.5) > limit
    found = f"{used:.0f} °{rule.unit}·h" + ("" if reached else " so far; no reading at or below 5.3 ended them")
    untold, missing = bool(ferment["untold_gaps"]), ferment["climate_missing"]
    found += ", and a gap of unknown length" if untold else ""
    found += ", and hours of which no climate is on record" if missing else ""
    verdict = verdict_of(False if over else True if reached and not untold and not missing else None)
    return Row(f"{authority}, {how}", f"{limit:.0f} °{rule.unit}·h or less", found, verdict, source, confirm=True)
