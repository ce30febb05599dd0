"""The files that a maker writes: profile, chamber file, plan file."""

import datetime as dt
import json
import random
import tomllib
from pathlib import Path
from typing import Any, Final

import msgspec
import tomli_w

from controller.cli.pages.check_page import Checked, tell_page
from controller.core.requests import Start
from controller.core.values import Computer
from controller.errors import SettingsError
from controller.planning.plan_file import KeptPlan, take_plan
from controller.planning.reach.judged import judge
from controller.planning.reach.rooms import rooms_of
from controller.settings.chamber_file import find_chamber, plan_of, read_chamber
from controller.settings.profile_file import adapt, find_profile, fits, read_profile
from controller.settings.shipped import shipped_names
from tests.fuzz.goods import good_plan
from tests.fuzz.harness import Target, require_readable
from tests.fuzz.mutate import nested, spoil_bytes, spoil_tree
from tests.fuzz.ticks import NAME, WALL_S, Run, run_batch
from tests.fuzz.welltyped import spoil_typed
from tests.helpers.shipped_chambers import shipped_chamber

TODAY: Final = dt.date(2026, 2, 1)


def spoiled_toml(rng: random.Random, goods: list[bytes]) -> bytes:
    """Return a TOML file that was good once: its values spoiled, its bytes, or both."""
    good = rng.choice(goods)
    if rng.random() < 0.65:
        tree = spoil_tree(rng, tomllib.loads(good.decode()))
        try:
            good = tomli_w.dumps(tree).encode("utf-8", "surrogatepass")
        except (TypeError, AttributeError, ValueError, RecursionError):  # No such tree can be written as TOML.
            good = spoil_bytes(rng, good)
    if rng.random() < 0.01:
        good = rng.choice((b"a = " + b"[" * 20_000, b"[" + b"a." * 20_000 + b"a]\n", b"a" + b".a" * 20_000 + b" = 1\n"))
    return good if rng.random() < 0.6 else spoil_bytes(rng, good)


class ProfileFiles(Target):
    """Read a profile, fit it to chambers, and run what fits."""

    name = "profile"
    share = 2.0

    def prepare(self, folder: Path) -> None:
        """Take all shipped profiles, and two chambers."""
        self._path = folder / "any.toml"
        self._goods = [find_profile(name).read_bytes() for name in shipped_names("profile")]
        self._chambers = [shipped_chamber(name, TODAY) for name in ("old-fridge", "insulated-box")]

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled profile."""
        return spoiled_toml(rng, self._goods)

    def of_bytes(self, data: bytes) -> bytes:
        """Return them as the file."""
        return data

    def feed(self, made: bytes) -> bool:
        """Read, fit, adapt, run."""
        self._path.write_bytes(made)
        profile = read_profile(self._path)
        ran = 0
        for file in self._chambers:
            plan = plan_of(file)
            for problem in fits(profile, plan):
                require_readable(str(problem))
            try:
                adapted, sentences = adapt(profile, plan)
            except SettingsError as error:
                require_readable(str(error))
                continue
            for sentence in sentences:
                require_readable(sentence)
            run_batch(file, adapted, random.Random(1))
            ran += 1
        return ran > 0


class ChamberFiles(Target):
    """Read a chamber file, show its check page, and run a batch in it."""

    name = "chamber"
    share = 2.0

    def prepare(self, folder: Path) -> None:
        """Take all shipped chambers."""
        self._path = folder / "any.toml"
        self._goods = [find_chamber(name).read_bytes() for name in shipped_names("chamber")]
        self._profile = read_profile(find_profile("tangy"))

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled chamber file."""
        return spoiled_toml(rng, self._goods)

    def of_bytes(self, data: bytes) -> bytes:
        """Return them as the file."""
        return data

    def feed(self, made: bytes) -> bool:
        """Read, plan, show, run."""
        self._path.write_bytes(made)
        file = read_chamber(self._path, TODAY)
        plan = plan_of(file)
        judged = judge(file, plan, None, rooms_of(*file.room_temp_c))
        for line in tell_page(Checked(self._path, file, plan, None, None, (), judged, ""), {}, Computer()):
            require_readable(line or "-")
        rng = random.Random(2)
        run = Run(file)
        for _ in range(5):
            run.tick(rng)
        try:
            profile, _ = adapt(self._profile, plan)
        except SettingsError:
            return True
        run_batch(file, profile, rng)
        return True


class PlanFiles(Target):
    """Take a plan file, and start a batch with its sheet."""

    name = "plan"

    def prepare(self, folder: Path) -> None:
        """Make a plan as the command does."""
        self._path = folder / "plan.json"
        self._good = good_plan(folder)
        self._file = shipped_chamber("old-fridge", TODAY)
        self._profile, _ = adapt(read_profile(find_profile("tangy")), plan_of(self._file))

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled plan."""
        if rng.random() < 0.4:
            return spoil_bytes(rng, self._good)
        tree: Any = msgspec.json.decode(self._good)
        if rng.random() < 0.5:
            spoil_typed(rng, KeptPlan, tree, (0.0, -1.0, 1e300, -1e300, 1e-300, 5.0, 1.8e9, 1e12))
        else:
            tree = spoil_tree(
                rng, tree, (-1, 0, 1e308, "", "x", [], {}, None, True, nested(200, list), 2**70, "é" * 300)
            )
        return dumped(tree)

    def of_bytes(self, data: bytes) -> bytes:
        """Return them as the file."""
        return data

    def feed(self, made: bytes) -> bool:
        """Take it, and run the batch."""
        self._path.write_bytes(made)
        kept = take_plan(self._path, profile="tangy", chamber="old-fridge", timezone="Europe/Vienna", now_wall_s=WALL_S)
        run = Run(self._file)
        rng = random.Random(3)
        start = Start(id="r1", batch=NAME, profile=self._profile, meat_kg=5.0, sheet=kept.sheet)
        outcome = run.tick(rng, start)
        require_readable(outcome.answers[0].text)
        for _ in range(5):
            run.tick(rng)
        run.look()
        return outcome.answers[0].done


def dumped(tree: Any) -> bytes:  # noqa: ANN401 - any tree
    """Return a tree as JSON, also where it holds numbers that JSON has no word for."""
    return json.dumps(tree, default=str, ensure_ascii=False).encode("utf-8", "surrogatepass")
