"""What the stories on the command line share: they end with a message where the chamber cannot be opened."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Final

KITCHEN: Final = Path(__file__).with_name("kitchen.sh")


def test_a_story_ends_with_the_message_where_the_chamber_cannot_start(tmp_path: Path) -> None:
    told = subprocess.run(
        ["/bin/sh", "-c", f'set -eu; . "{KITCHEN}"; open_the_chamber no-such-chamber 2026-01-05T07:30Z; echo opened'],
        cwd=tmp_path,
        env={**os.environ, "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}"},
        capture_output=True,
        text=True,
        timeout=30.0,
        check=False,
    )
    assert told.returncode != 0
    assert "no-such-chamber" in told.stdout
    assert "opened" not in told.stdout
