"""What the drying was to bring: weight loss, water activity, and the criteria of shelf stability; and the cure."""

from typing import Final

from controller.core.memory import Batch
from controller.core.people.drying import mix_of_batch
from controller.food.bowl.cure import AUTHORITY_NAMES, CONFIRM, Checked
from controller.food.drying import moisture_protein_ratio, water_activity_at_loss
from controller.food.drying_rate import AW_ERROR
from controller.food.germs.measured import Verdict, verdict_of
from controller.food.germs.shelf_stability import Authority as ShelfAuthority
from controller.food.germs.shelf_stability import Found, judge_authority, leistner_class
from controller.review.batch import ReadingRow
from controller.review.readings import weight_loss_pct
from controller.review.release.evidence import OUT, Evidence, Row, Section, row_of

SHELF: Final[dict[str, ShelfAuthority]] = {"us": "us", "canada": "canada", "eu": "eu", "uk": "eu"}
USEFUL: Final = "useful minimum"
PRACTICE: Final = "common practice, no source"
NO_PLAN: Final = "no plan was made for this batch, so it is not on record"


def losses(evidence: Evidence) -> dict[str, float]:
    """Return the loss of each piece that was weighed twice, in % of its green weight.

    The row of a piece that is taken out repeats its last weight, and is no weighing.
    """
    found = {}
    for piece in dict.fromkeys(row.piece for row in _weights(evidence)):
        rows = [row for row in _weights(evidence) if row.piece == piece]
        if len(rows) == 2 and rows[1].note.startswith(OUT) and rows[1].value == rows[0].value:  # noqa: PLR2004
            continue
        loss = weight_loss_pct(rows)
        if loss is not None:
            found[piece] = loss
    return found


def unweighed(evidence: Evidence) -> dict[str, float]:
    """Return the pieces that have neither left nor been weighed since they were green, and when that was."""
    lost, out = losses(evidence), evidence.out_s
    green = {row.piece: row.time_s for row in reversed(_weights(evidence))}
    return {piece: at_s for piece, at_s in green.items() if piece not in lost and piece not in out}


def _weights(evidence: Evidence) -> list[ReadingRow]:
    return [row for row in evidence.readings if row.kind == "weight"]


def weight_section(evidence: Evidence) -> Section:
    """Set the loss of the slowest piece beside what the profile dries to."""
    goals = [stage.until.weight_loss_pct for stage in evidence.record.card.profile.stages]
    goal = max((goal for goal in goals if goal is not None), default=None)
    by_piece = losses(evidence)
    slowest = min(by_piece, key=by_piece.__getitem__, default=None)
    found = (
        ""
        if slowest is None
        else f"{by_piece[slowest]:.1f} %, {slowest or 'the piece'}, the slowest of {len(by_piece)}"
    )
    holds = None if slowest is None or goal is None else by_piece[slowest] >= goal
    still = {piece: evidence.when(at_s) for piece, at_s in sorted(unweighed(evidence).items())}
    found += "".join(f"; {piece or 'the piece'} not weighed since {when}" for piece, when in still.items())
    holds = None if still and holds else holds
    wanted = "the profile asks for no loss" if goal is None else f"{goal:g} % of the green weight or more"
    row = Row("weight loss", wanted, found.removeprefix("; "), verdict_of(holds), "profile")
    out = evidence.out_s
    notes = [
        f"{piece}: {loss:.1f} %" + (f", out {evidence.when(out[piece])}" if piece in out else "")
        for piece, loss in by_piece.items()
    ]
    notes += [
        f"{piece}: out {evidence.when(at_s)}, not weighed" for piece, at_s in out.items() if piece not in by_piece
    ]
    told = (f"By piece: {'; '.join(notes)}.",) if len(notes) > 1 or out else ()
    return Section(name="weight-loss", title="Weight loss", rows=(row,), notes=told)


def water_section(evidence: Evidence, degree_hours: Verdict) -> Section:
    """Set the measured water activity beside the criteria of the maker's authority; estimates stand apart."""
    # Of several pieces the wettest counts.
    highest = max(evidence.newest_aw(), key=lambda row: row.value or 0.0, default=None)
    aw = None if highest is None else highest.value
    words = "" if highest is None else f"{aw:.3f}, {highest.instrument}, {evidence.when(highest.time_s)}"
    rows = [Row("water activity", "measured", words, verdict_of(None if aw is None else True))]
    ph = evidence.meter_ph()
    found = _found(evidence, aw, ph[-1].value if ph else None, degree_hours)
    authority = SHELF[authority_of(evidence)]
    verdict, conditions = judge_authority(authority, found)
    rows += [row_of(condition, counts=False) for condition in conditions]
    if authority == "us":  # FSIS asks for moisture to protein; the classes stand beside and meet nothing there.
        rows += [row_of(condition, counts=False) for condition in judge_authority("leistner", found)[1]]
    notes = ["One line of an authority is enough" + (", with the first three" if authority == "canada" else "") + "."]
    if authority == "us":
        notes.append("For the US moisture to protein counts: a laboratory measures it, and it has no entry here.")
    if aw is not None and found.ph is not None:
        notes.append(f"Class after Leistner and Roedel: {leistner_class(found.ph + found.ph_error, aw)}.")
    return Section(
        name="water-activity",
        title="Water activity and shelf stability",
        rows=tuple(rows),
        estimates=_estimates(evidence),
        notes=tuple(notes),
        verdict=verdict if aw is not None or verdict == "not met" else "not measured",
    )


