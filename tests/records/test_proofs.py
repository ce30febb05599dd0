"""The record of first light: appended, never rewritten, and what it says of a layer."""

from pathlib import Path

import pytest

from controller.errors import AccessError, StorageError
from controller.records.proofs import FILE, Proof, keep_proof, read_proofs, standing_of
from tests.helpers.somebody import somebody_else

MONDAY_S, HOUR_S = 1_767_600_000.0, 3600.0


def seen(outcome: str, hours: float = 0.0, **more: object) -> Proof:
    return Proof(wall_s=MONDAY_S + hours * HOUR_S, layer="program killed", outcome=outcome, actor="anna", **more)  # type: ignore[arg-type]


def test_what_was_kept_comes_back_whatever_was_typed(tmp_path: Path) -> None:
    proofs = [
        seen("yes", temp_c=58.5, note='two "clicks", then dark\r\nand dark'),
        seen("no", 1.0, note="=1+1; ünterm Dach"),
        seen("not done", 2.0),
    ]
    for proof in proofs:
        keep_proof(tmp_path, proof)
    back = read_proofs(tmp_path)
    assert [(one.wall_s, one.outcome, one.temp_c, one.actor) for one in back] == [
        (one.wall_s, one.outcome, one.temp_c, one.actor) for one in proofs
    ]
    assert back[0].note == 'two "clicks", then dark  and dark'
    assert back[1].note == proofs[1].note


def test_a_torn_line_is_set_aside_and_the_next_row_is_whole(tmp_path: Path) -> None:
    keep_proof(tmp_path, seen("yes"))
    with (tmp_path / FILE).open("ab") as file:
        file.write(b"2026-01-05T08:00:00Z,program ki")
    assert len(read_proofs(tmp_path)) == 1
    keep_proof(tmp_path, seen("no", 3.0))
    assert [proof.outcome for proof in read_proofs(tmp_path)] == ["yes", "no"]
    assert (tmp_path / f"{FILE}.partial").exists()


@pytest.mark.parametrize(
    "line",
    [
        "2026-01-05,program killed,yes,,anna,",
        "2026-01-05T08:00:00Z,program killed,perhaps,,anna,",
        "2026-01-05T08:00:00Z,program killed,yes,nan,anna,",
        "2026-01-05T08:00:00Z,program killed",
        "\x00\x00\x00",
    ],
)
def test_a_line_that_is_no_proof_proves_nothing(tmp_path: Path, line: str) -> None:
    keep_proof(tmp_path, seen("no"))
    with (tmp_path / FILE).open("a") as file:
        file.write(f"{line}\r\n")
    assert [proof.outcome for proof in read_proofs(tmp_path)] == ["no"]


def test_the_newest_try_decides_and_what_was_not_done_tells_nothing() -> None:
    assert standing_of([], "program killed").proven is None
    standing = standing_of([seen("yes"), seen("not done", 1.0)], "program killed")
    assert (standing.proven, standing.failed) == (seen("yes"), None)
    standing = standing_of([seen("yes"), seen("no", 1.0), seen("not done", 2.0)], "program killed")
    assert (standing.proven, standing.failed) == (seen("yes"), seen("no", 1.0))
    standing = standing_of([seen("no"), seen("yes", 1.0)], "program killed")
    assert (standing.proven, standing.failed) == (seen("yes", 1.0), None)
    assert standing_of([seen("yes")], "too hot").proven is None


def test_who_may_not_write_there_is_told_so(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    with somebody_else(), pytest.raises(AccessError, match="may not write"):
        keep_proof(tmp_path, seen("yes"))


def test_a_disk_that_refuses_is_told_and_nothing_is_half_written(tmp_path: Path) -> None:
    (tmp_path / FILE).mkdir()
    with pytest.raises(StorageError):
        keep_proof(tmp_path, seen("yes"))
