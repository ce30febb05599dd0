"""What a power cut may leave of a disk: a few of the states that `python -m tests.rig.disk --states 500` judges."""

from pathlib import Path

import pytest

from tests.rig.disk.crashes import SECTOR, Crash, Kept, Recording, Write, crashes, images, keep, kept_in
from tests.rig.disk.mounting import new_image, why_not
from tests.rig.disk.planted import planted
from tests.rig.disk.recovery import Found, record, try_states
from tests.rig.disk.witness import Noted


@pytest.fixture(scope="module")
def disk() -> bytes:
    """Return an empty ext4; the test is skipped, and says so, where nothing may be mounted."""
    reason = why_not()
    if reason:
        pytest.skip(f"NOT SHOWN ON A REAL DISK: {reason}")
    return new_image()


def tried(disk: bytes, options: str, count: int) -> Found:
    found = Found()
    try_states(Kept(options, 5, count, record(disk, options, seed=5)), found, lambda _found, _new: None)
    return found


@pytest.mark.parametrize("options", ["default", pytest.param("noauto_da_alloc", marks=pytest.mark.long)])
def test_whatever_a_power_cut_leaves_nothing_promised_is_lost(disk: bytes, options: str) -> None:
    """Takes some seconds: a day is told on a real disk, and a few states of it are mounted and begun on."""
    found = tried(disk, options, 3)
    assert found.wrong == []
    assert sum(found.states.values()) == 3
    assert found.promised_rows > 0
    assert found.promised_wholes > 0


@pytest.mark.long
@pytest.mark.parametrize(
    ("fault", "says"),
    [
        ("rows-are-not-forced", "a row that was promised is not there"),
        ("names-are-not-forced", "was posted, and is neither in the box nor answered"),
    ],
)
def test_a_rule_of_forcing_that_is_left_out_is_found(disk: bytes, fault: str, says: str) -> None:
    with planted(fault):
        found = tried(disk, "default", 16)
    assert any(says in line for line in found.wrong)


@pytest.fixture
def recording() -> Recording:
    """Return a log of a disk of four sectors: one write that was flushed, and two that were not."""
    writes = [
        Write(10, 0, b"a" * SECTOR),
        Write(20, 0, None),
        Write(30, SECTOR, b"b" * SECTOR * 2),
        Write(40, 3 * SECTOR, b"c" * SECTOR),
    ]
    return Recording(bytes(4 * SECTOR), writes, [(20, Noted("row", "rows.csv", b"a")), (40, Noted("row", "x", b"b"))])


def arrived(image: bytearray) -> str:
    return "".join(chr(image[at]) if image[at] else "-" for at in range(0, len(image), SECTOR))


def test_what_was_flushed_is_there_and_of_the_rest_all_none_some_or_single_sectors(recording: Recording) -> None:
    seen: dict[str, set[str]] = {}
    for crash, image in images(recording, crashes(recording, 600, seed=1), seed=1):
        if crash.records == 4:
            seen.setdefault(crash.manner, set()).add(arrived(image))
    assert seen["all"] == {"abbc"}
    assert seen["none"] == {"a---"}
    assert seen["some"] == {"a---", "abb-", "a--c", "abbc"}
    assert {"ab--", "a-b-"} <= seen["torn"]
    assert all(found[0] == "a" for found in seen["torn"])


def test_a_write_that_was_never_flushed_may_be_missing_until_it_is(recording: Recording) -> None:
    first = [image for crash, image in images(recording, [Crash(1, 1, "none"), Crash(2, 2, "none")], seed=1)]
    assert [arrived(image) for image in first] == ["----", "a---"]


def test_only_what_was_promised_before_the_cut_is_asked_for(recording: Recording) -> None:
    assert [one.data for one in recording.noted_before(Crash(0, 3, "all").place(recording))] == [b"a"]
    assert recording.noted_before(Crash(0, 0, "all").place(recording)) == []


def test_a_kept_recording_makes_the_very_same_states_again(recording: Recording, tmp_path: Path) -> None:
    keep(tmp_path / "kept", Kept("default", 3, 50, recording))
    kept = kept_in(tmp_path / "kept")
    chosen = crashes(recording, 50, seed=3)
    assert crashes(kept.recording, kept.count, kept.seed) == chosen
    assert list(images(kept.recording, chosen, 3)) == list(images(recording, chosen, 3))
