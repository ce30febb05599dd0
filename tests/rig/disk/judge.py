"""Judge the files of a state folder by what had been promised of them. Nothing of the program's is asked here.

Given are the bytes of each file and what a witness noted up to that moment, in order. A row that was promised stands
in its file, whole, once, in the order in which rows were promised. A file that is replaced as a whole holds the
version that was promised last, or one that was begun after it. A request that was posted lies in the box, or is
answered, or its typist has read the answer.
"""

import csv
import io
import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

from tests.campaigns.checkers_records import decoded
from tests.rig.disk.witness import Noted

Files = Mapping[str, bytes]
CHECKPOINT: Final = "checkpoint.msgpack"
NEW: Final = "requests/new/"
ANSWERS: Final = "answers/"
OF_THE_TABLES: Final = {"readings.csv": (0, 2, 5), "instruments.csv": (0,)}
"""By these columns an entry stands once."""
MEASURED: Final = frozenset({"Ph", "Weigh", "CoreTemp", "Look"})
WITH_WORDS: Final = frozenset({"Note", "Hold", "Resume", "Adjust", "End"})
LATE_ROW: Final = "record:written_late"
LATE_EVENT: Final = " (written late)"


def lost_rows(files: Files, noted: Sequence[Noted]) -> Iterator[str]:
    """Yield the rows that were promised and do not stand in their files, each as often and in that order."""
    promised: dict[str, list[bytes]] = {}
    for one in noted:
        if one.what == "row":
            promised.setdefault(one.name, []).append(one.data)
    for name, rows in promised.items():
        data, at = files.get(name, b""), 0
        for row in rows:
            found = data.find(row, at)
            if found < 0 or (found > 0 and data[found - 1 : found] != b"\n"):
                yield f"{name}: a row that was promised is not there: {row.decode()!r}"
            else:
                at = found + len(row)


def broken_tables(files: Files) -> Iterator[str]:
    """Yield the tables that are not whole: zero bytes, a torn end, a row that does not fit, a doubled entry."""
    for name, data in files.items():
        if not name.endswith(".csv"):
            continue
        if b"\0" in data:
            yield f"{name}: has zero bytes"
            continue
        if data and not data.endswith(b"\r\n"):
            yield f"{name}: its last line is torn: {data[-60:]!r}"
            continue
        rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline=""), strict=True))
        yield from (f"{name}: a row does not fit its head: {row}" for row in rows if len(row) != len(rows[0]))
        if rows[1:] and rows[0] in rows[1:]:
            yield f"{name}: its head stands in it twice"
        columns = OF_THE_TABLES.get(name.rsplit("/", 1)[-1])
        if columns is not None:
            seen = Counter(tuple(row[place] for place in columns) for row in rows[1:])
            yield from (f"{name}: {one} stands {count} times" for one, count in seen.items() if count > 1)


def doubled_words(files: Files, ids: Iterable[str]) -> Iterator[str]:
    """Yield what a person typed with words of his own and stands in one diary twice."""
    for name, data in files.items():
        if name.endswith("events.csv"):
            for id in ids:
                if data.count(f"typed as {id}!".encode()) > 1:
                    yield f"{name}: the words of {id} stand there {data.count(f'typed as {id}!'.encode())} times"


def old_wholes(files: Files, noted: Sequence[Noted]) -> Iterator[str]:
    """Yield the files that hold half a version, or one older than was promised."""
    versions: dict[str, list[bytes]] = {}
    promised: dict[str, int] = {}
    gone: set[str] = set()
    for one in noted:
        if one.what == "whole-tried":
            versions.setdefault(one.name, []).append(one.data)
        elif one.what == "whole":
            promised[one.name] = len(versions[one.name]) - 1
            gone.discard(one.name)
        elif one.what == "fetched":
            gone.add(f"{ANSWERS}{one.name}.json")  # Whoever has read his answer takes it away.
    for name, tried in versions.items():
        copies = (name, f"{name}.previous") if name == CHECKPOINT else (name,)
        there = [files[copy] for copy in copies if copy in files]
        if not there:
            if name in promised and name not in gone:
                yield f"{name}: was promised and is not there"
            continue
        newest = there[0]
        if newest not in tried:
            yield f"{name}: holds no version that was ever begun, but {len(newest)} bytes: {newest[:80]!r}"
        elif last_place(tried, newest) < promised.get(name, 0):
            yield (
                f"{name}: holds version {last_place(tried, newest) + 1}, and {promised[name] + 1} of {len(tried)} was"
                " promised"
            )


