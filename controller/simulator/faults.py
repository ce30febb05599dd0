"""What goes wrong in a simulated run, and when: `KIND[:WHAT]@TIME[/DURATION]`, counted from the begin.

Examples: `probe-out@6h/20m`, `missing:rh@90m`, `relay-welded:cooler@2d`, `power-cut@26h/5m`, `clock-step:+1h@3h`.
Without a duration a fault lasts to the end of the run.
"""

import re
from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import inf
from typing import Final, get_args

from msgspec import Struct

from controller.core.values import CONTACTS, ROLES, Channel
from controller.errors import UsageError

OF_A_SENSOR: Final[dict[str, str]] = {
    "missing": "the sensor is gone",
    "frozen": "the same number comes for ever, each time as a new one",
    "nan": "the value is no number",
    "checksum": "the reading was damaged on its way",
    "jump": "the value is 8 K (or 30 %RH) too high",
    "empty": "the kernel's file is empty",
    "power-on-value": "85.000, the value of a probe that was reset",
    "low-supply": "127.94, the value of a probe without enough power",
    "no-reply": "-127, the value of a bus without an answer",
    "stale": "nothing new comes; the last reading keeps its old time",
    "hung": "the call that reads the sensor does not come back",
    "flaky": "about one reading in four was damaged on its way",
    "drift": "the value creeps up by 1 K (or 5 %RH) in each hour",
}
"""Faults of one sensor; WHAT is its channel, `air_temp` where none is named."""

OF_A_CONTACT: Final = ("missing", "hung", "frozen")
"""Those of them that a contact can have."""

OTHERS: Final[dict[str, str]] = {
    "probe-out": "the air probe slips out of the box and follows the room",
    "stranger": "a thermometer that the chamber file does not name hangs on the bus",
    "relay-welded": "an output stays on, whatever is commanded; WHAT is its role, `heater` where none is named",
    "relay-open": "an output stays off, whatever is commanded; WHAT is its role, `heater` where none is named",
    "pin-stuck": "the pin of an output stays at ON, read back too; WHAT is its role, `heater` where none is named",
    "lamp-burnt": "the lamp gives nothing",
    "cutout-open": "the thermal cut-out has opened: no voltage at the lamp",
    "humidifier-empty": "the humidifier gives nothing",
    "mist-leaks": "the humidifier gives a fifth of its mist all the time",
    "fan-stuck": "the fan does not turn",
    "compressor-dead": "the compressor does not start",
    "evaporator-iced": "ice on the evaporator keeps its cold from the air",
    "door-open": "the door stands open",
    "power-cut": "the supply fails for DURATION, which must be given; then the machine boots anew",
    "clock-step": "the clock on the wall jumps by WHAT, such as +1h or -2d; it has no duration",
    "clock-lost": "the clock on the wall cannot be trusted",
}

OF_THE_COMPUTER: Final[dict[str, str]] = {
    "low-voltage": "the supply of the computer is too weak",
    "processor-hot": "the computer's processor has 85 °C",
    "loop-late": "the program gets no time for DURATION, which must be given",
    "computer-hangs": "the computer hangs, its outputs as they are, until its watchdog resets it after 14 s; it is "
    "back after DURATION, which must be given",
    "disk-filling": "the disk has little room left",
    "disk-full": "nothing more fits on the disk",
    "disk-slow": "each write takes 8 s",
    "disk-read-only": "the kernel has made the disk read-only",
}

OF_AN_OUTPUT: Final = ("relay-welded", "relay-open", "pin-stuck")
"""Those of them that name an output."""
NEEDS: Final[dict[str, str]] = {
    "mist-leaks": "humidifier",
    "fan-stuck": "fan",
    "compressor-dead": "cooler",
    "evaporator-iced": "cooler",
}
"""Those of them that a chamber without this output cannot have."""

KINDS: Final[dict[str, str]] = {**OF_A_SENSOR, **OTHERS, **OF_THE_COMPUTER}
"""Every kind of fault with what it does, for the help text."""

UNITS_S: Final = {"s": 1.0, "m": 60.0, "h": 3600.0, "d": 86_400.0}
FORM: Final = re.compile(r"(?P<kind>[a-z-]+)(:(?P<what>[^@]*))?@(?P<at>[^/]*)(/(?P<lasts>.*))?")
TIME: Final = re.compile(r"(\d+(?:\.\d+)?)([smhd])")
CUTS: Final = frozenset({"power-cut", "computer-hangs"})
"""Faults over which the computer boots anew."""
NEED_AN_END: Final = CUTS | {"loop-late"}
EXAMPLE: Final = "write KIND@TIME or KIND@TIME/DURATION, such as probe-out@6h/20m (units s, m, h, d)"


