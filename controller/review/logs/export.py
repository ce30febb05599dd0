"""Write climate rows as Parquet, so that any engine for tables takes them as they are.

The files lie as Hive partitions: chamber=NAME/month=YYYY-MM/BATCH-NNNN.parquet, the month by UTC. Each has the columns
of `COLUMNS`, whatever the version that wrote the log had; what is missing is null. Chamber and month stand in the path
only, as the convention has it.
"""

import os
from collections.abc import Iterator
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Final
from urllib.parse import quote

import polars as pl
from msgspec import Struct

from controller.errors import AccessError, StorageError
from controller.review.batch import BatchRecord
from controller.review.logs.log import Log
from controller.review.logs.scan import NO_HINTS, WIDE_SCHEMA, Tell, climate_files, scan
from controller.review.logs.spreadsheet import Hints

COLUMNS: Final[dict[str, pl.DataType]] = {
    "batch": pl.String(),
    "time": pl.Datetime("us", "UTC"),
    **{name: kind() for name, kind in WIDE_SCHEMA.items() if name != "time_s"},
}


class Exported(Struct, frozen=True):
    """Hold what was written of one batch, and what of its log could not be read."""

    rows: int
    files: int
    damaged_rows: int
    copies: int  # Rows that stood there a second time and were left out.


def export(record: BatchRecord, out: Path, *, hints: Hints = NO_HINTS, tell: Tell | None = None) -> Exported:
    """Write the climate of one batch; files of the same batch that are there are replaced.

    All are written aside and then renamed: a batch that cannot be read to its end leaves none and replaces none.

    Args:
        record: what was recorded.
        out: the folder of the data set; is made.
        hints: what a person says about times without a zone.
        tell: is told of the bytes that have been read.

    Raises:
        DataError: a file cannot be read, or its times may be read in several ways.
        AccessError, StorageError: it cannot be written.
    """
    read = partial(scan, hints=hints, schema=WIDE_SCHEMA)
    log = Log(climate_files(record.folder), record.every_s, tell=tell, read=read, schema=WIDE_SCHEMA)
    batch, name = record.card.batch.id, quote(record.folder.resolve().name, safe="")
    chamber = out / f"chamber={quote(record.card.chamber.name, safe='')}"
    rows = 0
    try:
        chamber.mkdir(parents=True, exist_ok=True)
        old = set(chamber.glob(f"month=*/{name}-[0-9][0-9][0-9][0-9].parquet"))
        new: dict[Path, Path] = {}
        try:
            for number, frame in enumerate(log.frames()):
                for month, part in _by_month(frame, batch):
                    path = chamber / f"month={month}" / f"{name}-{number:04}.parquet"
                    new[path] = path.with_suffix(".parquet.part")
                    _write(part, new[path])
                    rows += part.height
            for path, aside in new.items():
                os.replace(aside, path)  # noqa: PTH105 - as everywhere in the house
        finally:
            for aside in new.values():
                aside.unlink(missing_ok=True)
        for path in old - new.keys():
            path.unlink()
    except PermissionError as error:
        raise AccessError(f"{out}: you may not write there; say another folder with --out DIR") from error
    except OSError as error:
        raise StorageError(f"{out}: cannot be written: {error.strerror or error}") from error
    copies = sum(copy.rows for copy in log.disorder.copies)
    return Exported(rows, len(new), sum(log.unread.counts.values()), copies)


def _by_month(frame: pl.DataFrame, batch: str) -> Iterator[tuple[str, pl.DataFrame]]:
    time = (pl.col("time_s") * 1e6).round().cast(pl.Int64).cast(pl.Datetime("us")).dt.replace_time_zone("UTC")
    rows = frame.with_columns(time.alias("time"), pl.lit(batch).alias("batch"))
    months = rows.with_columns(pl.col("time").dt.strftime("%Y-%m").alias("month"))
    for (month,), part in months.partition_by("month", as_dict=True, maintain_order=True).items():
        yield str(month), part.select(pl.col(name).cast(kind) for name, kind in COLUMNS.items())


def _write(part: pl.DataFrame, aside: Path) -> None:
    aside.parent.mkdir(parents=True, exist_ok=True)
    data = BytesIO()
    part.write_parquet(data, compression="zstd", statistics=True)
    aside.write_bytes(data.getbuffer())  # Polars has an error of its own for a full disk, and hides the system's.
