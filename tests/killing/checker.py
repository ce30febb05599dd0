"""What must be true of the files after each kill, judged from the bytes on disk and the typists' own list.

The rows are read with Python's csv module and the columns' published names. Of the program only what a person would
use to look is called: the review of the batch, and the loading of the checkpoint.
"""

import csv
import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.checkpoint import load_checkpoint
from controller.review.figures import review
from tests.killing.typist import Ledger, Typed

Rows = list[dict[str, str]]


class Checker:
    """Look at one state folder again and again."""

    def __init__(self, state: Path, ledger: Ledger) -> None:
        """Look at nothing yet."""
        self._state = state
        self._ledger = ledger
        self.torn = 0

    def after_kill(self) -> list[str]:
        """Return what is wrong on disk at this instant; the program does not run."""
        typed = self._ledger.all()  # First: whatever was answered up to here must be there.
        rows, checks, diary, wrong = self._read()
        wrong += list(self._lost(typed, rows, checks, diary))
        wrong += list(_doubled(rows, checks))
        wrong += list(self._unreadable())
        return wrong

    def at_the_end(self) -> list[str]:
        """Return what is wrong after the last clean stop, when all has been answered."""
        wrong = self.after_kill()
        rows, checks, diary, _ = self._read()
        typed = self._ledger.all()
        known = Counter(one.id for one in typed)
        wrong += [f"{name}: {count} entries of the list have this id" for name, count in known.items() if count > 1]
        wrong += [f"{row['id']}: a row that nobody typed, {row}" for row in (*rows, *checks) if row["id"] not in known]
        left = sorted(path.name for path in (self._state / "requests" / "new").iterdir())
        wrong += [f"requests/new: {name} lies there unanswered" for name in left]
        for one in typed:
            wrong += [
                f"{one.id}: promised or typed, and no answer" for _ in "x" if not one.answers and not one.promised
            ]
            if one.promised and not one.answers:
                wrong += list(_missing(one, rows, checks, diary))
        fetched = {one.id for one in typed if one.answers}
        for path in sorted((self._state / "answers").iterdir()):
            if path.stem in fetched:
                wrong.append(f"{path.stem}: answered a second time: {path.read_text('utf-8')[:200]}")
        return wrong

    def _lost(self, typed: list[Typed], rows: Rows, checks: Rows, diary: Rows) -> Iterator[str]:
        for one in typed:
            if len(one.answers) > 1:
                yield f"{one.id}: answered {len(one.answers)} times: {one.answers}"
            if one.answers and one.answers[0][0]:
                yield from _missing(one, rows, checks, diary)
            if one.answers and not one.answers[0][0] and any(row["id"] == one.id for row in (*rows, *checks)):
                yield f"{one.id}: was refused and stands in the record: {one.answers}"
            if one.words and one.kind != "start" and sum(one.words in row["text"] for row in diary) > 1:
                yield f"{one.id}: `{one.words}` stands twice in the diary"

    def _read(self) -> tuple[Rows, Rows, Rows, list[str]]:
        """Return the readings, the checks of instruments and the diary of all batches, and the lines that are wrong."""
        wrong: list[str] = []
        found: dict[str, Rows] = {"readings.csv": [], "instruments.csv": [], "events.csv": []}
        paths = [self._state / "events.csv", self._state / "instruments.csv"]
        paths += sorted((self._state / "batches").glob("*/*.csv"))
        for path in paths:
            if not path.exists():
                continue
            data = path.read_bytes()
            whole = data[: data.rfind(b"\n") + 1]
            self.torn += whole != data
            lines = list(csv.reader(whole.decode("utf-8").splitlines(keepends=True), strict=True))
            if not lines:
                continue
            header, *body = lines
            wrong += [f"{path.name}: {line} does not fit its header" for line in body if len(line) != len(header)]
            if not whole.replace(b"\r\n", b"").count(b"\n") == whole.count(b"\0") == 0:
                wrong.append(f"{path.name}: a line that does not end as RFC 4180 has it, or zero bytes")
            if path.name in found and header != body[:1]:
                found[path.name] += [dict(zip(header, line, strict=True)) for line in body if len(line) == len(header)]
        return found["readings.csv"], found["instruments.csv"], found["events.csv"], wrong

    def _unreadable(self) -> Iterator[str]:
        """Yield what cannot be read by those who read it: checkpoint, status, answers, review."""
        loaded = load_checkpoint(self._state / CHECKPOINT)
        if loaded.memory is None and (self._state / CHECKPOINT).exists():
            yield f"the checkpoint: {loaded.warnings}"
        if any("damaged" in warning for warning in loaded.warnings):
            yield f"the checkpoint: {loaded.warnings}"
        for path in (self._state / "status.json", *(self._state / "answers").glob("*.json")):
            if path.exists():
                try:
                    json.loads(path.read_bytes())
                except (ValueError, FileNotFoundError) as error:
                    if path.exists():
                        yield f"{path.name}: {error}"
        for folder in sorted((self._state / "batches").glob("*/")):
            if (folder / "recipe.toml").exists():  # A batch begins with its card; a folder without is none yet.
                told = review(folder)
                if told["damaged_rows"]:
                    yield f"{folder.name}: {told['damage']}"


def _missing(one: Typed, rows: Rows, checks: Rows, diary: Rows) -> Iterator[str]:
    """Yield what of an entry that was promised is not on disk."""
    have = {(row["kind"], row["value"], row["piece"]) for row in rows if row["id"] == one.id}
    for wanted in one.readings:
        if wanted not in have:
            yield f"{one.id}: {wanted} was acknowledged and is not in readings.csv, which has {have or 'nothing'}"
    if one.check and not any(row["id"] == one.id for row in checks):
        yield f"{one.id}: the check was acknowledged and is not in instruments.csv"
    if one.words and not any(one.words in row["text"] for row in diary):
        yield f"{one.id}: `{one.words}` was acknowledged and is not in events.csv"


def _doubled(rows: Rows, checks: Rows) -> Iterator[str]:
    """Yield what stands twice."""
    readings = Counter((row["id"], row["kind"], row["piece"]) for row in rows)
    for name, count in (*readings.items(), *Counter(row["id"] for row in checks).items()):
        if count > 1:
            yield f"{name}: stands {count} times in its file"
