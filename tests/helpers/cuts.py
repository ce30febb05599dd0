"""Cut the power of simulated chambers whose figures are not what the daemon believes, for as long as is asked.

The daemon runs with the shipped chamber file; the world runs with another one, whose figures are drawn from within the
factors that `controller.core.outage.bound` states. At an instant the power fails; the world goes on, all outputs off,
and at each length that is asked a copy of it boots and shows its thermometers to the bound.
"""

import copy
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import pi, sin
from random import Random
from typing import Self

from msgspec.structs import replace

from controller.core.outage.bound import Load, Now, longest_s
from controller.core.values import Channel, Reading, Readings
from controller.settings.chamber_file import ChamberFile, SensorEntry
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.sausage import Sausage
from controller.simulator.world import World
from tests.helpers.chamber_story import BEGIN_WALL_S, ChamberStory
from tests.helpers.shipped_chambers import shipped_chamber

BOOTS_S = 30.0
READS_S = 15.0
"""Three good readings, one in each tick."""
LENGTHS_S = (10.0, 60.0, 300.0, 900.0, 1800.0, 3600.0, 7200.0, 14_400.0, 28_800.0, 57_600.0, 115_200.0, 172_800.0)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """Hold what is cut: which chamber, what hangs, since when, in which room."""

    chamber: str
    profile: str
    hours: float  # Since hanging,
    seconds: float  # and a little more, so that the cut meets any moment of the lamp's rhythm.
    room_c: float
    swing_k: float
    core_probe: bool
    room_thermometer: bool
    seed: int
    room_temp_c: tuple[float, float] | None = None  # What the chamber file says of its room; None: as it is shipped.
    as_filed: bool = False  # Its true figures are those of its file.

    @classmethod
    def drawn(cls, seed: int) -> Self:
        """Draw one."""
        random = Random(f"scene {seed}")
        chamber = random.choice(("insulated-box", "plywood-cabinet", "old-fridge"))
        profiles = ("tangy", "mild", "cooked-semi-dry") + (("dry-only",) * 2 if chamber == "old-fridge" else ())
        low_c, high_c = shipped_chamber(chamber).room_temp_c
        swing_k = random.choice((0.0, 0.0, random.uniform(0.0, 3.0)))
        return cls(
            chamber=chamber,
            profile=random.choice(profiles),
            hours=random.choice((0.2, 0.5, 1.0, 3.0, 8.0, 20.0)),
            seconds=random.uniform(0.0, 300.0),
            room_c=random.uniform(low_c + swing_k, high_c - swing_k),
            swing_k=swing_k,
            core_probe=random.random() < 0.4,
            room_thermometer=random.random() < 0.5,
            seed=seed,
        )


@dataclass(frozen=True)
class Cut:
    """Hold one cut: its length, how old the checkpoint is when the program is back, and the bound; all in seconds."""

    scene: Scene
    lasts_s: float
    true_s: float
    bound_s: float | None


class SwingingRoom:
    """Be a room that is warm by day and cold by night."""

    def __init__(self, scene: Scene) -> None:
        self._scene, self._phase = scene, Random(f"room {scene.seed}").uniform(0.0, 2.0 * pi)

    def at(self, wall_s: float) -> tuple[float, float]:
        """Return temperature and humidity."""
        day = 2.0 * pi * (wall_s - BEGIN_WALL_S) / 86_400.0
        return self._scene.room_c + self._scene.swing_k * sin(day + self._phase), 50.0


def believed(scene: Scene) -> ChamberFile:
    """Return the chamber file as the daemon reads it."""
    file = shipped_chamber(scene.chamber)
    sensors = [entry for entry in file.sensor if entry.channel != "ambient_temp"]
    if scene.room_thermometer:
        sensors.append(SensorEntry(channel="ambient_temp", kind="ds18b20", id="28-000000000003"))
    if scene.core_probe:
        sensors.append(SensorEntry(channel="core_temp", kind="ds18b20", id="28-000000000004"))
    return replace(file, sensor=tuple(sensors), room_temp_c=scene.room_temp_c or file.room_temp_c)


