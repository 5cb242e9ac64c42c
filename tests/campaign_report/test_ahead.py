"""A second process beside the kernel: it draws all charts of the demo, and the bytes stay the same."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import shutil

import pytest

from pinscar.campaign_report import layout, sections
from pinscar.decision import kept_results, reading_cache
from pinscar.decision.reading_cache import AHEAD, WANTED
from pinscar.page import style
from pinscar.shipped import find_template, shipped_folder
from pinscar.stats.estimates import Estimate

DEMO = shipped_folder("data_demo") / "conveyor_07"
PARAMETERS = {"folder": ".", "confidence": None, "responses": None, "detail": "standard"}


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """The demo without its pictures, in a process of a report that keeps nothing for later."""
    shutil.copytree(DEMO, tmp_path / "c", ignore=shutil.ignore_patterns("*.jpg", "*.wav", "report*", ".pin*"))
    monkeypatch.chdir(tmp_path / "c")
    monkeypatch.delenv(WANTED, raising=False)
    (tmp_path / "ahead").mkdir()
    monkeypatch.setenv(AHEAD, str(tmp_path / "ahead"))
    return tmp_path / "c"


@pytest.mark.slow
def test_every_chart_of_the_report_is_taken_as_drawn_ahead(folder, monkeypatch):
    layout.work_ahead(PARAMETERS)
    monkeypatch.setattr(style, "figure_svg", None)  # nothing is left to be drawn
    analysis = sections.load(".")
    shown = "".join(str(layout.section(analysis, one.key, "standard").data) for one in layout.SECTIONS)
    assert shown.count("data:image/svg+xml") > 6


def test_a_large_campaign_is_not_evaluated_twice(folder, tmp_path, monkeypatch):
    monkeypatch.setattr(layout, "MOST_RUNS", 10)
    layout.work_ahead(PARAMETERS)
    assert not (tmp_path / "ahead" / kept_results.FOLDER).exists()


def test_the_template_names_the_module():
    metadata = json.loads(find_template("campaign_report").read_text())["metadata"]
    assert metadata["ahead"] == layout.__name__


@pytest.mark.slow
def test_the_bytes_are_those_of_one_process_with_and_without_kept_results(folder, command, tmp_path):
    own = {"XDG_DATA_HOME": str(tmp_path / "data")}
    found = []
    for words in (("--no-cache", "--jobs", 1), ("--no-cache", "--jobs", 2), ("--jobs", 2), ("--jobs", 1)):
        done = command("report", folder, "--no-pdf", "-q", *words, env=own)
        assert (done.returncode, done.stderr) == (0, "")
        files = (folder / "report").iterdir()
        found.append({one.name: hashlib.sha256(one.read_bytes()).hexdigest() for one in files})
        assert (folder / ".pinscar-cache").exists() == ("--no-cache" not in words)
    assert found[1:] == found[:1] * 3
    poison(folder / ".pinscar-cache" / kept_results.FOLDER, tmp_path / "data" / "pinscar" / "cache.key")
    again = ("verify", folder / "report", "--rerun")
    assert command(*again, env=own).returncode == 0  # it uses nothing that is kept
    assert command("report", folder, "--no-pdf", "-q", env=own).returncode == 0
    done = command(*again, env=own)
    assert done.returncode == 3
    assert any("results.json" in line for line in done.stderr.splitlines())


def poison(place, key):
    """Make the estimates among the kept results twice as large."""
    secret, changed = key.read_bytes(), 0
    for entry in place.glob("[0-9a-f]*"):
        (value,) = reading_cache.load(entry, secret)
        if isinstance(value, Estimate) and value.estimate is not None:
            reading_cache.store(entry, secret, [dataclasses.replace(value, estimate=2.0 * value.estimate)])
            changed += 1
    assert changed
