"""The chamber around a guest: reads its relays, moves what its sensors measure by the project's own model, breaks them.

Once a second the levels of the relays' lines are read, the model moves on by as many seconds of the guest's clock, and
the new values go to the simulated sensors: a DS18B20 in a steel sleeve and an SHT4x, each as slow as the simulator has
it. All stories are told to a `Chamber`.
"""

import contextlib
import copy
import itertools
import threading
import time
from collections.abc import Callable, Iterator
from random import Random
from typing import Any, Final, Literal, Self

from controller.core.values import Role
from controller.settings.chamber_file import read_chamber
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.chamber_parameters import parameters_of
from controller.simulator.sensors import HUMIDITY_KINDS, HumiditySensor, Probe
from tests.rig.guest import Guest, GuestError
from tests.rig.guest_tools import REPOSITORY
from tests.rig.guest_trace import Change, Trace, base_of, level_at, read_trace

PARAMETERS: Final = "/sys/module/simhw/parameters"
FILE: Final = REPOSITORY / "profiles/chambers/insulated-box.toml"  # What the README's commands put into the guest.
PINS: Final[dict[Role, int]] = {"heater": 17, "humidifier": 27}
EVERY_S: Final = 1.0
ROOM_C, ROOM_RH_PCT = 18.0, 50.0
KEPT: Final = ("model", "_probe", "_wet", "_now_s", "_held", "active", "base", "_values")
"""What of a chamber goes back with its guest: air and sensors, and which board hangs on which chip."""
SAFE_OFF: Final = "hangroom-relays"  # As the kernel shortens its name.


