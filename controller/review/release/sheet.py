"""Put the release sheet together: the criteria that were chosen, who decides, the cautions, room to sign."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, get_args

from controller.core.sheet import USUAL_CRITERIA, Criterion
from controller.core.values import LookKind
from controller.food.germs.measured import Verdict
from controller.records.csv_text import time_text
from controller.review.batch import BatchRecord, read_batch
from controller.review.damage import damage_of
from controller.review.logs.scan import NO_HINTS
from controller.review.logs.spreadsheet import Hints
from controller.review.release.drying import authority_of, cure_section, water_section, weight_section
from controller.review.release.evidence import Evidence, Section, evidence_of
from controller.review.release.heat import chill_section, lethality_section
from controller.review.release.souring import HOLD, degree_hours_section, ph_section
from controller.review.release.trichinae import trichinae_section

CRITERIA: Final[tuple[Criterion, ...]] = get_args(Criterion)
AUTHORITIES: Final = {
    "us": "USDA FSIS, or the meat inspection of your state",
    "canada": "the Canadian Food Inspection Agency, or the inspection of your province",
    "eu": "the food authority of your member state",
    "uk": "the Food Standards Agency, or Food Standards Scotland",
}
NO_VERDICT: Final = (
    "This sheet sets what was measured beside what is asked. It does not certify, and it does not say that the sausage "
    "may be eaten or sold: people decide that."
)
CAUTIONS: Final = (
    ("Botulism: nitrite, salt, acid and drying act together; leaving one out removes protection. Never bottle or "
    "vacuum-pack unfinished sausage in the warm (common practice, no source)."),
    "The toxin of Staphylococcus aureus outlives cooking; a pH that fell slowly is a reason to hold the batch.",
    ("Listeria, Salmonella, E. coli: fermenting and drying alone may lower their numbers by one or two powers of ten "
    "only. Not for pregnant, very young, old or immune-weak people without a validated process (common practice, no "
    "source)."),
    "Trichinella and Toxoplasma in pork, more so in game; rules of freezing are for domestic pork.",
    ("Mould: only known white starter moulds; brush and wash off green, black and yellow growth, and throw the piece "
    "away when it went through the casing (common practice, no source)."),
    "This software helps to record; it does not certify. Sale needs the rules of the local authority.",
)  # fmt: skip
RECORDS: Final = (
    "A review before anything leaves is dated and signed, where practicable by another person than the one who "
    "recorded (9 CFR 417.5)."
)
SIGNS: Final = (
    "measured and recorded by",
    "what is done about the rest",
    "looked through by another person",
    "released, or held, by",
)


def release(folder: Path, hints: Hints = NO_HINTS) -> dict[str, Any]:
    """Return the release sheet of a batch as plain values for JSON.

    Args:
        folder: of the batch.
        hints: what a person says about the times of a climate file that a spreadsheet has saved again.

    Raises:
        NoInputError: there is no such folder, or no batch card in it.
        DataError: the card is damaged.
    """
    return release_of(read_batch(folder, hints=hints))


def release_of(record: BatchRecord) -> dict[str, Any]:
    """Return the release sheet of what was read: criteria with their lines, who decides, cautions, room to sign.

    `verdict` is met, not met or not measured; `confirm` marks a limit that rests on memory.
    """
    evidence = evidence_of(record)
    sections = sections_of(evidence)
    met = degree_hours_section(evidence).comes_to
    card, verdicts = record.card, [section.comes_to for section in sections]
    return {
        "batch": card.batch.id,
        "profile": card.profile.name,
        "title": card.profile.title,
        "style": card.profile.style,
        "meat_kg": card.batch.meat_kg,
        "diameter_mm": card.batch.diameter_mm,
        "state": evidence.figures["state"],
        "timezone": card.chamber.timezone,
        "units": card.chamber.units,
        "damage": list(damage_of(record)),
        "began": card.batch.began,
        "recorded_until": time_text(evidence.last_s) if evidence.last_s else None,
        "authority": authority_of(evidence),
        "criteria_chosen_by": "plan"
        if evidence.sheet is not None and evidence.sheet.criteria
        else "style of the profile",
        "criteria": [_section(section) for section in sections],
        "counts": {verdict: verdicts.count(verdict) for verdict in ("met", "not met", "not measured")},
        "seen": seen(evidence),
        "decides": who_decides(evidence, met),
        "says": NO_VERDICT,
        "cautions": list(CAUTIONS),
        "records": RECORDS,
        "signatures": [{"what": what, "name": "", "date": ""} for what in SIGNS],
    }


def sections_of(evidence: Evidence) -> list[Section]:
    """Return the criteria that were chosen, in their order, each with its lines."""
    degree_hours = degree_hours_section(evidence)
    met: Verdict = degree_hours.comes_to
    make: dict[Criterion, Callable[[], Section]] = {
        "ph": lambda: ph_section(evidence),
        "degree-hours": lambda: degree_hours,
        "weight-loss": lambda: weight_section(evidence),
        "water-activity": lambda: water_section(evidence, met),
        "lethality": lambda: lethality_section(evidence, met),
        "chill": lambda: chill_section(evidence),
        "trichinae": lambda: trichinae_section(evidence),
        "cure": lambda: cure_section(evidence),
    }
    chosen = chosen_criteria(evidence)
    return [make[name]() for name in CRITERIA if name in chosen]


def chosen_criteria(evidence: Evidence) -> tuple[Criterion, ...]:
    """Return the criteria of the plan; without them those of the profile's style, with the kill it names."""
    if evidence.sheet is not None and evidence.sheet.criteria:
        return evidence.sheet.criteria
    profile = evidence.record.card.profile
    kill = ("lethality",) if profile.kill_step or (evidence.sheet is not None and evidence.sheet.kill_step) else ()
    return (*USUAL_CRITERIA[profile.style], *kill)


def seen(evidence: Evidence) -> list[dict[str, str]]:
    """Return what was last seen, felt and smelled, of each piece that was looked at."""
    newest = {(row.kind, row.piece): row for row in evidence.readings if row.kind in get_args(LookKind)}
    return [
        {"kind": row.kind, "word": row.text, "piece": row.piece, "time": time_text(row.time_s)}
        for row in newest.values()
    ]


def who_decides(evidence: Evidence, degree_hours: Verdict) -> list[dict[str, str]]:
    """Return who decides on what, by name of the office."""
    maker = evidence.record.events[0].actor if evidence.record.events else ""
    last = next((row.actor for row in reversed(evidence.readings) if row.actor), maker)
    laboratory = (
        "water activity, moisture and protein, what is left of nitrite, and germs and toxins where it is asked for"
    )
    if degree_hours == "not met":
        laboratory = f"S. aureus and its toxin, E. coli O157:H7, Salmonella and Listeria. {HOLD}"
    return [
        {
            "who": "the maker" + (f" ({last})" if last else ""),
            "what": "whether everything was done and measured as it stands here",
        },
        {"who": "the authority", "what": f"which limits bind, and any sale: {AUTHORITIES[authority_of(evidence)]}"},
        {"who": "a laboratory", "what": laboratory},
    ]


def _section(section: Section) -> dict[str, Any]:
    return {
        "name": section.name,
        "title": section.title,
        "verdict": section.comes_to,
        "lines": [
            {
                "what": row.what,
                "wanted": row.wanted,
                "found": row.found or None,
                "verdict": row.verdict,
                "source": row.source,
                "confirm": row.confirm,
                "counts": row.counts,
            }
            for row in section.rows
        ],
        "estimates": list(section.estimates),
        "notes": list(section.notes),
    }
