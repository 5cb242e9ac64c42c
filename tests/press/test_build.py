"""Every way a template can fail ends in the right status and one line, with the older report whole."""

from __future__ import annotations

import json
import shutil
import time
from pathlib import Path

import pytest

from pinscar.press import build
from pinscar.press import files as scratch
from pinscar.press.request import make_requests, parse_assignments
from pinscar.press.template import read_template

TEMPLATE = "template faulty, cell"
SEE = "; see report-failed.ipynb"
FAULTS = {
    "error": (4, [f"{TEMPLATE} 4 (fault): ValueError: made to fail, over two lines{SEE}"]),
    "exit": (4, [f"{TEMPLATE} 4 (fault): SystemExit: 3{SEE}"]),
    "exit-quietly": (4, [f"{TEMPLATE} 4 (fault): SystemExit: 0{SEE}"]),
    "kill": (4, [f"{TEMPLATE} 4 (fault): the kernel was killed by SIGKILL{SEE}"]),
    "kill-early": (4, [f"{TEMPLATE} 3 (before): the kernel was killed by SIGKILL{SEE}"]),
    "kill-late": (4, [f"{TEMPLATE} 5 (after): the kernel was killed by SIGKILL{SEE}"]),
    "crash": (4, [f"{TEMPLATE} 4 (fault): the kernel was killed by SIGSEGV{SEE}"]),
    "leave": (4, [f"{TEMPLATE} 4 (fault): the kernel ended with status 5{SEE}"]),
    "sleep": (4, [f"{TEMPLATE} 4 (fault): took longer than 6 s{SEE}"]),
    "not-a-number": (
        4,
        [f"results.json may not hold nan at runs[0].scar_area_mm2; use null and say why{SEE}"],
    ),
    "no-results": (4, [f"template faulty: its results were handed over 0 times; once is right{SEE}"]),
    "two-results": (4, [f"template faulty: its results were handed over 2 times; once is right{SEE}"]),
    "picture": (
        4,
        [f"template faulty: an output is a bare image/png without alt text; use style.figure_html{SEE}"],
    ),
    "change-input": (
        4,
        ["a file of the campaign was changed while the report was being made; run it again"],
    ),
    "input": (
        1,
        [
            "runs.csv, column load: the column needs a unit; write one",
            "runs.csv, column duration: the column needs a unit; write one",
        ],
    ),
    "usage": (2, ["no response called 'scar_are'"]),
}


@pytest.fixture(scope="module")
def workers(templates):
    """One worker for all faults: what one does must not hurt the next."""
    found = build.Workers(read_template(templates / "faulty.ipynb").modules)
    yield found
    found.stop()


def request(folder: Path, template: Path, out: Path | None = None, timeout: float = 60, **given: object):
    return make_requests([folder], read_template(template), given, out=out, pdf=False, timeout=timeout)[0]


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_told_and_the_old_report_stays(fault, workers, reported, templates, assert_unharmed):
    status, errors = FAULTS[fault]
    timeout = 6 if fault == "sleep" else 60
    outcome = build.build_report(
        request(reported, templates / "faulty.ipynb", timeout=timeout, fault=fault), workers
    )
    assert (outcome.status, list(outcome.errors)) == (status, errors)
    assert_unharmed(reported, failed_notebook=SEE in errors[0])


@pytest.mark.parametrize("fault", ["kill-parent", "kill-worker"])
def test_a_killed_helper_process_is_told_and_the_next_report_made(
    fault, workers, reported, templates, assert_unharmed
):
    outcome = build.build_report(request(reported, templates / "faulty.ipynb", fault=fault), workers)
    assert outcome.status == 4
    assert "was killed by SIGKILL" in outcome.errors[0]
    assert_unharmed(reported, failed_notebook=fault == "kill-parent")
    good = build.build_report(request(reported, templates / "faulty.ipynb"), workers)
    assert (good.status, good.errors) == (0, ())


def test_the_failed_notebook_shows_what_ran_and_claims_no_more(workers, reported, templates):
    build.build_report(request(reported, templates / "faulty.ipynb", fault="kill"), workers)
    notebook = json.loads((reported / "report-failed.ipynb").read_text())
    cells = {cell["id"]: cell for cell in notebook["cells"]}
    assert "killed by SIGKILL" in "".join(cells["run-failed"]["source"])
    assert "Before the fault." in json.dumps(cells["before"]["outputs"])
    assert (cells["after"]["execution_count"], cells["after"]["outputs"]) == (None, [])
    assert "completed" not in json.dumps(notebook)