class Chamber:
    """Be one guest in its chamber. Make it with the guest up and the program installed."""

    def __init__(self, guest: Guest, *, active: Literal["high", "low"] = "high") -> None:
        """Begin with an empty box that has stood in its room for long."""
        self.guest, self.active = guest, active
        file = read_chamber(FILE)
        self.model = ChamberModel(parameters_of(file), room_c=ROOM_C, room_rh_pct=ROOM_RH_PCT)
        self._now_s = guest.now_s()
        self._probe = Probe(file.sensor[0].response_s or 120.0, phase_s=self._now_s, start_c=ROOM_C)
        self._wet = HumiditySensor(
            HUMIDITY_KINDS["sht4x"], Random(1), response_s=None, start_c=ROOM_C, start_pct=ROOM_RH_PCT
        )
        self._held: dict[str, str] = {}  # Parameters that a story has set.
        self._lock = threading.RLock()
        self._ended = threading.Event()
        self._paused = 0
        self._kept: dict[str, dict[str, Any]] = {}
        self._find()
        self._thread = threading.Thread(target=self._play, daemon=True)
        self._thread.start()

    def _find(self) -> None:
        bank = self.guest.sh("dirname /sys/devices/platform/gpio-sim.*/gpiochip*/sim_gpio27").strip()
        self._values = {role: f"{bank}/sim_gpio{pin}/value" for role, pin in PINS.items()}
        self.base = base_of(self.guest)

    # The play of relays, air and sensors.

    def _play(self) -> None:
        while not self._ended.wait(EVERY_S):
            with self._lock:
                if not self._paused:
                    with contextlib.suppress(GuestError):  # The guest boots, or its power is off.
                        self.move_on()

    def move_on(self) -> None:
        """Let the model pass the time since the last call, with the relays as they are now."""
        with self._lock:
            now_s, *values = self.guest.do(
                ["monotonic"], *(["read", path] for path in self._values.values()), timeout_s=5
            )
            on = {role: self._is_on(int(value)) for role, value in zip(self._values, values, strict=True)}
            self.model.lamp_on, self.model.mist_on = on["heater"], on["humidifier"]
            self.model.changed()
            self.model.advance(min(max(now_s - self._now_s, 0.0), 30.0))
            self._now_s = now_s
            self._probe.follow(now_s, self.model.air_c)
            self._wet.follow(now_s, self.model.air_c, self.model.vapour_pa)
            rh_pct, temp_c = self._wet.show()
            shown = {
                "w1_mc": f"{self._probe.shown_c * 1000:.0f},12000,12000,12000",
                "temp_mc": f"{temp_c * 1000:.0f}",
                "rh_mpc": f"{rh_pct * 1000:.0f}",
                **self._held,
            }
            self.guest.do(*(["write", f"{PARAMETERS}/{name}", value] for name, value in shown.items()), timeout_s=5)

    @property
    def probe_c(self) -> float:
        """Return what the air probe shows."""
        return self._probe.shown_c

    def _is_on(self, level: int) -> bool:
        return level == int(self.active == "high")

    @contextlib.contextmanager
    def still(self) -> Iterator[None]:
        """Let the model stand still for the block: the guest boots, or is put back."""
        with self._lock:
            self._paused += 1
        try:
            yield
        finally:
            with self._lock:
                self._paused -= 1

    # What a story says.

    def set(self, **parameters: object) -> Self:
        """Set parameters of the simulated sensors from now on; mark the instant in the trace as "cause"."""
        with self._lock:
            self._held |= {name: str(value) for name, value in parameters.items()}
            writes = [["write", f"{PARAMETERS}/{name}", str(value)] for name, value in parameters.items()]
            self.guest.do(["mark", "cause"], *writes)
        return self

    def mend(self) -> Self:
        """Let all sensors be well again."""
        with self._lock:
            well = {name: 0 for name in self._held if not name.endswith(("_mc", "_mpc"))}
            self._held.clear()
            self.guest.do(*(["write", f"{PARAMETERS}/{name}", value] for name, value in well.items()))
        return self

    def signal(self, number: int) -> Self:
        """Send the daemon a signal; mark the instant as "cause"."""
        self.guest.do(["mark", "cause"], ["kill", self.pid(), number])
        return self

    def cause(self, command: str) -> Self:
        """Run a command as root in the background; mark the instant before it as "cause"."""
        self.guest.sh(f"(echo cause > /sys/kernel/tracing/trace_marker; exec {command}) >/tmp/cause.log 2>&1 &")
        return self

    def pid(self) -> int:
        """Return the daemon's process number; 0 where it does not run."""
        return int(self.guest.sh("systemctl show hangroom -p MainPID --value"))

    def show(self, name: str) -> str:
        """Return a property of the service, as NRestarts or Result."""
        return self.guest.sh(f"systemctl show hangroom -p {name} --value").strip()

    def status(self) -> str:
        """Return what `hangroom status` prints to the maker."""
        return self.maker("hangroom status")

    def leads(self, stage: str) -> bool:
        """Say whether the program runs, which right after a boot it does not, and leads the batch in this stage."""
        code, said = self.guest.try_("hangroom status", user="maker")
        return not code and f"stage {stage}" in said

    def maker(self, command: str, *, timeout_s: float = 90.0) -> str:
        """Run a command as the maker and return what it printed. Raises GuestError where it fails."""
        return self.guest.sh(command, user="maker", timeout_s=timeout_s)

    def journal(self) -> str:
        """Return what the service said since this boot."""
        return self.guest.sh("journalctl -b -u hangroom --no-pager -o cat")

    def events(self) -> str:
        """Return the diary of the newest batch."""
        return self.guest.sh("cat $(ls -td /var/lib/hangroom/batches/*/ | head -1)/events.csv")

    def is_on(self, role: Role = "heater") -> bool:
        """Say whether a relay is energised now."""
        return self._is_on(int(self.guest.do(["read", self._values[role]])[0]))

    def wait(self, what: str, holds: Callable[[], bool], *, within_s: float, every_s: float = 1.0) -> Self:
        """Wait until something holds; raise GuestError where it does not in so many seconds."""
        until_s = time.monotonic() + within_s
        while not holds():
            if time.monotonic() > until_s:
                raise GuestError(
                    f"{what}: not in {within_s:.0f} s\n{self.guest.sh('journalctl -u hangroom -n 15 -o cat')}"
                )
            time.sleep(every_s)
        return self

    def wait_for_heat(self, *, within_s: float = 240.0) -> Self:
        """Wait until the lamp burns."""
        return self.wait("the lamp burns", self.is_on, within_s=within_s)

    def pass_(self, seconds: float) -> Self:
        """Let time pass."""
        time.sleep(seconds)
        return self

    def keep(self, name: str) -> Self:
        """Keep guest and model as they are now under a name."""
        with self._lock:
            self.guest.save(name)
            self._kept[name] = copy.deepcopy({part: getattr(self, part) for part in KEPT})
        return self

    def back_to(self, name: str) -> Self:
        """Put guest and model back to what they were."""
        with self._lock:
            self.guest.back_to(name)
            for part, value in copy.deepcopy(self._kept[name]).items():
                setattr(self, part, value)
            self.guest.wait_answer()
        return self

    def reboot(self, command: str = "systemctl reboot", *, words: str = "") -> Self:
        """Boot the machine anew by a command in it, with other words for its kernel if wished."""
        with self.still():
            self.guest.reboot(command, words=words)
            self._find()
        return self

    def lose_power(self, words: str = "") -> Self:
        """Cut the machine's power, and give it back."""
        with self.still():
            self.guest.cut_power()
            self.guest.power_on(words)
            self._find()
        return self

    def close(self) -> None:
        """Stop the play."""
        self._ended.set()
        self._thread.join(timeout=10.0)

    # What the kernel's trace says of it.

    def trace(self) -> Trace:
        """Return the kernel's trace of the relays' lines."""
        return read_trace(self.guest, self.base, PINS.values())

    def changes(self, role: Role, trace: Trace) -> list[Change]:
        """Return the changes of one relay's line, level 1 meaning energised."""
        on = int(self.active == "high")
        return [Change(c.at_s, int(c.level == on), c.who) for c in trace.changes[PINS[role]]]


def off_after(changes: list[Change], cause_s: float, *, quiet_s: float = 8.0, until_s: float) -> float | None:
    """Return the seconds from a cause to the instant from which the relay is off for at least `quiet_s`.

    None where it was off already, or where that instant did not come before `until_s`.
    """
    if not level_at(changes, cause_s, 0):
        return None
    after = [change for change in changes if change.at_s > cause_s]
    for change, following in itertools.pairwise([*after, Change(until_s, 1, "")]):
        if not change.level and following.at_s - change.at_s >= quiet_s:
            return change.at_s - cause_s
    return None


def safe_off_after(trace: Trace, role: Role, off: int, cause_s: float) -> float | None:
    """Return the seconds from a cause until the safe-off command drove the line to its off level; None: it did not."""
    driven = trace.driven[PINS[role]]
    return next((at - cause_s for at, level, who in driven if at > cause_s and level == off and who == SAFE_OFF), None)
