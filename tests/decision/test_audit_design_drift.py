"""Drift of the reference where a rank correlation has nothing to follow."""

from __future__ import annotations

import warnings

import pandas as pd
import pytest

from pinscar.decision.audit_design import reference_drift


def runs(areas: list[float], hours: list[int]) -> pd.DataFrame:
    """Make runs of the reference."""
    return pd.DataFrame(
        {
            "run_id": [f"h{n}" for n in range(len(areas))],
            "lubricant": "R-10",
            "load_level": 450.0,
            "run_at": [pd.Timestamp(2026, 3, 2, hour) for hour in hours],
            "scar_area": areas,
        }
    )


@pytest.mark.parametrize(
    ("areas", "hours"), [([2e-6] * 6, [8, 9, 10, 11, 12, 13]), ([1e-6, 2e-6, 3e-6, 4e-6, 5e-6], [8] * 5)]
)
def test_equal_scars_or_one_moment_tell_no_drift_and_warn_of_nothing(
    areas: list[float], hours: list[int]
) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert not list(reference_drift(runs(areas, hours), "R-10"))


def test_scars_that_grow_with_time_are_a_drift() -> None:
    (finding,) = reference_drift(runs([1e-6, 2e-6, 3e-6, 4e-6, 5e-6], [8, 9, 10, 11, 12]), "R-10")
    assert finding.values["correlation"] == pytest.approx(1.0)
