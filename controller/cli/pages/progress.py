"""What is seen of a simulation while it runs: a bar on a terminal, else a plain line at every 5 %. Both on stderr."""

import contextlib
import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Final

import click

from controller.cli.say import STATE_WORDS
from controller.settings.units import Units, show_temp

if TYPE_CHECKING:
    from controller.app import Progress

Follower = Callable[["Progress"], None]
STEPS: Final = 20
DAY_S: Final = 86_400.0


@contextlib.contextmanager
def follow(units: Units = "C") -> Iterator[Follower]:
    """Hand out the function that shows progress, in these units; the bar is taken down at the end."""
    if sys.stderr.isatty():
        with _bar(units) as show:
            yield show
    else:
        yield _plain(units)


def describe(progress: "Progress", units: Units = "C") -> str:
    """Return stage, climate, pH and loss in a line that leaves room for a bar in 80 columns."""
    parts = [f"day {progress.done_s / DAY_S:.1f}", progress.stage]
    if progress.state != "running":
        parts.append(STATE_WORDS.get(progress.state, progress.state))
    if progress.air_temp_c is not None:
        parts.append(show_temp(progress.air_temp_c, units))
    if progress.rh_pct is not None:
        parts.append(f"{progress.rh_pct:.0f} % RH")
    if progress.ph is not None:
        parts.append(f"pH {progress.ph:.2f}")
    if progress.weight_loss_pct is not None:
        parts.append(f"loss {progress.weight_loss_pct:.1f} %")
    return " ".join(parts)


@contextlib.contextmanager
def _bar(units: Units) -> Iterator[Follower]:
    from rich.console import Console
    from rich.progress import BarColumn, TaskProgressColumn, TextColumn
    from rich.progress import Progress as Bar

    columns = (BarColumn(bar_width=12), TaskProgressColumn(), TextColumn("{task.description}", markup=False))
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=1.0)

        def show(progress: "Progress") -> None:
            bar.update(task, completed=progress.done_s, total=progress.total_s, description=describe(progress, units))

        yield show


def _plain(units: Units) -> Follower:
    told = -1

    def show(progress: "Progress") -> None:
        nonlocal told
        step = int(STEPS * progress.done_s / progress.total_s)
        if step > told:
            told = step
            click.echo(f"{100 * step // STEPS:3d} %  {describe(progress, units)}", err=True)

    return show
