"""Every verb explains itself, with an example that can be typed."""

import re
import shlex

import pytest

from controller.cli import main
from controller.cli.tree import SECTIONS
from controller.cli.verb import Verb
from controller.simulator.faults import parse_fault

VERBS = [str(command.name) for commands in SECTIONS.values() for command in commands]
CONTRACT = {
    "setup",
    "plan",
    "check",
    "learn",
    "simulate",
    "run",
    "relays-off",
    "wait",
    "start",
    "hang",
    "confirm",
    "next",
    "cool",
    "hold",
    "resume",
    "set",
    "look",
    "aw",
    "smoker",
    "end",
    "ph",
    "weigh",
    "core",
    "calibrate",
    "note",
    "status",
    "alarms",
    "seen",
    "quiet",
    "clear",
    "forecast",
    "review",
    "report",
    "compare",
    "export",
    "release",
}


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_explains_itself_with_an_example_within_80_columns(
    verb: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([verb, "--help"]) == 0
    said = capsys.readouterr()
    assert re.search(rf"Examples?\b.*:\n +\$ (sudo .*\n +\$ )?hangroom {verb}\b", said.out), said.out
    assert max(map(len, said.out.splitlines())) <= 80
    assert not said.err


def test_the_first_page_lists_every_verb_of_the_contract_under_its_job(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    page = capsys.readouterr().out
    for title in SECTIONS:
        assert f"{title}:" in page
    assert re.findall(r"^  ([a-z][a-z-]+)  ", page, re.MULTILINE) == VERBS
    assert set(VERBS) == CONTRACT
    assert max(map(len, page.splitlines())) <= 80


EXAMPLES = [
    (command, example)
    for commands in SECTIONS.values()
    for command in commands
    if isinstance(command, Verb)
    for example in command.examples
]


@pytest.mark.parametrize(("command", "example"), EXAMPLES, ids=[example for _, example in EXAMPLES])
def test_every_example_is_understood_as_it_is_typed(command: Verb, example: str) -> None:
    words = shlex.split(example.replace("\\\n", " "))
    if words[0] == "sudo":
        return  # Another program's line.
    assert words[:2] == ["hangroom", str(command.name)]
    with command.make_context(str(command.name), words[2:]) as context:
        assert not context.args
        for spec in context.params.get("faults", ()):
            parse_fault(spec)  # The one that a reader copies first: it was printed with a unit nobody took.


def test_a_person_is_told_nothing_of_the_programs_inner_words(capsys: pytest.CaptureFixture[str]) -> None:
    for verb in VERBS:
        main([verb, "--help"])
    assert not re.findall(r"\b(deadband|latched|gate|lease|tick|PID)\b", capsys.readouterr().out)


def test_no_page_says_that_something_is_safe(capsys: pytest.CaptureFixture[str]) -> None:
    for verb in VERBS:
        main([verb, "--help"])
    assert not re.search(r"\bsafe\b", capsys.readouterr().out)
