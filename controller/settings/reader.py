"""Walk a TOML file beside the Struct it should be, field by field, so that every problem is found and not the first.

msgspec judges each single field by its type and its bounds; its one message per file is not enough for a person with
five mistakes. What was read well is kept in a `Table`, so that the checks of meaning can go on beside broken keys.
Tables of an array are counted from 1, as a person counts them: `output[2].pin` is the pin of the second [[output]].
"""

import codecs
import datetime as dt
import math
import re
import tomllib
from functools import cache
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Final, Literal, TypeVar, Union, get_args, get_origin

import msgspec
from msgspec import Meta, Struct
from msgspec.structs import FieldInfo, fields

from controller.errors import AccessError, NoInputError
from controller.settings.problems import CURLY, Problem, Problems, listed, nearest, raise_problems, written
from controller.settings.units import to_c

_WHERE: Final = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)")
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")
_SHOWN: Final = 60
HOTTEST_F: Final = 1000.0  # Beyond it nobody means a temperature.
LARGEST_BYTES: Final = 100_000
LONGEST_LINE: Final = 1000
"""A file that a person wrote lies far below both. Beyond them is something else, which may keep the parser busy for
minutes: its time grows with the square of the parts of a dotted key. Common practice, no source."""
S = TypeVar("S", bound=Struct)


class Table:
    """Hold one table of a file: what stands in it, and what of it is good."""

    def __init__(self, kind: type[Struct], raw: dict[str, Any], key: str, file: str, problems: Problems) -> None:
        """Judge every field of this table and of the tables in it; the problems go into `problems`."""
        self.kind, self.raw, self.file, self.problems = kind, raw, file, problems
        self.prefix = f"{key}." if key else ""
        self.good: dict[str, Any] = {}
        self._tables: dict[str, list[Table]] = {}
        known = fields(kind)
        meant = self._find_unknown({field.name for field in known})
        for field in known:
            if field.name in raw:
                self._read(field)
            elif not field.required:
                self.good[field.name] = field.default
            elif field.name not in meant:
                self.say(field.name, f"missing; {_describe(field.type)}")

    def get(self, name: str) -> Any:  # noqa: ANN401 - the field's type, or None where it could not be read
        """Return the good value of a field, its default where it is left out, None where it has a problem."""
        return self.good.get(name)

    def tables(self, name: str) -> "list[Table]":
        """Return the tables in this field: of an array all that are tables, of a table that one."""
        return self._tables.get(name, [])

    def key(self, name: str) -> str:
        """Return the full key of a field, on one line whatever is in it."""
        return f"{self.prefix}{name if _BARE_KEY.fullmatch(name) else written(name)}"

    def say(self, name: str, remedy: str) -> None:
        """Add a problem of this field, with the value that stands in the file."""
        value = written(self.raw[name]) if name in self.raw else ""
        self.problems.add(Problem(self.file, self.key(name), value, remedy))

    def build(self, kind: type[S]) -> S:
        """Return the Struct. Only to be called when there is no problem."""
        values = dict(self.good)
        for name, tables in self._tables.items():
            wanted = _bare(next(field.type for field in fields(kind) if field.name == name))
            if get_origin(wanted) is tuple:
                values[name] = tuple(table.build(table.kind) for table in tables)
            else:
                values[name] = tables[0].build(tables[0].kind)
        return kind(**values)

    def _find_unknown(self, known: set[str]) -> set[str]:
        """Add a problem for each unknown key; return the keys that were probably meant."""
        meant: set[str] = set()
        for name in self.raw:
            if name not in known:
                guess = nearest(name, known - self.raw.keys()) or nearest(name, known)
                hint = f"did you mean {guess}{self._in_c(name, guess)}?"
                hint = hint if guess else f"known here: {', '.join(sorted(known))}"
                self.say(name, f"no such key; {hint}")
                meant.add(guess or "")
        return meant

    def _in_c(self, name: str, guess: str | None) -> str:
        """Return the value in °C, with an equals sign, of a key that ends in _f where the file has one in _c."""
        value = self.raw[name]
        if guess is None or not (name.endswith("_f") and guess.endswith("_c") and _is_temp(value)):
            return ""
        return f" = {to_c(value):.1f} ({value:g} °F)"

    def _read(self, field: FieldInfo) -> None:
        name, value, kind = field.name, self.raw[field.name], _bare(field.type)
        if _is_struct(kind):
            if not isinstance(value, dict):
                self.say(name, f"must be a table: [{self.key(name)}]")
                return
            self._tables[name] = [Table(kind, value, self.key(name), self.file, self.problems)]
        elif get_origin(kind) is tuple and _is_struct(get_args(kind)[0]):
            self._read_array(name, value, get_args(kind)[0])
        else:
            self._read_value(field, value)

    def _read_array(self, name: str, value: Any, kind: type[Struct]) -> None:  # noqa: ANN401
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.say(name, f"must be tables, each under [[{self.key(name)}]]")
            return
        if not value:
            self.say(name, f"needs at least one [[{self.key(name)}]]")
        self._tables[name] = [
            Table(kind, item, f"{self.key(name)}[{number}]", self.file, self.problems)
            for number, item in enumerate(value, start=1)
        ]

    def _read_value(self, field: FieldInfo, value: Any) -> None:  # noqa: ANN401
        if isinstance(value, str) and not value.replace("\n", " ").replace("\t", " ").isprintable():
            self.say(field.name, "holds signs that no screen shows; take letters, digits and marks")
        elif _fits(value, field.type, strict=True):
            self.good[field.name] = msgspec.convert(value, field.type)
        else:
            self.say(field.name, f"must be {_describe(field.type)}{self._hint(field, value)}")

    @staticmethod
    def _hint(field: FieldInfo, value: Any) -> str:  # noqa: ANN401
        """Return what was probably meant: another word, a number without quotes, or °F."""
        kind = _bare(field.type)
        if isinstance(value, str):
            if get_origin(kind) is Literal:
                guess = nearest(value, get_args(kind))
                return f'; did you mean "{guess}"?' if guess else ""
            return "; without quotes" if _fits(value, field.type) else ""
        if field.name.endswith("_c") and _is_temp(value):
            return fahrenheit_hint(value) if _fits(to_c(value), field.type) else ""
        return f'; in quotes: "{value}"' if get_origin(kind) is Literal and str(value) in get_args(kind) else ""


