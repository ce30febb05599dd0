"""What was learned of a chamber, and the rows of a step test, spoiled."""

import random
import shutil
from pathlib import Path

from msgspec.structs import replace

from controller.app.learning import ModelTest, learn_with
from controller.cli.pages.learned_page import tell_learned
from controller.records.steps import FILE as STEPS
from controller.review.learning.learned import learn_from
from controller.review.learning.written import encode_learned
from controller.settings.chamber_file import plan_of
from controller.settings.learned_file import FILE, read_learned, use_learned
from tests.fuzz.harness import Target, require_readable
from tests.fuzz.mutate import spoil_table
from tests.fuzz.of_files import spoiled_toml
from tests.fuzz.ticks import Run
from tests.helpers.shipped_chambers import shipped_chamber

BEGIN_WALL_S = 1_767_592_800.0


class LearnedFiles(Target):
    """Read a learned file, plan by it, and run an idle chamber."""

    name = "learned"

    def prepare(self, folder: Path) -> None:
        """Take what a modelled test leaves."""
        self._folder, self._file = folder, replace(shipped_chamber("insulated-box"), tick_s=8.0)
        test = ModelTest(chamber=folder, out=folder / "test", begin_wall_s=BEGIN_WALL_S)
        self._goods = [encode_learned(learn_from(learn_with(self._file, test)).learned).encode()]

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled learned file."""
        return spoiled_toml(rng, self._goods)

    def of_bytes(self, data: bytes) -> bytes:
        """Return them as the file."""
        return data

    def feed(self, made: bytes) -> bool:
        """Use it as a start does, then read it as a person who takes it over."""
        (self._folder / FILE).write_bytes(made)
        use = use_learned(self._folder, self._file)
        require_readable(use.why_not or "-")
        plan = plan_of(self._file, use.learned)
        assert plan.gains.heat_per_k > 0.0
        assert plan.limits == plan_of(self._file).limits
        for line in tell_learned(read_learned(self._folder / FILE)):
            require_readable(line or "-")
        run = Run(self._file)
        rng = random.Random(2)
        for _ in range(3):
            run.tick(rng)
        return use.learned is not None


class StepTables(Target):
    """Find out of the rows of a step test what they show."""

    name = "steps"
    share = 0.1

    def prepare(self, folder: Path) -> None:
        """Take the rows that a modelled test leaves."""
        file = replace(shipped_chamber("insulated-box"), tick_s=8.0)
        test = ModelTest(chamber=folder, out=folder / "test", begin_wall_s=BEGIN_WALL_S)
        self._folder = folder / "spoiled"
        shutil.copytree(learn_with(file, test), self._folder)
        self._good = (self._folder / STEPS).read_bytes()

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled table."""
        return spoil_table(rng, self._good)

    def of_bytes(self, data: bytes) -> bytes:
        """Return them as the table."""
        return data

    def feed(self, made: bytes) -> bool:
        """Read them and fit."""
        (self._folder / STEPS).write_bytes(made)
        for line in tell_learned(learn_from(self._folder).learned):
            require_readable(line or "-")
        return True
