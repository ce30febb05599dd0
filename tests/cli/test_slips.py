"""What is said of a slip of the hand: in a maker's words, and within the screen."""

import pytest

from tests.cli.conftest import Typed


@pytest.mark.usefixtures("chamber")
def test_a_time_that_cannot_be_understood_names_its_own_option(typed: Typed) -> None:
    code, _, err = typed("alarms", "--heard", "8 sharp")
    assert code == 64
    assert "--heard 8 sharp: not a time; write 14:30" in err


@pytest.mark.usefixtures("chamber")
@pytest.mark.parametrize(
    "line",
    [
        ("note", "--topic", "x", "y"),
        ("look", "A", "--look", "lovely"),
        ("release", "/nowhere/at/all/where/there/is/a/rather/long/path/to/the/folder/of/a/batch"),
        ("check", "--profile", "/nowhere/at/all/where/there/is/a/rather/long/path/to/a/profile.toml"),
        ("simulate", "tangy", "--fault", "no-such-kind@30h"),
    ],
)
def test_what_is_said_of_a_slip_fits_the_screen(line: tuple[str, ...], typed: Typed) -> None:
    code, _, err = typed(*line)
    assert code != 0
    assert max(len(row) for row in err.splitlines() if not row.startswith("/")) <= 80  # A path stays whole.
