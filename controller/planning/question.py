"""One question of an interview, as data: the same list is asked at a terminal, and named where nobody can be asked."""

from collections.abc import Callable
from typing import Any

from msgspec import Struct


class Question(Struct, frozen=True):
    """Hold one question of an interview.

    Attributes:
        key: name of the answer.
        option: as it is typed; empty where it is no option.
        ask: the words at a terminal, with an example.
        read: from what was typed to the value; UsageError or DataError with the question.
        usual: what Enter means; None where an answer is needed.
        many: several answers, one a line, an empty one ends them.
        choices: what it takes, each with its meaning, where it takes only these.
    """

    key: str
    option: str
    ask: str
    read: Callable[[str], Any]
    usual: str | None = None
    many: bool = False
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def needed(self) -> bool:
        """Say whether nothing can be taken for granted here."""
        return self.usual is None
