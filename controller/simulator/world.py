"""The simulated world: the ports of the daemon over a modelled chamber, its room, its meat and its faults.

Time passes only while the daemon sleeps. Then the world goes from one instant at which something changes to the next
(an output ends, a fault begins, the room's air or the meat's surface is looked at anew), and the chamber's model moves
on in between. Instants named `elapsed_s` are counted from the begin of the run; no fault ever changes them.
"""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from math import inf
from typing import Final

from controller.core.values import Channel, Role
from controller.errors import UsageError
from controller.settings.chamber_file import ChamberFile
from controller.settings.model_figures import FAN_MASS
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.chamber_parameters import parameters_of
from controller.simulator.computer import HANGS_S, SimulatedDisk, SimulatedMachine
from controller.simulator.faults import CUTS, NEEDS, OF_A_SENSOR, OF_AN_OUTPUT, SimulatedFault, edges_s
from controller.simulator.meat import Elsewhere, Meat
from controller.simulator.sensors import SimulatedSensors
from controller.simulator.siblings import (
    BOOT_TAKES_S,
    LampLog,
    SimulatedChores,
    SimulatedClock,
    SimulatedRelays,
    SimulatedSupervisor,
)
from controller.simulator.weather import ConstantRoom, Room

ROOM_C: Final = 20.0
ROOM_RH_PCT: Final = 50.0
LOOK_EVERY_S: Final = 60.0
"""How often the room's air and the meat's surface are looked at anew."""
CELLAR_RH_PCT: Final = 75.0


class PowerCut(Exception):  # noqa: N818 - an event of the world, no error
    """Say that the supply has failed: the program is gone at once. `World.restore_power` lets it come back."""


