"""Ribwright: the manufacturing-engineering department of a one-person aeroplane factory."""

__version__ = "0.1.0"
