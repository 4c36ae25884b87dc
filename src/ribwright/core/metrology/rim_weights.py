"""Weights of the rim's net, made by ``benchmarks/photo_rim_training.py``: a byte each, scaled by channel."""

from __future__ import annotations

import json
from functools import cache

import numpy as np

from ribwright.core.metrology.rim_evidence import Net
from ribwright.core.tables.loader import net_text


@cache
def net() -> Net:
    """The net in use."""
    return net_of(net_text("rim_net"))


def net_of(text: str) -> Net:
    """A net as written, by layer: weights (high, wide, from, to) and offsets (to,)."""
    raw = json.loads(text)
    held = bytes.fromhex("".join(raw["weights"]))
    layers, at = {}, 0
    for name, shape in raw["shapes"].items():
        count, kinds = int(np.prod(shape)), shape[-1]
        scale, offset = (
            np.frombuffer(held, "<f4", kinds, at + 4 * kinds * k).astype(np.float32) for k in (0, 1)
        )
        at += 8 * kinds
        weight = np.frombuffer(held, np.int8, count, at).reshape(shape).astype(np.float32)
        at += count
        layers[name] = (weight * scale, offset)
    return layers
