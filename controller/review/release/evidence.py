"""Gather from a batch folder what a release sheet goes by: readings that stand, stages, logs of air and core."""

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final
from zoneinfo import ZoneInfo

from msgspec import Struct

from controller.core.plan import Stage, StageKind
from controller.core.sheet import Sheet
from controller.food.germs.measured import (
    TYPED_APART_S,
    Condition,
    Log,
    Verdict,
    apart,
    broken,
    celsius,
    readings_of,
    worst,
)
from controller.records.instruments import FILE as CHECKS_FILE
from controller.records.instruments import read_checks
from controller.review.batch import BatchRecord, ReadingRow
from controller.review.contradicted import SAUSAGE
from controller.review.figures import review_of
from controller.review.logs.order import GAP_ROWS
from controller.review.readings import is_ph_that_counts, standing
from controller.review.stages import Span, air_of, rows_of, spans_of

OUT: Final = "out"
PROBE: Final = "the fixed probe"
HOT: Final[frozenset[StageKind]] = frozenset({"smoke", "cook", "chill"})
DRYING: Final[frozenset[StageKind]] = frozenset({"dry", "equalise", "rest"})
HOT_C: Final = celsius(130.0)
JUST_AFTER_S: Final = 60.0


class Row(Struct, frozen=True):
    """Hold one line of the sheet; `counts` is false for what is shown beside and does not make up the verdict."""

    what: str
    wanted: str
    found: str
    verdict: Verdict
    source: str = ""
    confirm: bool = False
    counts: bool = True


class Section(Struct, frozen=True, kw_only=True):
    """Hold one criterion: its lines, what they come to, and what is to be said beside them."""

    name: str
    title: str
    rows: tuple[Row, ...]
    estimates: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    verdict: Verdict | None = None  # None: what the rows that count come to.

    @property
    def comes_to(self) -> Verdict:
        """Return the verdict on the whole criterion."""
        return worst(row.verdict for row in self.rows if row.counts) if self.verdict is None else self.verdict


def row_of(condition: Condition, *, counts: bool = True, what: str = "") -> Row:
    """Return the line of one condition."""
    return Row(
        what or condition.what, condition.wanted, condition.found, condition.verdict, condition.source,
        condition.confirm, counts,
    )  # fmt: skip


class Placed(Struct, frozen=True):
    """Hold a stage of the profile with the time in which the batch was in it."""

    stage: Stage
    span: Span

    @property
    def ends_s(self) -> float:
        """Return when it ended, or the last that is known of it."""
        return self.span.last_s if self.span.ended_s is None else self.span.ended_s


