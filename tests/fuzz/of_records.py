"""What the program itself writes and reads back: the tables, the batch card, the status, answers, the relays' note."""

import random
import tomllib
from pathlib import Path
from typing import Any, Final

import msgspec
import tomli_w

from controller.cli.asking import Desk
from controller.cli.pages.checks_due import as_list, read_lines, tell_checks
from controller.cli.pages.release_page import tell_release
from controller.cli.pages.status_page import as_object, look, tell_page
from controller.records.asking import wait_for_answer
from controller.records.batch_folder import BatchCard
from controller.records.status import Status, write_status
from controller.relays_off import read_note
from controller.review.figures import review
from controller.review.forecast.folder import outlook
from controller.review.forecast.told import as_object as forecast_object
from controller.review.forecast.told import words_of
from controller.review.page import page
from controller.review.release import release
from controller.settings.profile_file import find_profile, read_profile
from controller.simulator.weather import read_weather
from tests.fuzz.goods import WALL_S, written_state
from tests.fuzz.harness import Target, require_readable
from tests.fuzz.mutate import spoil_bytes, spoil_table, spoil_tree
from tests.fuzz.of_files import TODAY, dumped, spoiled_toml
from tests.fuzz.ticks import run_batch
from tests.fuzz.welltyped import spoil_typed
from tests.helpers.shipped_chambers import shipped_chamber

PROFILES: Final = ("tangy", "mild")
JSON_VALUES: Final[tuple[Any, ...]] = (
    -1,
    0,
    1e308,
    -1e308,
    2**70,
    "",
    "x",
    "\0",
    "\x1b[2J",
    "é" * 300,
    [],
    {},
    [1],
    None,
    True,
)
JSON_FLOATS: Final = (0.0, -0.0, -1.0, 1e308, -1e308, 1e-300, 5.3, 1e9, 1e12, 1.8e9)


def read_all(folder: Path) -> None:
    """Read a batch folder by every verb that reads one, and require words that a screen can show."""
    for line in page(folder):
        require_readable(line or "-")
    msgspec.json.encode(review(folder))
    sheet = release(folder)
    msgspec.json.encode(sheet)
    for line in tell_release(sheet):
        require_readable(line or "-")


class _Tables(Target):
    """Spoil one of the tables of a batch folder; the others stay good."""

    pattern: str

    def prepare(self, folder: Path) -> None:
        """Write a folder for each profile."""
        self._files: list[tuple[Path, bytes]] = []
        for profile in PROFILES:
            batch = next((written_state(folder / profile, profile) / "batches").iterdir())
            self._files += [(path, path.read_bytes()) for path in sorted(batch.glob(self.pattern))]

    def make(self, rng: random.Random) -> tuple[int, bytes]:
        """Return which file, and what is to stand in it."""
        place = rng.randrange(len(self._files))
        return place, spoil_table(rng, self._files[place][1])

    def of_bytes(self, data: bytes) -> tuple[int, bytes]:
        """Return them as the first file."""
        return 0, data

    def feed(self, made: tuple[int, bytes]) -> bool:
        """Read the folder with this file in it."""
        path, good = self._files[made[0]]
        path.write_bytes(made[1])
        try:
            self.read(path.parent)
        finally:
            path.write_bytes(good)
        return True

    def read(self, folder: Path) -> None:
        """Read it as review and release do."""
        read_all(folder)


class ClimateTables(_Tables):
    """Spoil the climate."""

    name = "climate"
    pattern = "climate-*.csv"
    share = 1.5


class EventTables(_Tables):
    """Spoil the diary."""

    name = "events"
    pattern = "events.csv"
    share = 1.5


class ReadingTables(_Tables):
    """Spoil what was measured."""

    name = "readings"
    pattern = "readings.csv"
    share = 1.5


class KeptForecasts(_Tables):
    """Spoil the forecasts that were kept, which a review scores."""

    name = "kept forecasts"
    pattern = "forecasts.csv"


class ForecastInputs(_Tables):
    """Spoil any table, and forecast at an odd moment."""

    name = "forecast"
    pattern = "[cer]*.csv"

    def make(self, rng: random.Random) -> tuple[int, bytes]:
        """Return as the others do."""
        self._now_s = rng.choice((None, WALL_S + 3600.0 * rng.uniform(-1.0, 60.0)))
        return super().make(rng)

    def read(self, folder: Path) -> None:
        """Forecast; the words of it must be words."""
        seen = outlook(folder, self._now_s)
        for one in seen.forecasts:
            require_readable(words_of(one, seen.timezone))
            msgspec.json.encode(forecast_object(one, seen.timezone))


