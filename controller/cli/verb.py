"""A command whose help ends with examples that can be typed."""

from collections.abc import Sequence
from typing import Any

import click


class Verb(click.Command):
    """Be a click command that keeps its examples apart from its text, and never wraps them."""

    def __init__(self, name: str | None, examples: Sequence[str], **settings: Any) -> None:  # noqa: ANN401 - click's own
        """Take what click.Command takes, and the examples, each as it is typed."""
        super().__init__(name, **settings)
        self.examples = tuple(examples)

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the examples."""
        del ctx
        with formatter.section("Examples" if len(self.examples) > 1 else "Example"):
            for example in self.examples:
                formatter.write(f"  $ {example}\n")