def _is_temp(value: Any) -> bool:  # noqa: ANN401
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= HOTTEST_F


def fahrenheit_hint(value: float) -> str:
    """Return the question that a °F in a °C field deserves."""
    return f"; did you mean {value:g} °F = {to_c(value):.1f} °C?"


def read_table(path: Path, kind: type[Struct]) -> Table:
    """Read a TOML file beside its Struct.

    Returns the table with what is good; its problems are in `.problems`.

    Raises:
        NoInputError: there is no such file.
        AccessError: it may not be read.
        SettingsError: it is no TOML; the one line names the line.
    """
    text = _text_of(path)
    try:
        raw = tomllib.loads(text)
    except RecursionError:
        raise_problems([Problem(path.name, "the file", "", "holds lists or tables too deep in each other")])
    except tomllib.TOMLDecodeError as error:
        raise_problems([_not_toml(path.name, text, str(error))])
    return Table(kind, raw, "", path.name, Problems())


def _text_of(path: Path) -> str:
    """Return the text of a file that a person wrote. Raises as `read_table` does."""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError, IsADirectoryError) as error:
        what = "is a folder, not a file" if isinstance(error, IsADirectoryError) else "there is no such file"
        raise NoInputError(f"{path}: {what}.") from error
    except PermissionError as error:
        raise AccessError(f"{path}: may not be read by this user.") from error
    if len(data) > LARGEST_BYTES:
        too_large = f"is larger than {LARGEST_BYTES // 1000} kB; is it the right one?"
        raise_problems([Problem(path.name, "the file", "", too_large)])
    try:
        text = data.removeprefix(codecs.BOM_UTF8).decode("utf-8")  # Some editors put this mark before a text.
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise_problems([Problem(path.name, f"line {line}", "", "is not UTF-8 text; save the file as UTF-8")])
    for number, row in enumerate(text.split("\n"), start=1):
        if len(row) > LONGEST_LINE:
            too_long = (
                f'has {len(row)} letters; take up to {LONGEST_LINE}, a long text goes between """ on several lines'
            )
            raise_problems([Problem(path.name, f"line {number}", "", too_long)])
    return text