class InstrumentTables(_Tables):
    """Spoil the checks of instruments, which `check` and the release sheet read."""

    name = "instruments"
    pattern = "../../instruments.csv"

    def prepare(self, folder: Path) -> None:
        """Write one state folder."""
        state = written_state(folder / "tangy")
        self._batch = next((state / "batches").iterdir())
        self._files = [(state / "instruments.csv", (state / "instruments.csv").read_bytes())]
        self._chamber = msgspec.structs.replace(shipped_chamber("old-fridge", TODAY), state_dir=str(state))

    def read(self, folder: Path) -> None:
        """Read it as `check` and `release` do."""
        del folder
        checks = read_lines(self._chamber, WALL_S + 86_400.0)
        for line in tell_checks(checks, "Europe/Vienna", "C"):
            require_readable(line or "-")
        msgspec.json.encode(as_list(checks))
        for line in tell_release(release(self._batch)):
            require_readable(line or "-")


class _OneFile(Target):
    """Spoil one file that is always read in the same way."""

    def make(self, rng: random.Random) -> bytes:
        """Return what is to stand in it."""
        raise NotImplementedError

    def of_bytes(self, data: bytes) -> Any:  # noqa: ANN401
        """Return them as the file."""
        return data

    def feed(self, made: bytes) -> bool:
        """Read it."""
        self._path.write_bytes(made)
        self.read()
        return True

    _path: Path

    def read(self) -> None:
        """Read it."""
        raise NotImplementedError


class Cards(_OneFile):
    """Spoil the batch card, on which every review rests."""

    name = "card"

    def prepare(self, folder: Path) -> None:
        """Write a folder for each profile."""
        batches = [next((written_state(folder / one, one) / "batches").iterdir()) for one in PROFILES]
        self._goods = [(batch / "recipe.toml").read_bytes() for batch in batches]
        self._batch = batches[0]

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled card, or one of other values of the right types."""
        if rng.random() < 0.5:
            return spoiled_toml(rng, self._goods)
        tree = tomllib.loads(rng.choice(self._goods).decode())
        spoil_typed(rng, BatchCard, tree)
        try:
            return tomli_w.dumps(_without_none(tree)).encode("utf-8", "surrogatepass")
        except (TypeError, AttributeError, ValueError, RecursionError):
            return spoil_bytes(rng, self._goods[0])

    def feed(self, made: bytes) -> bool:
        """Read the folder with it."""
        (self._batch / "recipe.toml").write_bytes(made)
        read_all(self._batch)
        outlook(self._batch, WALL_S + 10 * 3600.0)
        return True


def _without_none(value: Any) -> Any:  # noqa: ANN401 - any tree
    if isinstance(value, dict):
        return {key: _without_none(item) for key, item in value.items() if item is not None}
    return [_without_none(item) for item in value if item is not None] if isinstance(value, list) else value


class _Seen(_OneFile):
    """Spoil a file that the status page reads."""

    def _prepare_status(self, folder: Path) -> Path:
        file = shipped_chamber("old-fridge", TODAY)
        state = folder / "state"
        written_state(state)
        run = run_batch(file, read_profile(find_profile("tangy")), random.Random(4))
        from controller.records.status import status_of

        assert run.outcome is not None
        status = status_of(run.memory, run.outcome, chamber=file)
        batch = next((state / "batches").iterdir())
        write_status(state, msgspec.structs.replace(status, batches=tuple(
            msgspec.structs.replace(one, id=batch.name, kind="ferment") for one in status.batches
        )))  # fmt: skip
        self._desk = Desk(file, state, "Ann", WALL_S + 8.0 * 3600.0)
        return state

    def read(self) -> None:
        """Show the page."""
        seen = look(self._desk)
        for line in tell_page(seen):
            require_readable(line or "-")
        msgspec.json.encode(as_object(seen))


class WeatherTables(_OneFile):
    """Spoil a file of hourly weather, which the simulator reads."""

    name = "weather"
    share = 0.5

    def prepare(self, folder: Path) -> None:
        """Write two days of two stations."""
        self._path = folder / "weather.csv"
        rows = ["origin,year,month,day,hour,temp,dewp,humid,time_hour"]
        for station in ("EWR", "JFK"):
            for hour in range(48):
                day = hour // 24 + 1
                stamp = "" if hour % 5 else f"2013-01-0{day}T{hour % 24:02d}:00:00Z"
                rows.append(f"{station},2013,1,{day},{hour % 24},{40 + hour % 7}.02,26.06,59.37,{stamp}")
        self._good = "\r\n".join(rows).encode()

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled file."""
        return spoil_table(rng, self._good)

    def read(self) -> None:
        """Read it, and ask it for every hour of a week."""
        weather = read_weather(str(self._path))
        require_readable(weather.told())
        for hour in range(168):
            temp_c, rh_pct = weather.at(WALL_S + 3600.0 * hour)
            if not (-100.0 <= temp_c <= 100.0 and 0.0 <= rh_pct <= 100.0):
                raise AssertionError(f"{temp_c} °C, {rh_pct} %")


