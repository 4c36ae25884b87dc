"""A short form of the long soak: phones read, enter and send photos while the server is killed under them."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from soak import soak


def test_nothing_acknowledged_is_lost_or_doubled_and_nothing_answers_500(tmp_path: Path) -> None:
    made = soak(
        tmp_path,
        minutes=0.12,
        phones_=6,
        kill_every_s=2.0,
        database=False,
        workers=False,
        pause_s=0.1,
        seed=5,
    )
    assert made["kills"]["server"] >= 1
    assert made["acknowledged"] >= 5
    assert made["missing"] == made["doubled"] == made["given up"] == made["500 at"] == []
    assert made["record"] == "agrees"
    # what was acknowledged is gone on with: a second stretch in the same folder still finds the first
    again = soak(
        tmp_path,
        minutes=0.03,
        phones_=2,
        kill_every_s=60.0,
        database=False,
        workers=False,
        pause_s=0.1,
        seed=6,
    )
    assert again["acknowledged"] >= made["acknowledged"]
    assert again["missing"] == again["doubled"] == []