def _not_toml(file: str, text: str, message: str) -> Problem:
    lines, found = text.splitlines() or [""], _WHERE.search(message)
    number = int(found[1]) if found and found[1] else len(lines)
    what = _WHERE.sub("", message)
    stands = lines[min(number, len(lines)) - 1].strip()[:_SHOWN]
    stands = "".join(sign if sign.isprintable() else "?" for sign in stands)
    shown = f"`{stands}` " if stands else ""
    curly = any(sign in stands for sign in CURLY)
    right = (
        'the quotes are curly: type straight ones, as "F"' if curly else 'right is: key = value, and text in "quotes"'
    )
    return Problem(file, f"line {number}", "", f"{shown}cannot be read ({what}); {right}")


def _is_struct(kind: Any) -> bool:  # noqa: ANN401
    return isinstance(kind, type) and issubclass(kind, Struct)


def _is_finite(value: Any) -> bool:  # noqa: ANN401
    if isinstance(value, tuple):
        return all(_is_finite(item) for item in value)
    return not isinstance(value, float) or math.isfinite(value)


def _fits(value: Any, kind: Any, *, strict: bool = False) -> bool:  # noqa: ANN401
    """Say whether the value, or without `strict` the number or date that this text spells, is of this type."""
    try:
        return _is_finite(msgspec.convert(value, kind, strict=strict))
    except msgspec.ValidationError:
        return False


@cache
def _parts(kind: Any) -> tuple[Any, tuple[Meta, ...]]:  # noqa: ANN401
    """Return the type without "or nothing" and without its bounds, and the bounds."""
    if get_origin(kind) in {Union, UnionType}:
        kind = next(part for part in get_args(kind) if part is not type(None))
    if get_origin(kind) is Annotated:
        bare, *notes = get_args(kind)
        return bare, tuple(note for note in notes if isinstance(note, Meta))
    return kind, ()


def _bare(kind: Any) -> Any:  # noqa: ANN401
    return _parts(kind)[0]


def _describe(kind: Any) -> str:  # noqa: ANN401
    """Say in a person's words what this type holds."""
    bare, notes = _parts(kind)
    if get_origin(bare) is Literal:
        return listed(get_args(bare))
    if get_origin(bare) is tuple:
        inner = get_args(bare)
        if _is_struct(inner[0]):
            return "one table or more, each under its name in double brackets"
        return "a list of numbers, as [12, 16, 20]" if inner[-1] is ... else "two numbers, the lower first, as [15, 24]"
    if _is_struct(bare):
        return "a table of its own"
    words = {
        bool: "true or false",
        int: "a whole number",
        float: "a number",
        str: 'text in "quotes"',
        dt.date: "a date, as 2026-01-02",
    }
    return f"{words.get(bare, 'tables')}{_bounds(notes)}"


def _bounds(notes: tuple[Meta, ...]) -> str:
    bounds = {
        name: value for note in notes for name in ("ge", "gt", "le", "lt") if (value := getattr(note, name)) is not None
    }
    low = f" from {bounds['ge']:g}" if "ge" in bounds else f" above {bounds['gt']:g}" if "gt" in bounds else ""
    if "le" not in bounds:
        return low
    return f"{low} to {bounds['le']:g}" if "ge" in bounds else f"{low}, at most {bounds['le']:g}"