def true_file(scene: Scene) -> ChamberFile:
    """Return the chamber as it really is: every figure drawn from within what the bound allows for."""
    random, file = Random(f"figures {scene.seed}"), believed(scene)
    if scene.as_filed:
        return file

    def about(value: float, factor: float) -> float:
        return float(value * factor ** random.uniform(-1.0, 1.0))

    model = file.model
    radiant = random.uniform(max(model.lamp_radiant - 0.15, 0.0), model.lamp_radiant + 0.25)
    drawn = replace(
        model,
        ua_w_per_k=about(model.ua_w_per_k, 1.5),
        air_wall_w_per_k=about(model.air_wall_w_per_k, 1.5),
        wall_j_per_k=about(model.wall_j_per_k, 2.0),
        meat_w_per_m2_k=about(model.meat_w_per_m2_k, 1.5),
        meat_m_per_s=about(model.meat_m_per_s, 1.5),
        lamp_radiant=radiant,
        leak_per_h=about(model.leak_per_h, 3.0),
    )
    outputs = tuple(
        replace(entry, w=entry.w * random.uniform(0.8, 1.1)) if entry.role == "heater" and entry.w else entry
        for entry in file.output
    )
    sensors = tuple(
        replace(
            entry,
            offset_k=random.uniform(-0.5, 0.5) if entry.kind == "ds18b20" else entry.offset_k,
            response_s=random.uniform(45.0, 400.0) if entry.channel == "air_temp" else entry.response_s,
        )
        for entry in file.sensor
    )
    return replace(file, model=drawn, output=outputs, sensor=sensors)


def played(scene: Scene, plant: type[ChamberModel] = ChamberModel) -> ChamberStory:
    """Return the story up to the instant at which the power fails."""
    story = ChamberStory(scene.chamber, scene.profile, changed=believed(scene), seed=scene.seed)
    truth = true_file(scene)
    story.world = World(truth, begin_wall_s=BEGIN_WALL_S, seed=scene.seed, weather=SwingingRoom(scene), plant=plant)
    kg = truth.model.meat_kg * Random(f"meat {scene.seed}").uniform(0.9, 1.1)
    dried = scene.profile == "dry-only"
    sausage = (
        Sausage.fermented(diameter_mm=55.0, mass_kg=kg, ph=5.0)
        if dried
        else Sausage(diameter_mm=55.0, mass_kg=kg, culture=story.profile.starter)
    )
    story.memory = replace(story.memory, started_s=story.world.clock.monotonic_s(), last_s=0.0)
    story.start().run_for(hours=1.0)
    story.hang_this(sausage).run_for(hours=scene.hours, seconds=scene.seconds)
    return story


def cuts_of(
    scene: Scene, lengths_s: Iterable[float] = LENGTHS_S, plant: type[ChamberModel] = ChamberModel
) -> Iterator[Cut]:
    """Cut the power of one scene for each of these lengths."""
    story = played(scene, plant)
    kept = story.book.memory
    assert kept is not None
    world, began_s = story.world, story.world.elapsed_s
    checkpoint_s = kept.last_s - story.world.monotonic_less_elapsed_s
    batch = kept.batches[0]
    load = Load(batch.meat_kg if batch.hung_s is not None else 0.0, batch.diameter_mm)
    world.relays.ends_s, world._powered = {}, False
    world.drive()
    for lasts_s in lengths_s:
        while world.elapsed_s < began_s + lasts_s:
            world._advance(min(world.elapsed_s + 60.0, began_s + lasts_s))
            world.sensors.follow()
        back = copy.deepcopy(world)
        back.sensors.reboot()
        back._advance(began_s + lasts_s + BOOTS_S)
        back.sensors.follow()
        back._advance(began_s + lasts_s + BOOTS_S + READS_S)
        shown = back.sensors.newest()

        air_c = _value(shown, "air_temp")
        assert air_c is not None
        now = Now(air_c, _value(shown, "core_temp"), _value(shown, "ambient_temp"))
        yield Cut(scene, lasts_s, back.elapsed_s - checkpoint_s, longest_s(kept.warmth, load, story.chamber, now))


def _value(shown: Readings, channel: Channel) -> float | None:
    reading = shown.get(channel)
    return reading.value if isinstance(reading, Reading) else None
