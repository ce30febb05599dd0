"""The bar shows itself to a person who waits, and to nobody else."""

import time

import pytest

from controller.cli.pages.reading_bar import ReadingBar


class Waits:
    """Be a clock on which a second passes with every look."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        self.now_s += 1.0
        return self.now_s


@pytest.mark.parametrize("is_seen", [True, False])
def test_what_takes_more_than_a_second_has_a_bar_on_a_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *, is_seen: bool
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: is_seen)
    monkeypatch.setattr(time, "monotonic", Waits())
    with ReadingBar(80e6) as bar:
        bar(0)
        bar(20_000_000)
        bar(20_000_000)
    said = capsys.readouterr()
    assert ("reading 40 of 80 MB" in said.err) == is_seen
    assert said.out == ""


def test_what_is_quick_has_none(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    monkeypatch.setattr(time, "monotonic", lambda: 5.0)
    with ReadingBar(80e6) as bar:
        bar(80_000_000)
    assert capsys.readouterr().err == ""
