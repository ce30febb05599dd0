"""What a chamber cannot notice for want of a sensor is said once for each row of the fault table, and not otherwise."""

from typing import get_args

import pytest
from msgspec.structs import replace

from controller.cli.pages.unprotected import list_unprotected, not_monitored
from controller.core.fault_table import ROWS, Part, Row
from controller.core.values import ROLES, Channel
from controller.settings.chamber_file import SensorEntry
from tests.helpers.shipped_chambers import shipped_chamber

ALL: frozenset[Part] = frozenset((*get_args(Channel), *ROLES))
BARE: frozenset[Part] = frozenset(("air_temp", *ROLES))
CHANNELS = frozenset(get_args(Channel))
NEEDY = [row for row in ROWS.values() if any(CHANNELS.issuperset(group) for group in row.needs) and row.id != "S15"]
BETTER = [(row, part) for row in ROWS.values() for part, _ in row.better_with]


def about(row: Row, parts: frozenset[Part]) -> list[str]:
    return [sentence for sentence in not_monitored(parts) if f"({row.id})" in sentence]


@pytest.mark.parametrize("row", NEEDY, ids=lambda row: row.id)
def test_a_row_without_its_sensor_is_said_to_be_not_monitored(row: Row) -> None:
    (sentence,) = about(row, BARE)
    assert sentence.startswith(f"Not monitored: {row.title} ({row.id}). It needs a ")
    for part in {part for group in row.needs for part in group} - BARE:
        assert not any("Not monitored" in said for said in about(row, BARE | {part}))


@pytest.mark.parametrize(("row", "part"), BETTER, ids=lambda one: getattr(one, "id", one))
def test_a_row_that_is_worse_without_a_sensor_says_what_is_lost(row: Row, part: Part) -> None:
    (sentence,) = about(row, ALL - {part})
    assert sentence.startswith("No ")
    assert about(row, ALL) == []


def test_a_chamber_that_has_all_is_told_nothing_of_it() -> None:
    assert list(not_monitored(ALL)) == []


def test_what_is_not_there_need_not_be_watched() -> None:
    assert not any("(A7)" in said or "(A8)" in said for said in not_monitored(ALL - {"cooler"}))
    assert not any("(A1)" in said or "(A4)" in said for said in not_monitored(frozenset({"air_temp"})))


def test_the_shipped_box_says_in_sentences_what_a_contact_would_add() -> None:
    box = shipped_chamber("insulated-box")
    bare = list_unprotected(box)
    assert any(said.startswith("Not monitored: thermal cut-out open (A4). It needs a contact at") for said in bare)
    (door,) = [said for said in bare if said.startswith("No door contact: only that a door opens is guessed")]
    assert "a forgotten one calls nobody (P1)" in door
    more = (
        SensorEntry(channel="cutout", kind="contact", pin=5),
        SensorEntry(channel="door", kind="contact", pin=6),
    )
    equipped = list_unprotected(replace(box, sensor=(*box.sensor, *more)))
    assert not any("(A4)" in said or "door contact" in said for said in equipped)
    assert len(equipped) == len(bare) - 3  # Those two, and that nobody sees the cut-out open.
