"""The rig's commands: `python -m tests.rig build | table [--runs 5] [--only WORD]`.

`build` makes the guest and goes through the README's chapter in it; both are kept under $HANGROOM_RIG, else
~/.cache/hangroom-rig, and made anew only when what went in has changed. `table` measures, by the guest kernel's trace,
how long it takes from each cause until the lamp is off. The stories are run by `pytest -m rig tests/rig`.
"""

import argparse
import sys

from tests.rig.guest_install import installed
from tests.rig.guest_tools import why_no_guest
from tests.rig.table import table


def run() -> int:
    """Read the options and do it."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("do", choices=("build", "table"))
    options.add_argument("--runs", type=int, default=5, help="of each scenario of the table")
    options.add_argument("--only", default="", help="scenarios with this word in their name")
    chosen = options.parse_args()
    if why_not := why_no_guest():
        print(f"no guest: {why_not}", file=sys.stderr)
        return 69
    folder = installed()
    print(f"installed by the README's commands: {folder}")
    if chosen.do == "table":
        for line in table(chosen.runs, chosen.only):
            print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(run())
