"""Tell the day once for each call that the records make to the disk, with that call failing, and judge what is left.

First the day is told undisturbed and its calls are counted. Then it is told again for each of them and for each error
that the call can come back with; and for a part of them with the error lasting ten minutes from that call on.
"""

import csv
import errno
import io
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from msgspec import Struct, field

from tests.campaigns.disk import Inode
from tests.rig.disk import judge
from tests.rig.disk.day import KILL_S, RESTART_S, TICK_S, Day
from tests.rig.disk.failing import ERRORS, LASTS_S, SHORT, Call, FailingDisk, Failure, read_through
from tests.rig.disk.witness import Noted

WITH_THE_PROGRAM_S: Final = RESTART_S + 2 * TICK_S
"""What the disk refused so shortly before the program was killed is gone with the program; nobody was promised it."""
_ID: Final = re.compile(r"\br\d+\b")
OF_THE_RECORDS: Final = frozenset({"records", "gap", "back", "clock", "alarm", "returned"})
"""Events that a failing disk brings about or whose words it changes: they are not compared."""

Rows = Counter[tuple[str, ...]]


class Told(Struct):
    """Hold what came of one telling."""

    day: Day
    disk: FailingDisk
    noted: list[tuple[float, Noted]]
    wrong: list[str]

    @property
    def view(self) -> dict[str, bytes]:
        """Return the files as every program sees them."""
        disk = self.disk
        return {path[len(disk.root) + 1 :]: disk.peek(path) for path in disk.names}

    @property
    def platter(self) -> dict[str, bytes]:
        """Return the files as a power cut would leave them."""
        disk = self.disk
        forced = {path: what for path, what in disk.forced.items() if isinstance(what, Inode)}
        return {
            path[len(disk.root) + 1 :]: bytes(what.forced) for path, what in forced.items() if disk._is_reached(path)
        }

    @property
    def lasts_s(self) -> float:
        """Return for how long calls failed; 0 where one did."""
        failure = self.disk.failure
        return 0.0 if failure is None else failure.lasts_s

    def noted_only(self) -> list[Noted]:
        """Return what the witness noted, without the instants."""
        return [one for _, one in self.noted]


def tell(root: Path, failure: Failure | None) -> Told:
    """Tell the day over a disk on which this fails."""
    disk = FailingDisk(root, failure)
    noted: list[tuple[float, Noted]] = []
    wrong: list[str] = []
    told: list[Told] = []
    looks = [1, 2]  # The files are looked at where the call fails, and after the two next ticks.

    def look() -> None:
        now, so_far = told[0], told[0].noted_only()
        wrong.extend(judge.unreadable(now.view))
        wrong.extend(judge.old_wholes(now.view, so_far))
        wrong.extend(judge.empty_promises(now.platter, so_far))

    def look_afterwards(_day: Day) -> None:
        if disk.failed and looks:
            looks.pop()
            disk.look_aside(look)

    def see(noted_now: Noted) -> None:
        noted.append((disk.now_s(), noted_now))

    day = Day(root, disk, note=see, after_tick=look_afterwards, around=lambda: read_through(disk))
    disk.now_s = lambda: day.world.elapsed_s
    disk.on_failure = look
    told.append(Told(day, disk, noted, wrong))
    try:
        day.tell()
    except Exception as error:  # noqa: BLE001 - whatever ends the program is a finding
        wrong.append(f"the program ended with {type(error).__name__}: {error}")
    disk.watches = False
    return told[0]


class Undisturbed(Struct):
    """Hold the day as it is told without a failure: its calls, ticks, lamp and rows."""

    calls: list[Call]
    ticks: list[float]
    lamp: list[tuple[float, bool]]
    rows: Rows


def undisturbed() -> Undisturbed:
    """Tell the day undisturbed."""
    with TemporaryDirectory() as folder:
        told = tell(Path(folder) / "state", None)
        wrong = [*told.wrong, *told.day.wrong, *told.day.lost, *told.day.starts_refused, *told.day.not_typed]
        if wrong:
            raise AssertionError(f"the undisturbed day: {wrong}")
        return Undisturbed(told.disk.calls, told.day.ticks, list(told.day.world.lamp_edges), rows_of(told.view))


