"""results.json holds every number in the tables of the studies."""

from __future__ import annotations

import copy
import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest
from table_walk import missing, tables
from template_run import run_template

DEMO = Path(__file__).resolve().parents[2] / "data_demo"
STUDIES = {
    "precision_study": ("precision_02", {"precision-1", "percent-1", "differences-1", "tests-1", "cells-1"}),
    "reading_study": ("reading_03", {"components", "readers", "anova", "bias", "schemes"}),
    "rig_control": ("rig_control", {"periods", "limits", "rules", "points", "campaigns"}),
    "product_range": ("range", {"range-1", "references-1", "ratios-1", "campaigns"}),
    "formulation_study": (
        "formulation",
        {
            "forms-1",
            "forms-2",
            "effects",
            "terms",
            "left-out",
            "viscosity",
            "tradeoff",
            "next",
            "weigh-out",
            "batches",
        },
    ),
    "plan": ("conveyor_07", {"sheet-1", "sheet-2", "days", "steps", "pilot"}),
}
"""By template: its demo folder, and the tables that the walk must have seen."""


def parameters(template: str, folder: Path) -> Mapping[str, object]:
    """Give what the template must be told of the folder."""
    if template == "plan":
        return {"pilot": "."}
    if template in ("rig_control", "product_range", "formulation_study"):
        return {"folders": sorted(str(one) for one in folder.iterdir())}
    return {}


@pytest.fixture(scope="module", params=STUDIES)
def made(request, tmp_path_factory):
    template = request.param
    source, wanted = STUDIES[template]
    folder = tmp_path_factory.mktemp("study") / source
    evidence = ("report*", "micrographs", "sound", "traces", "fling")
    shutil.copytree(DEMO / source, folder, ignore=shutil.ignore_patterns(*evidence))
    with pytest.MonkeyPatch.context() as monkeypatch:
        html, results = run_template(template, folder, monkeypatch, **parameters(template, folder))
    return html, results, wanted


def test_every_number_of_a_studys_tables_stands_in_results_json(made):
    html, results, wanted = made
    count, lost = missing(html, results, study=True)
    assert lost == []
    # so that a walk that finds no tables, or no numbers in them, does not pass
    assert count > 90
    assert wanted <= {table.key for table in tables(html)}


def test_the_walk_misses_a_section_that_is_gone(made):
    html, results, _ = made
    fixed = ("schema", "campaign", "campaigns", "overall", "problems", "study")
    section = next(
        name
        for name, value in results.items()
        if name not in fixed and isinstance(value, list) and value and isinstance(value[0], dict)
    )
    changed = copy.deepcopy(results)
    changed[section] = []
    assert missing(html, changed, study=True)[1]
