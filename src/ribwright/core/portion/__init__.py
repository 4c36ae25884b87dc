"""Major portion: the list of tasks of a country, credit in tenths, and what stands behind each claim."""

from ribwright.core.portion.credit import Claim, Evidence, Standing, Total, credit, tenths, weak_points
from ribwright.core.portion.lists import (
    Column,
    PortionList,
    PortionTask,
    list_from_toml,
    list_to_toml,
    starting_list,
)

__all__ = [
    "Claim",
    "Column",
    "Evidence",
    "PortionList",
    "PortionTask",
    "Standing",
    "Total",
    "credit",
    "list_from_toml",
    "list_to_toml",
    "starting_list",
    "tenths",
    "weak_points",
]
