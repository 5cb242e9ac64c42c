"""`pinscar diff` names what changed between two reports, under its section, and nothing else."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from pinscar.cli.main import run
from pinscar.errors import UsageError
from pinscar.press.difference import report_changes
from pinscar.press.files import SCHEMA

SUMMARY = {
    "lubricant": "C-21", "load_N": 450.1, "response": "scar_area", "n": 6,
    "estimate": 3.83, "ci_low": 3.53, "ci_high": 4.16,
}  # fmt: skip
RESULTS: dict[str, Any] = {
    "schema": "pinscar.results/1",
    "campaign": {"id": "c-1", "confidence": 0.95},
    "runs": [{"run_id": "r1", "scar_length_mm": 3.05}, {"run_id": "r2", "scar_length_mm": 3.1}],
    "summaries": [SUMMARY],
    "comparisons": [
        {"lubricant": "C-21", "reference": "R-10", "load_N": 450.1, "response": "scar_area", "ratio": 0.64,
         "ci_low": 0.57, "ci_high": 0.72, "conclusion": "about 36 % smaller"}
    ],
    "criteria": [{"id": "scar-450", "verdict": "met", "because": "it does"}],
    "overall": "met",
    "claims": [{"claimed": "C-21: smaller", "support": "supported"}],
    "audit": [{"id": "one-day", "message": "at 450 N"}, {"id": "one-day", "message": "at 600 N"}],
}  # fmt: skip
MANIFEST = {
    "schema": SCHEMA,
    "inputs": {"runs.csv": "a" * 64, "campaign.toml": "b" * 64},
    "versions": {"numpy": "2.4.0"},
    "template": {"name": "campaign_report", "sha256": "c" * 64},
    "code": "d" * 64,
}


def report(folder: Path, results: dict[str, Any], manifest: dict[str, Any] = MANIFEST) -> Path:
    folder.mkdir(parents=True)
    (folder / "results.json").write_text(json.dumps(results), encoding="utf-8")
    (folder / "manifest.json").write_text(json.dumps(manifest), encoding="utf-8")
    return folder


def changed(tmp_path: Path, change: Any) -> list[tuple[str, str, str]]:
    """Sections, items and kinds of what a change to the results brings."""
    results = copy.deepcopy(RESULTS)
    change(results)
    first, second = report(tmp_path / "a", RESULTS), report(tmp_path / "b", results)
    return [(c.section, c.item, c.kind) for c in report_changes(first, second)]


def test_equal_reports_have_no_difference(tmp_path: Path) -> None:
    assert changed(tmp_path, lambda results: None) == []


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (lambda r: r["runs"].pop(), ("data", "run r2", "removed")),
        (lambda r: r["runs"].append({"run_id": "r3"}), ("data", "run r3", "added")),
        (lambda r: r["runs"][0].update(scar_length_mm=3.5), ("data", "run r1", "changed")),
        (lambda r: r["campaign"].update(confidence=0.9), ("data", "campaign", "changed")),
        (lambda r: r["summaries"][0].update(n=7), ("numbers", "scar_area of C-21 at 450 N", "changed")),
        (
            lambda r: r["comparisons"][0].update(ratio=0.7),
            ("numbers", "scar_area of C-21 against R-10 at 450 N", "changed"),
        ),
        (lambda r: r["criteria"][0].update(verdict="undecided"), ("verdicts", "limit scar-450", "changed")),
        (lambda r: r.update(overall="undecided"), ("verdicts", "overall", "changed")),
        (lambda r: r["claims"][0].update(support="refused"), ("claims", "claim C-21: smaller", "changed")),
        (lambda r: r["audit"].pop(), ("audit", "finding one-day #2", "removed")),
        (lambda r: r.update(limits={"r": [1.0]}), ("other results", "limits", "changed")),
    ],
)
def test_a_change_is_told_under_its_section(tmp_path: Path, change: Any, expected: tuple[str, ...]) -> None:
    assert changed(tmp_path, change) == [expected]


def test_a_load_level_that_moved_a_little_is_still_the_same_cell(tmp_path: Path) -> None:
    found = changed(tmp_path, lambda r: r["summaries"][0].update(load_N=450.3, estimate=3.9))
    assert found == [("numbers", "scar_area of C-21 at 450 N", "changed")]


def test_what_it_was_made_with_is_compared(tmp_path: Path) -> None:
    manifest = {**MANIFEST, "versions": {"numpy": "2.5.0"}, "inputs": {"runs.csv": "e" * 64}}
    first, second = report(tmp_path / "a", RESULTS), report(tmp_path / "b", RESULTS, manifest)
    assert [str(change) for change in report_changes(first, second)] == [
        "input runs.csv: sha256 aaaaaaaa... -> eeeeeeee...",
        "input campaign.toml: removed",
        "versions: numpy '2.4.0' -> '2.5.0'",
    ]


def test_the_command_tells_sections_and_ends_with_three(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    results = copy.deepcopy(RESULTS)
    results["summaries"][0].update(estimate=4.02, ci_low=3.61, ci_high=4.47)
    first, second = report(tmp_path / "a" / "report", RESULTS), report(tmp_path / "b" / "report", results)
    assert run(["diff", str(first.parent), str(second)]) == 3
    assert capsys.readouterr().out.splitlines() == [
        "numbers",
        "  scar_area of C-21 at 450 N: 3.83 (3.53 to 4.16) -> 4.02 (3.61 to 4.47)",
    ]
    assert run(["diff", str(first), str(second), "--json"]) == 3
    (told,) = json.loads(capsys.readouterr().out)["changes"]
    assert told["fields"][0] == {"field": "estimate", "before": 3.83, "after": 4.02}
    assert run(["diff", str(first), str(first)]) == 0


def test_what_is_no_report_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="holds no report"):
        report_changes(report(tmp_path / "a", RESULTS), tmp_path / "nothing")
