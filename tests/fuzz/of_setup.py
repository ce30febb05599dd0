"""What the interview keeps and reads back: the answers beside a chamber file, and the record of first light."""

import contextlib
import random
from pathlib import Path
from typing import Any

import msgspec

from controller.cli.pages.proved_lines import as_list, tell_proved
from controller.errors import HangroomError, SettingsError
from controller.planning.setting_up.chamber_text import chamber_text
from controller.planning.setting_up.course import Machine, Touch, course
from controller.records.kept_answers import Kept, read_answers
from controller.records.proofs import FILE, HEADER, Proof, keep_proof
from controller.settings.chamber_file import read_chamber
from controller.settings.found import Found
from tests.fuzz.goods import WALL_S
from tests.fuzz.harness import Target, require_readable
from tests.fuzz.mutate import spoil_bytes, spoil_table, spoil_tree
from tests.fuzz.of_files import TODAY
from tests.helpers.shipped_chambers import shipped_chamber

FOUND = (Found("ds18b20", "28-000000000001"), Found("sht4x", "1-0044"))
ANSWERS = {
    "title": "Old fridge", "units": "C", "timezone": "UTC", "room_low": "14C", "room_high": "22C",
    "clock_battery": "no", "box": "fridge", "volume": "330l", "meat": "12kg", "warm 1": "1",
    "place 28-000000000001": "air_temp", "breathe 1": "1", "place 1-0044": "rh", "others": "none", "pin 1": "17",
    "level 1": "low 2026-01-01", "role 1": "heater", "switch 1": "solid-state", "w 1": "60", "pin 2": "none",
    "contacts": "none", "cutout": "60C", "tested_on": "2026-01-01", "tested_sure": "no",
}  # fmt: skip


class FirstLightTables(Target):
    """Spoil the record of first light, which `check` reads."""

    name = "first light"

    def prepare(self, folder: Path) -> None:
        """Write a record of its own."""
        folder.mkdir(parents=True, exist_ok=True)
        self._path = folder / FILE
        self._chamber = msgspec.structs.replace(shipped_chamber("old-fridge", TODAY), state_dir=str(folder))
        for place, layer in enumerate(("power-up", "relay heater", "thermal cut-out", "power-up")):
            temp_c = 58.0 if layer == "thermal cut-out" else None
            proof = Proof(wall_s=WALL_S + place, layer=layer, outcome="yes", actor="anna", temp_c=temp_c, note="so, so")
            keep_proof(folder, proof)
        self._good = self._path.read_bytes()
        assert self._good.startswith(HEADER)

    def make(self, rng: random.Random) -> bytes:
        """Return what is to stand in it."""
        return spoil_table(rng, self._good)

    def of_bytes(self, data: bytes) -> bytes:
        """Return them as the file."""
        return data

    def feed(self, made: bytes) -> bool:
        """Read it as `check` does."""
        self._path.write_bytes(made)
        for line in tell_proved(self._chamber):
            require_readable(line)
        msgspec.json.encode(as_list(self._chamber))
        return True


class KeptAnswers(Target):
    """Spoil the kept answers, and take each that can be read, as who presses Enter throughout."""

    name = "kept answers"

    def prepare(self, folder: Path) -> None:
        """Remember where they lie."""
        folder.mkdir(parents=True, exist_ok=True)
        self._path, self._chamber = folder / "chamber.toml.answers.json", folder / "chamber.toml"

    def make(self, rng: random.Random) -> bytes:
        """Return what is to stand in it."""
        if rng.random() < 0.3:
            return spoil_bytes(rng, msgspec.json.encode(Kept("2026-01-01", ANSWERS)))
        answers = dict(ANSWERS)
        for key in rng.sample(sorted(answers), rng.randrange(1, 4)):
            answers[key] = spoil_bytes(rng, answers[key].encode()).decode("utf-8", "replace")
        tree: Any = {"day": "2026-01-01", "answers": answers}
        return msgspec.json.encode(spoil_tree(rng, tree, ("", 5, None, [], "x")) if rng.random() < 0.3 else tree)

    def of_bytes(self, data: bytes) -> bytes:
        """Return them as the file."""
        return data

    def feed(self, made: bytes) -> bool:
        """Go through the interview with them; what comes of it must be a chamber file."""
        self._path.write_bytes(made)
        kept = read_answers(self._path)
        if kept is None:
            return False
        given: dict[str, Any] = {}
        machine = Machine(FOUND, "UTC", TODAY, may_click=False)
        while question := next((one for one in course(given, machine) if one.key not in given), None):
            usual = question.names[0] if isinstance(question, Touch) else question.usual
            with contextlib.suppress(HangroomError):
                given[question.key] = question.read(kept.answers.get(question.key) or usual or ANSWERS[question.key])
                continue
            given[question.key] = question.read(usual or ANSWERS[question.key])
        self._chamber.write_text(chamber_text(given, FOUND, TODAY), "utf-8")
        try:
            read_chamber(self._chamber, TODAY)
        except SettingsError as error:  # The harness takes a refusal for right; here it is none.
            raise AssertionError(str(error)) from error
        return True