def last_place(versions: Sequence[bytes], data: bytes) -> int:
    """Return the place of the newest version that is these bytes."""
    return len(versions) - 1 - list(reversed(versions)).index(data)


def remembered(files: Files) -> Any:  # noqa: ANN401 - plain data, whatever the program keeps
    """Return what the newest whole copy of the checkpoint holds; None where none is whole."""
    for name in (CHECKPOINT, f"{CHECKPOINT}.previous"):
        state = decoded(files[name]) if name in files else None
        if state is not None:
            return state
    return None


def unanswered(files: Files, noted: Sequence[Noted]) -> Iterator[str]:
    """Yield the requests that were posted and are neither in the box nor answered."""
    fetched = {one.name for one in noted if one.what == "fetched"}
    for one in noted:
        if one.what == "posted" and one.name not in fetched:
            name = f"{one.name}.json"
            if f"{NEW}{name}" not in files and f"{ANSWERS}{name}" not in files:
                yield f"{one.name}: was posted, and is neither in the box nor answered"


def empty_promises(files: Files, noted: Sequence[Noted]) -> Iterator[str]:
    """Yield the requests that were answered as done while a power cut would still take away what was done.

    What a person measured leaves a row with its id, words of his own stand in a diary, and the program's memory knows
    that it has answered.
    """
    kinds = {one.name: one.data.decode() for one in noted if one.what == "posted"}
    answers = {one.name: one.data for one in noted if one.what == "whole" and one.name.startswith(ANSWERS)}
    done = [name[len(ANSWERS) : -len(".json")] for name, data in answers.items() if _answer_of(data)["done"]]
    state = remembered(files)
    diaries = b"".join(data for name, data in files.items() if name.endswith("events.csv"))
    for id in done:
        kind = kinds.get(id, "")
        if state is None or id not in state["answered"]:
            yield f"{id} ({kind}): answered as done, and no memory on disk knows of it"
        table = "instruments.csv" if kind == "Calibrate" else "readings.csv" if kind in MEASURED else ""
        if table and not any(f"\r\n{id},".encode() in data for name, data in files.items() if name.endswith(table)):
            yield f"{id} ({kind}): answered as done, and its row is not in {table}"
        if kind in WITH_WORDS and f"typed as {id}!".encode() not in diaries:
            yield f"{id} ({kind}): answered as done, and its words are in no diary"


def answered_otherwise(files: Files, noted: Sequence[Noted]) -> Iterator[str]:
    """Yield the requests that have had one answer and now have another one."""
    first: dict[str, dict[str, Any]] = {}
    fetched: set[str] = set()
    for one in noted:
        if one.what == "whole" and one.name.startswith(ANSWERS):
            first.setdefault(one.name, _answer_of(one.data))
        elif one.what == "fetched":
            fetched.add(f"{ANSWERS}{one.name}.json")
    for name, answer in first.items():
        if name not in files:
            continue
        now = _answer_of(files[name])
        anew = now != answer and "already" not in now["text"]
        if now["done"] != answer["done"] or (name in fetched and anew):
            yield f"{name}: was {answer}, and now is {now}"


def _answer_of(data: bytes) -> dict[str, Any]:
    """Return an answer; one that says nothing where it is damaged, which `unreadable` tells."""
    try:
        answer: dict[str, Any] = json.loads(data)
    except ValueError:
        return {"done": False, "text": ""}
    return answer


def answered_again(noted: Sequence[Noted]) -> Iterator[str]:
    """Yield the requests of which an answer was put there again when its typist had read it."""
    fetched: set[str] = set()
    for one in noted:
        if one.what == "fetched":
            fetched.add(f"{ANSWERS}{one.name}.json")
        elif one.what == "whole" and one.name in fetched:
            yield f"{one.name}: was put there again when it had been read"


def unreadable(files: Files) -> Iterator[str]:
    """Yield what is no JSON and should be."""
    for name, data in files.items():
        if name.endswith(".json") and name.startswith((ANSWERS, NEW)):
            try:
                json.loads(data)
            except ValueError as error:
                yield f"{name}: {error}: {data[:80]!r}"
