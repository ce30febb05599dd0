"""Whether what was recorded meets the option against trichinae: frost, heat, or days in the drying room."""

from dataclasses import replace
from typing import Final

from controller.food.bowl.formulation import Formula
from controller.food.germs.measured import HOUR_S, Log, worst
from controller.food.germs.trichinae import (
    CAUTION,
    GAME,
    OPTIONS,
    STATUS,
    WILD,
    Option,
    needs_option,
    option_of,
    salt_pct_6,
)
from controller.food.germs.trichinae_record import Recorded, frozen_as_written, judge
from controller.review.release.evidence import DRYING, Evidence, Row, Section, row_of
from controller.review.release.heat import coldest

IDS: Final = frozenset(option.id for option in OPTIONS)


def trichinae_section(evidence: Evidence) -> Section:
    """Set what was recorded beside the option that the maker chose for pork or game."""
    sheet, species = evidence.sheet, evidence.species
    notes = [STATUS, CAUTION]
    if species & (WILD | {"horse"}):
        notes.insert(0, GAME)
    if sheet is not None and not needs_option(species):
        meats = ", ".join(sorted(species))
        row = Row("meats", "pork, game and horse need an option", f"{meats}: none of them", "met", "plan")
        return Section(name="trichinae", title="Trichinae", rows=(row,))
    option = _option(evidence)
    if option is None:
        words = "no option was chosen" if sheet is not None else "no plan was made, so the meats are not on record"
        if _treated(evidence):
            words += f"; the maker wrote: {_treated(evidence)}"
        row = Row("option", "one that is published, for pork, game and horse", words, "not measured", STATUS)
        return Section(name="trichinae", title="Trichinae", rows=(row,), notes=tuple(notes))
    rows = _judged(option, evidence)
    notes.insert(0, f"Option {option.id}: {option.words}.")
    return Section(name="trichinae", title="Trichinae", rows=tuple(rows), notes=tuple(notes))


def _option(evidence: Evidence) -> Option | None:
    """Return the option that was chosen; without one the one that fits what the maker wrote, or the cook.

    Of several rows of a table the strictest that was met is taken, and where none was met its first or last.
    """
    chosen = evidence.sheet.trichinae if evidence.sheet is not None else ""
    written = _treated(evidence)
    for name in (chosen, written):
        if name in IDS:
            return option_of(name)
    if frozen_as_written(written) is not None:
        freezing = [option for option in OPTIONS if option.kind == "freeze"]
        return next((option for option in freezing if _comes_to(option, evidence) == "met"), freezing[0])
    if evidence.record.card.profile.style != "cooked" or not evidence.cores():
        return None
    heating = [option for option in reversed(OPTIONS) if option.kind == "cook"]
    return next((option for option in heating if _comes_to(option, evidence) == "met"), heating[0])


def _comes_to(option: Option, evidence: Evidence) -> str:
    return worst(row.verdict for row in _judged(option, evidence))


def _treated(evidence: Evidence) -> str:
    """Return what the maker wrote of the meats that can carry trichinae."""
    meats = () if evidence.sheet is None else evidence.sheet.formula.meats
    return "; ".join(dict.fromkeys(meat.treated for meat in meats if meat.treated and needs_option([meat.species])))


def _judged(option: Option, evidence: Evidence) -> list[Row]:
    """Judge an option by the coldest piece."""
    sheet = evidence.sheet
    aw = [row.value for row in evidence.readings if row.kind == "water_activity" and row.value is not None]
    began_s = evidence.hung_s  # The cure went in before that, so this asks the most.
    told = Recorded(
        species=evidence.species,
        treated=_treated(evidence),
        diameter_mm=evidence.record.card.batch.diameter_mm,
        salt_pct=None if sheet is None else _salt_pct(sheet.formula),
        ph=evidence.end_ph(),
        ph_error=evidence.ph_error,
        aw=max(aw, default=None),
        smoke=evidence.smoker(),
        ferment=evidence.air("ferment"),
        drying=evidence.air(*sorted(DRYING)),
        from_cure_h=None if began_s is None else (evidence.last_s - began_s) / HOUR_S,
    )
    cores: list[Log] = list(evidence.cores().values()) or [()]
    judged = [judge(option, replace(told, core=core)) for core in cores]
    return [row_of(condition) for condition in coldest(judged)]


def _salt_pct(formula: Formula) -> float:
    """Return the salt in % of the sausage without its dry ingredients: of the meat and the water."""
    water_kg = sum(line.grams for line in formula.ingredients if line.name == "water") / 1000.0
    return salt_pct_6(formula.salt_pct / 100.0 * formula.meat_kg, formula.meat_kg + water_kg)
