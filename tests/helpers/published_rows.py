"""Published tables in `tests/data`: CSV whose head says, after #, where the figures come from."""

import csv
from pathlib import Path
from typing import Final

DATA: Final = Path(__file__).parents[1] / "data"


def rows_of(name: str) -> list[dict[str, str]]:
    """Return the rows of a table by column name; a cell is empty where nothing was published."""
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))
