"""The search for wheels, with the real pip over a folder of small wheels of our own: no network, no index."""

import tomllib
from pathlib import Path
from zipfile import ZipFile

import pytest
from packaging.requirements import Requirement

from tests.wheels import __main__ as command
from tests.wheels.search import SYSTEMS, extras, find, wanted

BOOKWORM, TRIXIE = SYSTEMS


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Be all that pip can see."""
    monkeypatch.setenv("PIP_CONFIG_FILE", "/dev/null")
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", str(tmp_path))
    return tmp_path


def put(shelf: Path, name: str, tags: str, *needs: str, version: str = "1.0") -> None:
    """Put a wheel of nothing but its description on the shelf."""
    lines = [
        "Metadata-Version: 2.1",
        f"Name: {name}",
        f"Version: {version}",
        *(f"Requires-Dist: {one}" for one in needs),
    ]
    folder = f"{name}-{version}.dist-info"
    with ZipFile(shelf / f"{name}-{version}-{tags}.whl", "w") as file:
        file.writestr(f"{folder}/METADATA", "\n".join(lines) + "\n")
        file.writestr(f"{folder}/WHEEL", f"Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: {tags}\n")
        file.writestr(f"{folder}/RECORD", "")


GOOD = {
    "pure": "py3-none-any",
    "made-for-it": "cp39-abi3-manylinux_2_17_aarch64",
}
BAD = {
    "other-machine": "cp39-abi3-manylinux_2_17_x86_64",
    "other-pi": "cp39-abi3-linux_armv7l",
    "other-libc": "cp39-abi3-musllinux_1_2_aarch64",
}


def test_a_wheel_counts_where_a_pi_could_install_it(shelf: Path) -> None:
    """All of the good ones at once; of the bad ones each is missed by itself."""
    for name, tags in {
        **GOOD,
        **BAD,
        "old-python": "cp311-cp311-manylinux_2_17_aarch64.manylinux2014_aarch64",
        "new-python": "cp313-cp313-manylinux_2_28_aarch64",
        "new-libc": "cp39-abi3-manylinux_2_38_aarch64",
    }.items():
        put(shelf, name.replace("-", "_"), tags)
    assert find(BOOKWORM, [*GOOD, "old-python"])[1] == []
    assert find(TRIXIE, [*GOOD, "new-python", "new-libc"])[1] == []
    for system, missed in ((BOOKWORM, ["new-python", "new-libc"]), (TRIXIE, [*BAD, "old-python"])):
        found, missing = find(system, missed)
        assert found == {}
        assert [line.split(": ")[1] for line in missing] == missed


@pytest.mark.long
def test_what_only_the_pis_python_asks_for_is_looked_for_as_well(shelf: Path) -> None:
    """Pip itself judges such a condition by the Python that it runs on."""
    put(shelf, "sausage", "py3-none-any", 'casing; python_version >= "3.13"', 'twine; platform_machine == "aarch64"')
    put(shelf, "twine", "py3-none-any", "salt>2")
    put(shelf, "salt", "py3-none-any", version="3.0")
    assert find(BOOKWORM, ["sausage"])[1] == []
    assert set(find(BOOKWORM, ["sausage"])[0]) == {"sausage", "twine", "salt"}
    (line,) = find(TRIXIE, ["sausage"])[1]
    assert line.startswith("trixie, Python 3.13: casing: ")


@pytest.mark.long
def test_the_command_tells_what_is_missing_by_its_exit_code(
    shelf: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    put(shelf, "sausage", "py3-none-any")
    monkeypatch.setattr(command, "wanted", lambda extra="": [] if extra else ["sausage", "string<2"])
    assert command.main([]) == 1
    said = capsys.readouterr().out
    assert "MISSING bookworm, Python 3.11: string<2: " in said
    assert "sausage           1.0 pure, 0.0 MiB" in said, "what is there is told none the less"
    put(shelf, "string", "py3-none-any")
    assert command.main([]) == 0
    assert "All of it can be had as wheels." in capsys.readouterr().out


def test_a_version_out_of_the_range_does_not_count(shelf: Path) -> None:
    put(shelf, "sausage", "py3-none-any", version="2.0")
    assert find(BOOKWORM, ["sausage>=1,<2"])[1] != []


def test_what_is_checked_are_the_ranges_of_pyproject_and_the_pythons_it_names() -> None:
    """And each range is closed upwards, but for what has no versions in that sense."""
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text("utf-8"))["project"]
    assert wanted() == project["dependencies"]
    assert {name: wanted(name) for name in extras()} == {
        name: needs for name, needs in project["optional-dependencies"].items() if name not in {"test", "mutation"}
    }
    assert all(f"Programming Language :: Python :: {system.python}" in project["classifiers"] for system in SYSTEMS)
    for line in wanted():
        requirement = Requirement(line)
        operators = {one.operator for one in requirement.specifier}
        assert operators == {">=", "<"} or requirement.name == "tzdata"
        if requirement.marker is not None:
            assert all(requirement.marker.evaluate(system.conditions()) for system in SYSTEMS), (
                "it is asked for on a Pi"
            )
