"""``ribwright plan schedule``: one order of work for the whole plan, and how far it is from the shortest."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

from ribwright.cli.app import emit
from ribwright.cli.options import as_json_option, project_option

SHOWN = 20


@contextmanager
def kept(pressed: list[bool]) -> Iterator[None]:
    """While in it Ctrl-C is noted and stops nothing by itself; what works looks at the note and keeps its best."""
    before = signal.signal(signal.SIGINT, lambda *_: pressed.append(True))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@click.command("schedule")
@click.option("--schedules", default=500, show_default=True, help="Orders of work to try.")
@click.option(
    "--prove", is_flag=True, help="Let the exact solver go on from the best: a shorter one, a bound, a proof."
)
@click.option(
    "--work", default=5.0, show_default=True, help="How long the exact solver may look, in its own seconds."
)
@click.option("--all", "every", is_flag=True, help="Every task; without it the first twenty.")
@project_option
@as_json_option
def schedule(
    schedules: int, prove: bool, work: float, every: bool, project: str | None, as_json: bool
) -> None:
    """One order of work, every planned hour worked and every task at its middle: no date to promise.

    It shows how much of the time to go is the order of work's fault. Ctrl-C stops it and keeps the best so far.
    """
    from ribwright.errors import Stopped
    from ribwright.services.plan_schedule import work_order
    from ribwright.services.project import find_project, open_project

    pressed: list[bool] = []

    def told(made: int, of: int) -> None:
        if pressed:
            raise Stopped("schedule")
        if sys.stderr.isatty():
            click.echo(f"\r{made:,} of {of:,} orders of work tried   ", err=True, nl=False)

    with open_project(find_project(project)) as opened, kept(pressed):
        found = work_order(opened, schedules=schedules, exact=prove, work=work, progress=told)
    if sys.stderr.isatty():
        click.echo("\r" + " " * 60 + "\r", err=True, nl=False)
    if found.stopped:
        click.echo(f"Stopped after {found.made:,}: the best so far follows.", err=True)
    rows = found.rows if every else found.rows[:SHOWN]
    lines = [f"{row.first} to {row.last}  {row.hours:6.2f} h  {row.key}: {row.title}" for row in rows]
    if len(found.rows) > len(rows):
        lines.append(f"and {len(found.rows) - len(rows)} more (--all shows them)")
    lines.append(
        f"{found.hours:.0f} h at the bench, to {found.done:%d %B %Y} if every planned hour is worked and each task takes its middle: no date to promise."
    )
    lines += [found.says, *found.problems]
    data = {
        "tasks": [
            {"ref": row.key, "title": row.title, "first": row.first.isoformat(), "last": row.last.isoformat(), "hours": row.hours}
            for row in found.rows
        ],
        "hours": found.hours, "done": found.done.isoformat(), "bound_hours": found.bound_hours, "bound": found.bound.isoformat(),
        "shortest": found.shortest, "made": found.made, "stopped": found.stopped, "exact_solver": found.solved, "says": found.says,
        "problems": list(found.problems),
    }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join(lines))
