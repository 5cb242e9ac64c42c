"""results.json: finite numbers of 12 digits, or an error that says where the other one is."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.errors import RunError
from pinscar.press.results import RESULTS_MIME, results_bytes, results_of, rounded


@given(st.floats(allow_nan=False, allow_infinity=False, allow_subnormal=False))
def test_twelve_digits_are_kept(value):
    assert math.isclose(rounded(value), value, rel_tol=5.1e-12)
    assert rounded(rounded(value)) == rounded(value)


def test_numpy_types_become_plain():
    found = rounded(
        {"n": np.int64(3), "yes": np.bool_(True), "x": np.float64(0.1) * 3, "all": (np.float32(0.5),)}
    )
    assert found == {"n": 3, "yes": True, "x": 0.3, "all": [0.5]}
    assert [type(value) for value in found.values()] == [int, bool, float, list]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, np.nan])
def test_what_is_no_number_is_refused_with_its_place(value):
    with pytest.raises(RunError, match=r"at summaries\[1\]\.ci_low; use null and say why"):
        rounded({"summaries": [{"ci_low": 1.0}, {"ci_low": value}]})


def test_other_types_are_refused():
    with pytest.raises(RunError, match="may not hold a set at runs"):
        rounded({"runs": {1}})


def test_order_and_letters_are_kept():
    data = results_bytes({"schema": "s", "overall": None, "a": "µ²"})
    assert data.decode() == '{\n  "schema": "s",\n  "overall": null,\n  "a": "µ²"\n}\n'
    assert list(json.loads(data)) == ["schema", "overall", "a"]


def test_results_of_another_schema_are_refused():
    output = {"data": {RESULTS_MIME: {"schema": "pinscar.results/0"}}}
    with pytest.raises(RunError, match="lack the schema"):
        results_of({"cells": [{"outputs": [output]}]})
