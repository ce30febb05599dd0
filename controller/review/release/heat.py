"""What heat and cold were to bring: the lethality of the cook or of the combined process, and the chill after it."""

from collections.abc import Mapping, Sequence
from typing import Final, get_args

from msgspec.structs import replace

from controller.core.plan import StageKind
from controller.food.degree_hours import TARGET_PH
from controller.food.germs.chilling import RAPID, WITH_NITRITE, ChillRule, judge_chill, ways_down
from controller.food.germs.kill_steps import (
    BREAKS_TOLD_H,
    DRYING_NOTE,
    DRYING_SOURCE,
    KILL_STEPS,
    REPORTED,
    ecoli_drying_log,
    judge_kill_step,
    kill_step_of,
)
from controller.food.germs.lethality import NOTES, SOURCE, TARGETS, come_up, lowest
from controller.food.germs.measured import (
    Condition,
    Log,
    Verdict,
    apart,
    break_h,
    colder,
    filled,
    readings_of,
    time_words,
    verdict_of,
    worst,
)
from controller.review.release.evidence import DRYING, HOT, PROBE, Evidence, Row, Section, row_of

PROBE_ERROR_K: Final = 0.5
"""How far a probe may be off where nothing better is known; FSIS Cooking Guideline 2021, "Monitoring, Calibration, and
Recordkeeping": a critical limit lies above the printed one by the accuracy of the thermometer."""
DRIED_SOURCE: Final = "FSIS Cooking Guideline (Revised Appendix A), FSIS-GD-2021-14"
UNKNOWN_H: Final = 1.0
"""A mean is none where more than this is on no record; common practice, no source."""


def lethality_section(evidence: Evidence, degree_hours: Verdict) -> Section:
    """Set the logged core beside the printed table, and the combined process that was chosen beside its conditions."""
    name = (evidence.sheet.kill_step if evidence.sheet is not None else "") or evidence.record.card.profile.kill_step
    rows: list[Row] = []
    notes: list[str] = []
    if name and name in {step.id for step in KILL_STEPS}:
        step = kill_step_of(name)
        rows += _combined(evidence, name)
        notes.append(f"Process {name}: {step.then}." + (f" {_sentence(step.note)}" if step.note else ""))
    elif name:
        rows.append(Row("process", "one that is known here", f'"{name}" is none of them', "not measured"))
    if not name or evidence.of_kind("cook"):
        rows += _salmonella(evidence, degree_hours, counts=not name)
        notes += NOTES
    if not name and "beef" in evidence.species:
        notes += REPORTED
    return Section(
        name="lethality", title="Lethality", rows=tuple(rows), notes=tuple(notes), estimates=_while_drying(evidence)
    )


def _combined(evidence: Evidence, name: str) -> list[Row]:
    ferments = evidence.of_kind("ferment")
    stages = [stage for stage in evidence.figures["stages"] if stage["kind"] == "ferment"]
    kinds: tuple[StageKind, ...] = ("ferment", *sorted(HOT)) if _is_blind(evidence) else get_args(StageKind)
    left_s = min(evidence.out_s.values(), default=float("inf"))  # A piece that has left was heated no longer.
    whole = sorted([*apart(evidence.air(*kinds)), *evidence.smoker_typed()])
    air = [point for point in whole if point[0] <= left_s]
    step = kill_step_of(name)
    cores: list[Log] = list(evidence.heated_cores().values()) or [()]
    known = bool(stages) and break_h(evidence.air("ferment")) <= UNKNOWN_H
    judged = [
        judge_kill_step(
            step,
            end_ph=evidence.end_ph(),
            ph_error=evidence.ph_error,
            ferment_c=stages[-1]["air_temp_c"]["mean"] if known else None,
            diameter_mm=evidence.record.card.batch.diameter_mm,
            air=air,
            core=core,
            after_s=ferments[-1].ends_s if ferments else float("-inf"),
            error_k=PROBE_ERROR_K,
        )
        for core in cores
    ]
    return [row_of(condition) for condition in coldest(judged)]


def _is_blind(evidence: Evidence) -> bool:
    """Say whether the meat was heated elsewhere without a reading: the cool air before and after it tells nothing."""
    taken = [at_s for at_s, _ in evidence.smoker_typed()]
    return not taken and any(placed.stage.where == "elsewhere" for placed in evidence.of_kind(*sorted(HOT)))


def _salmonella(evidence: Evidence, degree_hours: Verdict, *, counts: bool) -> list[Row]:
    target = TARGETS[1] if "poultry" in evidence.species else TARGETS[0]
    cores = evidence.heated_cores()
    wanted = f"{target:g} log of Salmonella by the printed rows" + (" (any poultry)" if target == TARGETS[1] else "")
    rows = []
    for how, off_k in (("as measured", 0.0), (f"with {PROBE_ERROR_K:g} K of error taken off", PROBE_ERROR_K)):
        words, verdict = _by_the_rows({piece: colder(core, off_k) for piece, core in cores.items()}, target)
        rows.append(Row(f"cook, {how}", wanted, words, verdict, SOURCE, counts=counts))
    rows += [replace(row, counts=counts) for row in _dried_before(evidence)]
    met = degree_hours == "met" and bool(cores)  # Without a cook there is no come-up that could be spared.
    logs: list[Log] = list(cores.values()) or [()]
    ups = [(come_up(core, degree_hours_met=met).condition,) for core in logs]
    rows += [row_of(condition, counts=counts) for condition in coldest(ups)]
    return rows


