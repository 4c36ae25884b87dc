"""Write the generated files: index of calculations, docs of formulas, tables, calculations, commands and words.

`python scripts/generate.py` writes; `--check` only says which are not up to date and exits 1.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def formulas_md() -> str:
    """Every registered formula: printed text, source, range, excuse."""
    from ribwright.core.audit import FORMULAS, index

    index.found()
    lines = ["# Formulas", "", "Generated from the code by `scripts/generate.py`.", ""]
    for name in sorted(FORMULAS):
        made = FORMULAS[name]
        doc = (made.kernel.__doc__ or "").strip().splitlines()[0]
        lines += [
            f"## {name}",
            "",
            doc,
            "",
            f"    {made.symbol} = {made.shown}   [{made.unit or 'plain number'}]",
            "",
        ]
        lines.append(f"- source: {made.cited} ({made.rung})")
        for key, (low, high) in made.limits.items():
            lines.append(
                f"- {key}: {'any' if low is None else f'{low:g}'} to {'any' if high is None else f'{high:g}'}"
            )
        if made.deviation:
            lines.append(f"- departs from its source: {made.deviation}")
        if made.excuse:
            lines.append(f"- no printed number checks it: {made.excuse}")
        lines.append("")
    return "\n".join(lines)


def tables_md() -> str:
    """Every table: title, source, rung, rows."""
    from ribwright.core.tables import table, table_names

    lines = [
        "# Tables",
        "",
        "Generated from the tables by `scripts/generate.py`. Rungs: compared, seen, derived, second-hand, practice, memory.",
        "",
    ]
    for name in table_names():
        t = table(name)
        lines += [
            f"## {name}",
            "",
            t.title + ".",
            "",
            f"- source: {t.source.cited(t.locator)}",
            f"- rung: {t.rung}",
        ]
        odd = sorted({f"{key}: {rung}" for key, rung in t.row_rungs.items()})
        if odd:
            lines.append(f"- rows of another rung: {', '.join(odd)}")
        if t.note:
            lines.append(f"- note: {t.note}")
        lines += [f"- between rows: {t.between_rows}; {len(t.rows)} rows", ""]
    return "\n".join(lines)


def calculations_md() -> str:
    """Every calculation: what goes in, what comes out."""
    from ribwright.core.audit import index

    def field_lines(
        fields: tuple[dict[str, object], ...] | list[dict[str, object]], indent: str
    ) -> list[str]:
        out = []
        for f in fields:
            unit = f" [{f['unit']}]" if f.get("unit") else ""
            need = "" if f.get("optional") else ", needed"
            allowed = f" ({', '.join(map(str, f['choices']))})" if f.get("choices") else ""  # type: ignore[call-overload]
            out.append(f"{indent}- `{f['name']}`{unit}: {f['label']}{need}; {f['help']}{allowed}")
            if f.get("row"):
                out += field_lines(f["row"], indent + "  ")  # type: ignore[arg-type]
        return out

    lines = [
        "# Calculations",
        "",
        "Generated from the specs by `scripts/generate.py`. Run one with `ribwright calc NAME --in FILE`.",
        "",
    ]
    for entry in index.found():
        lines += [
            f"## {entry.name}",
            "",
            f"{entry.title}. {entry.summary}",
            "",
            *field_lines(entry.fields, ""),
            "",
        ]
        lines += [f"Results: {', '.join(f'`{key}`' for key in entry.results)}", ""]
    return "\n".join(lines)


def cli_md() -> str:
    """Every command's help."""
    import click

    from ribwright.cli.app import main

    lines = ["# Commands", "", "Generated from the command line by `scripts/generate.py`.", ""]

    def walk(command: click.Command, path: str, parent: click.Context | None) -> None:
        context = click.Context(command, info_name=path.split()[-1], parent=parent, terminal_width=100)
        lines.extend([f"## {path}", "", "```", command.get_help(context).rstrip(), "```", ""])
        if isinstance(command, click.Group):
            for name in command.list_commands(context):
                child = command.get_command(context, name)
                if child is not None:
                    walk(child, f"{path} {name}", context)

    walk(main, "ribwright", None)
    return "\n".join(lines)


def generated() -> dict[Path, Callable[[], str]]:
    """Path of every generated file and what makes its text, in the order in which they build on each other."""
    from words import words_md

    from ribwright.core.audit import index

    return {
        ROOT / "src/ribwright/core/tables/data/calculations.json": lambda: index.text_of(index.found()),
        ROOT / "docs/formulas.md": formulas_md,
        ROOT / "docs/tables.md": tables_md,
        ROOT / "docs/calculations.md": calculations_md,
        ROOT / "docs/cli.md": cli_md,
        ROOT / "docs/words.md": words_md,
    }


def main() -> int:
    """Write or check."""
    stale = []
    for path, make in generated().items():
        text = make()
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            stale.append(path.relative_to(ROOT))
            if "--check" not in sys.argv:
                path.write_text(text, encoding="utf-8")
    for path in stale:
        print(("not up to date: " if "--check" in sys.argv else "written: ") + str(path))
    return 1 if stale and "--check" in sys.argv else 0


if __name__ == "__main__":
    raise SystemExit(main())
