"""The table of threats and faults in DEVELOPERS.md names tests that exist."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_every_row_names_a_test_that_exists():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = text[text.index("## Threats and faults") : text.index("## Dependencies")]
    rows = [line for line in part.splitlines() if line.startswith("| ") and "---" not in line][1:]
    assert len(rows) > 30
    for row in rows:
        named = re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", row.rsplit(" | ", 1)[-1])
        assert named, f"no test in the row: {row}"
        for file, test in named:
            source = (ROOT / file).read_text(encoding="utf-8")
            assert re.search(rf"^def {test or 'test_'}", source, re.MULTILINE), f"{file}::{test}"
            assert not test or f"def {test}(" in source
