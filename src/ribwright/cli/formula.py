"""``ribwright formula``: a formula's text, source, range, and what checks it."""

from __future__ import annotations

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group


@click.group(cls=Group)
def group() -> None:
    """Look up a formula, its source and its range."""


@group.command("list")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
def list_(as_json: bool) -> None:
    """All formulas."""
    from ribwright.core.audit import FORMULAS, index

    index.found()
    text = "\n".join(
        f"{name:<34} {FORMULAS[name].symbol} = {FORMULAS[name].shown}" for name in sorted(FORMULAS)
    )
    emit({"formulas": sorted(FORMULAS)}, as_json=as_json, text=text)


@group.command("show")
@click.argument("name")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
def show(name: str, as_json: bool) -> None:
    """One formula, whole."""
    import difflib

    from ribwright.core.audit import FORMULAS, index
    from ribwright.errors import UnknownNameError

    index.found()
    made = FORMULAS.get(name)
    if made is None:
        near = [one for one in sorted(FORMULAS) if name and name.casefold() in one][:12]
        near = near or difflib.get_close_matches(name, FORMULAS, n=6, cutoff=0.3) or sorted(FORMULAS)[:6]
        raise UnknownNameError(
            "formula",
            found=name,
            allowed=", ".join(near),
            mend="`ribwright formula list` shows all.",
        )
    said = {
        "name": made.name, "symbol": made.symbol, "printed": made.shown, "unit": made.unit, "source": made.cited, "rung": made.rung,
        "limits": {k: list(v) for k, v in made.limits.items()}, "deviation": made.deviation, "excuse": made.excuse,
        "revision": made.revision,
    }  # fmt: skip
    text = "\n".join(
        [
            f"{made.name}: {made.symbol} = {made.shown}  [{made.unit or 'plain number'}]",
            f"source: {made.cited} ({made.rung})",
            *(f"{k}: {a} to {b}" for k, (a, b) in made.limits.items()),
            *([f"departs from its source: {made.deviation}"] if made.deviation else []),
            *([f"no printed number checks it: {made.excuse}"] if made.excuse else []),
        ]
    )
    emit(said, as_json=as_json, text=text)
