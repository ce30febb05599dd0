"""The keys of `[faults]` as they are printed in the README: `python -m tests.bench.thresholds_text`."""

import inspect
import re
from collections.abc import Iterator
from typing import get_args, get_type_hints

from msgspec import Meta

from controller.core.thresholds import Thresholds

HEAD = ("| key | default | range | unit | row | what it is |", "|---|---|---|---|---|---|")
UNITS = {"k": "K", "c": "°C", "pct": "%RH", "s": "s", "mb": "MB", "h": "in an hour", "hours": "h", "share": "share"}
OWN = {
    "damaged_in_a_row": "readings",
    "damaged_of_100": "readings",
    "idle_share_room": "share",
    "relay_life": "operations",
    "ticks_late": "periods",
}
LINE = re.compile(r"^    (\w+): \w+ = [\w.-]+  # ([A-Z]\d+(?:, [A-Z]\d+)*): (.+)$", re.MULTILINE)


def said() -> dict[str, tuple[str, str]]:
    """Return of each key the rows that it is for, and what it is, as its line says."""
    return {name: (rows, words) for name, rows, words in LINE.findall(inspect.getsource(Thresholds))}


def lines() -> Iterator[str]:
    """Yield the lines of the table, in the order of the rows."""
    hints, usual, words = get_type_hints(Thresholds, include_extras=True), Thresholds(), said()
    for name in Thresholds.__struct_fields__:
        meta = next(one for one in get_args(hints[name]) if isinstance(one, Meta))
        unit = OWN.get(name) or UNITS[name.rsplit("_", 1)[-1]]
        bounds = f"{meta.ge:_g} to {meta.le:_.0f}"
        rows, what = words[name]
        yield f"| `{name}` | {getattr(usual, name):_g} | {bounds} | {unit} | {rows} | {what} |"


if __name__ == "__main__":
    print("\n".join((*HEAD, *lines())))
