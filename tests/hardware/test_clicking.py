"""Clicks on the project's own pins, over a chip that writes down each change of a line with its instant."""

import signal
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal

import pytest
from gpiod import LineSettings
from gpiod.line import Value

from controller.errors import UnavailableError
from controller.hardware.clicking import Clicker, Pace
from controller.hardware.pins import HeaderFactory
from tests.helpers.fake_pi import Edges, TracedChip, TracedLine

Active = Literal["high", "low"]
PIN = 17
QUICK = Pace(0.01, 0.05, 0.01)
LONG = Pace(0.01, 30.0, 0.01)


class Bench:
    """Hold a clicker and the file of its edges."""

    def __init__(self, folder: Path) -> None:
        self.file = folder / "edges"
        self.made: list[Clicker] = []

    def clicker(self, pace: Pace = QUICK, busy: frozenset[int] = frozenset()) -> Clicker:
        clicker = Clicker(HeaderFactory(TracedChip(Edges(self.file), busy)), pace)
        self.made.append(clicker)
        return clicker

    def edges(self, pin: int = PIN) -> list[str]:
        """Return what became of a line, in order, as `out 0`, `out 1`, `in -`."""
        rows = [row.split() for row in self.file.read_text().splitlines()]
        return [f"{way} {level}" for _, number, way, level in rows if int(number) == pin]

    def instants(self) -> list[tuple[float, int, str]]:
        rows = [row.split() for row in self.file.read_text().splitlines()]
        return [(float(at), int(pin), f"{way} {level}") for at, pin, way, level in rows]


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path)
    yield bench
    for clicker in bench.made:
        clicker.close()


@pytest.mark.parametrize(("active", "off", "on"), [("high", "out 0", "out 1"), ("low", "out 1", "out 0")])
def test_a_click_is_off_then_on_then_off_and_the_line_is_let_go(
    bench: Bench, active: Active, off: str, on: str
) -> None:
    bench.clicker().click(PIN, active)
    assert bench.edges() == [off, on, off, "in -"]


def test_who_answers_late_finds_the_relay_as_it_is_while_the_pi_starts(bench: Bench) -> None:
    """Nothing is waited for: when the click returns, a board of either kind is as it was before."""
    bench.clicker().click(PIN, "high")
    assert bench.edges()[-1] == "in -"


def test_a_level_that_is_known_stays_driven_off_and_is_given_back_off(bench: Bench) -> None:
    clicker = bench.clicker()
    clicker.click(PIN, "low", known=True)
    assert bench.edges() == ["out 1", "out 0", "out 1"]
    clicker.close()
    assert set(bench.edges()[2:]) == {"out 1"}


def test_after_the_wrong_guess_the_other_level_is_taken_from_the_first_instant(bench: Bench) -> None:
    """A pin remembers which level is off; one that was let go must not remember the wrong one."""
    clicker = bench.clicker()
    clicker.click(PIN, "high")
    clicker.click(PIN, "low")
    clicker.hold_off(PIN, "low")
    clicker.close()
    assert bench.edges()[:8] == ["out 0", "out 1", "out 0", "in -", "out 1", "out 0", "out 1", "in -"]
    assert set(bench.edges()[8:]) == {"out 1"}


def test_a_line_that_was_given_back_can_be_had_again(bench: Bench) -> None:
    clicker = bench.clicker()
    clicker.click(PIN, "high", known=True)
    clicker.close()
    again = bench.clicker()
    again.click(PIN, "high", known=True)
    assert bench.edges().count("out 1") == 2


def test_who_is_interrupted_leaves_the_relay_off_at_once(bench: Bench) -> None:
    class Interrupted(BaseException):
        pass

    def interrupt(_number: int, _frame: object) -> None:
        raise Interrupted

    before = signal.signal(signal.SIGALRM, interrupt)
    signal.setitimer(signal.ITIMER_REAL, 0.2)
    clicker = bench.clicker(LONG)
    began_s = time.monotonic()
    try:
        with pytest.raises(Interrupted):
            clicker.click(PIN, "high")
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
    clicker.close()
    assert time.monotonic() - began_s < 5.0  # And not the 30 s that the click would have taken.
    assert bench.edges()[:3] == ["out 0", "out 1", "out 0"]
    assert bench.edges()[-1] == "in -"


def test_two_outputs_are_never_on_together(bench: Bench) -> None:
    clicker = bench.clicker()
    threads = [threading.Thread(target=clicker.click, args=(pin, "high")) for pin in (17, 27, 22)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    on: set[int] = set()
    seen = 0
    for _, pin, what in bench.instants():
        if what == "out 1":
            on.add(pin)
            seen += 1
        else:
            on.discard(pin)
        assert len(on) <= 1
    assert seen == 3
    assert not on


def test_a_line_that_somebody_holds_is_told_and_nothing_is_driven(bench: Bench) -> None:
    with pytest.raises(UnavailableError, match="GPIO 17 cannot be claimed"):
        bench.clicker(busy=frozenset({PIN})).click(PIN, "high")
    assert bench.edges() == []


def test_the_stop_key_has_no_effect_while_a_relay_is_on(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stopped process would leave it on, for the thread that ends the click is stopped with it."""
    seen: list[object] = []
    note = Edges.note

    def look(edges: Edges, pin: int, settings: LineSettings) -> None:
        seen.append(signal.getsignal(signal.SIGTSTP))
        note(edges, pin, settings)

    before = signal.getsignal(signal.SIGTSTP)
    monkeypatch.setattr(Edges, "note", look)
    bench.clicker().click(PIN, "high")
    assert seen
    assert set(seen) == {signal.SIG_IGN}
    assert signal.getsignal(signal.SIGTSTP) is before


class Stubborn(TracedLine):
    """Be a line that cannot be driven to 0 in the ordinary way, `ways` of two."""

    ways = 1
    obeys = False

    def set_value(self, line: int, value: Value) -> None:
        if not self.obeys and value is Value.INACTIVE and any(" out 1" in row for row in self._rows()):
            raise OSError(5, "Input/output error")
        super().set_value(line, value)

    def reconfigure_lines(self, config: dict[int, LineSettings]) -> None:
        if self.ways > 1 and not self.obeys:
            raise OSError(5, "Input/output error")
        super().reconfigure_lines(config)

    def _rows(self) -> list[str]:
        return self.file.read_text().splitlines()

    file: Path


@pytest.mark.parametrize("ways", [1, 2])
def test_a_relay_that_will_not_go_off_is_tried_otherwise_and_else_told_with_the_plug(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, ways: int
) -> None:
    lines: list[Stubborn] = []

    def grant(chip: TracedChip, config: Any, consumer: str | None = None) -> TracedLine:  # noqa: ANN401 gpiod's own
        del consumer
        ((pin, settings),) = config.items()
        line = Stubborn(pin, settings, chip._edges)
        line.ways, line.file = ways, bench.file
        lines.append(line)
        return line

    monkeypatch.setattr(TracedChip, "request_lines", grant)
    clicker = bench.clicker()
    if ways == 1:
        clicker.click(PIN, "high")
        assert bench.edges()[:3] == ["out 0", "out 1", "out 0"]
    else:
        with pytest.raises(UnavailableError, match="Pull the plug"):
            clicker.click(PIN, "high")
    for line in lines:
        line.obeys = True
    clicker.close()
    assert bench.edges()[-1] != "out 1"
