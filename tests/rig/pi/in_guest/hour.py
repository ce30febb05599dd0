"""Let the real command lead the first hour of a ferment, and look each minute at what it takes."""

import json
import time
from pathlib import Path
from typing import Any

from tests.rig.pi.in_guest.chamber import STATE, Chamber, is_on, pin
from tests.rig.pi.in_guest.daemon import Daemon, hangroom

HANG_MIN, END_MIN = 20, 62


def main() -> None:
    """Start, hang, and look for an hour."""
    chamber = Chamber()
    began_s = time.monotonic()
    daemon = Daemon()
    while not (STATE / "status.json").exists():
        time.sleep(0.5)
    told: dict[str, Any] = {"start": hangroom("start", "tangy", "--meat", "4.5kg", "--sure")}
    largest: dict[str, int] = {}
    lamp_min = 0
    for minute in range(1, END_MIN + 1):
        time.sleep(max(began_s + 60.0 * minute - time.monotonic(), 0.0))
        memory = daemon.memory_kb()
        largest = {name: max(value, largest.get(name, 0)) for name, value in memory.items()}
        lamp_min += is_on()
        if minute == HANG_MIN:
            told["hang"] = hangroom("hang", "A=400", "B=420", "--sure")
        if minute % 10 == 0:
            shown = json.loads((STATE / "status.json").read_bytes())
            why = {"interlocks": shown["interlocks"], "alarms": [alarm["text"] for alarm in shown["alarms"]]}
            line = {"minute": minute, **why, "air_c": round(chamber.air_c, 1), "pin": pin(), **memory}
            print("RIG " + json.dumps(line), flush=True)  # noqa: T201 - to the host
    cpu = Path(f"/proc/{daemon.process.pid}/stat").read_text().split(")")[1].split()
    told["cpu_s"] = (int(cpu[11]) + int(cpu[12])) / 100.0
    told["ran_s"] = time.monotonic() - began_s
    told["largest_kb"] = largest
    told["stopped"], told["pin"] = daemon.stop(), pin()
    rows = [path.read_text().count("\n") - 1 for path in STATE.glob("batches/*/climate-*.csv")]
    told["climate_rows"], told["minutes_with_lamp"] = sum(rows), lamp_min
    print("RIG " + json.dumps(told), flush=True)  # noqa: T201 - to the host


if __name__ == "__main__":
    main()
