"""What heat and cold were to bring: the lethality of the cook or of the combined process, and the chill after it."""

from collections.abc import Sequence
from typing import Final, get_args

from controller.core.plan import StageKind
from controller.food.germs.chilling import RAPID, WITH_NITRITE, ChillRule, judge_chill
from controller.food.germs.kill_steps import (
    DRYING_NOTE,
    DRYING_SOURCE,
    KILL_STEPS,
    REPORTED,
    ecoli_drying_log,
    judge_kill_step,
    kill_step_of,
)
from controller.food.germs.lethality import NOTES, SOURCE, TARGETS, come_up, lowest
from controller.food.germs.measured import HOUR_S, Condition, Log, Verdict, verdict_of, worst
from controller.review.release.evidence import DRYING, HOT, Evidence, Row, Section, row_of

PROBE_ERROR_K: Final = 0.5
"""How far a probe may be off where nothing better is known; FSIS Cooking Guideline 2021, "Monitoring, Calibration, and
Recordkeeping": a critical limit lies above the printed one by the accuracy of the thermometer."""
STABLE_PH: Final = 5.3


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
    air = sorted([*evidence.air(*kinds), *evidence.smoker_typed()])
    step = kill_step_of(name)
    cores: list[Log] = list(evidence.cores().values()) or [()]
    judged = [
        judge_kill_step(
            step,
            end_ph=evidence.end_ph(),
            ph_error=evidence.ph_error,
            ferment_c=stages[-1]["air_temp_c"]["mean"] if stages else None,
            diameter_mm=evidence.record.card.batch.diameter_mm,
            air=air,
            core=core,
            after_s=ferments[-1].ends_s if ferments else float("-inf"),
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
    cores = evidence.cores()
    wanted = f"{target:g} log of Salmonella by the printed rows" + (" (any poultry)" if target == TARGETS[1] else "")
    rows = []
    for how, off_k in (("as measured", 0.0), (f"with {PROBE_ERROR_K:g} K of error taken off", PROBE_ERROR_K)):
        found = lowest({piece: _colder(core, off_k) for piece, core in cores.items()}, target)
        words, verdict = "", verdict_of(None)
        if found is not None:
            piece, progress = found
            of = f", {piece}" if piece else ""
            so_far = f"at least {target:g} log" if progress.reached else f"{progress.log:.1f} log"
            words = f"{so_far}{of}, hottest {progress.hottest_c:.1f} °C"
            verdict = verdict_of(progress.reached)
        rows.append(Row(f"cook, {how}", wanted, words, verdict, SOURCE, counts=counts))
    met = degree_hours == "met" and bool(cores)  # Without a cook there is no come-up that could be spared.
    logs: list[Log] = list(cores.values()) or [()]
    ups = [(come_up(core, degree_hours_met=met).condition,) for core in logs]
    rows += [row_of(condition, counts=counts) for condition in coldest(ups)]
    return rows


def coldest(judged: Sequence[tuple[Condition, ...]]) -> tuple[Condition, ...]:
    """Return the conditions of the piece that came least far: of several probes the lowest counts."""
    order: tuple[Verdict, ...] = ("not met", "not measured", "met")
    return min(judged, key=lambda conditions: order.index(worst(condition.verdict for condition in conditions)))


def _colder(core: Log, by_k: float) -> Log:
    return [(at_s, temp_c - by_k) for at_s, temp_c in core]


def _while_drying(evidence: Evidence) -> tuple[str, ...]:
    """Return what E. coli may have lost since pH 5.3, from the air in this chamber; an order of magnitude."""
    passed = next((row.time_s for row in evidence.meter_ph() if (row.value or 14.0) <= STABLE_PH), None)
    if passed is None:
        return ()
    log = [point for point in evidence.air("ferment", *sorted(DRYING)) if point[0] >= passed]
    if len(log) < 2:  # noqa: PLR2004 - two readings make a time
        return ()
    powers = ecoli_drying_log(_together(log))
    return (
        (
            f"Estimated from the air in this chamber since pH {STABLE_PH:g}: E. coli less by about {powers:.1f} log "
            f"({DRYING_SOURCE}); {DRYING_NOTE}. It meets no criterion."
        ),
    )


def _together(log: Log) -> Log:
    """Return a log whose hours elsewhere, where nothing was recorded, count as frozen: nothing is claimed of them."""
    whole: list[tuple[float, float]] = []
    for at_s, temp_c in log:
        if whole and at_s - whole[-1][0] > HOUR_S:
            whole += [(whole[-1][0] + 1.0, -1.0), (at_s - 1.0, -1.0)]
        whole.append((at_s, temp_c))
    return whole


def chill_section(evidence: Evidence) -> Section:
    """Set the cooling core beside the published windows: the rapid ones, or the slow ones where nitrite is in it."""
    rules = [RAPID, *([WITH_NITRITE] if _has_nitrite(evidence) else [])]
    cores = {piece: core for piece, core in evidence.cores().items() if len(core) > 1}
    chosen = next((rule for rule in rules if _chilled(rule, cores) == "met"), rules[-1])
    rows = []
    for piece, core in (cores or {"": ()}).items():
        of = f", {piece}" if piece else ""
        rows += [row_of(condition, what=condition.what + of) for condition in judge_chill(chosen, core)]
    notes = [
        "A window counts from the last reading above it to the first one below: the longest that it can have been."
    ]
    if chosen.note:
        notes.append(_sentence(chosen.note))
    return Section(name="chill", title="Chill", rows=tuple(rows), notes=tuple(notes))


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def _chilled(rule: ChillRule, cores: dict[str, Log]) -> Verdict:
    return worst(condition.verdict for core in cores.values() for condition in judge_chill(rule, core))


def _has_nitrite(evidence: Evidence) -> bool:
    if evidence.sheet is not None:
        return evidence.sheet.formula.nitrite_ppm_us > 0.0
    card = evidence.record.card
    return card.profile.cure in {"1", "2"} and card.formulation.cure_g > 0.0
