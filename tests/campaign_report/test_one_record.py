"""One record: a report reads each evidence file once, and results.json holds every number of its tables."""

from __future__ import annotations

import copy
import shutil
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from table_walk import missing, tables
from template_run import run_template

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_demo" / "conveyor_07"
KEPT = {
    "micrographs": ("c07-01.jpg", "c07-11.jpg"),
    "fling": ("c07-01.jpg", "c07-22.jpg"),
    "sound": ("c07-06.wav", "c07-31.wav"),
    "traces": ("c07-06.csv", "c07-17.csv", "c07-32.csv"),
}
"""Enough evidence of each kind: one that is read, one that is refused; a run with both sound and a trace."""


@dataclass(frozen=True)
class Made:
    """What a template showed and handed over, and how often each reader was called for each file."""

    html: str
    results: dict[str, Any]
    read: Counter[tuple[str, str]]


def spied(monkeypatch: pytest.MonkeyPatch, read: Counter[tuple[str, str]]) -> None:
    """Count every call of a reader by the name of its file, and every evaluation of a trace."""

    def spy(place: str, name: str, told: Callable[..., str]) -> None:
        module = __import__(place, fromlist=[name])
        before = getattr(module, name)

        def counted(*given: Any, **options: Any) -> Any:
            read[name, told(*given, **options)] += 1
            return before(*given, **options)

        monkeypatch.setattr(module, name, counted)

    spy("PIL.Image", "open", lambda path, **_: str(path))
    spy("pinscar.decision.recordings", "read_recording", str)
    spy("pinscar.campaign.traces", "read_trace", lambda path, _: str(path))
    spy("pinscar.decision.traces", "_run_trace", lambda run, *_: run["run_id"])
    spy("pinscar.decision.traces", "friction_energy", lambda *given: f"{given[1].sum():.6f}")
    spy("pinscar.decision.traces", "friction_stop", lambda *given: f"{given[1].sum():.6f}")


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("record") / "campaign"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("report*", *KEPT))
    for kind, names in KEPT.items():
        (folder / kind).mkdir()
        for name in names:
            shutil.copy(DEMO / kind / name, folder / kind / name)
    return folder


@pytest.fixture(scope="module")
def made(folder) -> Made:
    read: Counter[tuple[str, str]] = Counter()
    with pytest.MonkeyPatch.context() as monkeypatch:
        spied(monkeypatch, read)
        html, results = run_template("campaign_report", folder, monkeypatch, detail="full")
    return Made(html, results, read)


def test_a_report_decodes_each_evidence_file_once(made):
    readers = {"micrographs": "open", "fling": "open", "sound": "read_recording", "traces": "read_trace"}
    wanted = {(readers[kind], f"{kind}/{name}") for kind, names in KEPT.items() for name in names}
    files = {key: times for key, times in made.read.items() if "/" in key[1]}
    assert files == dict.fromkeys(wanted, 1)


def test_a_report_evaluates_each_trace_once(made):
    per_trace = Counter(name for name, _ in made.read if name in ("_run_trace", "friction_energy"))
    assert per_trace == {"_run_trace": 3, "friction_energy": 3}
    times = {key: n for key, n in made.read.items() if key[0] in (*per_trace, "friction_stop")}
    assert set(times.values()) == {1}
    assert sum(name == "friction_stop" for name, _ in times) == 3


def test_every_number_of_the_tables_stands_in_results_json(made):
    count, lost = missing(made.html, made.results)
    assert lost == []
    # so that a walk that finds no tables, or no numbers in them, does not pass
    assert count > 1000
    walked = {table.key for table in tables(made.html)}
    assert walked >= {
        "runs", "film", "contact", "growth", "lubrication", "heat", "friction", "friction-energy",
        "trace-temperature", "sound", "micrographs", "fling-cards", "duty", "spread", "facts", "criteria",
    }  # fmt: skip


def test_the_curves_of_the_growth_chart_stand_in_results_json(made):
    """Each curve runs through the median quiet time, at the length that the table of results gives for it."""
    growth, curves = made.results["growth"], made.results["growth_chart"]["curves"]
    assert [(one["lubricant"], one["load_N"]) for one in curves] == [
        (one["lubricant"], one["load_N"]) for one in growth
    ]
    for row, curve in zip(growth, curves, strict=True):
        assert curve["length_mm"] == sorted(curve["length_mm"])
        through = np.interp(row["quiet_time_s"], curve["time_s"], curve["length_mm"])
        # A chord between 120 points of a bent curve lies this near to it.
        assert through == pytest.approx(row["quiet_length_mm"], rel=2e-3)


@pytest.mark.parametrize(("detail", "least"), [("standard", 800), ("brief", 60)])
def test_a_shorter_report_has_the_same_results_and_no_other_number(made, folder, detail, least):
    with pytest.MonkeyPatch.context() as monkeypatch:
        html, results = run_template("campaign_report", folder, monkeypatch, detail=detail)
    assert results == made.results
    count, lost = missing(html, results)
    assert lost == []
    assert count > least


@pytest.mark.parametrize(
    ("section", "key"),
    [
        ("film", "minimum_film_um"),
        ("heat", "flash_rise_high_K"),
        ("growth", "film_pressure_MPa"),
        ("friction", "mean"),
        ("recordings", "heard_s"),
        ("traces", "specific_friction_energy_kJ_per_mm3"),
        ("micrographs", "scar_length_mm"),
        ("fling_cards", "fling_area_mm2"),
        ("contact", "pressure_drop"),
    ],
)
def test_the_walk_misses_a_number_that_is_not_there(made, section, key):
    changed = copy.deepcopy(made.results)
    for entry in changed[section]:
        entry[key] = None
    _, lost = missing(made.html, changed)
    assert lost
