"""The shipped table of wrong "met" at the limit: within what is allowed, and made by the script beside it."""

from __future__ import annotations

import importlib.util
import sys
from importlib.resources import files
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / "tests" / "benchmarks" / "met_error_table.py"
TABLE = pd.read_csv(files("pinscar.stats").joinpath("data/met_error.csv"), comment="#")


@pytest.fixture(scope="module")
def script():
    spec = importlib.util.spec_from_file_location("met_error_table", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # a dataclass looks its module up
    spec.loader.exec_module(module)
    return module


def place(case) -> dict[str, object]:
    """What a row of the table says of a case."""
    names = ("rule", "n", "n_reference", "step", "censored", "days", "history", "oils", "zeros")
    return {name: getattr(case, name) for name in names} | {
        "spread": float(f"{case.spread:.3g}"),
        "layout": case.layout,
        "campaigns": case.campaigns,
    }


def rows() -> list[dict[str, object]]:
    return TABLE.fillna({"layout": ""}).drop(columns=["met_percent", "error"]).to_dict("records")


def test_every_row_is_a_case_of_the_script_with_all_its_campaigns(script) -> None:
    """The script has more cases than were drawn since the method last changed; no older row is shipped."""
    known = [place(case) for case in script.cases()]
    assert all(row in known for row in rows())
    assert len(rows()) > 80
    for kind in ("history", "days", "step", "censored"):
        assert (TABLE[kind] > 0).any()


def test_no_case_is_above_what_is_allowed_beyond_chance() -> None:
    """All cases, with and without history, blocks and censoring."""
    # Of ninety cases two lie above two standard errors by chance; 1.5 times that is three.
    assert (TABLE["met_percent"] - 1.5 * TABLE["error"] <= 2.5).all()
    assert ((TABLE["met_percent"] - TABLE["error"]) > 2.5).sum() <= 5


@pytest.mark.parametrize(
    "given",
    [
        {"rule": "value", "n": 3},
        {"rule": "value", "n": 3, "history": 0.5},
        {"rule": "ratio", "n": 8, "n_reference": 3, "spread": 3.0},
        {"rule": "mean ratio", "n": 4, "n_reference": 4},
        {"rule": "ratio", "n": 4, "n_reference": 5, "days": 3, "layout": "uneven"},
    ],
)
def test_a_case_drawn_anew_agrees_with_the_table(script, given: dict[str, object]) -> None:
    case = script.Case(**given)
    row = TABLE.iloc[rows().index(place(case))]
    rng = np.random.default_rng(8)
    share = sum(script.judged(case, rng) for _ in range(400)) / 400
    allowed = 4.0 * np.sqrt(0.03 * 0.97 / 400)
    assert share == pytest.approx(row["met_percent"] / 100.0, abs=allowed)
    assert share > 0.0 or row["met_percent"] < 1.0
