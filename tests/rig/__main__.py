"""The rig's commands: `python -m tests.rig build | table [--runs 5] [--only WORD] | needs`.

`build` makes the guest and goes through the README's chapter in it; both are kept under $HANGROOM_RIG, else
~/.cache/hangroom-rig, and made anew only when what went in has changed. `table` measures, by the guest kernel's trace,
how long it takes from each cause until the lamp is off. `needs` prints the Debian packages that lack; it ends with 69
and the reason where no guest can be made here at all. The stories are run by `pytest -m rig tests/rig`.
"""

import argparse
import sys

from tests.rig.guest_install import installed
from tests.rig.guest_tools import missing_packages, why_never, why_no_guest
from tests.rig.table import table


def print_needed() -> int:
    """Print the packages that lack, or why not even they would help; return the exit code."""
    if why_not := why_never():
        print(why_not)
        return 69
    print(" ".join(missing_packages()))
    return 0


def run() -> int:
    """Read the options and do it."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("do", choices=("build", "table", "needs"))
    options.add_argument("--runs", type=int, default=5, help="of each scenario of the table")
    options.add_argument("--only", default="", help="scenarios with this word in their name")
    chosen = options.parse_args()
    if chosen.do == "needs":
        return print_needed()
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
