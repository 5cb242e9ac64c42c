"""A false reading among those kept gets into a report that uses it, and `verify --rerun` finds it out."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import shutil

import pytest

from pinscar.bench.prepare import new_campaign
from pinscar.decision import reading_cache
from pinscar.evidence.sound import QuietHeard
from pinscar.shipped import shipped_folder


@pytest.fixture
def mine(tmp_path, monkeypatch):
    """A person with a key of their own, also in this process."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    reading_cache.own_key.cache_clear()
    yield {"XDG_DATA_HOME": str(tmp_path / "data")}
    reading_cache.own_key.cache_clear()


def digests(report):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in report.iterdir()}


@pytest.mark.slow
def test_a_poisoned_reading_is_noticed_when_the_report_is_made_again(command, templates, mine, tmp_path):
    folder = tmp_path / "c"
    new_campaign(folder)
    (folder / "sound").mkdir()
    run = (folder / "runs.csv").read_text().splitlines()[1].split(",")[0]
    shutil.copy(
        shipped_folder("data_demo") / "conveyor_07" / "sound" / "c07-01.wav", folder / "sound" / f"{run}.wav"
    )
    make = ("report", folder, "--no-pdf", "-q", "-t", templates / "heard.ipynb")
    again = ("verify", folder / "report", "--rerun", "-t", templates / "heard.ipynb")

    def made(*words):
        done = command(*make, *words, env=mine)
        assert (done.returncode, done.stderr) == (0, "")
        return digests(folder / "report")

    without = made("--no-cache")
    assert not (folder / reading_cache.FOLDER).exists()
    assert made() == without
    (place,) = (
        path
        for path in (folder / reading_cache.FOLDER).iterdir()
        if path.name not in (".gitignore", "results")
    )
    assert made() == without
    assert command(*again, env=mine).returncode == 0

    secret = reading_cache.own_key()
    (heard,) = reading_cache.load(place, secret)
    assert isinstance(heard, QuietHeard)
    reading_cache.store(place, secret, [dataclasses.replace(heard, quiet_time=3.25)])
    assert made() != without
    assert json.loads((folder / "report" / "results.json").read_text())["quiet"] == [[run, 3.25]]
    done = command(*again, env=mine)
    assert done.returncode == 3
    assert any("results.json" in line for line in done.stderr.splitlines())
    assert made("--no-cache") == without
