"""Boots the Raspberry Pi guest, lets it tell one story, and returns what it printed.

Each boot begins with the card as it was built. QEMU's board 3B has no I2C or 1-wire device, no network and no share:
a story is chosen on the kernel's command line, and what comes of it comes over the serial line.
"""

import json
import subprocess
import time
from pathlib import Path
from typing import Any, Final

from msgspec import Struct

from tests.rig.pi.image import pi_image

PERSIST: Final = "pinctrl_bcm2835.persist_gpio_outputs"
SKIPPING: Final = ("-icount", "shift=3,sleep=off")
"""The guest's clock goes by the instructions that it runs, 8 ns each, and skips to the next timer where it has nothing
to do: an hour that is mostly waiting takes minutes, with every tick run as it is (QEMU, "TCG Instruction Counting")."""


class Story(Struct):
    """Hold what a boot has told: its heading, its lines, all that it printed, and how long it took."""

    heading: str
    told: list[dict[str, Any]]
    printed: str
    seconds: float


def tell(story: str, *, persist: bool, skipping: bool = True, within_s: float = 3600.0) -> Story:
    """Boot, tell one story, and switch off.

    Args:
        story: its script in `in_guest`, without the ending.
        persist: whether the kernel keeps a released output driven, as a Raspberry Pi's own kernel does.
        skipping: whether time in which the guest waits is skipped.
        within_s: how long that may take.
    """
    folder: Path = pi_image()
    words = f"rw quiet console=ttyAMA0,115200 panic=-1 rig.story={story} rig.now={time.time():.0f}"
    words += f" {PERSIST}={int(persist)}"
    command = ["nice", "-n", "15", "qemu-system-aarch64", "-M", "raspi3b", "-m", "1G", "-smp", "4"]
    command += ["-kernel", f"{folder}/Image", "-initrd", f"{folder}/initrd", "-dtb", f"{folder}/b.dtb"]
    command += ["-append", words, "-drive", f"file={folder}/sd.img,if=sd,format=raw,snapshot=on"]
    command += ["-display", "none", "-no-reboot", "-serial", "stdio", *(SKIPPING if skipping else ())]
    began_s = time.monotonic()
    done = subprocess.run(command, capture_output=True, check=False, timeout=within_s, stdin=subprocess.DEVNULL)
    printed = done.stdout.decode("utf-8", "replace") + done.stderr.decode("utf-8", "replace")
    lines = [line.strip() for line in printed.splitlines()]
    told = [json.loads(line.removeprefix("RIG ")) for line in lines if line.startswith("RIG ")]
    heading = next((line for line in lines if line.startswith("GUEST")), "the guest did not come up")
    return Story(heading, told, printed, time.monotonic() - began_s)