def rows_of(files: judge.Files) -> Rows:
    """Return the climate rows by their times, and the events by their kinds and words without ids and marks."""
    found: Rows = Counter()
    for name, data in files.items():
        rows = list(csv.reader(io.StringIO(data.decode("utf-8", "replace"), newline="")))[1:]
        if "climate-" in name:
            found.update((name, row[0]) for row in rows)
        elif name.endswith("events.csv"):
            found.update(
                (row[1], _ID.sub("r", row[4].removesuffix(judge.LATE_EVENT)))
                for row in rows
                if row[1] not in OF_THE_RECORDS
            )
        elif name.endswith("readings.csv"):
            found.update((name, row[2], row[3], row[5]) for row in rows)
    return found


def try_failure(failure: Failure, plain: Undisturbed) -> Told:
    """Tell the day with this failure; what is wrong stands in the result."""
    with TemporaryDirectory() as folder:
        told = tell(Path(folder) / "state", failure)
        told.wrong += told.day.wrong
        told.wrong += list(_wrong(told, plain))
        return told


def _wrong(told: Told, plain: Undisturbed) -> Iterator[str]:
    day, noted, view = told.day, told.noted_only(), told.view
    if not told.disk.failed:
        yield "the call that was to fail never came"
    yield from judge.lost_rows(told.platter, noted)
    yield from judge.old_wholes(told.platter, noted)
    yield from judge.broken_tables(view)
    yield from judge.unreadable(view)
    yield from judge.unanswered(view, noted)
    if not told.lasts_s:  # Else whoever has read his answer cannot take it away either, and it is written over itself.
        yield from judge.answered_again(noted)
    yield from judge.empty_promises(told.platter, noted)
    yield from judge.doubled_words(view, day.typed)
    for id, typed in day.typed.items():
        just_typed = f"{judge.NEW}{id}.json" in view and day.world.elapsed_s - typed.at_s < 3 * TICK_S
        if len(typed.answers) != 1 and not just_typed:
            yield f"{id}: has {len(typed.answers)} answers at the end: {typed.answers}"
    yield from (f"{id}: its typist was told that it is not in the box, and it was done" for id in _done(view, day))
    yield from _forgotten(told)
    yield from _control(told, plain)
    yield from _missing(told, plain)
    yield from _unmarked(told)


def _done(view: judge.Files, day: Day) -> Iterator[str]:
    """Yield the requests that were refused to their typist and have left something."""
    tables = b"".join(data for name, data in view.items() if name.endswith(".csv"))
    for id in sorted(set(day.not_typed) - day.perhaps_typed):
        lies = f"requests/new/{id}.json" in view or f"answers/{id}.json" in view
        if lies or f"\r\n{id},".encode() in tables or f"typed as {id}!".encode() in tables:
            yield id


def _forgotten(told: Told) -> Iterator[str]:
    """Yield what was answered and is not known to a run that began after it."""
    for memory, done in told.day.begun_with:
        gone = sorted(done - set(memory.answered))
        if gone:
            yield f"{', '.join(gone)}: answered as done, and forgotten by a run that began afterwards"


def _control(told: Told, plain: Undisturbed) -> Iterator[str]:
    """Yield where the daemon did not go on deciding and heating as it does undisturbed."""
    day = told.day
    if day.starts_refused or day.paused_s:
        return  # It began a few seconds later; that is counted apart.
    if day.ticks != plain.ticks:
        yield f"{len(day.ticks)} decisions instead of {len(plain.ticks)}"
    if day.not_typed or day.said_again:
        return  # What people ask for came later.
    lamp, plainly = until_kill(day.world.lamp_edges), until_kill(plain.lamp)
    in_the_box = any(call.name.startswith(("requests", "answers")) for _, call in told.disk.failed)
    later_s = 2 * TICK_S + LASTS_S if told.lasts_s else 2 * TICK_S  # What is asked for comes later then.
    alike = len(lamp) == len(plainly) and all(
        (one, 0.0) == (other, at_s - other_s) if not in_the_box else one == other and 0.0 <= at_s - other_s <= later_s
        for (at_s, one), (other_s, other) in zip(lamp, plainly, strict=True)
    )
    if not alike:
        yield f"the lamp burned otherwise: {lamp} instead of {plainly}"


