"""The interview that describes a chamber: one question after the other, back and forth, each answer kept at once."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from msgspec.structs import replace

from controller.cli.pages.wiring import name_pin
from controller.cli.setting_up.outputs import VOLTS, click_and_ask, find_a_relay
from controller.cli.setting_up.sensors import Watch, show_sensors
from controller.cli.setting_up.talk import Back, Quit, hear, say, say_choices
from controller.errors import HangroomError
from controller.planning.question import Question
from controller.planning.setting_up.course import NOT_KEPT, Level, Look, Machine, Pin, Touch, course
from controller.records.kept_answers import Kept, keep_answers

if TYPE_CHECKING:
    from controller.app import Workbench
    from controller.cli.setting_up.sensors import Pause

OF_SENSORS: Final = ("warm ", "breathe ", "place ", "look")
HEADS: Final = {
    "title": "THE CHAMBER",
    "warm": "THE SENSORS",
    "breathe": "THE SENSORS",
    "look": "THE SENSORS",
    "others": "THE RELAYS",
    "cutout": "THE THERMAL CUT-OUT",
}


class Sitting:
    """Ask, and remember: what was answered, as it was typed and as it was read."""

    def __init__(self, bench: "Workbench", machine: Machine, kept: dict[str, str], file: Path, pause: "Pause") -> None:
        """Sit down.

        Args:
            bench: sensors and relays.
            machine: what was found on it.
            kept: answers of an earlier sitting, offered as what Enter means.
            file: where the answers are kept.
            pause: waits for so many seconds.
        """
        self.machine = machine
        self.given: dict[str, Any] = {}
        self._bench, self._kept, self._file, self._pause = bench, kept, file, pause
        self._typed: dict[str, str] = {}
        self._head = ""

    def hold(self) -> dict[str, Any]:
        """Ask all that is to be asked; return the answers, read, by key. Raises Quit, click.Abort."""
        while True:
            question = next((one for one in course(self.given, self.machine) if one.key not in self.given), None)
            if question is None:
                return self.given
            try:
                self._take(question, self._ask(question))
            except Back:
                self.step_back()

    def step_back(self) -> None:
        """Forget the last answer, and offer it again; at the first question nothing lies before."""
        if not self._typed:
            say("This is the first question.")
            return
        key, text = self._typed.popitem()
        self.given.pop(key)
        self._kept[key] = text
        self._head = ""

    def _take(self, question: Question, text: str) -> None:
        value = question.read(text)
        self.given[question.key] = value
        self._typed[question.key] = value if question.choices and isinstance(value, str) else text
        self._keep()

    def _keep(self) -> None:
        """Put on disk what was answered, and what was answered earlier and not asked again yet."""
        answers = {key: text for key, text in {**self._kept, **self._typed}.items() if key not in NOT_KEPT}
        keep_answers(self._file, Kept(self.machine.today.isoformat(), answers))

    def _ask(self, question: Question) -> str:
        """Ask one question until its answer can be read; return what was typed."""
        self._say_head(question)
        question = self._offered(question)
        match question:
            case Look():
                return self._look_again(question)
            case Touch():
                return self._touch(question)
            case Pin():
                return self._pin(question)
            case Level(by_click=True):
                return self._level(question)
            case Level():
                question = replace(question, choices=(("high", "3.3 V (high)"), ("low", "0 V (low)")))
        return self._hear(question)

    def _say_head(self, question: Question) -> None:
        head = HEADS.get(question.key.split(" ", maxsplit=1)[0], self._head)
        if head != self._head:
            say()
            say(head)
            if head == "THE SENSORS" and self.machine.found:
                show_sensors(self._bench, self.machine.found, self.given["units"], self._pause)
        self._head = head
        say()

    def _offered(self, question: Question) -> Question:
        """Return the question with the kept answer as what Enter means, where that can still be read."""
        text = self._kept.get(question.key)
        if text is None or question.key in NOT_KEPT:
            return question
        try:
            question.read(text)
        except HangroomError:
            return question
        return replace(question, usual=text)

    def _hear(self, question: Question, more: Callable[[str], bool] = lambda _text: False) -> str:
        """Hear an answer until it can be read, or `more` takes it."""
        say(question.ask)
        say_choices(question.choices)
        while True:
            text = hear(question.usual, question.choices)
            if more(text):
                return text
            if not text and question.usual is None:
                say("This one is needed.")
                continue
            try:
                question.read(text)
            except HangroomError as error:
                say(str(error))
            else:
                return text

    def _look_again(self, question: Question) -> str:
        """Look for sensors until there is one. Raises Back, Quit."""
        say("I find no sensor on this machine.")
        say('They must be switched on in /boot/firmware/config.txt (README, "Install on the Pi"), and wired.')
        while True:
            self._hear(question)
            found, _ = self._bench.find()
            if found:
                self.machine = replace(self.machine, found=found)
                self._head = ""
                return "found"
            say("Still none.")

    def _touch(self, question: Touch) -> str:
        """Watch which sensor rises; a number names one without."""
        watch = Watch(self._bench, self.machine.found, self.given["units"], self._pause)
        if len(question.names) > 1:
            question = replace(question, choices=tuple((name, "") for name in question.names))
        if question.usual != "watch":
            question = replace(question, ask=f"{question.ask.rpartition(' Enter begins')[0]} To begin, type: watch")
        while True:
            text = self._hear(question, lambda said: said.lower() == "watch")
            if text.lower() != "watch":
                return text
            name = watch.for_one(question.names, question.what)
            if not name:
                continue
            say(f"{name} rises clearly: I take this one.")
            number = question.names.index(name) + 1
            sure = Question("sure", "", "Is it? Else type the number of the right one.", question.read, str(number))
            return self._hear(sure) if len(question.names) > 1 else name

    def _pin(self, question: Pin) -> str:
        """Hear which pin, or find it by clicks. Raises Back, Quit."""
        while True:
            text = self._hear(question)
            if question.read(text) != "find":
                return text
            try:
                pin = find_a_relay(self._bench, question.free)
            except Back:
                continue
            if pin is not None:
                return str(pin)

    def _level(self, question: Level) -> str:
        """Find the level by a click, unless it was seen before. Raises Back, Quit."""
        if question.usual is not None:
            level, day = question.read(question.usual)
            seen = f"was clicked on {day}" if day else "was not clicked; as was said"
            say(f"{name_pin(question.pin)} {seen}: on with {VOLTS[level]}. Enter takes that; to click it, type: click")
            if hear(None).lower() != "click":
                return question.usual
        return click_and_ask(self._bench, question.pin, self.machine.today)


__all__ = ["Quit", "Sitting"]
