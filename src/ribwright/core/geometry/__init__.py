"""Shapes as numbers: outlines with true arcs, aerofoil sections, lofted and developed surfaces."""
