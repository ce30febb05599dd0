"""Whatever stands behind a key: the file is read, or its problems are told. Nothing else comes out."""

import copy
import datetime as dt
import random
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import pytest
import tomli_w

from controller.errors import SettingsError
from controller.settings.chamber_file import find_chamber, plan_of, read_chamber
from controller.settings.profile_file import adapt, find_profile, fits, read_profile
from tests.helpers.shipped_chambers import shipped_chamber

VALUES: Final[list[Any]] = [
    -1, 0, 1, 2, 4, 17, 75, 10**30, 0.0, -0.5, 1e-300, 1e300, float("nan"), float("inf"), True, False, "", "x", "..",
    "/", "UTC", "rh", "door", "contact", "cooler", "vent", "smoke", "elsewhere", [], {}, [1, 2], [2.0, 1.0], [{}],
    [[1]], {"a": 1}, {"hours": 1}, {"ph_at_most": 5.0}, dt.date(2026, 1, 1), dt.time(1, 2), "\x00", "é" * 300,
]  # fmt: skip
SEED: Final = 20260105
PLANS: Final = [plan_of(shipped_chamber(name)) for name in ("insulated-box", "old-fridge")]


def places(node: Any) -> Iterator[tuple[Any, Any]]:  # noqa: ANN401
    """Yield every place in a file as its container and its key."""
    for key, value in list(node.items() if isinstance(node, dict) else enumerate(node)):
        yield node, key
        if isinstance(value, dict | list):
            yield from places(value)


def read_chamber_and_plan(path: Path) -> None:
    plan_of(read_chamber(path, dt.date(2026, 2, 1)))


def read_and_fit(path: Path) -> None:
    profile = read_profile(path)
    for chamber in PLANS:
        fits(profile, chamber)
        adapt(profile, chamber)


@pytest.mark.parametrize(
    ("shipped", "read"),
    [(find_chamber("old-fridge"), read_chamber_and_plan), (find_profile("mild"), read_and_fit)],
    ids=["chamber", "profile"],
)
def test_any_value_in_any_place_is_read_or_told(tmp_path: Path, shipped: Path, read: Callable[[Path], None]) -> None:
    good = tomllib.loads(shipped.read_text(encoding="utf-8"))
    chance = random.Random(SEED)
    told = 0
    for _ in range(250):
        file = copy.deepcopy(good)
        for _ in range(chance.randint(1, 4)):
            node, key = chance.choice(list(places(file)))
            if chance.random() < 0.2:
                del node[key]
            else:
                node[key] = chance.choice(VALUES)
        path = tmp_path / "any.toml"
        path.write_bytes(tomli_w.dumps(file).encode("utf-8"))
        try:
            read(path)
        except SettingsError as error:
            told += 1
            lines = str(error).splitlines()
            assert len(lines) == len({line.split(": ")[1].split(" = ")[0] for line in lines})
            assert all(line.startswith("any.toml: ") for line in lines)
    assert told > 125
