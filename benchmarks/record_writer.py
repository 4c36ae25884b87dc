"""A process that writes into a project from several threads until it is killed.

Run by record_kill.py and by the tests: ``python record_writer.py PLACE NAME THREADS``. Each
acknowledged entry is written to standard output as ``name seq request``, unbuffered, after the
service has returned. A shared counter is read, raised and set with the revision that was seen.
"""

from __future__ import annotations

import os
import sys
import threading

from ribwright.errors import StaleRevisionError
from ribwright.services.project import Actor, Project, open_project
from ribwright.services.record import add_entry, get_object, set_object

COUNTER = "counter"


def count_up(project: Project, actor: Actor, request_id: str) -> int:
    """Raise the shared counter by one; never lose somebody else's step."""
    tries = 0
    while True:
        seen = get_object(project, COUNTER)
        try:
            made = set_object(
                project,
                actor=actor,
                request_id=f"{request_id}.{tries}",
                noun="setting",
                ref=COUNTER,
                data={"count": str(int(seen.data["count"]) + 1)},
                seen_revision=seen.revision,
            )
            return made.seq
        except StaleRevisionError:
            tries += 1


def work(project: Project, name: str) -> None:
    """Write until killed: notes and steps of the counter by turns."""
    actor, number = Actor(name), 0
    while True:
        number += 1
        request_id = f"{name}.{os.getpid()}.{number}"
        if number % 2:
            seq = add_entry(
                project, actor=actor, request_id=request_id, kind="note", body={"words": f"note {number}"}
            ).seq
            line = f"note {seq} {request_id}\n"
        else:
            line = f"count {count_up(project, actor, request_id)} {request_id}\n"
        os.write(1, line.encode())


def main() -> None:
    place, name, threads = sys.argv[1], sys.argv[2], int(sys.argv[3])
    with open_project(place) as project:
        running = [threading.Thread(target=work, args=(project, f"{name}-{n}")) for n in range(threads)]
        for thread in running:
            thread.start()
        for thread in running:
            thread.join()


if __name__ == "__main__":
    main()
