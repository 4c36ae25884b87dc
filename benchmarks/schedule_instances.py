"""Schedule instances from a zip or folder of `.rcp` files, or from calendar JSON lines, and print them.

    python benchmarks/schedule_instances.py PATH --schedules N [--seed S] [--bases PATH] --json

One JSON object on stdout: {"instances": {name: {"makespan": m, "starts": [...]}}}; progress on stderr.
Without --json a short table is printed. Calendar lines (`.jsonl`, `.jsonl.gz`) name a base instance: it is
looked for in --bases, then beside the file, then in the tests' sample.
"""

from __future__ import annotations

import argparse
import gzip
import json
import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "src"))

from ribwright.core.planning.instance import Instance, read_calendar_line, read_rcp  # noqa: E402
from ribwright.core.planning.schedule import search  # noqa: E402
from ribwright.errors import FormatError, RibwrightError  # noqa: E402

SAMPLE = ROOT / "tests" / "data" / "planning"


def rcp_texts(path: Path) -> dict[str, str]:
    """Name and text of every `.rcp` file in a zip or folder, or of one file."""
    if path.is_dir():
        files = sorted(path.rglob("*.rcp"))
        return {file.stem: file.read_text() for file in files}
    if path.suffix == ".rcp":
        return {path.stem: path.read_text()}
    with zipfile.ZipFile(path) as bundle:
        names = [name for name in bundle.namelist() if name.endswith(".rcp")]
        return {Path(name).stem: bundle.read(name).decode("ascii") for name in names}


def bases(where: list[Path], wanted: set[str]) -> dict[str, Instance]:
    """The base instances that calendar lines name, from the first place that has each."""
    found: dict[str, Instance] = {}
    for place in where:
        if not wanted - set(found):
            break
        if not place.exists():
            continue
        sources = [place, *sorted(place.glob("*.zip"))] if place.is_dir() else [place]
        for source in sources:
            for name, text in rcp_texts(source).items():
                if name in wanted and name not in found:
                    found[name] = read_rcp(name, text)
    return found


def calendar_instances(path: Path, extra: Path | None) -> list[tuple[str, Instance]]:
    raw = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
    lines = [line for line in raw.decode().splitlines() if line.strip()]
    wanted = {str(json.loads(line)["base"]) for line in lines}
    known = bases([*([extra] if extra else []), path.parent, SAMPLE], wanted)
    made = [read_calendar_line(line, known) for line in lines]
    seen: dict[str, int] = {}
    named = []
    for instance in made:
        seen[instance.name] = seen.get(instance.name, 0) + 1
        count = seen[instance.name]
        named.append((instance.name if count == 1 else f"{instance.name}#{count}", instance))
    return named


def instances(path: Path, extra: Path | None) -> list[tuple[str, Instance]]:
    if not path.exists():
        raise FormatError(
            str(path), found="nothing there", allowed="a zip or folder of .rcp files, or .jsonl[.gz]"
        )
    if path.name.endswith((".jsonl", ".jsonl.gz")):
        return calendar_instances(path, extra)
    made = [(name, read_rcp(name, text)) for name, text in rcp_texts(path).items()]
    if not made:
        raise FormatError(str(path), found="no .rcp files", allowed="at least one")
    return made


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Schedule instances and print the schedules.")
    parser.add_argument("path", type=Path)
    parser.add_argument("--schedules", type=int, default=5_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--bases", type=Path)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args(arguments)
    try:
        todo = instances(options.path, options.bases)
        out: dict[str, dict[str, object]] = {}
        for number, (name, instance) in enumerate(todo, 1):
            result = search(instance, schedules=options.schedules, seed=options.seed)
            out[name] = {"makespan": result.makespan, "starts": list(result.starts)}
            if number % 20 == 0 or number == len(todo):
                print(f"{number} of {len(todo)}", file=sys.stderr, flush=True)
    except RibwrightError as problem:
        print(str(problem), file=sys.stderr)
        return 3
    except (OSError, zipfile.BadZipFile, ValueError, KeyError, TypeError, EOFError) as problem:
        print(
            f"{options.path}: this can't be read ({type(problem).__name__}: {problem}). "
            "Allowed: a zip or folder of .rcp files, or calendar lines (.jsonl, .jsonl.gz).",
            file=sys.stderr,
        )
        return 3
    if options.json:
        json.dump({"instances": out}, sys.stdout)
        print()
    else:
        for name, row in out.items():
            print(f"{name:20} {row['makespan']}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
