"""The cautions that stand where work starts: on run sheets, the printed plan and the comparison sheet."""

from __future__ import annotations

BENCH = (
    "Local rules come first. Hot metal, rotating parts, flung oil, smoke and solvents can hurt: guard the "
    "ring, no loose sleeves or hair, wear eye protection, extract smoke, keep solvents from ignition "
    "sources, let parts cool. Ask a qualified person."
)
"""All that a person must know before the first run, short enough for a hint of a spreadsheet (255 signs)."""
