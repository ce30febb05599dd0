"""A piece that has left on its own day no longer counts in the loss of a batch that is read from its folder."""

import pytest

from controller.review.batch import ReadingRow
from controller.review.readings import standing, weight_loss_pct


def row(name: str, day: float, piece: str, grams: float, note: str = "", replaces: str = "") -> ReadingRow:
    return ReadingRow(name, day * 86_400.0, "weight", grams, piece, "scale", replaces, note=note)


GREEN = [row("w0", 0.0, "A", 400.0), row("w0", 0.0, "E", 300.0)]
LATER = [row("w1", 20.0, "A", 310.0), row("w1", 20.0, "E", 240.0)]


def test_the_slowest_of_the_others_counts() -> None:
    assert weight_loss_pct([*GREEN, *LATER]) == pytest.approx(20.0)
    assert weight_loss_pct([*GREEN, *LATER, row("out", 21.0, "E", 240.0, "out; firm")]) == pytest.approx(22.5)


def test_when_all_have_left_the_slowest_of_all_counts() -> None:
    gone = [row("out", 21.0, "E", 240.0, "out"), row("out2", 22.0, "A", 310.0, "out")]
    assert weight_loss_pct([*GREEN, *LATER, *gone]) == pytest.approx(20.0)


def test_a_piece_that_left_by_mistake_is_back_when_that_entry_is_corrected() -> None:
    rows = [*GREEN, *LATER, row("out", 21.0, "E", 240.0, "out"), row("w2", 21.1, "E", 237.0, replaces="out")]
    assert weight_loss_pct(standing(rows)) == pytest.approx(21.0)


def test_one_that_hangs_still_and_was_never_weighed_again_leaves_it_open() -> None:
    alone = [*GREEN, row("w1", 20.0, "A", 310.0)]
    assert weight_loss_pct(alone) is None
    assert weight_loss_pct([*alone, row("out", 21.0, "E", 300.0, "out")]) == pytest.approx(22.5)


def test_a_remark_that_only_sounds_like_it_takes_no_piece_out() -> None:
    assert weight_loss_pct([*GREEN, *LATER, row("w2", 21.0, "E", 240.0, "outer one, left")]) == pytest.approx(20.0)
