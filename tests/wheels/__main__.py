"""Say whether all run-time dependencies can be had as wheels for a Raspberry Pi: `python -m tests.wheels`.

The exit code is 1 where something is missing.
"""

import argparse
import sys

from tests.wheels.search import SYSTEMS, System, Wheel, extras, find, table, wanted


def main(arguments: list[str] | None = None) -> int:
    """Ask for everything, print the table, and return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.wheels", description=(__doc__ or "").splitlines()[0])
    parser.parse_args(arguments)
    missing: list[str] = []
    for extra in ["", *extras()]:
        requirements = wanted(extra)
        title = f"extra {extra}" if extra else "the base install"
        if not requirements:
            print(f"{title}: asks for nothing more")
            continue
        found: dict[System, dict[str, Wheel]] = {}
        for system in SYSTEMS:
            found[system], lacking = find(system, requirements)
            missing.extend(lacking)
        print(f"{title}: {', '.join(requirements)}")
        print("\n".join(table(found)))
    for line in missing:
        print(f"MISSING {line}")
    print("Something is missing." if missing else "All of it can be had as wheels.")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