class World:
    """Hold the simulated world. `clock`, `sensors`, `relays`, `supervisor`, `chores` are the daemon's ports."""

    def __init__(
        self,
        chamber: ChamberFile,
        *,
        begin_wall_s: float,
        seed: int = 0,
        weather: Room | None = None,
        ambient_c: float | None = None,
        ambient_rh_pct: float = ROOM_RH_PCT,
        faults: Sequence[SimulatedFault] = (),
        vary: bool = False,
        ends_s: float = inf,
        pace: Callable[[float], None] | None = None,
        plant: type[ChamberModel] = ChamberModel,
    ) -> None:
        """Build the world at its begin: an empty chamber that has stood in its room for long.

        Args:
            chamber: the chamber file.
            begin_wall_s: the wall clock at the begin, seconds since 1970.
            seed: of all noise; the same seed gives the same run, bit for bit.
            weather: the room's air by the hour; without it the room is constant.
            ambient_c: the constant room; by default 20 °C, or the nearest that `room_temp_c` allows.
            ambient_rh_pct: its humidity.
            faults: what goes wrong, and when.
            vary: draw errors of the sensors, and let the maker draw a sausage, from the seed.
            ends_s: how long the run lasts; then `clock.sleep_until` says False.
            pace: called with the seconds of every sleep before they pass: it may wait, and so slow the run down.
            plant: the model of the chamber; another one shows what hangs on its equations.

        Raises:
            SettingsError: the chamber file lacks a figure that the model needs.
            UsageError: a fault concerns a sensor or an output that this chamber does not have.
        """
        self.chamber, self.seed, self.vary = chamber, seed, vary
        self.ends_s, self._pace = ends_s, pace
        self.elapsed_s = self.boot_s = 0.0
        self.boots = 1
        self.monotonic_less_elapsed_s = BOOT_TAKES_S
        self.wall_less_elapsed_s = self._true_wall_less_elapsed_s = begin_wall_s
        self.wall_trusted = True
        lowest_c, highest_c = chamber.room_temp_c
        room_c = min(max(ROOM_C, lowest_c), highest_c) if ambient_c is None else ambient_c
        self.room: Room = weather or ConstantRoom(room_c, ambient_rh_pct)
        temp_c, rh_pct = self.room.at(begin_wall_s)
        self.model = plant(parameters_of(chamber), room_c=temp_c, room_rh_pct=rh_pct)
        self.meat: Meat | None = None
        self.meat_is_in = False
        self.elsewhere = Elsewhere(temp_c, CELLAR_RH_PCT)
        self._meat_c = temp_c
        self._next_look_s = LOOK_EVERY_S
        self._looked_s = 0.0
        self._door_until_s = 0.0
        self._powered = True
        self._hangs = False  # Then the program is gone, but the chamber has its power.
        self._heater_live = False
        self.lamp = LampLog()
        self.clock = SimulatedClock(self, seed)
        self.relays = SimulatedRelays(self, tuple(entry.role for entry in chamber.output), chamber.tick_s)
        self.sensors = SimulatedSensors(chamber, self, seed=seed, vary=vary)
        self.supervisor = SimulatedSupervisor()
        self.machine = SimulatedMachine()
        self.disk = SimulatedDisk(self)
        self.chores = SimulatedChores(self.clock.wall_s, chamber.timezone)
        self.faults = tuple(faults)
        self._check_faults()
        self._edges_s = [*edges_s(self.faults), inf]
        self._shut: frozenset[Role] = frozenset()  # Outputs that are on, whatever is commanded,
        self._opened: frozenset[Role] = frozenset()  # and those that are off.
        self._active: frozenset[str] = frozenset()
        self._late_s = sorted((fault.at_s, fault.until_s) for fault in self.faults if fault.kind == "loop-late")
        self._stepped: list[SimulatedFault] = []
        self._look_at_faults()

    # What is true, for tests and for the summary.

    @property
    def true_air_temp_c(self) -> float:
        """Return the true temperature of the air."""
        return self.model.air_c

    @property
    def true_rh_pct(self) -> float:
        """Return the true relative humidity; above 100 means fog."""
        return self.model.rh_pct

    @property
    def vapour_pa(self) -> float:
        """Return the true pressure of the vapour in the chamber."""
        return self.model.vapour_pa

    @property
    def true_meat_temp_c(self) -> float | None:
        """Return the true temperature of the meat, wherever it is; None while there is none."""
        if self.meat is None:
            return None
        return self.model.meat_c if self.meat_is_in else self._meat_c

    @property
    def core_temp_c(self) -> float:
        """Return the temperature where the core probe is: in the meat, or in the air while no meat hangs."""
        return self.meat.core_temp_c if self.meat is not None and self.meat_is_in else self.model.air_c

    @property
    def room_temp_c(self) -> float:
        """Return the temperature of the room."""
        return self.model.room_c

    @property
    def door_open(self) -> bool:
        """Say whether the door is open."""
        return self.model.door_open

    @property
    def evaporator_temp_c(self) -> float:
        """Return the temperature of the cold plate."""
        return self.model.plate_c

    def contact(self, channel: Channel) -> bool:
        """Say what a contact would say now: see `CONTACTS`."""
        model = self.model
        match channel:
            case "door":
                return model.door_open
            case "heater_live":
                return self._heater_live
            case "heater_current":
                return model.lamp_on
            case "cooler_current":
                return model.cooler_on
            case "fan_turns":
                return model.fan_on
            case "cutout":
                return "cutout-open" in self._active
            case _:
                raise ValueError(f"{channel} is no contact")

    @property
    def heat_on(self) -> bool:
        """Say whether the lamp really burns, by command or by a welded relay."""
        return self.model.lamp_on

    @property
    def lamp_edges(self) -> list[tuple[float, bool]]:
        """Return when the lamp began and ceased to burn: (seconds after the begin, on), the newest 200,000."""
        return list(self.lamp.edges)

    @property
    def next_power_cut_s(self) -> float | None:
        """Return when the supply fails next, or the computer hangs, in seconds after the begin."""
        cuts = [fault.at_s for fault in self.faults if fault.kind in CUTS and fault.at_s > self.elapsed_s]
        return min(cuts, default=None)

    # What a person does at the chamber.

    def hang(self, meat: Meat) -> None:
        """Put the meat into the chamber, as warm as it is."""
        if self.meat is not meat:
            self.meat, self._meat_c = meat, meat.core_temp_c
        self._look_at_meat()
        self.meat_is_in = True
        self.model.hang(meat.mass_kg, self._meat_c)
        self._tell_surface(meat)

    def take_out(self, place: Elsewhere | None = None) -> None:
        """Take the meat out of the chamber and put it elsewhere; without a place into a cellar as warm as the room."""
        self._look_at_meat()
        if self.meat_is_in:
            self._meat_c = self.model.meat_c
            self.model.take_out()
        self.meat_is_in = False
        self.elsewhere = place or Elsewhere(self.model.room_c, CELLAR_RH_PCT)

    def open_door(self, lasts_s: float) -> None:
        """Open the door now for so long."""
        self._door_until_s = max(self._door_until_s, self.elapsed_s + lasts_s)
        self.drive()

    # How time passes.

    def run_to(self, elapsed_s: float) -> bool:
        """Let the world go on to this instant, or to the end of the run (False), or to a power cut (PowerCut)."""
        if self._pace is not None and self.ends_s > self.elapsed_s < elapsed_s:
            self._pace(elapsed_s - self.elapsed_s)
        for late_s, until_s in self._late_s:
            if late_s <= elapsed_s < until_s:
                elapsed_s = until_s
        ends = elapsed_s >= self.ends_s
        self._advance(min(elapsed_s, self.ends_s))
        return not ends

    def restore_power(self) -> bool:
        """Pass the rest of the power cut with everything off, then boot: monotonic clock and boot id begin anew.

        Returns False when the run ends before the power is back.
        """
        if self._powered:
            raise RuntimeError("restore_power: there is no power cut now")
        until_s = max(f.until_s for f in self.faults if f.kind in CUTS and f.at_s <= self.elapsed_s)
        while self.elapsed_s < min(until_s, self.ends_s):
            self._advance(min(self.elapsed_s + LOOK_EVERY_S, until_s, self.ends_s))
            self.sensors.follow()
        if self.elapsed_s < until_s:
            return False
        self.machine.boot(by_watchdog=self._hangs)
        self._powered, self._hangs = True, False
        self.boot_s = self.elapsed_s
        self.boots += 1
        self.monotonic_less_elapsed_s = BOOT_TAKES_S - self.elapsed_s
        self.sensors.reboot()
        self._look_at_faults()
        return True

    def _advance(self, end_s: float) -> None:
        relays, model = self.relays, self.model
        while self.elapsed_s < end_s:
            now_s = self.elapsed_s
            stop_s = min(end_s, relays.next_end_s, self._edges_s[0], self._next_look_s)
            if now_s < self._door_until_s < stop_s:
                stop_s = self._door_until_s
            model.advance(stop_s - now_s)
            self.elapsed_s = stop_s
            if stop_s >= self._next_look_s:
                self._look_around()
            if model.door_open and stop_s >= self._door_until_s:
                self.drive()
            if stop_s >= relays.next_end_s:
                relays.end_due(stop_s)
            if stop_s >= self._edges_s[0]:
                self._look_at_faults()

    def drive(self) -> None:
        """Let the chamber have what the coils, the faults and the door make of it now."""
        model, powered, active = self.model, self._powered or self._hangs, self._active
        coils, shut, opened = self.relays.ends_s, self._shut, self._opened

        def on(role: Role) -> bool:
            return powered and (role in coils or role in shut) and role not in opened

        series = "master" not in self.relays.closings or on("master")
        self._heater_live = on("heater") and series and "cutout-open" not in active
        lamp_on = self._heater_live and "lamp-burnt" not in active
        if lamp_on != model.lamp_on:
            model.lamp_on = lamp_on
            self.lamp.note(self.elapsed_s, on=lamp_on)
        model.mist_on = on("humidifier") and "humidifier-empty" not in active
        model.mist_leaks = powered and "mist-leaks" in active
        model.cooler_on = on("cooler") and "compressor-dead" not in active
        model.dehumidifier_on = on("dehumidifier")
        door_open = "door-open" in active or self.elapsed_s < self._door_until_s
        air = (on("fan") and "fan-stuck" not in active, on("fresh_air"), door_open, "evaporator-iced" in active)
        if air != (model.fan_on, model.fresh_air_on, model.door_open, model.iced):
            model.fan_on, model.fresh_air_on, model.door_open, model.iced = air
            model.changed()

    def _look_around(self) -> None:
        """Look at the room and at the meat anew."""
        self._next_look_s = self.elapsed_s + LOOK_EVERY_S
        model = self.model
        model.room_c, model.room_rh_pct = self.room.at(self.elapsed_s + self._true_wall_less_elapsed_s)
        model.changed()
        self._look_at_meat()

    def _look_at_meat(self) -> None:
        """Let the meat live through the time since it was looked at last."""
        meat, dt_s = self.meat, self.elapsed_s - self._looked_s
        self._looked_s = self.elapsed_s
        if meat is None or dt_s <= 0.0:
            return
        if self.meat_is_in:
            meat.advance(dt_s, self.model.meat_c, self.model.take_evaporated_kg())
            self._tell_surface(meat)
        else:
            self._meat_c = self.elsewhere.keep(meat, self._meat_c, dt_s)

    def _tell_surface(self, meat: Meat) -> None:
        kc = self.model.parameters.meat_m_per_s
        still, moved = meat.surface_mass_conductance(kc), meat.surface_mass_conductance(kc * FAN_MASS)
        self.model.set_meat(meat.mass_kg, meat.area_m2, meat.surface_aw, still, moved)

    # What goes wrong.

    def _check_faults(self) -> None:
        for fault in self.faults:
            if fault.kind in OF_A_SENSOR and fault.what not in self.sensors.channels:
                known = ", ".join(self.sensors.channels)
                raise UsageError(f"--fault {fault.kind}:{fault.what}: this chamber has no such sensor; it has {known}")
            if fault.kind == "probe-out" and "air_temp" not in self.sensors.channels:
                raise UsageError("--fault probe-out: this chamber has no sensor air_temp that could slip out")
            needed = fault.what if fault.kind in OF_AN_OUTPUT else NEEDS.get(fault.kind)
            if needed is not None and needed not in self.relays.closings:
                known, named = ", ".join(self.relays.closings), f"{fault.kind}:{needed}"
                raise UsageError(f"--fault {named}: this chamber has no such output; it has {known}")

    def _look_at_faults(self) -> None:
        """Take over which faults are there now; raise PowerCut where the supply has just failed."""
        now_s = self.elapsed_s
        del self._edges_s[: bisect_right(self._edges_s, now_s)]
        for fault in self.faults:
            if fault.kind == "clock-step" and fault.at_s <= now_s and fault not in self._stepped:
                self._stepped.append(fault)
                self.wall_less_elapsed_s += fault.step_s
        there = [fault for fault in self.faults if fault.at_s <= now_s < fault.until_s]
        self._active = frozenset(fault.kind for fault in there)
        of_outputs = [(fault.kind, fault.what) for fault in there if fault.kind in OF_AN_OUTPUT]
        self.relays.stuck = tuple(role for role in self.relays.roles if ("pin-stuck", role) in of_outputs)
        welded = [role for role in self.relays.roles if ("relay-welded", role) in of_outputs]
        self._shut = frozenset((*welded, *self.relays.stuck))
        self._opened = frozenset(role for role in self.relays.roles if ("relay-open", role) in of_outputs)
        self.wall_trusted = "clock-lost" not in self._active
        faulty: dict[Channel, str] = {
            channel: fault.kind for channel in self.sensors.channels for fault in there if fault.what == channel
        }
        self.sensors.set_faults(faulty, probe_out="probe-out" in self._active, stranger="stranger" in self._active)
        self.machine.set_faults(self._active)
        self.disk.set_faults(self._active)
        cut = self._powered and bool(self._active & CUTS)
        if cut:
            self._powered, self._hangs = False, "power-cut" not in self._active
            self.relays.hold_until(now_s + HANGS_S if self._hangs else now_s)
        self.drive()
        if cut:
            what = "the computer hung" if self._hangs else "the supply failed"
            raise PowerCut(f"{what} {now_s / 3600.0:.2f} h after the begin")