class Evidence(Struct, frozen=True, kw_only=True):
    """Hold what was recorded, ready to be set beside the criteria. Times are seconds since 1970 UTC, as in the rows."""

    record: BatchRecord
    figures: dict[str, Any]
    readings: Sequence[ReadingRow]
    stages: Sequence[Placed]
    hung_s: float | None

    @property
    def sheet(self) -> Sheet | None:
        """Return the plan of the batch, where its maker made one."""
        return self.record.card.sheet

    @property
    def species(self) -> frozenset[str]:
        """Return the species of the meats; empty where no plan tells them."""
        return frozenset() if self.sheet is None else frozenset(meat.species for meat in self.sheet.formula.meats)

    @property
    def ph_error(self) -> float:
        """Return how far a pH meter may be off, by the chamber file."""
        return self.record.card.chamber.ph_meter_error

    def when(self, time_s: float) -> str:
        """Return an instant in the chamber's local time."""
        zone = ZoneInfo(self.record.card.chamber.timezone)
        return dt.datetime.fromtimestamp(time_s, zone).strftime("%Y-%m-%d %H:%M")

    def of_kind(self, *kinds: StageKind) -> list[Placed]:
        """Return the stages of these kinds that the batch has been in."""
        return [placed for placed in self.stages if placed.stage.kind in kinds]

    def meter_ph(self) -> list[ReadingRow]:
        """Return the pH readings by meter since hanging, oldest first."""
        return [
            row
            for row in self.readings
            if is_ph_that_counts(row) and (self.hung_s is None or row.time_s >= self.hung_s)
        ]

    def ferment_ph(self) -> list[ReadingRow]:
        """Return of them those that were taken before the ferment was over; all of them where none was recorded."""
        ferments = self.of_kind("ferment")
        if not ferments or ferments[-1].span.ended_s is None:
            return self.meter_ph()
        return [row for row in self.meter_ph() if row.time_s <= ferments[-1].ends_s + JUST_AFTER_S]

    def end_ph(self) -> float | None:
        """Return the pH at the end of the ferment: the last reading of a real sausage, else of the sample."""
        taken = self.ferment_ph()
        sausage = [row for row in taken if is_of_sausage(row)]
        chosen = sausage or taken
        return chosen[-1].value if chosen else None

    def cores(self) -> dict[str, Log]:
        """Return the core temperatures by piece or probe, each (seconds, °C) by rising time, with its breaks.

        A reading without a name gives way to later ones with a name in the same stage. The fixed probe counts where the
        meat was heated or chilled in this chamber; else it hangs in an empty box.
        """
        logs: dict[str, list[tuple[float, float]]] = {}
        for row in self.readings:
            if row.kind != "core_temp" or row.value is None:
                continue
            name = row.piece or (row.instrument if " " in row.instrument else "")
            if name and "" in logs:
                stage = self._stage_at(row.time_s)
                logs[""] = [point for point in logs[""] if self._stage_at(point[0]) != stage]
            logs.setdefault(name, []).append((row.time_s, row.value))
        typed = {name: broken(log, TYPED_APART_S) for name, log in logs.items() if log}
        rows = [
            (row.time_s, row.core_temp_c)
            for placed in self.of_kind(*HOT)
            if placed.stage.where == "chamber"
            for row in rows_of(self.record, placed.span)
            if row.core_temp_c is not None
        ]
        return {**typed, PROBE: broken(rows, self._gap_s)} if rows else dict(typed)

    def _stage_at(self, time_s: float) -> str:
        """Return the stage in which a reading was taken; the newest of two where one ends and the next begins."""
        began = [placed.stage.name for placed in self.stages if placed.span.began_s <= time_s]
        return began[-1] if began else ""

    def heated_cores(self) -> dict[str, Log]:
        """Return the cores that were read in the cook; where none was, those that were hot at any time.

        A piece that was read in the chill alone tells nothing of the cook. All are given where no cook is recorded.
        """
        cooks, cores = self.of_kind("cook"), self.cores()
        if not cooks:
            return cores
        from_s, to_s = cooks[0].span.began_s, cooks[-1].ends_s
        read = {name: log for name, log in cores.items() if any(from_s <= at_s <= to_s for at_s, _ in readings_of(log))}
        return read or {name: log for name, log in cores.items() if any(temp_c >= HOT_C for _, temp_c in log)}

    @property
    def chill_s(self) -> float | None:
        """Return when the chill began; None where none is recorded."""
        return next((placed.span.began_s for placed in self.of_kind("chill")), None)

    def smoker_typed(self) -> Log:
        """Return the temperatures of a smoker or an oven that a person typed, with their breaks."""
        typed = [(r.time_s, r.value) for r in self.readings if r.kind == "smoker_temp" and r.value is not None]
        return broken(typed, TYPED_APART_S)

    def smoker(self) -> Log:
        """Return the temperatures of the smoker, or of this chamber while it smoked or cooked in it."""
        return sorted([*self.smoker_typed(), *apart(self.air("smoke", "cook"))])

    def newest_aw(self) -> list[ReadingRow]:
        """Return the newest measured water activity of each piece; where no piece was named, each counts.

        A piece dries on, so its earlier ones are past.
        """
        measured = [row for row in self.readings if row.kind == "water_activity" and row.value is not None]
        return list({row.piece or row.id: row for row in measured}.values())

    @property
    def last_s(self) -> float:
        """Return the last instant of which anything is known; 0 where nothing is."""
        record = self.record
        last_s = [rows[-1].time_s for rows in (record.events, self.readings) if rows]
        return max([*last_s, *self._last_row_s], default=0.0)

    @property
    def _last_row_s(self) -> tuple[float, ...]:
        """Return when the last climate row ended; nothing where there is none."""
        last_s = self.record.climate.last_s
        return () if last_s is None else (last_s,)

    @property
    def kept_until_s(self) -> float:
        """Return until when the batch is known to have been kept: it was taken out, or its last row was written.

        What somebody noted later proves nothing.
        """
        taken_out = [event.time_s for event in self.record.events if event.kind == "end"]
        ended = [placed.span.ended_s for placed in self.stages if placed.span.ended_s is not None]
        return taken_out[0] if taken_out else max([*ended, *self._last_row_s], default=0.0)

    @property
    def out_s(self) -> dict[str, float]:
        """Return when each piece left that has left on its own day."""
        newest = {row.piece: row for row in self.readings if row.kind == "weight"}
        return {piece: row.time_s for piece, row in newest.items() if row.note.split(";")[0] == OUT}

    def air(self, *kinds: StageKind) -> Log:
        """Return the air temperatures of the chamber in stages of these kinds, one a row of the climate log.

        There is a break wherever rows are missing, or without a good temperature, for more than two rows' time, and
        where the meat was elsewhere meanwhile.
        """
        rows = [
            point
            for placed in self.of_kind(*kinds)
            if placed.stage.where == "chamber"
            for point in air_of(self.record, placed.span)
        ]
        return broken(rows, self._gap_s)

    @property
    def _gap_s(self) -> float:
        """Return from when on rows are missing; the half second is for times that are kept in whole seconds."""
        return GAP_ROWS * self.record.every_s + 0.5

    def last_check(self, instrument: str) -> str:
        """Return what the last check of an instrument said, with its day; empty where none is on record."""
        if not instrument:
            return ""
        state_dir = self.record.folder.resolve().parent.parent
        if (state_dir / CHECKS_FILE).exists():
            checks = [entry for entry in read_checks(state_dir) if _is(instrument, entry.check.instrument)]
            if checks:
                newest = max(checks, key=lambda entry: entry.at_wall_s)
                return f"{self.when(newest.at_wall_s)}: {newest.check.verdict}"
        told = [event for event in self.record.events if event.kind == "check" and _is(instrument, event.text)]
        return f"{self.when(told[-1].time_s)}: {told[-1].text}" if told else ""


def _is(instrument: str, text: str) -> bool:
    """Say whether a check is of this instrument; a bare `meter` stands for any meter."""
    return text == instrument or text.startswith((f"{instrument}:", f"{instrument} "))


def is_of_sausage(row: ReadingRow) -> bool:
    """Say whether a pH was taken from the middle of a real sausage."""
    return row.note.startswith(SAUSAGE)


def evidence_of(record: BatchRecord) -> Evidence:
    """Return what a batch folder holds, in the order in which it happened."""
    stages = record.card.profile.stages
    return Evidence(
        record=record,
        figures=review_of(record),
        readings=standing(record.readings),
        stages=[Placed(stages[span.place], span) for span in spans_of(record)],
        hung_s=next((event.time_s for event in record.events if event.kind == "hang"), None),
    )
