"""Traces beyond the room for them are read again when asked for, and tell the same."""

from __future__ import annotations

import pickle
import shutil
from dataclasses import fields

import pandas as pd
import pytest

from pinscar.campaign import traces
from pinscar.campaign.campaign import read_campaign
from pinscar.decision.evaluate import evaluate_with_traces
from pinscar.errors import RunError
from pinscar.shipped import shipped_folder

DEMO = shipped_folder("data_demo") / "conveyor_07"


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(
        DEMO, tmp_path / "demo", ignore=shutil.ignore_patterns("report*", "micrographs", "fling", "sound")
    )
    return tmp_path / "demo"


def told(folder):
    campaign = read_campaign(folder)
    return campaign, evaluate_with_traces(campaign)


def test_what_is_not_kept_tells_the_same(folder, monkeypatch):
    kept, (runs, ours) = told(folder)
    assert set(kept.traces.kept) == set(kept.traces) != set()
    monkeypatch.setattr(traces, "KEPT_BYTES", 0)
    again, (runs_again, others) = told(folder)
    assert not again.traces.kept
    assert set(again.traces) == set(kept.traces)
    pd.testing.assert_frame_equal(runs, runs_again)
    assert all(one.kept is None for one in others)
    for one, other in zip(ours, others, strict=True):
        pd.testing.assert_frame_equal(one.trace, other.trace)
        same = {field.name for field in fields(one)} - {"kept", "again"}
        assert all(repr(getattr(one, name)) == repr(getattr(other, name)) for name in same)


def test_only_the_first_are_kept_where_there_is_room_for_some(folder, monkeypatch):
    sizes = [int(one.memory_usage().sum()) for one in read_campaign(folder).traces.values()]
    monkeypatch.setattr(traces, "KEPT_BYTES", sum(sizes[:2]))
    found = read_campaign(folder).traces
    assert list(found.kept) == list(found)[:2]


def test_they_are_handed_over_to_another_process(folder, monkeypatch):
    monkeypatch.setattr(traces, "KEPT_BYTES", 0)
    found = read_campaign(folder).traces
    over = pickle.loads(pickle.dumps(found))
    name = next(iter(found))
    pd.testing.assert_frame_equal(over[name], found[name])


def test_a_trace_that_went_away_is_one_line(folder, monkeypatch):
    monkeypatch.setattr(traces, "KEPT_BYTES", 0)
    found = read_campaign(folder).traces
    shutil.rmtree(folder / "traces")
    with pytest.raises(RunError, match=r"traces/c07-01\.csv was read before, and can't be read now"):
        found["c07-01"]
