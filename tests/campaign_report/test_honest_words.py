"""No example or invented number passes for a real one, and no page reads as permission."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import sys
from html import unescape
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pinscar.bench.prepare import new_campaign
from pinscar.bench.run_sheet import run_sheet
from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.campaign.to_fill import EXAMPLES, example_rows
from pinscar.campaign_report import sections
from pinscar.contact.chain import LIFTING
from pinscar.decision.record import Analysis
from pinscar.mechanics import chain_joint
from pinscar.page.cautions import BENCH, EXAMPLE, INVENTED
from pinscar.press.subject import read_inputs, subject_of
from pinscar.shipped import shipped_folder
from pinscar.study import comparison_sheet
from pinscar.study.plan.table import PreparedTable
from pinscar.study.range import page as range_report

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_demo"
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
STARTER = ROOT / "templates" / "new_campaign" / "runs.csv"


def marked(folder: Path, parameters: dict[str, object]) -> str:
    """How the data of a report are marked."""
    return subject_of(read_inputs(folder, parameters), folder, parameters, "t").mark


def pinscar(*words: object) -> subprocess.CompletedProcess[str]:
    """Run the command as a person does."""
    code = "import sys; from pinscar.cli.main import main; sys.exit(main())"
    line = [sys.executable, "-c", code, *map(str, words)]
    return subprocess.run(line, check=False, capture_output=True, text=True, timeout=300)


def said(html: str) -> str:
    """The words of a page, ties and line breaks taken as blanks."""
    body = re.sub(r"<(style|script).*?</\1>", " ", html, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"</?(span|strong)[^>]*>", "", body).replace("\xa0", " ")))


def rows_of(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def write_rows(file: Path, rows: list[dict[str, str]]) -> None:
    with file.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


@pytest.fixture
def starter(tmp_path: Path) -> Path:
    new_campaign(tmp_path / "mine")
    return tmp_path / "mine"


def flagged(folder: Path) -> list[bool]:
    return example_rows(read_campaign(folder).runs)


def test_the_known_examples_are_those_of_the_starter() -> None:
    shown = pd.read_csv(STARTER)
    shown.columns = [name.split(" [")[0] for name in shown.columns]
    for name, values in EXAMPLES.items():
        if name == "run_at":
            assert tuple(shown[name]) == values
        else:
            np.testing.assert_array_equal(shown[name].to_numpy(dtype=float), values)


def test_an_example_row_stays_one_in_other_units_under_other_names_and_without_its_note(
    starter: Path,
) -> None:
    rows = rows_of(starter / "runs.csv")
    for number, row in enumerate(rows):
        row["run_id"], row["note"] = f"mine-{number}", "looked fine"
        row["scar_length [um]"] = f"{float(row.pop('scar_length [mm]')) * 1000:g}"
        row["duration [min]"] = f"{float(row.pop('duration [s]')) / 60:g}"
        row["operator"], row["load [N]"] = "XY", "600"
    write_rows(starter / "runs.csv", rows)
    assert all(flagged(starter))


def test_scars_alone_are_enough_and_an_excluded_example_still_is_one(starter: Path) -> None:
    keep = ("run_id", "lubricant", "load [N]", "duration [s]", "scar_length [mm]", "scar_width [mm]")
    rows = [{name: row[name] for name in keep} | {"excluded": ""} for row in rows_of(starter / "runs.csv")]
    rows[1]["excluded"] = "squealed"
    rows = [row for row in rows if row["scar_width [mm]"]]
    write_rows(starter / "runs.csv", rows)
    assert all(flagged(starter))


def test_the_mark_goes_with_the_last_example_row_and_no_sooner(starter: Path) -> None:
    rows = rows_of(starter / "runs.csv")
    for number, row in enumerate(rows):
        row |= {
            "run_at": f"2026-05-04T1{number}:07",
            "quiet_time [s]": f"{33 + number}",
            "peak_temperature [degC]": "51",
            "fling_mass [mg]": f"{31 + number}",
            "fling_area [mm^2]": f"{333 + number}",
            "scar_length [mm]": f"{3.5 + 0.011 * number:.3f}",
            "scar_width [mm]": f"{1.9 + 0.006 * number:.3f}",
            "note": "",
        }
    last = rows_of(starter / "runs.csv")[-1]
    write_rows(starter / "runs.csv", [*rows[:-1], last])
    assert flagged(starter) == [False] * 7 + [True]
    assert marked(starter, {"folder": "."}) == EXAMPLE
    write_rows(starter / "runs.csv", rows)
    assert not any(flagged(starter))
    assert marked(starter, {"folder": "."}) == ""


@pytest.mark.parametrize("folder", ["conveyor_07", "precision_02", "reading_03"])
def test_no_real_row_is_taken_for_an_example(folder: str) -> None:
    assert not any(flagged(DEMO / folder))


def test_check_warns_of_the_examples(starter: Path) -> None:
    _, problems = check_campaign(starter)
    assert [one.code for one in problems] == ["example-rows"]
    done = pinscar("check", starter)
    assert done.returncode == 0
    assert done.stderr.startswith(
        "warning: runs.csv, row 2: this is an example row of the starter, not a run"
    )
    assert done.stdout.endswith("ready to report, marked as example data\n")


@pytest.mark.pdf
@pytest.mark.parametrize("template", ["campaign_report", "release_record", "comparison_sheet"])
def test_every_page_made_from_examples_says_so(template: str, starter: Path, tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf")
    out = tmp_path / "out"
    done = pinscar("report", starter, "-t", template, "-o", out)
    assert done.returncode == 0, done.stderr
    marked_pages(pypdf, out)
    assert json.loads((out / "results.json").read_text())["data_mark"] == EXAMPLE
    assert done.stdout.splitlines()[-1] == "release limits: met (2 of 2), on example data"


@pytest.mark.pdf
def test_a_plan_from_an_example_pilot_says_so(starter: Path, tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf")
    following = tmp_path / "next"
    following.mkdir()
    (following / "campaign.toml").write_bytes((starter / "campaign.toml").read_bytes())
    done = pinscar("plan", following, "--pilot", starter)
    assert done.returncode == 0, done.stderr
    marked_pages(pypdf, following / "plan")
    assert BENCH in said((following / "plan" / "report.html").read_text(encoding="utf-8"))


def marked_pages(pypdf: object, report: Path) -> None:
    head = (report / "report.html").read_text(encoding="utf-8").split("<h1>")[0]
    assert f'<p class="data-mark"><strong>{EXAMPLE}</strong>' in head
    pages = pypdf.PdfReader(io.BytesIO((report / "report.pdf").read_bytes())).pages
    assert [number for number, page in enumerate(pages, 1) if EXAMPLE not in page.extract_text()] == []


def test_a_decision_needs_a_named_approver(starter: Path, tmp_path: Path) -> None:
    out = tmp_path / "record"
    words = ("report", starter, "-t", "release_record", "-o", out, "--no-pdf", "-p", "decision=release")
    done = pinscar(*words, "-p", "approver= ")
    assert (done.returncode, done.stdout, out.exists()) == (2, "", False)
    (line,) = done.stderr.splitlines()
    assert "a decision needs a named approver" in line
    assert pinscar(*words, "-p", "approver=C. D.").returncode == 0
    text = said((out / "report.html").read_text(encoding="utf-8"))
    assert "Local rules, and a qualified person who has read the whole report, decide" in text
    assert "A name typed here is not a signature." in text


def test_claims_are_no_permission_and_the_last_line_counts_the_limits(tmp_path: Path) -> None:
    out = tmp_path / "record"
    done = pinscar("report", DEMO / "conveyor_07", "-t", "release_record", "-o", out, "--no-pdf")
    assert done.returncode == 0, done.stderr
    results = json.loads((out / "results.json").read_text(encoding="utf-8"))
    verdicts = [one["verdict"] for one in results["criteria"]]
    same = verdicts.count(results["overall"])
    assert done.stdout.splitlines()[-1] == (
        f"release limits: {results['overall']} ({same} of {len(verdicts)})"
    )
    assert "is not permission to print it" in said((out / "report.html").read_text(encoding="utf-8"))


@pytest.mark.parametrize("file", ["README.md", ".ci/newcomer.py"])
def test_a_typed_name_is_never_called_signed(file: str) -> None:
    text = (ROOT / file).read_text(encoding="utf-8")
    # what `pinscar verify` says of a signature is no typed name
    lines = [line for line in text.splitlines() if "signed as author" not in line]
    assert not [line for line in lines if re.search(r"\bsigned\b", line)]


def test_chain_service_is_no_rating_for_lifting(demo_analysis: Analysis) -> None:
    together = range_report.load([str(path) for path in sorted((DEMO / "range").iterdir())])
    joint = chain_joint("900 N", "4.45 mm", "11.3 mm", 19, "120 rpm")
    for shown in (sections.service(demo_analysis).data, range_report.ranking(together).data, str(joint)):
        assert LIFTING in said(shown)
    for name in ("bench_to_chain", "handbook"):
        assert LIFTING in (ROOT / "notebooks" / f"{name}.ipynb").read_text(encoding="utf-8")


def test_the_run_sheet_itself_carries_the_cautions() -> None:
    openpyxl = pytest.importorskip("openpyxl")
    table = PreparedTable(("run_id", "load"), ("run_id", "load [N]"), (("run-01", "450"),))
    sheet = openpyxl.load_workbook(io.BytesIO(run_sheet(table, ["R-10"], "Trial")))["runs"]
    assert sheet.oddHeader.left.text == BENCH
    hints = {str(one.sqref): one.prompt for one in sheet.data_validations.dataValidation}
    assert hints["A1"] == BENCH
    assert len(BENCH) <= 250  # a hint takes 255 signs, a header as many with its font's size


@pytest.mark.parametrize(
    "word",
    [
        "Local rules",
        "Hot metal",
        "rotating",
        "flung",
        "smoke",
        "solvents",
        "sleeves",
        "hair",
        "eye protection",
    ],
)
def test_the_cautions_name_every_danger(word: str) -> None:
    assert word in BENCH


def test_the_comparison_sheet_carries_the_cautions_and_names_its_geometry(demo_analysis: Analysis) -> None:
    from pinscar.campaign.model import GEOMETRIES
    from pinscar.decision.ranking import rank

    assert set(comparison_sheet.BODIES) == set(GEOMETRIES)
    ranking = rank(demo_analysis, "scar_area", None)
    shown = said(comparison_sheet.method_and_limits(demo_analysis, ranking).data)
    assert BENCH in shown
    assert comparison_sheet.BODIES["crossed-cylinders"] in shown


@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_each_notebook_begins_with_cautions_and_says_that_its_data_are_invented(notebook: Path) -> None:
    cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
    first = " ".join("".join(cells[0]["source"]).split())
    assert BENCH in first
    assert "**Invented data**" in first


def test_every_demo_is_marked_as_invented(tmp_path: Path) -> None:
    demos = shipped_folder("data_demo")
    several = ("rig_control", "range", "formulation")
    for folder in several:
        names = sorted(path.name for path in (demos / folder).iterdir() if path.is_dir())
        assert marked(demos / folder, {"folders": names}) == INVENTED
    for name in ("conveyor_07", "precision_02", "reading_03"):
        assert marked(demos / name, {"folder": "."}) == INVENTED
    (tmp_path / "campaign.toml").write_bytes((STARTER.parent / "campaign.toml").read_bytes())
    plan = {"folder": ".", "pilot": str(demos / "conveyor_07")}
    assert marked(tmp_path, plan) == INVENTED
