"""What every check of a profile asks of its tables: a stage's end, its temperature, the names of a kind."""

from collections.abc import Iterator, Sequence
from typing import Any

from controller.core.plan import Where
from controller.settings.profile_tables import usual_where
from controller.settings.reader import Table
from controller.settings.units import to_c


def temp_c_of(stage: Table) -> float | None:
    """Return the stage's air temperature in °C, in whichever unit the file has it."""
    temp_f = stage.get("air_temp_f")
    return to_c(temp_f) if temp_f is not None else stage.get("air_temp_c")


def where_of(stage: Table) -> Where | None:
    """Return where the stage is done, also where the file leaves it out; None where it cannot be told."""
    where: Where | None = stage.get("where")
    kind = stage.get("kind")
    return where if where is not None or "where" in stage.raw or kind is None else usual_where(kind)


def until_of(stage: Table) -> Table | None:
    """Return the table that says when the stage ends, if it is there."""
    tables = stage.tables("until")
    return tables[0] if tables else None


def names_of(stages: Sequence[Table], kind: str) -> str:
    """Return the names of the stages of this kind, for a message."""
    return ", ".join(f"stage {stage.get('name')}" for stage in stages if stage.get("kind") == kind)


def values_of(stages: Sequence[Table], name: str) -> Iterator[tuple[Table, Any]]:
    """Yield what the ends of the stages say of this field, with the tables that say it."""
    for stage in stages:
        until = until_of(stage)
        if until is not None and until.get(name) is not None:
            yield until, until.get(name)
