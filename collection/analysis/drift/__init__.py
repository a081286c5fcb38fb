"""Drift: what the readings of a whole fleet say of each unit's level, of its drift and of the instruments.

Pure functions on arrays, deterministic: the same input gives the same bytes. `given` is what goes in, `fit` does the
work, `found` is what comes out, `forecast` looks ahead from there. docs/drift.md tells the method.
"""