def _by_the_rows(cores: Mapping[str, Log], target: float) -> tuple[str, Verdict]:
    """Return what the piece that came least far has come to; not measured where a break could hold the rest of it."""
    found = lowest(cores, target)
    if found is None:
        return "", verdict_of(None)
    piece, progress = found
    of = f", {piece}" if piece else ""
    so_far = f"at least {target:g} log" if progress.reached else f"{progress.log:.1f} log"
    words = f"{so_far}{of}, hottest {progress.hottest_c:.1f} °C"
    open_h = break_h(cores[piece])
    words += f"; {time_words(open_h)} without a record" if open_h > BREAKS_TOLD_H else ""
    most = lowest({piece: filled(core) for piece, core in cores.items()}, target)
    could = not progress.reached and most is not None and most[1].reached
    return words, verdict_of(None if could else progress.reached)


def _dried_before(evidence: Evidence) -> list[Row]:
    """Return the line of a drying that came before the cook: the printed table does not hold then."""
    cooks = evidence.of_kind("cook")
    dried = [placed for placed in evidence.of_kind("dry") if cooks and placed.span.place < cooks[-1].span.place]
    if not dried:
        return []
    names = ", ".join(placed.stage.name for placed in dried)
    wanted = "no drying before the cook: the table is for moist meat"
    return [Row("not dried before", wanted, f"{names} came before {cooks[-1].stage.name}", "not met", DRIED_SOURCE)]


def coldest(judged: Sequence[tuple[Condition, ...]]) -> tuple[Condition, ...]:
    """Return the conditions of the piece that came least far: of several probes the lowest counts."""
    order: tuple[Verdict, ...] = ("not met", "not measured", "met")
    return min(judged, key=lambda conditions: order.index(worst(condition.verdict for condition in conditions)))


def _while_drying(evidence: Evidence) -> tuple[str, ...]:
    """Return what E. coli may have lost since pH 5.3, from the air in this chamber; an order of magnitude."""
    passed = next((row.time_s for row in evidence.meter_ph() if (row.value or 14.0) <= TARGET_PH), None)
    if passed is None:
        return ()
    log = [point for point in evidence.air("ferment", *sorted(DRYING)) if point[0] >= passed]
    if len(readings_of(log)) < 2:  # noqa: PLR2004 - two readings make a time
        return ()
    powers = ecoli_drying_log(log)
    return (
        (
            f"Estimated from the air in this chamber since pH {TARGET_PH:g}: E. coli less by about {powers:.1f} log "
            f"({DRYING_SOURCE}); {DRYING_NOTE}. It meets no criterion."
        ),
    )


def chill_section(evidence: Evidence) -> Section:
    """Set the cooling core beside the published windows: the rapid ones, or the slow ones where nitrite is in it."""
    rules = [RAPID, *([WITH_NITRITE] if _has_nitrite(evidence) else [])]
    cores = _cooling(evidence)
    chosen = next((rule for rule in rules if _chilled(rule, cores) == "met"), rules[-1])
    rows = []
    for piece, core in (cores or {"": ()}).items():
        of = f", {piece}" if piece else ""
        rows += [row_of(condition, what=condition.what + of) for condition in judge_chill(chosen, core)]
    for piece in _unread(evidence, cores):
        wanted = "measured in the chill too, as it was in the cook"
        rows.append(Row(f"chill, {chosen.words}, {piece}", wanted, "", "not measured", chosen.source, chosen.confirm))
    notes = [
        "A window counts from the last reading above it to the first one below: the longest that it can have been."
    ]
    if chosen.note:
        notes.append(_sentence(chosen.note))
    return Section(name="chill", title="Chill", rows=tuple(rows), notes=tuple(notes))


def _cooling(evidence: Evidence) -> dict[str, Log]:
    """Return the cores that were read in the chill, each from the cook on; all cores where no chill is recorded."""
    chill_s, cores = evidence.chill_s, evidence.cores()
    if chill_s is None:
        return cores
    before = {piece: [point for point in core if point[0] <= chill_s] for piece, core in cores.items()}
    after = {piece: [point for point in core if point[0] > chill_s] for piece, core in cores.items()}
    return ways_down(before, after) or cores


def _unread(evidence: Evidence, cooling: Mapping[str, Log]) -> list[str]:
    """Return the pieces that were measured by name in the cook, and hung still and were not measured in the chill."""
    chill_s = evidence.chill_s
    if chill_s is None:
        return []
    gone = {piece for piece, out_s in evidence.out_s.items() if out_s <= chill_s}
    cooked = {piece for piece, core in evidence.heated_cores().items() if readings_of(core)}
    return sorted(piece for piece in cooked if piece and piece != PROBE and piece not in cooling and piece not in gone)


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def _chilled(rule: ChillRule, cores: dict[str, Log]) -> Verdict:
    return worst(condition.verdict for core in cores.values() for condition in judge_chill(rule, core))


def _has_nitrite(evidence: Evidence) -> bool:
    if evidence.sheet is not None:
        return evidence.sheet.formula.nitrite_ppm_us > 0.0
    card = evidence.record.card
    return card.profile.cure in {"1", "2"} and card.formulation.cure_g > 0.0
