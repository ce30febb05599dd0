"""Look for the wheels that a Raspberry Pi needs, so that nobody has to compile there.

Asked for are the two systems that Raspberry Pi OS has been: bookworm (Python 3.11, glibc 2.36) and trixie (Python 3.13,
glibc 2.41), both aarch64. Where pip looks is pip's own configuration. A wheel counts if it is pure, or made for such a
machine; a source package does not count. Files go to a folder that is taken away again.

Pip asks for another system's wheels, but judges the conditions of dependencies (`; python_version < "3.12"`) by the
Python it runs on. So what each wheel asks for is read again here, with the conditions of the Pi.
"""

import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from email.parser import Parser
from pathlib import Path
from typing import Final
from zipfile import ZipFile

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name, parse_wheel_filename

ROOT: Final = Path(__file__).parents[2]
NOT_RUN_TIME: Final = {"test", "mutation"}
OLDEST_MINOR: Final = 17
"""manylinux_2_17 is manylinux2014: the oldest for aarch64 (PEP 599)."""


@dataclass(frozen=True, slots=True)
class System:
    """Hold one system: its name, its Python and its glibc."""

    name: str
    python: str
    glibc_minor: int

    def options(self) -> list[str]:
        """Return the options with which pip asks for wheels of this system."""
        tag = f"cp{self.python.replace('.', '')}"
        platforms = [f"manylinux_2_{minor}_aarch64" for minor in range(self.glibc_minor, OLDEST_MINOR - 1, -1)]
        return [
            "--only-binary=:all:",
            f"--python-version={self.python}",
            "--implementation=cp",
            *(f"--abi={abi}" for abi in (tag, "abi3", "none")),
            *(f"--platform={name}" for name in (*platforms, "manylinux2014_aarch64", "linux_aarch64")),
        ]

    def conditions(self) -> dict[str, str]:
        """Return what the conditions of dependencies are judged by: PEP 508."""
        return {
            "python_version": self.python,
            "python_full_version": f"{self.python}.2",
            "implementation_name": "cpython",
            "platform_python_implementation": "CPython",
            "platform_machine": "aarch64",
            "platform_system": "Linux",
            "sys_platform": "linux",
            "os_name": "posix",
            "extra": "",
        }


SYSTEMS: Final = (System("bookworm", "3.11", 36), System("trixie", "3.13", 41))


@dataclass(frozen=True, slots=True)
class Wheel:
    """Hold one wheel that was found."""

    name: str
    version: str
    platform: str  # "pure", or what it was made for.
    mib: float


def wanted(extra: str = "") -> list[str]:
    """Return the requirements of pyproject.toml, as they stand there; those of an extra where one is named."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    return list(project["optional-dependencies"][extra] if extra else project["dependencies"])


def extras() -> list[str]:
    """Return the extras that a maker may install: all but those for developing."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    return [name for name in project["optional-dependencies"] if name not in NOT_RUN_TIME]


def find(system: System, requirements: list[str]) -> tuple[dict[str, Wheel], list[str]]:
    """Return the wheels for these requirements and all they ask for, and one line for each that could not be had."""
    missing: list[str] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        asked = list(requirements)
        while asked:
            why = _download(system, asked, folder)
            if why:
                for one in asked:
                    reason = _download(system, [one], folder) if len(asked) > 1 else why
                    if reason:
                        missing.append(f"{system.name}, Python {system.python}: {one}: {reason}")
            before = asked
            asked = [one for one in _unmet(system, requirements, folder) if one not in before]
            asked = [one for one in asked if not any(f": {one}: " in line for line in missing)]
        return {wheel.name: wheel for wheel in map(_seen, sorted(folder.glob("*.whl")))}, missing


def _download(system: System, requirements: list[str], folder: Path) -> str:
    """Have pip put wheels into the folder; return why it could not, else an empty text."""
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--dest", str(folder), *system.options()]
    told = subprocess.run([*command, *requirements], capture_output=True, text=True, check=False)
    if told.returncode == 0:
        return ""
    errors = [line for line in told.stderr.splitlines() if line.startswith("ERROR")]
    return (errors or [f"pip ended with {told.returncode}"])[-1].removeprefix("ERROR: ")


def _unmet(system: System, requirements: list[str], folder: Path) -> Iterator[str]:
    """Yield what is asked for on that system and is not in the folder."""
    there = {canonicalize_name(parse_wheel_filename(path.name)[0]): path for path in folder.glob("*.whl")}
    asking = [(Requirement(one), frozenset[str]()) for one in requirements]
    seen: set[tuple[str, frozenset[str]]] = set()
    while asking:
        requirement, of_extras = asking.pop()
        if requirement.marker is not None and not any(
            requirement.marker.evaluate({**system.conditions(), "extra": extra}) for extra in (of_extras or {""})
        ):
            continue
        name = canonicalize_name(requirement.name)
        key = (name, frozenset(requirement.extras))
        if key in seen:
            continue
        seen.add(key)
        if name not in there:
            yield f"{requirement.name}{requirement.specifier}"
        else:
            asking.extend((Requirement(one), frozenset(requirement.extras)) for one in _asks(there[name]))


def _asks(wheel: Path) -> list[str]:
    with ZipFile(wheel) as file:
        (path,) = [name for name in file.namelist() if name.endswith(".dist-info/METADATA") and name.count("/") == 1]
        return Parser().parsestr(file.read(path).decode()).get_all("Requires-Dist", [])


def _seen(path: Path) -> Wheel:
    name, version, _, tags = parse_wheel_filename(path.name)
    platforms = sorted({tag.platform for tag in tags})
    made_for = "pure" if platforms == ["any"] else platforms[0]
    return Wheel(str(name), str(version), made_for, path.stat().st_size / 2**20)


def table(found: dict[System, dict[str, Wheel]]) -> Iterator[str]:
    """Yield the lines of a table: each package with what was found for each system."""
    yield f"{'package':<18}" + "".join(f"{f'{one.name}, Python {one.python}':<42}" for one in found)
    for name in sorted({name for wheels in found.values() for name in wheels}):
        cells = [wheels.get(name) for wheels in found.values()]
        said = ["-" if cell is None else f"{cell.version} {cell.platform}, {cell.mib:.1f} MiB" for cell in cells]
        yield f"{name:<18}" + "".join(f"{one:<42}" for one in said).rstrip()
    totals = [f"{len(wheels)} wheels, {sum(one.mib for one in wheels.values()):.0f} MiB" for wheels in found.values()]
    yield f"{'together':<18}" + "".join(f"{one:<42}" for one in totals).rstrip()
