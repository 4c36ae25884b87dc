"""The ``ribwright`` command: groups are imported only when one of their commands runs."""

from __future__ import annotations

import importlib
import importlib.util
import json
import sys
from typing import Any, NoReturn

import click

from ribwright import __version__
from ribwright.cli.errors import exit_code
from ribwright.cli.group import Group
from ribwright.errors import DiskError, RibwrightError

GROUPS: dict[str, tuple[str, str]] = {
    "calc": ("ribwright.cli.calc:calc", "Run a calculation, or list them all."),
    "table": ("ribwright.cli.table:group", "Look into the published tables."),
    "formula": ("ribwright.cli.formula:group", "Look up a formula, its source and its range."),
    "project": ("ribwright.cli.project:group", "Make, find, back up and move a project."),
    "operation": ("ribwright.cli.operation:group", "Enter an operation, read its sheets, enter readings."),
    "bench": ("ribwright.cli.bench:group", "What is next on the bench; work done; before you close it."),
    "packet": ("ribwright.cli.packet:packet", "Write the sheets and templates of an assembly to one PDF."),
    "printer": ("ribwright.cli.printer:group", "Make a printer print true."),
    "full-size": ("ribwright.cli.fullsize:group", "Templates, strips, blocks and blanks at their true size."),
    "evidence": ("ribwright.cli.evidence:evidence", "Write the evidence pack for an inspector."),
    "record": ("ribwright.cli.record:group", "Read, search and check the record."),
    "photo": ("ribwright.cli.photo:group", "Measure from a photo."),
    "plan": ("ribwright.cli.plan:group", "Dates, orders and cash."),
    "weight": ("ribwright.cli.weight:group", "Weight and CG while building, weighings, loading card."),
    "flight": ("ribwright.cli.flight:group", "Papers, inspection before flight, test cards, flight data."),
    "stores": ("ribwright.cli.stores:group", "What is in the shop, where it goes, what is short."),
    "portion": ("ribwright.cli.portion:group", "Major portion: tasks, tenths, evidence."),
    "phone": ("ribwright.cli.phone:group", "Phones that may come in: list, invite, shut out."),
    "adviser": ("ribwright.cli.adviser:group", "Many builds: what waits for an answer, what is often wrong."),
    "serve": ("ribwright.cli.serve:serve", "Serve the app on this machine, and for phones at home."),
    "start": ("ribwright.cli.start:start", "What ./run does: the demonstration, its packets, the app."),
    "demo": ("ribwright.cli.demo:demo", "Make the Dunlin, the project that comes with the program."),
}


class LazyGroup(Group):
    """A group that knows its commands' names and one-line helps without importing them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [name for name in GROUPS if self._there(name)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in GROUPS:
            return None
        module, attribute = GROUPS[cmd_name][0].split(":")
        command: click.Command = getattr(importlib.import_module(module), attribute)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command of that name; a slip of the finger is told what it was nearest to."""
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as wrong:
            import difflib

            near = difflib.get_close_matches(args[0], GROUPS, n=1)
            said = f"{wrong.message} Did you mean {near[0]!r}?" if near else wrong.message
            raise click.UsageError(said, ctx) from None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, GROUPS[name][1]) for name in self.list_commands(ctx)])

    def _there(self, name: str) -> bool:
        return importlib.util.find_spec(GROUPS[name][0].split(":")[0]) is not None


@click.group(
    cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110}
)
@click.version_option(__version__, prog_name="ribwright")
def main() -> None:
    """The manufacturing-engineering department of a one-person aeroplane factory.

    \b
    The designer's drawings win. Nothing here is approved data.
    Ask a licensed mechanic or your inspector; local rules apply.
    """


def run(argv: list[str] | None = None) -> None:
    """Run a command line; errors are two lines on stderr (or one JSON object on stdout), never a traceback."""
    arguments = sys.argv[1:] if argv is None else argv
    wants_json = "--json" in arguments
    try:
        code = main.main(args=arguments, prog_name="ribwright", standalone_mode=False)
    except click.exceptions.Exit as leaving:
        sys.exit(leaving.exit_code)
    except click.ClickException as wrong:
        if wants_json:
            emit_error(
                {
                    "code": "usage",
                    "message": wrong.format_message(),
                    "field": None,
                    "found": None,
                    "allowed": None,
                    "mend": "See --help.",
                }
            )
        else:
            wrong.show()
        sys.exit(2)
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped.", err=True)
        sys.exit(130)
    except RibwrightError as error:
        _refused(error, wants_json)
    except BrokenPipeError:
        sys.exit(0)
    except OSError as error:
        # A named file that can't be read or written, whichever command was to do it.
        _refused(
            DiskError(
                str(error.filename or "file"), because="it could not be read or written", found=error.strerror or str(error),
                mend="Check the name, who may write there, and the room on the disk",
            ),
            wants_json,
        )  # fmt: skip
    sys.exit(code if isinstance(code, int) else 0)


def _refused(error: RibwrightError, as_json: bool) -> NoReturn:
    if as_json:
        emit_error(error.as_dict())
    else:
        click.echo(error.sentence(), err=True)
        for other in getattr(error, "others", ()):
            click.echo(other.sentence(), err=True)
    sys.exit(exit_code(error))


def emit_error(error: dict[str, Any]) -> None:
    """One JSON object on stdout, in the shape of every error."""
    click.echo(json.dumps({"error": error}, ensure_ascii=False))


def emit(data: object, *, as_json: bool, text: str = "") -> None:
    """A result: one JSON object that names the version it was made by, or text for people."""
    if as_json and isinstance(data, dict) and "$schema" not in data:
        data = {**data, "made_by": f"ribwright {__version__}"}
    click.echo(json.dumps(data, ensure_ascii=False, allow_nan=False) if as_json else text)
