"""Spoil good files as disks, editors, clocks and people spoil them, and as somebody would who means it."""

import copy
import datetime as dt
import random
import re
from collections.abc import Callable, Iterator
from typing import Any, Final

ODD_NUMBERS: Final = (
    "nan", "-nan", "inf", "-inf", "Infinity", "-0", "-0.0", "0", "1e308", "-1e308", "1e309", "1e-320", "9" * 400,
    "-" + "9" * 30, "9" * 5000, "0x1F", "1_0", "1,5", "1.5.2", "+5", "٣", "５", " 5", "5 ", "1e", "e5", ".", "-", "",
    "4294967296", "18446744073709551616", "-9223372036854775809", "0.1e-999999999",
)  # fmt: skip
ODD_TIMES: Final = (
    "9999-12-31T23:59:59Z", "9999-12-31T23:59:59-23:59", "0001-01-01T00:00:00Z", "0001-01-01T00:00:00+23:59",
    "1969-12-31T23:59:59Z", "1970-01-01T00:00:00Z", "2026-02-30T00:00:00Z", "2026-01-05T06:00:60Z", "2026-01-05",
    "2026-01-05T06:00:00", "2026-01-05T24:00:00Z", "20260105T060000Z", "2026-W02-1T06:00:00Z", "1e9", "0", "-1", "",
    "2026-01-05T06:00:00.999999999Z", "2026-01-05T06:00:00+00:00:00.000001", "3026-01-05T06:00:00Z",
    "2026-01-05T06:00:00Z ", "٢٠٢٦-01-05T06:00:00Z",
)  # fmt: skip
ODD_TEXTS: Final = (
    "", " ", "\t", "\0", "\ufeff", "\r\n", "\n", "\r", '"', '""', "'", ",", ";", "/", "..", "../..", "\\", "=", "[",
    "%s", "%n", "{}", "{0}", "=1+1", "true", "null", "None", "é" * 300, "x" * 200_000, "\u2028", "\x1b[2J", "\ud7ff",
    "\u202e", "🥩", "a" * 5000 + ",", "hold", "end", "A2-1", "2026-01-05-bench-1", "ferment", "meter", "strips", "out",
)  # fmt: skip
BYTES: Final = (
    b"\0", b"\0" * 4096, b"\xff", b"\xfe\xff", b"\xef\xbb\xbf", b"\r\n", b"\r", b"\n", b"\n\n\n", b'"', b'"""', b"'''",
    b",", b"[", b"[[", b"{", b"}", b"]", b"=", b"#", b"\\u0000", b"\\ud800", b"\xed\xa0\x80", b"\xc3", b"\x1a", b"\x7f",
    b"[" * 3000, b"{" * 3000, b'{"a":' * 3000, b"x" * 150_000, b"a." * 2000, b"1e999", b"9" * 5000, b"-", b"nan",
    b"inf",
)  # fmt: skip
ODD_VALUES: Final[tuple[Any, ...]] = (
    -1, 0, 1, 2, 4, 17, 75, 10**12, 2**63 - 1, -(2**63), 10**30, 0.0, -0.0, -0.5, 1e-300, 1e300, float("nan"),
    float("inf"), float("-inf"), True, False, "", "x", "..", "/", "UTC", "rh", "door", "contact", "cooler", "vent",
    "smoke", "elsewhere", [], {}, [1, 2], [2.0, 1.0], [{}], [[1]], {"a": 1}, {"hours": 1}, {"ph_at_most": 5.0},
    dt.date(2026, 1, 1), dt.date(1, 1, 1), dt.date(9999, 12, 31), dt.time(1, 2),
    dt.datetime(2026, 1, 1, 1, tzinfo=dt.UTC), "\0", "é" * 300, "x" * 20_000, "2026-01-05", "36C", "98F", "1,5",
)  # fmt: skip
_NUMBER: Final = re.compile(rb"-?\d+(?:\.\d+)?")


def spoil_bytes(rng: random.Random, data: bytes) -> bytes:
    """Return these bytes with one to four things done to them."""
    for _ in range(rng.choice((1, 1, 1, 2, 3, 4))):
        data = rng.choice(_ON_BYTES)(rng, data)
    return data


def _cut(rng: random.Random, data: bytes) -> bytes:
    return data[: rng.randint(0, len(data))]


