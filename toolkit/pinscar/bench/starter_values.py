"""Values of campaign.toml that still are the starter's: nobody has put their own there yet."""

from __future__ import annotations

import re
from pathlib import Path

from pinscar.campaign.tables import read_text
from pinscar.shipped import shipped_folder

LINE = re.compile(r'\s*(?P<key>[\w-]+)\s*=\s*(?P<value>"(?:[^"\\]|\\.)*"\s*|[^#]*)(?P<note>#.*)?')
SECTION = re.compile(r"\s*\[\[?\s*([\w.-]+)\s*\]\]?\s*(#.*)?")
WHOLE = "# All values here are examples"
"""A line of the starter that was made without any question; whoever deletes it has gone through the file."""


def starter_values(folder: Path) -> list[str]:
    """List the values of a campaign's rig and oils that nobody has replaced or confirmed.

    A value counts as confirmed where its mark "example" was taken away.
    """
    text, _ = read_text(folder / "campaign.toml", "campaign.toml")
    if text is None or "example" not in text:  # a mark, or the line over a starter, has the word
        return []
    from pinscar.bench.prepare import (
        DEFAULTS,
        EXAMPLE,
        STARTER,
    )  # here: what it imports, most checks do without

    starter = shipped_folder("templates") / STARTER / "campaign.toml"
    whole = set(_lines(starter.read_text(encoding="utf-8"))) if WHOLE in text else set()
    found = []
    for key, value, note in _lines(text):
        marked = EXAMPLE in note and DEFAULTS.get(key, value) == value
        same = key.startswith("rig.") and any(one[:2] == (key, value) for one in whole)
        if marked or same:
            found.append(f"{key} = {value.strip(chr(34))}")
    return found


def _lines(text: str) -> list[tuple[str, str, str]]:
    section, found = "", []
    for line in text.splitlines():
        head = SECTION.fullmatch(line)
        if head:
            section = head.group(1)
            continue
        match = LINE.fullmatch(line)
        if match and not line.lstrip().startswith("#"):
            found.append((f"{section}.{match['key']}", match["value"].strip(), match["note"] or ""))
    return found
