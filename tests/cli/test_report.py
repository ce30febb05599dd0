"""`hangroom report` writes one file beside the batch, or where it is told, and says where."""

import tempfile
from errno import ENOSPC
from os import strerror
from pathlib import Path

import pytest

from tests.cli.conftest import Typed
from tests.helpers.batch_logs import Log
from tests.helpers.pages import parsed, words_of
from tests.helpers.recorded import NAME
from tests.helpers.somebody import somebody_else


def a_batch(state_dir: Path) -> Path:
    log = Log().event(0.0, "hang").minutes(0.0, 20.0, 24.0, every_min=2.0).reading(19.0, "ph", 5.1)
    return log.write(state_dir / "batches" / NAME)


def test_it_stands_in_the_batch_folder_and_making_it_again_changes_no_source(state_dir: Path, typed: Typed) -> None:
    folder = a_batch(state_dir)
    code, out, err = typed("report", str(folder))
    assert (code, out, err) == (0, f"{folder / 'report.html'}\n", "")
    first = (folder / "report.html").read_text("utf-8")
    assert f"Batch record {NAME}" in words_of(parsed(first))
    assert typed("report", str(folder))[0] == 0
    again = (folder / "report.html").read_text("utf-8")
    assert first.partition("<footer>")[0] == again.partition("<footer>")[0], "the page itself is no source of it"


@pytest.mark.usefixtures("chamber")
def test_a_name_finds_the_batch_and_out_says_where_it_goes(state_dir: Path, tmp_path: Path, typed: Typed) -> None:
    folder = a_batch(state_dir)
    assert typed("report", NAME, "--out", str(tmp_path / "a.html"))[:2] == (0, f"{tmp_path / 'a.html'}\n")
    assert (tmp_path / "a.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    assert not (folder / "report.html").exists()


def test_what_cannot_be_written_or_read_is_said_in_a_line(state_dir: Path, tmp_path: Path, typed: Typed) -> None:
    folder = a_batch(state_dir)
    code, out, err = typed("report", str(folder), "--out", str(tmp_path / "no such" / "a.html"))
    assert (code, out) == (74, "")
    assert "cannot be written: No such file or directory; say where with --out FILE" in " ".join(err.split())
    assert typed("report", str(tmp_path / "nowhere"))[0] == 66
    (folder / "recipe.toml").write_text("nonsense = [", "utf-8")
    code, out, err = typed("report", str(folder))
    assert (code, out) == (65, "")
    assert "the batch card is damaged" in err


def test_a_full_disk_leaves_the_earlier_page_whole_and_no_half_of_a_new_one(
    state_dir: Path, tmp_path: Path, typed: Typed, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, page = a_batch(state_dir), tmp_path / "page.html"
    assert typed("report", str(folder), "--out", str(page))[0] == 0
    before = page.read_bytes()

    def half(self: Path, text: str, encoding: str) -> int:
        self.write_bytes(text.encode(encoding)[:1000])
        raise OSError(ENOSPC, strerror(ENOSPC))

    monkeypatch.setattr(Path, "write_text", half)
    code, out, err = typed("report", str(folder), "--out", str(page))
    assert (code, out) == (74, "")
    assert "No space left on device" in " ".join(err.split())
    assert page.read_bytes() == before
    assert [path.name for path in tmp_path.glob("page*")] == ["page.html"]


@pytest.mark.parametrize("name", ["recipe.toml", "readings.csv", "climate-2026-01-05.csv", "forecasts.csv"])
def test_no_record_of_a_batch_is_replaced_by_a_page(state_dir: Path, typed: Typed, name: str) -> None:
    folder = a_batch(state_dir)
    before = {path: path.read_bytes() for path in folder.iterdir()}
    code, out, err = typed("report", str(folder), "--out", str(folder / name))
    assert (code, out) == (64, "")
    assert "only by a name that ends in .html" in " ".join(err.split())
    assert {path: path.read_bytes() for path in folder.iterdir()} == before


def test_only_a_page_is_replaced_by_a_page(state_dir: Path, tmp_path: Path, typed: Typed) -> None:
    folder, other = a_batch(state_dir), tmp_path / "chamber.toml"
    other.write_text("[chamber]\n", "utf-8")
    code, _, err = typed("report", str(folder), "--out", str(other))
    assert code == 64
    assert "is there already and is no report" in " ".join(err.split())
    assert other.read_text("utf-8") == "[chamber]\n"
    page = str(tmp_path / "a page")
    assert [typed("report", str(folder), "--out", page)[0] for _ in range(2)] == [0, 0]


def test_a_folder_of_somebody_else_wants_another_place(typed: Typed) -> None:
    with tempfile.TemporaryDirectory() as open_to_all:  # pytest's own folder lets nobody else pass.
        Path(open_to_all).chmod(0o755)
        folder = a_batch(Path(open_to_all))
        with somebody_else():
            code, _, err = typed("report", str(folder))
        assert code == 77
        assert "say where with --out FILE" in " ".join(err.split())
        assert not (folder / "report.html").exists()