def _span(rng: random.Random, data: bytes) -> tuple[int, int]:
    begin = rng.randint(0, len(data))
    return begin, min(begin + rng.choice((1, 1, 3, 10, 80, 4096)), len(data))


def _leave_out(rng: random.Random, data: bytes) -> bytes:
    begin, end = _span(rng, data)
    return data[:begin] + data[end:]


def _double(rng: random.Random, data: bytes) -> bytes:
    begin, end = _span(rng, data)
    return data[:end] + data[begin:end] * rng.choice((1, 1, 50)) + data[end:]


def _flip(rng: random.Random, data: bytes) -> bytes:
    changed = bytearray(data)
    for _ in range(min(rng.choice((1, 1, 2, 20)), len(changed))):
        changed[rng.randrange(len(changed))] = rng.randrange(256)
    return bytes(changed)


def _put_in(rng: random.Random, data: bytes) -> bytes:
    place = rng.choice((0, len(data), rng.randint(0, len(data))))
    return data[:place] + rng.choice(BYTES) + data[place:]


def _zero(rng: random.Random, data: bytes) -> bytes:
    begin, end = _span(rng, data)
    return data[:begin] + b"\0" * (end - begin) + data[end:]


def _lines(rng: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    match rng.randrange(4):
        case 0:
            lines[one], lines[other] = lines[other], lines[one]
        case 1:
            lines.insert(one, lines[other])
        case 2:
            del lines[one]
        case 3:
            lines[one] += lines[other]
    return b"\n".join(lines)


def _number(rng: random.Random, data: bytes) -> bytes:
    found = list(_NUMBER.finditer(data))
    if not found:
        return data
    one = rng.choice(found)
    return data[: one.start()] + rng.choice(ODD_NUMBERS).encode() + data[one.end() :]


def _recode(rng: random.Random, data: bytes) -> bytes:
    text = data.decode("utf-8", "replace")
    return text.encode(rng.choice(("utf-16", "utf-8-sig", "latin-1", "utf-32", "cp500")), "replace")


def _ends(rng: random.Random, data: bytes) -> bytes:
    unix = data.replace(b"\r\n", b"\n")
    return unix.replace(b"\n", rng.choice((b"\r\n", b"\r", b"\n", b"\n\r", b"\r\r\n")))


_ON_BYTES: Final[tuple[Callable[[random.Random, bytes], bytes], ...]] = (
    _cut, _leave_out, _double, _flip, _flip, _put_in, _put_in, _zero, _lines, _lines, _number, _number, _number,
    _recode, _ends,
)  # fmt: skip


def places(node: Any) -> Iterator[tuple[Any, Any]]:  # noqa: ANN401 - whatever a file holds
    """Yield every place in a tree of dicts and lists as its container and its key."""
    for key, value in list(node.items() if isinstance(node, dict) else enumerate(node)):
        yield node, key
        if isinstance(value, dict | list):
            yield from places(value)


def spoil_tree(rng: random.Random, tree: Any, values: tuple[Any, ...] = ODD_VALUES) -> Any:  # noqa: ANN401
    """Return a copy of a tree with one to four of its places spoiled."""
    tree = copy.deepcopy(tree)
    for _ in range(rng.choice((1, 1, 1, 2, 3, 4))):
        found = list(places(tree))
        if not found:
            return tree
        node, key = rng.choice(found)
        _spoil_place(rng, node, key, values, found)
    return tree


def _spoil_place(rng: random.Random, node: Any, key: Any, values: tuple[Any, ...], found: list[Any]) -> None:  # noqa: ANN401
    action = rng.random()
    if action < 0.15:
        del node[key]
    elif action < 0.25:
        other, name = rng.choice(found)  # Taken from elsewhere; it may have just been deleted.
        if isinstance(other, dict) and name in other:
            node[key] = copy.deepcopy(other[name])
    elif action < 0.35 and isinstance(node, dict):
        node[rng.choice((f"{key}x", key[:-1], "", "name", "\0", "x" * 300, f" {key}"))] = node[key]
    elif action < 0.42 and isinstance(node, list):
        node.extend(copy.deepcopy(node[key]) for _ in range(rng.choice((1, 2, 60))))
    elif action < 0.46:
        node[key] = nested(rng.choice((30, 300)), rng.choice((list, dict)))
    elif isinstance(node[key], float) and action < 0.7:
        node[key] = near(rng, node[key])
    elif isinstance(node[key], str) and action < 0.6:
        node[key] = rng.choice(ODD_TEXTS)
    else:
        node[key] = copy.deepcopy(rng.choice(values))


def near(rng: random.Random, value: float) -> float:
    """Return a number that could stand there, or just not any more."""
    return value * rng.choice((-1.0, 0.0, 0.5, 0.999, 1.001, 2.0, 10.0, 100.0, 1e6)) + rng.choice((0.0, 0.0, 1.0, -1.0))


def nested(depth: int, kind: type) -> Any:  # noqa: ANN401
    """Return lists or tables in each other, so many deep."""
    value: Any = 1
    for _ in range(depth):
        value = [value] if kind is list else {"a": value}
    return value


def spoil_table(rng: random.Random, data: bytes) -> bytes:
    """Return a CSV file with cells, rows or columns spoiled; now and then with its bytes spoiled."""
    if rng.random() < 0.3:
        return spoil_bytes(rng, data)
    rows = [line.split(",") for line in data.decode("utf-8", "replace").split("\r\n")]
    for _ in range(rng.choice((1, 1, 2, 5))):
        rng.choice(_ON_TABLES)(rng, rows)
        rows = [row or [""] for row in rows]
    return "\r\n".join(",".join(row) for row in rows).encode("utf-8", "surrogatepass")


Table = list[list[str]]


def _odd_cell(rng: random.Random, rows: Table) -> None:
    row = rng.choice(rows)
    place = rng.randrange(len(row))
    row[place] = rng.choice(rng.choice((ODD_NUMBERS, ODD_TIMES, ODD_TEXTS)))


def _odd_time(rng: random.Random, rows: Table) -> None:
    header = rows[0]
    if "time" in header:
        row = rng.choice(rows[1:] or rows)
        if len(row) > header.index("time"):
            row[header.index("time")] = rng.choice(ODD_TIMES)


def _odd_figure(rng: random.Random, rows: Table) -> None:
    row = rng.choice(rows)
    figures = [place for place, text in enumerate(row) if text.replace(".", "").lstrip("-").isdigit()]
    if figures:
        row[rng.choice(figures)] = rng.choice((*ODD_NUMBERS, "0.0001", "-40", "150", "1e6", "7", "14.1"))


def _swap_rows(rng: random.Random, rows: Table) -> None:
    one, other = rng.randrange(len(rows)), rng.randrange(len(rows))
    rows[one], rows[other] = rows[other], rows[one]


def _double_rows(rng: random.Random, rows: Table) -> None:
    begin = rng.randrange(len(rows))
    part = [list(row) for row in rows[begin : begin + rng.choice((1, 1, 20))]]
    place = rng.randint(0, len(rows))
    rows[place:place] = part


def _drop_rows(rng: random.Random, rows: Table) -> None:
    begin = rng.randrange(len(rows))
    del rows[begin : begin + rng.choice((1, 5, 100))]
    if not rows:
        rows.append([""])


def _column(rng: random.Random, rows: Table) -> None:
    place = rng.randrange(len(rows[0]))
    match rng.randrange(4):
        case 0:
            rows[0][place] = rng.choice(("", "time", "id", "kind", f"{rows[0][place]}x", rows[0][0]))
        case 1:
            for row in rows:
                del row[place : place + 1]
        case 2:
            for row in rows:
                row.append(rng.choice(ODD_NUMBERS))
        case 3:
            for row in rows:
                row[place : place + 1] = [rng.choice(ODD_NUMBERS)]
    if not rows[0]:
        rows[0] = [""]


def _ragged(rng: random.Random, rows: Table) -> None:
    row = rng.choice(rows)
    row.insert(rng.randint(0, len(row)), rng.choice(("", "x", '"', '"a', 'b"')))


def _by_words(rng: random.Random, rows: Table) -> None:
    """Put a word of one row into another: kinds, stages, states and ids in the wrong places."""
    one, other = rng.choice(rows), rng.choice(rows)
    one[rng.randrange(len(one))] = other[rng.randrange(len(other))]


_ON_TABLES: Final[tuple[Callable[[random.Random, Table], None], ...]] = (
    _odd_cell, _odd_time, _odd_time, _odd_figure, _odd_figure, _swap_rows, _double_rows, _drop_rows, _column, _ragged,
    _by_words, _by_words,
)  # fmt: skip
