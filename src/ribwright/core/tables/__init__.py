"""Published tables as data: cells as printed, each with its source and its rung.

``table("drills/number").cell("#30", "diameter")`` is a :class:`Cell`: the printed text, its value,
where it comes from and how far it can be trusted. A row that is not there is an error that names
its neighbours; nothing is ever extrapolated.
"""

from ribwright.core.tables.loader import (
    RUNGS,
    Cell,
    Source,
    Table,
    drill_sizes,
    lowest_rung,
    source,
    sources,
    table,
    table_names,
)

__all__ = [
    "RUNGS",
    "Cell",
    "Source",
    "Table",
    "drill_sizes",
    "lowest_rung",
    "source",
    "sources",
    "table",
    "table_names",
]