class StatusFiles(_Seen):
    """Spoil the status file."""

    name = "status"

    def prepare(self, folder: Path) -> None:
        """Write a state folder with a status."""
        self._path = self._prepare_status(folder) / "status.json"
        self._good = self._path.read_bytes()

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled status."""
        return spoiled_json(rng, self._good, Status)


class TablesOnStatus(_Seen):
    """Spoil what the status page reads beside the status: kept forecasts, and the newest rows of the climate."""

    name = "status-tables"

    def prepare(self, folder: Path) -> None:
        """Write a state folder with a status."""
        batch = next((self._prepare_status(folder) / "batches").iterdir())
        paths = batch / "forecasts.csv", max(batch.glob("climate-*.csv"))
        self._files = [(path, path.read_bytes()) for path in paths]

    def make(self, rng: random.Random) -> Any:  # noqa: ANN401
        """Return which file, and what stands in it."""
        place = rng.randrange(len(self._files))
        return place, spoil_table(rng, self._files[place][1])

    def of_bytes(self, data: bytes) -> Any:  # noqa: ANN401
        """Return them as the first file."""
        return 0, data

    def feed(self, made: Any) -> bool:  # noqa: ANN401
        """Show the page."""
        path, good = self._files[made[0]]
        path.write_bytes(made[1])
        self.read()
        path.write_bytes(good)
        return True


class Answers(_OneFile):
    """Spoil the answer for which somebody waits."""

    name = "answer"
    share = 0.5

    def prepare(self, folder: Path) -> None:
        """Make the folder."""
        (folder / "answers").mkdir()
        self._state = folder
        self._path = folder / "answers" / "r1.json"

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled answer."""
        good = b'{"request_id":"r1","done":true,"text":"Noted. Measure again in 12.0 h."}'
        return (
            spoil_bytes(rng, good)
            if rng.random() < 0.5
            else dumped(spoil_tree(rng, msgspec.json.decode(good), JSON_VALUES))
        )

    def read(self) -> None:
        """Fetch it."""
        wait_for_answer(self._state, "r1", 0.0)


class RelayNotes(_OneFile):
    """Spoil the note by which the relays are driven off after a crash."""

    name = "relays-note"
    share = 0.5

    def prepare(self, folder: Path) -> None:
        """Take a note of two relays."""
        self._path = folder / "relays.json"

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled note."""
        good = {"chip": "", "lines": [{"role": "heater", "pin": 17, "off": 0}, {"role": "fan", "pin": 27, "off": 1}]}
        return (
            spoil_bytes(rng, dumped(good))
            if rng.random() < 0.5
            else dumped(spoil_tree(rng, good, (*JSON_VALUES, 1.5, float("nan"))))
        )

    def read(self) -> None:
        """Read it."""
        label, lines, _ = read_note(str(self._path.parent))
        if not isinstance(label, str) or not all(isinstance(pin, int) for pin in lines):
            raise AssertionError(f"{label!r}, {lines!r}")


def spoiled_json(rng: random.Random, good: bytes, kind: type) -> bytes:
    """Return a JSON file that was good once: its bytes spoiled, its tree, or only its values."""
    if rng.random() < 0.3:
        return spoil_bytes(rng, good)
    tree = msgspec.json.decode(good)
    if rng.random() < 0.5:
        return dumped(spoil_tree(rng, tree, JSON_VALUES))
    spoil_typed(rng, kind, tree, JSON_FLOATS)
    return dumped(tree)
