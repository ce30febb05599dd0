"""A command whose help ends with examples that can be typed, and which says what is wrong with a line by example."""

import shlex
from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches
from typing import Any, Final

import click

from controller.settings.problems import DOUBLE_CURLY

SAID_AS: Final = {"by": '--by "meter 1"', "because": '--because "why, in words"'}
"""How an option that must be there is typed."""
SETTINGS: Final[dict[str, Any]] = {"help_option_names": ["-h", "--help"], "max_content_width": 80}
"""How click shows help, of the command and of each verb."""


class Verb(click.Command):
    """Be a click command that keeps its examples apart from its text, and never wraps them."""

    def __init__(self, name: str | None, examples: Sequence[str], **settings: Any) -> None:  # noqa: ANN401 - click's own
        """Take what click.Command takes, and the examples, each as it is typed."""
        super().__init__(name, **settings)
        self.examples = tuple(examples)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the words of a line; where they cannot be read, say how they would be right."""
        words = list(args)
        try:
            if ctx.ignore_unknown_options:
                self._require_known(ctx, words)
            return super().parse_args(ctx, args)
        except click.MissingParameter as error:
            option = None if error.param is None else SAID_AS.get(str(error.param.name))
            if option is None:
                raise
            right = " ".join(filter(None, ("hangroom", self.name, shlex.join(words), option)))
            raise click.MissingParameter(f"As in\n{right}", ctx, error.param) from error
        except click.NoSuchOption:
            raise
        except click.UsageError as error:
            if not any(sign in word for word in words for sign in DOUBLE_CURLY):
                raise
            hint = 'The quotes are curly: type straight ones, as "two words".'
            raise click.UsageError(f"{error.message}\n{hint}", ctx) from error

    def _require_known(self, ctx: click.Context, words: Sequence[str]) -> None:
        """Raise NoSuchOption, with the nearest ones, for a word that begins as an option and is none.

        Where numbers may be negative, click takes such a word for a value.
        """
        known = {name: option for option in self._options(ctx) for name in (*option.opts, *option.secondary_opts)}
        skip = 0
        for word in words:
            if skip:
                skip -= 1
                continue
            if word == "--":
                return
            name, equals, _ = word.partition("=")
            if name.startswith("--") and name not in known:
                raise click.NoSuchOption(name, possibilities=_near(name, known), ctx=ctx)
            option = known.get(name)
            if option is not None and not equals and not option.is_flag and not option.count:
                skip = option.nargs

    def _options(self, ctx: click.Context) -> Iterator[click.Option]:
        return (param for param in self.get_params(ctx) if isinstance(param, click.Option))

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the examples."""
        del ctx
        with formatter.section("Examples" if len(self.examples) > 1 else "Example"):
            for example in self.examples:
                formatter.write(f"  $ {example}\n")


def _near(name: str, known: Iterable[str]) -> list[str]:
    """Return the options that may be meant: those that hold the word, else those written nearly so."""
    word = name.strip("-")
    names = list(known)
    holding = [option for option in names if word and word in option.strip("-").split("-")]
    return holding or get_close_matches(name, names)