def until_kill(edges: Sequence[tuple[float, bool]]) -> list[tuple[float, bool]]:
    """Return when the lamp went on and off before the kill.

    A program that began after a crash gives no heat for ten minutes while the disk takes nothing, for nobody could
    count its crashes; so what the lamp does after the kill is not compared.
    """
    return [edge for edge in edges if edge[0] < KILL_S]


def _missing(told: Told, plain: Undisturbed) -> Iterator[str]:
    """Yield the rows that the undisturbed day has and this one lacks."""
    day = told.day
    if any("no batch is open" in text for typed in day.typed.values() for _, text in typed.answers):
        return  # Nobody ran when it was to be started, so all that was typed means something else.
    rows = rows_of(told.view)
    missing = plain.rows - rows
    if day.said_again or day.not_typed or day.starts_refused:  # The batch began later, so its rows do too.
        first = min((row for row in rows if "climate-" in row[0]), default=("",))
        early = [row for row in missing if row[0] == "learn" or ("climate-" in row[0] and row < first)]
        missing = Counter({row: count for row, count in missing.items() if row not in early})
    refused = [at_s for at_s, one in told.noted if one.what.endswith("refused")]
    killed_with = any(at_s <= KILL_S < at_s + max(told.lasts_s, 0) + WITH_THE_PROGRAM_S for at_s in refused)
    if day.starts_refused and told.lasts_s:
        missing = Counter({row: count for row, count in missing.items() if "climate-" not in row[0]})  # Nobody ran.
    if missing and not killed_with and not day.lost:
        yield f"missing: {sorted(missing)[:3]}"


def _unmarked(told: Told) -> Iterator[str]:
    """Yield the rows that the disk refused and that stand there later without their mark."""
    day, view = told.day, told.view
    if day.lost:
        return
    for at_s, one in told.noted:
        marked = judge.LATE_ROW.encode() in one.data or judge.LATE_EVENT.encode() in one.data
        kind = "climate-" in one.name or one.name.endswith("events.csv")
        killed = at_s <= KILL_S < at_s + told.lasts_s + WITH_THE_PROGRAM_S
        if one.what == "row-refused" and kind and not marked and not killed and one.data in view.get(one.name, b""):
            yield f"{one.name}: was refused, and stands there without a mark: {one.data.decode()!r}"


class Tried(Struct):
    """Hold what came of many failures."""

    tried: Counter[tuple[str, str]] = field(default_factory=Counter)  # By kind of call and error.
    lasting: Counter[str] = field(default_factory=Counter)
    calls: Counter[str] = field(default_factory=Counter)
    starts_refused: int = 0
    typing_refused: int = 0
    said_lost: int = 0
    wrong: list[str] = field(default_factory=list)


def failures(plain: Undisturbed, every: int = 1, lasting_every: int = 10, first: int = 0) -> Iterator[Failure]:
    """Yield each n-th call with each of its errors, and each m-th with a lasting one."""
    for number in range(first % every, len(plain.calls), every):
        for error in ERRORS[plain.calls[number].kind]:
            yield Failure(number, error)
    for number in range(first % lasting_every, len(plain.calls), lasting_every):
        for error in ERRORS[plain.calls[number].kind]:
            if error != SHORT:
                yield Failure(number, error, LASTS_S)


def try_all(
    plain: Undisturbed,
    chosen: Sequence[Failure],
    show: Callable[[int, Tried, Sequence[str]], None] = lambda _number, _tried, _new: None,
) -> Tried:
    """Try these failures one after the other."""
    tried = Tried(calls=Counter(call.kind for call in plain.calls))
    for number, failure in enumerate(chosen):
        told = try_failure(failure, plain)
        name = "SHORT" if failure.error == SHORT else errno.errorcode[failure.error]
        if failure.lasts_s:
            tried.lasting[name] += 1
        else:
            tried.tried[plain.calls[failure.number].kind, name] += 1
        tried.starts_refused += bool(told.day.starts_refused)
        tried.typing_refused += bool(told.day.not_typed)
        tried.said_lost += bool(told.day.lost)
        call = plain.calls[failure.number]
        new = [f"--failure {failure.text} ({call.kind} {call.name}): {line}" for line in told.wrong]
        tried.wrong += new
        show(number + 1, tried, new)
    return tried