def authority_of(evidence: Evidence) -> str:
    """Return whose limits the maker works under: by the plan, else by the degree-hours rule of the chamber."""
    if evidence.sheet is not None:
        return evidence.sheet.authority
    return "canada" if evidence.record.card.chamber.degree_hours_rule == "canada" else "us"


def _found(evidence: Evidence, aw: float | None, ph: float | None, degree_hours: Verdict) -> Found:
    formula = None if evidence.sheet is None else evidence.sheet.formula
    if formula is None:
        return Found(ph=ph, ferment_ph=evidence.end_ph(), aw=aw, degree_hours=degree_hours, ph_error=evidence.ph_error)
    of_mix = formula.meat_kg / formula.mix_kg
    return Found(
        ph=ph,
        ferment_ph=evidence.end_ph(),
        aw=aw,
        ingoing_ppm=formula.nitrite_ppm_ca + formula.nitrate_ppm * of_mix,
        salt_pct=formula.salt_pct * of_mix,
        degree_hours=degree_hours,
        ph_error=evidence.ph_error,
    )


def _estimates(evidence: Evidence) -> tuple[str, ...]:
    """Return water activity and moisture to protein by recipe and loss, each called an estimate."""
    by_piece = losses(evidence)
    if not by_piece:
        return ()
    loss = min(by_piece.values())
    card = evidence.record.card
    batch = Batch(id=card.batch.id, profile=card.profile, began_wall_s=0.0, sheet=card.sheet)
    mix, lactate, known = mix_of_batch(batch)
    left = mix.water_kg - loss / 100.0
    if left <= 0.0:
        return ()
    fat = "" if known else ", 25 % fat taken for want of a plan"
    return (
        (
            f"Estimated from recipe and {loss:.1f} % loss{fat}: water activity "
            f"{water_activity_at_loss(mix, loss, lactate):.2f} ±{AW_ERROR:g}, moisture to protein "
            f"{moisture_protein_ratio(mix, loss):.1f}. Estimates meet no criterion: measure for release."
        ),
    )


def cure_section(evidence: Evidence) -> Section:
    """Set the ingoing nitrite and nitrate of the plan beside the limits of the maker's authority."""
    card = evidence.record.card
    if evidence.sheet is None:
        grams = f"{card.formulation.cure_g:g} g of cure for {card.batch.meat_kg:g} kg; its strength: {NO_PLAN}"
        row = Row("ingoing nitrite and nitrate", "within the limits of the authority", grams, "not measured")
        return Section(name="cure", title="Cure", rows=(row,))
    formula = evidence.sheet.formula
    ours = AUTHORITY_NAMES[evidence.sheet.authority]
    rows = [_cure_row(checked) for checked in formula.limits if checked.authority == ours or checked.kind == USEFUL]
    notes = [
        f"Cure no. {formula.cure}, {formula.strength.nitrite_pct:g} % nitrite as on its pack, as planned and weighed."
    ]
    if formula.nitrite_ppm_us <= 0.0 and formula.nitrate_ppm <= 0.0:
        typed = "; ".join(evidence.sheet.accepted)
        words = f'none; the maker typed: "{typed}"' if typed else "none"
        rows.insert(0, Row("a cure", "nitrite or nitrate against Clostridium botulinum", words, "not met", PRACTICE))
        notes = ["No cure went in, as planned."]
    if any(row.verdict == "not measured" for row in rows):
        notes.append("What is not measured here is for a laboratory.")
    return Section(name="cure", title="Cure", rows=tuple(rows), notes=tuple(notes))


def _cure_row(checked: Checked) -> Row:
    """Return the line of one limit; a floor that does not bind what is shelf stable by its process stands beside.

    The least nitrite that is of any use counts whoever the authority is: below it nothing holds botulism back.
    """
    value, more = checked.value_ppm, "less" if checked.kind == "max" else "more"
    holds = {"within": True, "over": False, "under": False}.get(checked.verdict)
    words = "" if value is None else f"{value:.1f} ppm"
    words += f" ({checked.note})" if words and checked.note else ""
    binds = checked.kind in {"max", USEFUL} or (checked.kind == "min" and "not for products" not in checked.note)
    return Row(
        checked.rule, f"{checked.limit_ppm:g} ppm or {more}, of the {checked.basis}", words, verdict_of(holds),
        checked.source.replace(f"; {CONFIRM}", ""), checked.confirm, counts=binds and value is not None,
    )  # fmt: skip
