"""What is in the shop: what the books say is left, crates against their lists, lots, what a month takes, one set-up."""

from ribwright.core.stores.books import Holding, Item, LotHeld, Move, holdings, same_item
from ribwright.core.stores.crates import PackingLine, Shortage, read_packing_list, shortages

__all__ = [
    "Holding",
    "Item",
    "LotHeld",
    "Move",
    "PackingLine",
    "Shortage",
    "holdings",
    "read_packing_list",
    "same_item",
    "shortages",
]
