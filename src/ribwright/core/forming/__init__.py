"""Forming: how thin sheet bends, springs back and is rolled to a template.

Layers of this package, from the bottom: ``fibre`` (one fibre's stress and strain) < ``section`` (moment
and curvature of a sheet) < ``cyclic`` (release and reopening by layers) < ``roll``, ``chain`` (the round
tool on the sheet) < ``profile``, ``target`` < ``world`` (what is not known) < ``recipe``, ``scrap``,
``closing`` (the builder's answers). ``bend`` and its neighbours serve the brake and the form block.
"""
