"""What ends the heat, one scenario a cause: once each for the tests and five times for the table.

Each begins with the box warming up and its lamp burning without a pause. Within how many seconds the lamp must be out
is what the README promises: 15 s for what can be seen in a reading, the unit's figures for a program that is gone.
"""

import signal
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from tests.rig.guest_chamber import Chamber

READING_S: Final = 15.0
WATCHDOG_S: Final = 30.0 + 5.0 + 10.0
"""WatchdogSec, TimeoutAbortSec, and what a slow guest needs to start the switching-off."""
SLOW_S: Final = 10.0
"""An orderly end is at once; this machine is slow and its host busy."""


@dataclass(frozen=True, slots=True)
class Scenario:
    """Be one cause; `within_s` is the longest the lamp may burn after it, `watch_s` how long it is looked at."""

    name: str
    cause: Callable[[Chamber], object]
    within_s: float
    watch_s: float
    kills: bool = False
    """Whether the program ends by it, so that the service's own switching-off must run."""


def _signal(number: int) -> Callable[[Chamber], object]:
    return lambda chamber: chamber.signal(number)


def _set(**parameters: object) -> Callable[[Chamber], object]:
    return lambda chamber: chamber.set(**parameters)


def _run(command: str) -> Callable[[Chamber], object]:
    return lambda chamber: chamber.cause(command)


HEAT_ENDS: Final = (
    Scenario("air probe vanishes from the bus", _set(w1_absent=1), READING_S, 25.0),
    Scenario("air probe: checksum fails", _set(w1_badcrc=1), READING_S, 25.0),
    Scenario("air probe says 85 °C", _set(w1_mc="85000,12000,12000,12000"), READING_S, 25.0),
    Scenario("air probe hangs in the kernel", _set(w1_hang=1), READING_S, 25.0),
    Scenario("air probe says 46 °C (trip 45)", _set(w1_mc="46000,12000,12000,12000"), READING_S, 25.0),
    Scenario("the two thermometers are 8 K apart", _set(temp_mc=28000), READING_S, 25.0),
    Scenario("daemon: kill -9", _signal(signal.SIGKILL), SLOW_S, 15.0, kills=True),
    Scenario("daemon: SIGTERM", _signal(signal.SIGTERM), SLOW_S, 15.0, kills=True),
    Scenario("daemon: SIGSEGV", _signal(signal.SIGSEGV), SLOW_S, 15.0, kills=True),
    Scenario("daemon: SIGSTOP, ended by the watchdog", _signal(signal.SIGSTOP), WATCHDOG_S, 50.0, kills=True),
    Scenario("systemctl stop", _run("systemctl stop hangroom"), SLOW_S, 15.0, kills=True),
    Scenario("systemctl restart", _run("systemctl restart hangroom"), SLOW_S, 15.0, kills=True),
)
"""Each ends the heat of a lamp that burns."""

BUS: Final = (
    Scenario("humidity sensor: EREMOTEIO", _set(i2c_err=121), READING_S, 40.0),
    Scenario("humidity sensor: EIO", _set(i2c_err=5), READING_S, 40.0),
    Scenario("humidity sensor: ETIMEDOUT", _set(i2c_err=110), READING_S, 40.0),
    Scenario("humidity sensor: checksum fails (EIO)", _set(i2c_badcrc=1), READING_S, 40.0),
    Scenario("humidity sensor hangs in the kernel", _set(i2c_hang=1), READING_S, 40.0),
)
"""What a lost humidity sensor ends is judged by the story that is told of each."""
