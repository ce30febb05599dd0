"""Files that no person wrote like that are refused in a line of words, at once, and never by a traceback."""

import tomllib
from pathlib import Path

import pytest

from controller.errors import SettingsError
from controller.settings.chamber_file import find_chamber, read_chamber
from controller.settings.profile_file import find_profile, read_profile

GOOD = find_profile("tangy").read_text("utf-8")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("a = [" + "\n[" * 40_000, "any.toml: the file: holds lists or tables too deep in each other"),
        ("[" + "a." * 20_000 + "a]\n", "any.toml: line 1: has 40003 letters; take up to 1000"),
        ("a = 1" + "0" * 5000, "any.toml: line 1: has 5005 letters; take up to 1000"),
        ("# good\n" * 20_000, "any.toml: the file: is larger than 100 kB; is it the right one?"),
    ],
    ids=["deep lists", "a key without end", "a number without end", "a large file"],
)
def test_what_would_keep_the_parser_busy_is_refused_before(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "any.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(SettingsError) as refused:
        read_profile(path)
    assert str(refused.value).startswith(says)
    assert "\n" not in str(refused.value)


def test_of_hundreds_of_problems_the_first_forty_are_told(tmp_path: Path) -> None:
    path = tmp_path / "any.toml"
    path.write_text(GOOD + "".join(f"surprise_{number} = 1\n" for number in range(300)), "utf-8")
    with pytest.raises(SettingsError) as refused:
        read_profile(path)
    lines = str(refused.value).splitlines()
    assert len(lines) == 41
    assert lines[-1] == "260 more problems are not shown; put these right first."


def test_a_number_that_is_no_temperature_in_any_unit_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "any.toml"
    path.write_text(
        find_chamber("insulated-box").read_text("utf-8").replace("trip_c = 45.0", f"trip_c = {10**400}"), "utf-8"
    )
    with pytest.raises(SettingsError, match=r"limits\.trip_c = 1000.*…: must be a number from 30 to 60$"):
        read_chamber(path)


def test_signs_that_no_screen_shows_are_told_by_their_number(tmp_path: Path) -> None:
    path = tmp_path / "any.toml"
    text = find_chamber("insulated-box").read_text("utf-8")
    path.write_text(text.replace('role = "heater"', 'role = "heater\u2028\u202e"'), "utf-8")
    with pytest.raises(SettingsError, match=r'output\[1\]\.role = "heater\\u2028\\u202e": holds signs that no screen'):
        read_chamber(path)
    path.write_text(text.replace('title = "Insulated', 'title = "\\u001b[2JInsulated'), "utf-8")
    with pytest.raises(SettingsError, match=r'title = "\\u001b\[2JInsulated .*: holds signs that no screen shows'):
        read_chamber(path)


def test_a_file_with_the_mark_that_some_editors_put_before_a_text_is_read(tmp_path: Path) -> None:
    path = tmp_path / "tangy.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    with pytest.raises(tomllib.TOMLDecodeError):
        tomllib.loads(path.read_text("utf-8"))
    assert read_profile(path) == read_profile(find_profile("tangy"))
