"""The fault table as it is printed in the README: `python -m tests.bench.fault_table_text`."""

from controller.core.fault_table import ROWS, Row

HEAD = (
    "| row | what | priority | stays until cleared | noticed | what the program does | first thing to do |",
    "|---|---|---|---|---|---|---|",
)


def line_of(row: Row) -> str:
    """Return the line of one row."""
    cleared = "yes" if row.latches else "no"
    return f"| {row.id} | {row.title} | {row.priority} | {cleared} | {row.detects} | {row.does} | {row.first} |"


if __name__ == "__main__":
    print("\n".join((*HEAD, *map(line_of, ROWS.values()))))
