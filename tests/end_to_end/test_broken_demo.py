"""A hand-broken copy of the demo is caught in each case: by the audit, by verify, or by making it again."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.decision.audit import audit, with_readers
from pinscar.decision.audit_control import control_findings
from pinscar.decision.evaluate import evaluate_runs
from pinscar.decision.finding import Finding
from pinscar.decision.record import Analysis
from pinscar.press.build import build_reports
from pinscar.press.manifest import manifest_digest
from pinscar.press.request import make_requests
from pinscar.press.template import read_template
from pinscar.press.verify import rerun_differences, verify_report
from pinscar.shipped import find_template

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"
WEIGHTS = {450: "3.79", 600: "5.32"}
Change = Callable[[pd.DataFrame], object]


def copy_of(source: Path, folder: Path) -> Path:
    shutil.copytree(source, folder, ignore=shutil.ignore_patterns("report-*"))
    return folder


def table(folder: Path) -> pd.DataFrame:
    return pd.read_csv(folder / "runs.csv", dtype=str, keep_default_na=False)


def change_runs(folder: Path, change: Change) -> None:
    runs = table(folder)
    change(runs)
    runs.to_csv(folder / "runs.csv", index=False)


def row_of(runs: pd.DataFrame, oil: str, load: int, n: int) -> int:
    """Row of the n-th run of a cell that counts."""
    chosen = (runs["lubricant"] == oil) & (runs["weights [kg]"] == WEIGHTS[load]) & (runs["excluded"] == "")
    return int(runs.index[chosen][n])


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    folder = copy_of(DEMO, tmp_path / "demo")
    shutil.rmtree(folder / "report", ignore_errors=True)
    return folder


def found_in(folder: Path) -> dict[str, Finding]:
    """The audit's findings by name, as the evaluation has them but without its statistics."""
    campaign = read_campaign(folder)
    runs = with_readers(evaluate_runs(campaign), campaign.readings)
    found = audit(runs, campaign.file.campaign.reference, control_findings(campaign))
    return {finding.id: finding for finding in found}


def test_the_evaluation_has_the_same_findings(demo: Path, demo_analysis: Analysis) -> None:
    assert tuple(found_in(demo).values()) == tuple(demo_analysis.findings)


@pytest.mark.parametrize(("one", "other"), [("C-21", "R-10"), ("R-10", "B-05"), ("C-22", "B-05")])
def test_swapped_oil_labels_are_suspected(demo: Path, one: str, other: str) -> None:
    runs = table(demo)
    rows = [row_of(runs, one, 450, 2), row_of(runs, other, 450, 4)]
    change_runs(demo, lambda r: r.loc.__setitem__((rows, "lubricant"), [other, one]))
    suspected = found_in(demo)["label-in-doubt"]
    assert set(runs.loc[rows, "run_id"]) <= set(suspected.runs)
    # R-10 and C-22 leave like scars, so that either may be named for the other.
    told = suspected.message.split(f"{runs.loc[rows[0], 'run_id']} ({other}) looks like ")[1]
    assert told.startswith(("R-10", "C-22") if one in ("R-10", "C-22") else one)


def test_labels_as_they_are_raise_no_suspicion(demo: Path) -> None:
    assert not {"label-in-doubt", "load-in-doubt", "scar-apart", "outlier", "note-on-load"} & set(
        found_in(demo)
    )


def test_a_load_added_and_told_in_the_note_only_is_found(demo: Path) -> None:
    """Without the file of load steps, the notes alone say that a plate was added."""
    stepped = set(pd.read_csv(demo / "load_steps.csv", dtype=str)["run_id"])
    (demo / "load_steps.csv").unlink()
    found = found_in(demo)
    assert "load-history" not in found
    assert stepped <= set(found["note-on-load"].runs)


