"""The sentences of the audit: each text names values by words that exist, and says them as a person would."""

from __future__ import annotations

import re
from pathlib import Path
from string import Formatter

import pytest

from pinscar.decision import finding
from pinscar.decision.finding import TEXTS, finding_sentences

AUDIT = "".join(
    path.read_text(encoding="utf-8")
    for path in Path(finding.__file__).parent.glob("*.py")
    if path.name not in ("audit_words.py", "finding.py")
)


@pytest.mark.parametrize("text", TEXTS)
def test_each_text_is_used_and_made_of_known_words(text: str) -> None:
    """No text is left over, and what stands behind a colon is a way of saying, or a number's format."""
    assert f'"{text}"' in AUDIT or (text.startswith("odd-") and 'f"odd-' in AUDIT)
    for part in TEXTS[text]:
        for _, name, spec, _ in Formatter().parse(part):
            assert name is None or not spec or spec in finding._SAID or re.fullmatch(r"\.\d[fg]", spec)


def test_loads_raised_for_some_oils_and_not_for_others_are_told_apart() -> None:
    values = {
        "histories": [[True, "R", [["A", 450.0], ["B", 600.0]]], [False, "R", [["C", 450.0]]]],
        "cells": [["A", 450.0], ["B", 600.0], ["C", 450.0]],
    }
    assert finding_sentences("load-history-throughout", values) == (
        "All runs of A at 450 N and B at 600 N had the load raised while running, none of R there; no run "
        "of C at 450 N had the load raised while running, all of R there.",
        "The scar keeps the history of the lower load; A at 450 N, B at 600 N and C at 450 N can't be called "
        "like for like.",
    )


@pytest.mark.parametrize(
    ("checks", "words"),
    [
        (
            ["2026-01-05", "2026-02-09"],
            ", after the good check of 5 January 2026 and before that of 9 February",
        ),
        (["2026-01-05", None], ", after the good check of 5 January 2026:"),
        ([None, "2026-02-09"], ", before the good check of 9 February 2026:"),
        ([None, None], "on 20 January 2026: "),
    ],
)
def test_a_rig_out_of_control_is_told_between_its_good_checks(checks: list[str | None], words: str) -> None:
    values = {
        "days": ["2026-01-20", "2026-01-20"],
        "checks": checks,
        "oil": "R-10",
        "load": 450.0,
        "seen": ["one beyond the limits"],
    }
    assert words in finding_sentences("rig-out-of-control", values)[0]