def test_a_good_run_replaces_the_report_and_clears_an_earlier_failure(workers, reported, templates):
    build.build_report(request(reported, templates / "faulty.ipynb", fault="error"), workers)
    outcome = build.build_report(request(reported, templates / "faulty.ipynb"), workers)
    assert (outcome.status, outcome.errors) == (0, ())
    names = {"manifest.json", "report.html", "report.ipynb", "results.json"}
    assert {path.name for path in (reported / "report").iterdir()} == names == set(outcome.files)
    assert {path.name for path in reported.iterdir()} == {"campaign.toml", "runs.csv", "report"}


def test_input_errors_come_before_everything_else(workers, reported, templates, assert_unharmed):
    runs = (reported / "runs.csv").read_text().replace("load [N]", "load")
    (reported / "runs.csv").write_text(runs)
    outcome = build.build_report(request(reported, templates / "faulty.ipynb", fault="kill"), workers)
    assert outcome.status == 1
    assert [p["code"] for p in outcome.problems if p["severity"] == "error"] == ["unit-missing"]
    assert_unharmed(reported, failed_notebook=False)


def test_every_folder_is_tried_and_the_worst_status_wins(campaign, templates, tmp_path):
    good = tmp_path / "good"
    shutil.copytree(campaign, good)
    (campaign / "runs.csv").unlink()
    folders = [tmp_path / "absent", campaign, good]
    template = read_template(templates / "plain.ipynb")
    requests = make_requests(folders, template, {}, out=None, pdf=False, timeout=60)
    told = []
    assert build.build_reports(requests, template.modules, 2, told.append) == 1
    assert [(outcome.folder, outcome.status) for outcome in told] == [
        (str(tmp_path / "absent"), 1),
        (str(campaign), 1),
        (str(good), 0),
    ]
    assert [path.name for path in tmp_path.glob("*/report")] == ["report"]


def test_a_full_disk_is_told_before_anything_runs(workers, reported, templates, monkeypatch, assert_unharmed):
    usage = shutil.disk_usage(reported)._replace(free=1_000_000)
    monkeypatch.setattr(scratch.shutil, "disk_usage", lambda folder: usage)
    outcome = build.build_report(request(reported, templates / "faulty.ipynb", fault="kill"), workers)
    assert outcome.status == 4
    assert outcome.errors == (f"no room in {reported}: 1 MB are free, 67 MB are needed",)
    assert_unharmed(reported, failed_notebook=False)


def test_out_elsewhere_leaves_the_campaign_alone(workers, campaign, templates, tmp_path):
    out = tmp_path / "new" / "place"
    before = {path.name: path.read_bytes() for path in campaign.iterdir()}
    outcome = build.build_report(request(campaign, templates / "faulty.ipynb", out=out), workers)
    assert (outcome.status, outcome.errors) == (0, ())
    assert (out / "report.html").is_file()
    assert {path.name: path.read_bytes() for path in campaign.iterdir()} == before


def test_out_never_replaces_a_folder_that_is_no_report(workers, campaign, templates, tmp_path):
    precious = tmp_path / "precious"
    precious.mkdir()
    (precious / "letters.txt").write_text("mine")
    outcome = build.build_report(request(campaign, templates / "faulty.ipynb", out=precious), workers)
    assert outcome.status == 2
    assert "is not empty and holds no report" in outcome.errors[0]
    assert (precious / "letters.txt").read_text() == "mine"


def test_an_ended_worker_leaves_no_process_and_no_folder(running_in_group):
    worker = build.Worker([])
    assert worker.ask({"do": "check", "folder": "/no/such/folder"})["status"] == 1
    group, private = worker._child._process.pid, worker.private
    assert private.is_dir()
    assert running_in_group(group) == 2
    worker.end()
    assert not private.exists()
    # A killed process is gone when it gets its turn, which takes a while on a busy machine.
    end = time.monotonic() + 10.0
    while running_in_group(group) and time.monotonic() < end:
        time.sleep(0.05)
    assert running_in_group(group) == 0


def test_parameters_typed_as_words_reach_the_template(workers, campaign, templates):
    declared = read_template(templates / "faulty.ipynb").declared
    given = parse_assignments(["confidence=1", "fault=none"], declared)
    outcome = build.build_report(request(campaign, templates / "faulty.ipynb", **given), workers)
    assert outcome.status == 0
    manifest = json.loads((campaign / "report" / "manifest.json").read_text())
    assert manifest["parameters"] == {"folder": ".", "confidence": 1.0, "fault": "none", "marker": ""}
