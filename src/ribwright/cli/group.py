"""A group of commands whose help lists each with its whole first sentence."""

from __future__ import annotations

import re

import click


class Group(click.Group):
    """A group; click itself would cut every sentence off at the end of its line."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        known = [(name, self.get_command(ctx, name)) for name in self.list_commands(ctx)]
        rows = [(name, first_sentence(one.help or "")) for name, one in known if one and not one.hidden]
        if rows:
            with formatter.section("Commands"):
                formatter.write_dl(rows)


def first_sentence(text: str) -> str:
    """The first sentence of a help text, on one line."""
    words = " ".join(text.split("\n\n")[0].replace("\b", "").split())
    return re.split(r"(?<=[.?!])\s", words, maxsplit=1)[0]
