"""Evidence read side by side: the readings that the analysis asks for, and the same bytes."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import signal
import time

import pytest

from pinscar.bench.prepare import new_campaign
from pinscar.campaign.campaign import read_campaign
from pinscar.decision import evidence as pictures
from pinscar.decision import reading_cache, recordings
from pinscar.decision.analysis import analyse
from pinscar.press import readers
from pinscar.press.handover import AHEAD_NAME, announce, hand_over
from pinscar.press.subject import read_inputs
from pinscar.shipped import shipped_folder

DEMO = shipped_folder("data_demo") / "conveyor_07"


@pytest.fixture
def folder(tmp_path):
    """The demo with one picture, one card and one recording."""
    shutil.copytree(DEMO, tmp_path / "c", ignore=shutil.ignore_patterns("*.jpg", "*.wav", "report*", ".pin*"))
    for name in ("micrographs/c07-02.jpg", "fling/c07-01.jpg", "sound/c07-01.wav"):
        (tmp_path / "c" / name).parent.mkdir(exist_ok=True)
        shutil.copy(DEMO / name, tmp_path / "c" / name)
    return tmp_path / "c"


@pytest.fixture
def place(folder, tmp_path, monkeypatch):
    """A private folder with what was handed over, for no kept readings."""
    monkeypatch.delenv(reading_cache.WANTED, raising=False)
    monkeypatch.setattr(os, "chdir", lambda place: None)
    monkeypatch.setattr(signal, "alarm", lambda seconds: None)
    private = tmp_path / "private"
    (private / AHEAD_NAME).mkdir(parents=True)
    hand_over(read_inputs(folder, {"folder": "."}), private)
    yield private
    announce(tmp_path)  # nothing is handed over there


def job(place, folder):
    return {"place": str(place), "folder": str(folder), "confidence": None, "timeout": 600.0}


def test_the_analysis_finds_all_that_was_read_ahead(folder, place, monkeypatch):
    assert readers.read_ahead(job(place, folder)) == 3
    assert len(list((place / AHEAD_NAME).glob("[0-9a-f]*"))) == 3
    assert readers.read_ahead(job(place, folder)) == 0  # each file is taken once
    assert not (folder / reading_cache.FOLDER).exists()
    for module, name in (
        (pictures, "measure_scar"), (pictures, "read_fling_card"), (recordings, "hear_quiet")
    ):  # fmt: skip
        monkeypatch.setattr(module, name, None)
    evidence = analyse(read_campaign(folder)).evidence
    assert evidence.micrographs[0].reading is not None
    assert evidence.cards[0].reading is not None
    assert evidence.recordings[0].heard.quiet_time is not None


def test_a_file_that_cannot_be_read_stops_no_reader(folder, place):
    (folder / "micrographs" / "c07-02.jpg").write_bytes(b"no picture")
    readers.read_ahead(job(place, folder))
    assert len(list((place / AHEAD_NAME).glob("[0-9a-f]*"))) == 2


def digests(report):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in report.iterdir()}


def with_sound(tmp_path, count):
    folder = tmp_path / "c"
    new_campaign(folder)
    (folder / "sound").mkdir()
    runs = [line.split(",")[0] for line in (folder / "runs.csv").read_text().splitlines()[1:]]
    source = shipped_folder("data_demo") / "conveyor_07" / "sound"
    for run, path in zip(runs, sorted(source.iterdir())[:count], strict=False):
        shutil.copy(path, folder / "sound" / f"{run}.wav")
    return folder


@pytest.mark.slow
def test_the_bytes_are_those_of_one_process_with_and_without_kept_readings(command, templates, tmp_path):
    folder = with_sound(tmp_path, 4)
    own = {"XDG_DATA_HOME": str(tmp_path / "data")}
    found = []
    for words in (("--no-cache",), ("--no-cache", "--jobs", 2), ("--jobs", 3), ("--jobs", 2)):
        done = command("report", folder, "--no-pdf", "-q", "-t", templates / "heard.ipynb", *words, env=own)
        assert (done.returncode, done.stderr) == (0, "")
        found.append(digests(folder / "report"))
    assert found[1:] == found[:1] * 3
    assert len(json.loads((folder / "report" / "results.json").read_text())["quiet"]) == 4


@pytest.mark.slow
def test_killed_while_it_reads_it_leaves_no_process_and_no_folder(
    command, templates, tmp_path, running_in_group
):
    import tempfile

    folder = with_sound(tmp_path, 8)
    short = tempfile.mkdtemp(dir="/tmp")
    try:
        words = ("report", folder, "--no-pdf", "--no-cache", "--jobs", 2, "-t", templates / "heard.ipynb")
        process = command.start(*words, env={"TMPDIR": short})
        end = time.monotonic() + 120
        while not (taken := list(readers.Path(short).glob("pinscar-*/*/taken-0"))):
            assert time.monotonic() < end
            assert process.poll() is None
            time.sleep(0.01)
        os.kill(process.pid, signal.SIGKILL)
        process.communicate()
        private = taken[0].parents[1]
        for _ in range(600):
            if not private.exists():
                break
            time.sleep(0.05)
        assert not private.exists()
        listed = [line for line in os.popen("ps -eo args").read().splitlines() if str(private) in line]
        assert listed == []
        assert not (folder / "report").exists()
    finally:
        shutil.rmtree(short, ignore_errors=True)
