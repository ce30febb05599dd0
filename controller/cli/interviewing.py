"""The interview of a plan at the terminal: each answer is judged at its question, and none is lost by a refusal."""

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NoReturn

import click

from controller.cli.asking import Desk
from controller.cli.say import WIDTH, fold
from controller.core.plan import Profile
from controller.errors import DataError, HangroomError, UsageError

if TYPE_CHECKING:  # The other verbs need not wait for it.
    from controller.planning.answers import Finding
    from controller.planning.question import Question

NONE = "none"
AGAIN = "For another try, with all that was said:"
_PLAIN = re.compile(r"[\w@%+=:,./#-]+")


def quoted(text: str) -> str:
    """Return a word as it is typed at a shell, in quotes where it needs them."""
    if _PLAIN.fullmatch(text):
        return text
    return '"' + re.sub(r'([\\"$`])', r"\\\1", text) + '"'


class Sitting:
    """Ask for what a plan needs, and remember every answer as it was typed."""

    def __init__(self, profile: Profile, desk: Desk, said: Mapping[str, Any], *, asks: bool) -> None:
        """Sit down with what was typed as options; without a terminal nothing is asked."""
        self.profile = profile
        self.desk = desk
        self.asks = asks
        self._said = said
        self._given: dict[str, Any] = {}
        self._typed: dict[str, list[str]] = {}

    def hold(self) -> dict[str, Any]:
        """Return the answers by key: read from the options, asked for at a terminal, else as usual.

        Raises:
            UsageError: an option cannot be understood; or, without a terminal, all options that are missing, at once.
            DataError: an answer was refused, and given again.
        """
        from controller.planning.at_question import before_the_first
        from controller.planning.interview import concerns, questions, read_rest

        self._given = read_rest({key: text for key, text in self._said.items() if text != "help"})
        if self.asks:
            self._stop(before_the_first(self.profile, self.desk.chamber, mould=bool(self._said.get("mould"))))
        missing: list[str] = []
        for question in questions(self.profile, self.desk.chamber):
            if self._said.get(question.key):
                self._take(question)
            elif not concerns(question, self.profile, self._given):
                continue
            elif self.asks:
                self._given[question.key] = self._ask_many(question) if question.many else self._ask(question)
            elif question.usual is None:
                missing += fold(question.ask, " " * 19, f"  {question.option:<17}")
            else:
                self._given[question.key] = [] if question.many else question.read(question.usual)
            if self.asks and question.key == "meats":
                self._stop(self._judge(question))  # No other question can mend that.
                self._ask_fat()
        if missing:
            raise UsageError("\n".join(["hangroom plan needs to know, and there is nobody to ask:", *missing]))
        return self._given

    def again(self, *accepted: str) -> list[str]:
        """Return the lines of the whole command, with all that was typed and answered, for a second try."""
        context = click.get_current_context()
        words = [f"hangroom plan {quoted(str(context.params.get('profile', '')))}"]
        for param in context.command.params:
            if not isinstance(param, click.Option) or param.name is None:
                continue
            value = self._typed.get(param.name, context.params.get(param.name))
            if param.is_flag:
                words += [param.opts[0]] if value else []
                continue
            texts = value if isinstance(value, list | tuple) else [] if value is None else [value]
            words += [f"{param.opts[0]} {quoted(str(text))}" for text in texts]
        words += [f"--accept {quoted(text)}" for text in accepted]
        lines = [f"  {words[0]}"]
        for word in words[1:]:
            if len(lines[-1]) + len(word) + 3 > WIDTH:
                lines[-1] += " \\"
                lines.append(f"      {word}")
            else:
                lines[-1] += f" {word}"
        return [AGAIN, *lines]

    def _take(self, question: "Question") -> None:
        """Read what was typed as an option; at a terminal what cannot be taken is asked instead."""
        words = self._said[question.key]
        texts = [text for text in words if text.strip().lower() != NONE] if question.many else [words]
        try:
            if "help" in texts:
                self._list(question)
                raise UsageError(f"{question.option}: take one of these names.")
            found = [question.read(text) for text in texts]
            self._given[question.key] = found if question.many else found[0]
            refused = self._judge(question)
        except HangroomError as error:
            if not self.asks:
                raise
            self._echo(str(error))
        else:
            if not refused:
                return
            for finding in refused:
                self._echo(self.desk.words(finding.text))
        self._given[question.key] = self._ask_many(question) if question.many else self._ask(question)

    def _judge(self, question: "Question") -> tuple["Finding", ...]:
        from controller.planning.at_question import judge_answer

        if not self.asks:
            return ()  # All of it is told together, in the end.
        return judge_answer(question.key, self._given, self.profile, self.desk.chamber, self.desk.now_s)

    def _ask(self, question: "Question") -> Any:  # noqa: ANN401 - what `read` returns
        """Ask until the answer can be understood and makes a plan; who gives a refused answer again, ends it."""
        self._list(question)
        refused_text: str | None = None
        while True:
            words = click.prompt(question.ask, default=question.usual, err=True, type=str)
            if words.strip().lower() in {"help", "?"} and self._list(question):
                continue
            try:
                answer = question.read(words)
            except HangroomError as error:
                self._echo(str(error))
                continue
            self._typed[question.key] = [words]
            self._given[question.key] = answer
            refused = self._judge(question)
            if not refused:
                return answer
            if words == refused_text:
                self._stop(refused)
            refused_text = words
            for finding in refused:
                self._echo(self.desk.words(finding.text))
            self._echo("Another answer? The same one again ends it here.")

    def _ask_many(self, question: "Question") -> list[Any]:
        """Ask for one after the other; an empty line ends it."""
        found: list[Any] = []
        self._typed[question.key] = []
        while True:
            ask = question.ask if not found else "One more? Enter ends it"
            words = click.prompt(ask, default="", show_default=False, err=True, type=str)
            if not words.strip():
                if found or question.usual is not None:
                    self._typed[question.key] = self._typed[question.key] or [NONE]
                    return found
                click.echo("This one is needed.", err=True)
                continue
            try:
                found.append(question.read(words))
                self._typed[question.key].append(words)
            except HangroomError as error:
                self._echo(str(error))

    def _ask_fat(self) -> None:
        """Ask how fat each meat is of which nobody said it; Enter takes the usual, marked as assumed."""
        from controller.planning.typed import fat_pct

        texts = self._typed.setdefault("meats", list(self._said.get("meats") or []))
        for place, meat in enumerate(self._given["meats"]):
            while meat.fat_assumed:
                ask = f"How fat is {meat.name}? As {meat.fat_pct:g}%"
                words = click.prompt(ask, default="", show_default=False, err=True, type=str)
                try:
                    pct = fat_pct(words) if words.strip() else None
                except HangroomError as error:
                    self._echo(str(error))
                    continue
                if pct is not None:
                    self._given["meats"][place] = replace(meat, fat_pct=pct, fat_assumed=False)
                    head, comma, treated = texts[place].partition(",")
                    texts[place] = f"{head.strip()} {pct:g}%{comma}{treated}"
                break

    def _list(self, question: "Question") -> bool:
        """Read out what this question takes; False where it takes anything."""
        from controller.planning.choices import FOOT, STAR, choices

        groups = choices(question.key, self._given, self.profile)
        for group in groups:
            click.echo(f"{group.title}:", err=True)
            wide = max(len(name) for name, _ in group.rows) + 4
            for name, words in group.rows:
                for line in fold(words, " " * wide, f"  {name}".ljust(wide)):
                    click.echo(line, err=True)
        if any(words.endswith(STAR) for group in groups for _, words in group.rows):
            click.echo(FOOT, err=True)
        return bool(groups)

    def _stop(self, refused: tuple["Finding", ...]) -> None:
        """End here where something was refused. Raises DataError with the whole command."""
        if refused:
            self._end(refused)

    def _end(self, refused: tuple["Finding", ...]) -> NoReturn:
        lines = ["No plan was made."]
        for finding in refused:
            lines += fold(self.desk.words(finding.text), "  ", "- ")
        raise DataError("\n".join([*lines, *self.again()]))

    @staticmethod
    def _echo(text: str) -> None:
        for line in fold(text):
            click.echo(line, err=True)
