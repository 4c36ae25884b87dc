"""What each page costs the server's processor: the first time, the first time after an entry, and when nothing moved.

``python benchmarks/page_costs.py [--times 100] [--folder DIR] [--profile] [NAME …]``

Every page of the route table that a builder opens, asked for in this process, so that processor time is the page's
alone and a busy machine changes it little. Before "after hours" an hour of work is entered; before "after a change"
a part is entered anew. The floor is a static file. NAME: only these routes, by name; ``--profile`` says where the
time of the first page after an entry goes. Goal at a hundred aeroplanes: 80 ms by 95 % of the pages.
"""

from __future__ import annotations

import argparse
import cProfile
import gc
import pstats
import resource
import secrets
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from figures import figure
from starlette.testclient import TestClient

from ribwright.cli.serve_memory import LOOKED_THROUGH
from ribwright.services import plan, plan_schedule, plan_tonight
from ribwright.services.dunlin import make_dunlin
from ribwright.services.operations import enter_work
from ribwright.services.project import Actor, Project, is_project, open_project
from ribwright.services.record import get_object, set_object
from ribwright.web.app import create_app, routes

BUILDER = Actor("builder")
SEAM, NOSE, ASSEMBLY, PART = "DN-21-S11", "DN-21-R01", "DN-21", "DN-2101"
FILLED = {
    "ref": SEAM, "stage": "rivet", "name": "seam", "seq": "3", "key": "weighing", "kind": "notice", "number": "1",
}  # fmt: skip
OTHER = {
    "object": {"ref": ASSEMBLY}, "other_hand": {"ref": ASSEMBLY}, "order": {"ref": "DN-P01"}, "stores_item": {"ref": "SHEET-2024T3C-020"},
    "portion_claim": {"key": "W01"}, "card_pdf": {"key": "03"}, "flight_data": {"name": "stall-speed"}, "closing_twist": {"ref": "DN-21-A"},
    "change_entry": {"seq": "118146"},
}  # fmt: skip
LEFT_OUT = {
    # streams, and pages of things that the Dunlin has not: discrepancies, photos, gauges, a loading, a skin
    "live", "say", "gauges", "gauge", "gauge_pdf", "loading_card", "discrepancy", "question_pdf", "photo", "operation_skin", "skin_json", "template_dxf",
}  # fmt: skip


def at_rest() -> None:
    """What is worked out beside the pages is stopped, so that it doesn't count as the next page's."""
    for shop in (
        plan._WORKSHOP,
        plan._INPUTS,
        plan_schedule._WORKSHOP,
        plan_tonight._COSTS,
        plan_tonight._WAITING,
    ):
        for key, job in list(shop._jobs.items()):
            if not job.done.is_set():
                job.stop.set()
                job.done.wait()
                shop._jobs.pop(key, None)


def paths() -> dict[str, str]:
    """A path of each page, by the name of its route."""
    made = {}
    for route in routes():
        if "GET" not in (route.methods or ()) or route.name in LEFT_OUT:
            continue
        values = FILLED | OTHER.get(route.name, {})
        made[route.name] = route.path_format.format(**{n: values[n] for n in route.param_convertors})
    return made


def asked(client: TestClient, path: str) -> tuple[float, int, int]:
    """Seconds of processor, status and bytes of one page."""
    began = time.process_time()
    answer = client.get(path)
    return time.process_time() - began, answer.status_code, len(answer.content)


def enter_hours(project: Project) -> None:
    enter_work(project, actor=BUILDER, request_id=secrets.token_hex(8), ref=SEAM, stage="drill", hours=".1")


def change_a_part(project: Project) -> None:
    part = get_object(project, PART)
    data = {**part.data, "weight_lb": f"1.{secrets.randbelow(9000) + 1000}"}
    set_object(
        project, actor=BUILDER, request_id=secrets.token_hex(8), noun="part", ref=PART, data=data, title=part.title, parent=part.parent
    )  # fmt: skip


def profiled(client: TestClient, path: str) -> None:
    watch = cProfile.Profile()
    watch.runcall(client.get, path)
    pstats.Stats(watch).sort_stats("cumulative").print_stats(45)


def main() -> int:
    given = argparse.ArgumentParser()
    gc.set_threshold(*LOOKED_THROUGH)  # as the server does
    given.add_argument("names", nargs="*")
    given.add_argument("--times", type=int, default=1, help="so many Dunlins in one project")
    given.add_argument("--folder", type=Path, help="where the project is, or is made and kept")
    given.add_argument("--profile", action="store_true")
    said = given.parse_args()
    entries: dict[str, Callable[[Project], None]] = {"hours": enter_hours, "a change": change_a_part}
    with tempfile.TemporaryDirectory() as temporary:
        folder = said.folder or Path(temporary) / "p"
        if not is_project(folder):
            make_dunlin(folder, actor=BUILDER, request_id="bench", scale=said.times).close()
        with open_project(folder) as project:
            client = TestClient(create_app(project, actor=BUILDER), base_url="http://127.0.0.1")
            asked(client, "/static/mark.svg")
            floor = sum(asked(client, "/static/mark.svg")[0] for _ in range(50)) / 50
            print(f"floor: a static file {1000 * floor:.2f} ms of processor")
            print(
                f"{'page':24s} {'first':>8s} {'again':>8s}"
                + "".join(f" {'after ' + name:>14s}" for name in entries)
            )
            rest: list[float] = []
            firsts: list[float] = []
            for name, path in paths().items():
                if said.names and name not in said.names:
                    continue
                at_rest()
                first, status, size = asked(client, path)
                again = min(asked(client, path)[0] for _ in range(2))
                after = []
                for enter in entries.values():
                    at_rest()
                    enter(project)
                    if said.profile:
                        profiled(client, path)
                    after.append(asked(client, path)[0])
                rest.append(again)
                firsts.append(first)
                figures = "".join(f" {1000 * one:14.1f}" for one in after)
                most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
                print(
                    f"{name:24s} {1000 * first:8.1f} {1000 * again:8.1f}{figures} ms  {status} {size / 1000:7.1f} kB  {most:5.0f} MB  {path}",
                    flush=True,
                )
            rest.sort()
            firsts.sort()
            print(f"when nothing moved: p50 {1000 * rest[len(rest) // 2]:.1f} ms, p95 {1000 * rest[int(0.95 * len(rest))]:.1f} ms of processor")  # fmt: skip
            figure(
                f"a page when nothing moved, p50 of {len(rest)}, {said.times} times the Dunlin", 1000 * rest[len(rest) // 2], "ms of a core",
                floor=("a static file", 1000 * floor), against=("nothing kept: its first time", 1000 * firsts[len(firsts) // 2]),
            )  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())