class SimulatedFault(Struct, frozen=True):
    """Hold one fault: it is there from `at_s` until `until_s` after the begin of the run."""

    kind: str
    at_s: float
    until_s: float = inf
    what: str = ""  # Channel or role.
    step_s: float = 0.0  # Of a clock step.


def parse_fault(spec: str) -> SimulatedFault:
    """Read one fault as a person types it.

    Raises:
        UsageError: it cannot be understood; the message names the part and what would be right.
    """
    match = FORM.fullmatch(spec.strip())
    if match is None:
        raise UsageError(f"--fault {spec}: not understood; {EXAMPLE}")
    kind, what = match["kind"], match["what"] or ""
    if kind not in KINDS:
        raise UsageError(f"--fault {spec}: there is no kind {kind!r}; kinds are {', '.join(KINDS)}")
    at_s = _seconds(match["at"], spec)
    lasts_s = None if match["lasts"] is None else _seconds(match["lasts"], spec)
    if kind == "clock-step":
        if lasts_s is not None:
            raise UsageError(f"--fault {spec}: a clock step has no duration; write clock-step:+1h@3h")
        return SimulatedFault(kind, at_s, at_s, "", _step_s(what, spec))
    if kind in NEED_AN_END and not lasts_s:
        raise UsageError(f"--fault {spec}: {_called(kind)} needs a duration; write {kind}@26h/5m")
    if kind in CUTS and at_s == 0.0:
        raise UsageError(f"--fault {spec}: {_called(kind)} must come after the begin; write {kind}@26h/5m")
    if lasts_s == 0.0:
        raise UsageError(f"--fault {spec}: a duration must be more than 0; {EXAMPLE}")
    until_s = inf if lasts_s is None else at_s + lasts_s
    return SimulatedFault(kind, at_s, until_s, _what(kind, what, spec))


def parse_faults(specs: Iterable[str]) -> tuple[SimulatedFault, ...]:
    """Read several faults; all that cannot be understood are told together (UsageError)."""
    faults: list[SimulatedFault] = []
    problems: list[str] = []
    for spec in specs:
        try:
            faults.append(parse_fault(spec))
        except UsageError as error:
            problems.append(str(error))
    cuts = sorted((fault.at_s, fault.until_s) for fault in faults if fault.kind in CUTS)
    if any(later[0] <= earlier[1] for earlier, later in pairwise(cuts)):
        problems.append("--fault power-cut: two power cuts overlap; begin the second after the first has ended")
    if problems:
        raise UsageError("\n".join(problems))
    return tuple(faults)


def _called(kind: str) -> str:
    return {"power-cut": "a power cut"}.get(kind, kind)


def edges_s(faults: Sequence[SimulatedFault]) -> list[float]:
    """Return the instants at which a fault begins or ends, oldest first."""
    return sorted({at_s for fault in faults for at_s in (fault.at_s, fault.until_s) if at_s < inf})


def _what(kind: str, what: str, spec: str) -> str:
    if kind in OF_A_SENSOR:
        channels = [name for name in get_args(Channel) if name not in CONTACTS or kind in OF_A_CONTACT]
        return _one_of(what or "air_temp", channels, "channel", spec)
    if kind in OF_AN_OUTPUT:
        return _one_of(what or "heater", ROLES, "output", spec)
    if what:
        raise UsageError(f"--fault {spec}: {kind} takes nothing after a colon; write {kind}@6h")
    return ""


def _one_of(what: str, known: Sequence[str], called: str, spec: str) -> str:
    if what not in known:
        raise UsageError(f"--fault {spec}: there is no {called} {what!r}; there are {', '.join(known)}")
    return what


def _seconds(text: str, spec: str) -> float:
    match = TIME.fullmatch(text.strip())
    if match is None:
        raise UsageError(f"--fault {spec}: {text!r} is no time; {EXAMPLE}")
    return float(match[1]) * UNITS_S[match[2]]


def _step_s(what: str, spec: str) -> float:
    if what[:1] not in {"+", "-"}:
        raise UsageError(f"--fault {spec}: {what!r} is no step; write +1h or -2d, as clock-step:+1h@3h")
    return _seconds(what[1:], spec) * (-1.0 if what[0] == "-" else 1.0)