@pytest.mark.parametrize(("oil", "load"), [("C-21", 450), ("R-10", 450), ("B-05", 450), ("C-21", 600)])
def test_a_load_added_and_told_nowhere_is_found_by_its_scar(demo: Path, oil: str, load: int) -> None:
    """The film pressure sets the scar area, so it grows with the load: here by 60 %."""
    runs = table(demo)
    row = row_of(runs, oil, load, 3)
    axes = ["scar_length [mm]", "scar_width [mm]"]
    grown = [f"{float(runs.loc[row, axis]) * 1.6**0.5:.2f}" for axis in axes if runs.loc[row, axis]]
    change_runs(demo, lambda r: r.loc.__setitem__((row, axes[: len(grown)]), grown))
    found = found_in(demo)
    run_id = runs.loc[row, "run_id"]
    suspected = {
        run
        for name in ("load-in-doubt", "label-in-doubt", "scar-apart", "outlier")
        if name in found
        for run in found[name].runs
    }
    assert run_id in suspected


@pytest.fixture(scope="module")
def reported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with a fresh report; reading its pictures and recordings would only take time here."""
    folder = tmp_path_factory.mktemp("reported") / "demo"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("report*", "micrographs", "sound", "fling"))
    template = read_template(find_template("campaign_report"))
    requests = make_requests([folder], template, {}, out=None, pdf=False, timeout=120)
    told: list[object] = []
    assert build_reports(requests, template.modules, 1, told.append) == 0, told
    return folder


def differing(folder: Path) -> list[tuple[str, str]]:
    return [(d.kind, d.name) for d in verify_report(folder / "report", folder)]


def test_a_fresh_report_agrees(reported: Path) -> None:
    assert differing(reported) == []


def test_a_run_altered_after_the_report_is_named(reported: Path, tmp_path: Path) -> None:
    folder = copy_of(reported, tmp_path / "demo")
    change_runs(folder, lambda r: r.loc.__setitem__((0, "scar_length [mm]"), "3.20"))
    assert differing(folder) == [("input", "runs.csv")]


def test_a_limit_eased_after_the_report_is_named(reported: Path, tmp_path: Path) -> None:
    folder = copy_of(reported, tmp_path / "demo")
    text = (folder / "campaign.toml").read_text(encoding="utf-8")
    (folder / "campaign.toml").write_text(
        text.replace('limit = "25 mg"', 'limit = "45 mg"'), encoding="utf-8"
    )
    assert differing(folder) == [("input", "campaign.toml")]


def test_a_stale_report_is_named_with_what_made_it(reported: Path, tmp_path: Path) -> None:
    """A report of older runs, made by an older pinscar: its manifest says other inputs and another code."""
    folder = copy_of(reported, tmp_path / "demo")
    path = folder / "report" / "manifest.json"
    manifest = json.loads(path.read_text(encoding="utf-8"))
    manifest["inputs"]["runs.csv"] = hashlib.sha256(b"older runs").hexdigest()
    manifest["code"] = hashlib.sha256(b"older code").hexdigest()
    manifest["digest"] = manifest_digest(manifest)
    path.write_text(json.dumps(manifest), encoding="utf-8")
    assert differing(folder) == [("input", "runs.csv"), ("code", "code")]


def forged(folder: Path) -> None:
    """Turn the verdict round in the results and make the manifest fit."""
    report = folder / "report"
    results = (report / "results.json").read_text(encoding="utf-8").replace('"not met"', '"met"')
    (report / "results.json").write_text(results, encoding="utf-8")
    manifest = json.loads((report / "manifest.json").read_text(encoding="utf-8"))
    manifest["outputs"]["results.json"] = hashlib.sha256(results.encode()).hexdigest()
    (report / "manifest.json").write_text(json.dumps(manifest), encoding="utf-8")


def test_a_verdict_forged_with_its_manifest_is_found_by_making_it_again(
    reported: Path, tmp_path: Path
) -> None:
    folder = copy_of(reported, tmp_path / "demo")
    forged(folder)
    assert {kind for kind, _ in differing(folder)} <= {"numbers"}  # the page shows the true verdict still
    again = rerun_differences(folder / "report", folder)
    assert [(d.kind, d.name) for d in again] == [("rerun", "results.json")]
