"""The long soak for 45 seconds: phones read, enter and send photos while server, database and workers are killed.

It waits more than it works: it takes about twenty seconds of a core, so ``./check`` runs it beside the other parts.
Where PostgreSQL or the workers' scheduler is not installed, the project lies in a folder and only the server is killed.
"""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from soak import soak


def test_nothing_acknowledged_is_lost_or_doubled_and_nothing_answers_500(tmp_path: Path) -> None:
    whole = bool(sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"))) and all(
        importlib.util.find_spec(name) for name in ("distributed", "psycopg")
    )
    assert whole or not os.environ.get("CI"), "PostgreSQL or distributed is not installed"
    made = soak(
        tmp_path,
        minutes=0.75,
        phones_=8,
        kill_every_s=6.0,
        database=whole,
        workers=whole,
        pause_s=0.8,
        seed=5,
    )
    assert set(made["kills"]) == ({"server", "database", "worker"} if whole else {"server"})
    assert made["acknowledged"] >= 15
    assert made["missing"] == made["doubled"] == made["given up"] == made["500 at"] == []
    assert made["record"] == "agrees"


def test_a_soak_that_was_broken_off_goes_on_with_what_was_acknowledged(tmp_path: Path) -> None:
    acknowledged = []
    for minutes in (0.15, 0.03):
        made = soak(
            tmp_path,
            minutes=minutes,
            phones_=4,
            kill_every_s=60.0,
            database=False,
            workers=False,
            pause_s=0.1,
            seed=len(acknowledged),
        )
        assert made["missing"] == made["doubled"] == made["500 at"] == []
        acknowledged.append(made["acknowledged"])
    assert 0 < acknowledged[0] <= acknowledged[1]
