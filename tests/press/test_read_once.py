"""A report reads its folder once, and hashes it twice: before and after."""

from __future__ import annotations

import io
import json
import os
import shutil
from collections import Counter
from pathlib import Path

import nbformat
import pytest

from pinscar.campaign import campaign, folder
from pinscar.press import execute, handover, worker
from pinscar.press.results import RESULTS_MIME, SCHEMA
from pinscar.press.subject import read_one, read_several

ROOT = Path(__file__).resolve().parents[2]
RANGE = ROOT / "data_demo" / "range"


@pytest.fixture
def counts(monkeypatch):
    """How often each folder was hashed, and each table of runs read."""
    found: Counter[str] = Counter()

    def hashed(place, others=(), before=folder.own_hashes):
        found[f"hashed {Path(place).name}"] += 1
        return before(place, others)

    def read(path, name, before=campaign.read_csv):
        found[f"read {Path(path).parent.name}/{name}"] += 1
        return before(path, name)

    monkeypatch.setattr(folder, "own_hashes", hashed)
    monkeypatch.setattr(campaign, "own_hashes", hashed)
    monkeypatch.setattr(campaign, "read_csv", read)
    return found


def served(messages, private, monkeypatch, template):
    """Answer messages as a worker does, the kernel's part done by a function here."""

    def run_template(notebook, name, parameters, *, folder, private, at_cell, **_):
        monkeypatch.chdir(folder)
        handover.announce(private)
        template(parameters)
        del os.environ[handover.PLACE]  # a kernel keeps it for life; this process has other tests to run
        results = {"schema": SCHEMA, "overall": None}
        output = nbformat.v4.new_output("display_data", {RESULTS_MIME: results})
        cell = nbformat.v4.new_code_cell("1", id="results", outputs=[output])
        return nbformat.v4.new_notebook(cells=[cell])

    monkeypatch.setattr(execute, "run_template", run_template)
    checked: dict[str, handover.Read] = {}
    return [worker._serve(one, checked, None, private, io.StringIO()) for one in messages]


def messages(place, parameters, template, scratch):
    question = {"folder": str(place), "parameters": parameters}
    made = {
        "template": str(ROOT / "templates" / template),
        "given": parameters,
        "pdf": False,
        "timeout": 60.0,
    }
    scratch.mkdir()
    return [{"do": "check", **question}, {"do": "make", **question, **made, "scratch": str(scratch)}]


def test_one_campaign_is_read_once_and_hashed_twice(tmp_path, counts, monkeypatch):
    place = Path(shutil.copytree(RANGE / "conveyor_05", tmp_path / "one"))
    seen = []
    asked = messages(place, {"folder": "."}, "campaign_report.ipynb", tmp_path / "scratch")
    replies = served(asked, tmp_path, monkeypatch, lambda _: seen.append(read_one(Path())))
    assert [reply["status"] for reply in replies] == [0, 0], replies
    assert counts == {"hashed one": 2, "read one/runs.csv": 1}
    # the kernel gets the campaign as it was read, in the folder that it works in
    assert seen[0].folder == Path()
    assert seen[0].runs.equals(campaign.read_campaign(place).runs)
    manifest = json.loads((tmp_path / "scratch" / "report" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["inputs"] == seen[0].inputs


def test_several_campaigns_are_read_once_and_hashed_twice(tmp_path, counts, monkeypatch):
    names = ["conveyor_05", "hoist_02"]
    for name in names:
        shutil.copytree(RANGE / name, tmp_path / "range" / name)
    parameters = {"folders": [*names]}
    seen = []
    asked = messages(tmp_path / "range", parameters, "product_range.ipynb", tmp_path / "scratch")
    replies = served(asked, tmp_path, monkeypatch, lambda _: seen.extend(read_several(Path(), names)))
    assert [reply["status"] for reply in replies] == [0, 0], replies
    assert counts == {f"hashed {name}": 2 for name in names} | {f"read {name}/runs.csv": 1 for name in names}
    assert [one.file.campaign.id for one in seen] == ["conveyor-05", "hoist-02"]


def test_a_file_that_changes_meanwhile_is_noticed(tmp_path, monkeypatch):
    place = Path(shutil.copytree(RANGE / "conveyor_05", tmp_path / "one"))

    def change(_):
        with (place / "runs.csv").open("a", encoding="utf-8") as stream:
            stream.write("\n")

    asked = messages(place, {"folder": "."}, "campaign_report.ipynb", tmp_path / "scratch")
    replies = served(asked, tmp_path, monkeypatch, change)
    assert replies[1]["status"] == 4
    assert "was changed while the report was being made" in replies[1]["errors"][0]


def test_what_was_checked_serves_the_next_report_only(tmp_path, counts, monkeypatch):
    place = Path(shutil.copytree(RANGE / "conveyor_05", tmp_path / "one"))
    check, make = messages(place, {"folder": "."}, "campaign_report.ipynb", tmp_path / "scratch")
    other = messages(place, {"folder": ".", "confidence": 0.9}, "campaign_report.ipynb", tmp_path / "b")[0]
    served([check, other, make], tmp_path, monkeypatch, lambda _: read_one(Path()))
    assert counts["read one/runs.csv"] == 3
