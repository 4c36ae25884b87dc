"""Handlers of at most fifteen lines: read the form, one service call, redirect or page."""
