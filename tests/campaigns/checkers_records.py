"""What must hold of records: what was answered is on the platter, stays there, and is answered once.

Looked at are the files themselves and what the model disk says of them; they are read with nothing of the program's.
"""
# ruff: noqa: ANN401 - what the program remembers is looked at as plain data, and the hooks take what theirs take

import csv
import io
import json
import zlib
from pathlib import Path
from typing import Any, Final

import msgspec

from tests.campaigns.disk import Inode
from tests.campaigns.facts import Facts

REPORTS: Final = frozenset({"Ph", "Weigh", "CoreTemp", "Smoker", "WaterActivity", "Look"})
"""What a person measured: a row in `readings.csv` with the request's id. All else leaves a row in the diary."""
REMEMBERED: Final = 100
TRIES: Final = 8
"""A sector that cannot be read eight times running is taken for bad."""


class RecordsChecker:
    """Watch answers, rows and the checkpoint."""

    def __init__(self, facts: Facts) -> None:
        self._facts, self._disk = facts, facts.disk
        self._root = facts.disk.root
        self._checkpoint = f"{self._root}/checkpoint.msgpack"
        self._answers = f"{self._root}/answers/"
        self._given: dict[str, tuple[bool, str]] = {}  # The answer to each request, as it was put there first,
        self._fetched: set[str] = set()  # and those that a person has read.
        self._kept: dict[str, tuple[str, str]] = {}  # What was promised: id of a request, its kind and its verdict.
        self._stages: dict[str, int] = {}  # The stage of each batch when something was answered last.
        self._was_forced = False
        self._unread = self._forgiven = 0

    # Answers.

    def names_changed(self, what: str, path: str) -> None:
        """Look at each answer when it is put there."""
        if what != "there" or not path.startswith(self._answers) or not path.endswith(".json"):
            return
        try:
            answer = json.loads(self._disk.peek(path))
        except ValueError:
            self._facts.complain("answer", f"{path} is no answer")
            return
        name, done, text = path[len(self._answers) : -5], answer["done"], answer["text"]
        before = self._given.get(name)
        if before is None:
            self._given[name] = done, text
        elif before[0] != done or (name in self._fetched and text != before[1] and "already" not in text):
            self._facts.complain("answered twice", f"{name}: {before}, then {(done, text)}")
        if done:
            self._check_forced(name)

    def _check_forced(self, name: str) -> None:
        """Look whether all that an answer promises would outlive a power cut at this very instant."""
        state = self._forced_state()
        if state is None or name not in state["answered"]:
            self._facts.complain("answered too early", f"{name}: is answered, and no checkpoint on disk knows of it")
        if state is not None:
            for batch in state["batches"]:
                self._stages[batch["id"]] = max(self._stages.get(batch["id"], 0), batch.get("stage_index", 0))

    def _forced_state(self) -> Any:
        for path in (self._checkpoint, f"{self._checkpoint}.previous"):
            inode = self._disk.forced.get(path)
            state = decoded(bytes(inode.forced)) if isinstance(inode, Inode) else None
            if state is not None:
                self._was_forced = self._was_forced or bool(state["answered"])
                return state
        return None

    def answered(self, name: str, request: Any, answer: Any) -> None:
        """Remember what a person was told, and look whether it is on the platter."""
        self._fetched.add(name)
        if answer.done:
            kind = type(request).__name__
            self._kept[name] = (kind, getattr(request, "batch", ""))
            if not self._row_is_there(name, kind, forced=True):
                self._facts.complain("answered too early", f"{name} ({kind}): is answered, and its row is not on disk")

    def _row_is_there(self, name: str, kind: str, *, forced: bool) -> bool:
        file, mark = ("readings.csv", f"{name},") if kind in REPORTS else ("events.csv", f",{name}\r\n")
        wanted = mark.encode()
        paths = self._disk.forced if forced else self._disk.names
        for path, inode in paths.items():
            if path.endswith(file) and isinstance(inode, Inode):
                data = bytes(inode.forced) if forced else self._disk.peek(path)
                if (b"\r\n" + wanted in data) if kind in REPORTS else (wanted in data):
                    return True
        return False

    # What a program begins with, and what is left at the end.

    def program_begins(self, memory: Any) -> None:
        """Look whether all that was promised is still there; the keeper has just put the files' ends right."""
        failed, self._unread = self._disk.unread - self._unread, self._disk.unread
        if self._was_forced and not memory.answered and failed < TRIES:
            self._facts.complain("checkpoint", f"all is forgotten, though it was on disk; {failed} reads failed")
            self._forgive()
        elif failed >= TRIES:
            self._forgive()  # The newest copy cannot be read at all: the one before it has to do.
        self._forced_state()
        now = {batch.id: batch for batch in memory.batches}
        for name, stage in self._stages.items():
            batch = now.get(name)
            if batch is not None and batch.stage_index < stage:
                self._facts.complain("stage lost", f"{name}: is in stage {batch.stage_index} again, was in {stage}")
        answered = set(memory.answered)
        newest = max((int(name[1:]) for name in self._fetched), default=0)
        lately = [name for name in self._kept if int(name[1:]) > max(newest - REMEMBERED, self._forgiven)]
        forgotten = [name for name in lately if name not in answered]
        if forgotten:
            self._facts.complain("forgotten", f"{', '.join(forgotten)}: answered, and not known any more")
        if not self._disk.trouble:
            self._check_files()

    def _forgive(self) -> None:
        """Ask no more for what was promised before; its rows are asked for all the same."""
        self._stages.clear()
        self._forgiven = max((int(name[1:]) for name in self._kept), default=0)

    def _check_files(self) -> None:
        for name, (kind, _) in self._kept.items():
            if not self._row_is_there(name, kind, forced=False):
                self._facts.complain("row lost", f"{name} ({kind}): its row is gone")
        for path in self._disk.names:
            if path.endswith(".csv"):
                self._check_table(path)
        difference = self._disk.differs() if not any("io-error" in f.kind for f in self._facts.faults) else ""
        if difference:
            self._facts.complain("model disk", difference)

    def _check_table(self, path: str) -> None:
        """Look whether a file is a whole table: no zero bytes, as many fields in each row as in its head."""
        data = self._disk.peek(path)
        if b"\0" in data:
            self._facts.complain("unreadable", f"{path}: has zero bytes")
            return
        if data and not data.endswith(b"\r\n"):
            self._facts.complain("unreadable", f"{path}: its last line is torn")
            return
        rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline="")))
        if path.endswith("readings.csv"):
            seen = [(row[0], row[2], row[5]) for row in rows[1:]]
            twice = {one for one in seen if seen.count(one) > 1}
            if twice:
                self._facts.complain("done twice", f"{path}: {sorted(twice)[:3]}")
        odd = [row for row in rows if len(row) != len(rows[0])]
        if odd:
            self._facts.complain(
                "unreadable", f"{path}: a row has {len(odd[0])} fields, its head {len(rows[0])}: {odd[0]}"
            )

    def at_end(self) -> None:
        """Look at all files once more, and for requests that nobody has answered."""
        self._check_files()
        box = Path(self._root) / "requests" / "new"
        left = sorted(path.name for path in box.glob("*.json")) if box.is_dir() else []
        if len(left) > 3:
            self._facts.complain("unanswered", f"in the box are still {', '.join(left)}")


def decoded(data: bytes) -> Any:
    """Return what a checkpoint holds, read as plain data; None where it is damaged."""
    first, _, body = data.partition(b"\n")
    try:
        if json.loads(first)["crc32"] != zlib.crc32(body):
            return None
        return msgspec.msgpack.decode(body)
    except (ValueError, KeyError, TypeError, msgspec.DecodeError):
        return None
