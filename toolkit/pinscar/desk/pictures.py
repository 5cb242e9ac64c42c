"""Pictures in a notebook: a file opened as an array, and what was read from it in one line."""

from __future__ import annotations

from pinscar.decision.media import read_picture
from pinscar.seen.cards import card_lines
from pinscar.seen.pictures import scar_line

__all__ = ["card_lines", "read_picture", "scar_line"]
