"""The readers against made-up text, numbers and structures: their own errors, or a value that is sound."""

from __future__ import annotations

import contextlib
import json
import math
import tempfile
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.columns import READINGS, RUNS
from pinscar.campaign.frames import read_frame
from pinscar.campaign.scar_readings import Reading, with_reading
from pinscar.campaign.tables import parse_csv
from pinscar.campaign.toml_file import read_toml
from pinscar.errors import PinscarError, UsageError, has_hidden, look, visible
from pinscar.press.difference import report_changes, told
from pinscar.press.json_file import read_json
from pinscar.press.page_numbers import unlike_numbers
from pinscar.press.request import checked_parameters, parse_assignments
from pinscar.press.template import Parameter
from pinscar.press.verify import read_manifest
from pinscar.units import DIMENSIONS, UnitError, parse_quantity, to_si, to_unit

SOME = settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
    database=None,
)
UNITS = st.sampled_from(
    ["mm", "µm", "N", "kgf", "s", "degC", "rpm", "mm^2/s", "1/GPa", "%", "px", "dB", "J/(kg K)"]
)
LETTERS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
NUMBERS = st.one_of(
    st.floats().map(repr),
    st.integers().map(str),
    st.from_regex(r"[+-]?\d{0,4}[.,]?\d{0,4}(e-?\d{1,3})?", fullmatch=True),
)
JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=20,
)


@SOME
@given(st.one_of(st.tuples(NUMBERS, UNITS).map(" ".join), LETTERS), st.sampled_from([None, *DIMENSIONS]))
def test_a_quantity_is_a_number_or_an_error_of_ours(text, dimension):
    try:
        found = parse_quantity(text, dimension)
    except UnitError as error:
        assert error.message
        assert error.mend
    else:
        assert isinstance(found, float)
        assert not math.isnan(found)


@SOME
@given(
    st.floats(-1e6, 1e6),
    st.sampled_from(["mm", "kgf", "min", "degC", "rpm", "mm^2/s", "1/GPa", "%", "um/px"]),
)
def test_a_unit_there_and_back_is_the_same_number(number, unit):
    there = to_si([number], unit)
    np.testing.assert_allclose(to_unit(there, unit), [number], rtol=1e-9, atol=1e-6)


HEADERS = st.sampled_from(
    [
        *(column.header for column in (*RUNS, *READINGS)),
        "own",
        "own [mm]",
        "load",
        "load [kg]",
        "[mm]",
        "a[b]c",
        "",
    ]
)
CELLS = st.one_of(
    NUMBERS, LETTERS, st.sampled_from(["yes", "no", "", "R-10", "2026-03-02T08:10", '"', "x,y", "1,5"])
)


@SOME
@given(
    st.lists(HEADERS, min_size=1, max_size=6),
    st.lists(st.lists(CELLS, max_size=7), max_size=6),
    st.sampled_from(",;\t"),
)
def test_a_table_is_read_or_refused(headers, rows, separator):
    text = "\n".join(separator.join(row) for row in [headers, *rows])
    table, problems = parse_csv(text, "runs.csv")
    if table is not None:
        read = read_frame(table, RUNS)
        problems += read.problems
        for name in read.units:
            assert not np.isinf(read.frame[name].to_numpy(dtype=float)).any()
    assert all(not has_hidden(one.message) for one in problems)


VALUES = st.one_of(
    st.integers(-(10**20), 10**20),
    st.booleans(),
    LETTERS,
    st.tuples(NUMBERS, UNITS).map(" ".join),
    st.just([]),
    st.just({}),
)
KEYS = st.sampled_from(
    ["id", "reference", "geometry", "pin_diameter", "load", "rule", "limit", "control", "block", "x"]
)


SECTIONS = st.sampled_from(["campaign", "rig", "lubricants", "criteria", "service", "claims", "y"])
CONTENTS = st.one_of(
    st.dictionaries(KEYS, VALUES, max_size=5),
    st.lists(st.dictionaries(KEYS, VALUES, max_size=4), max_size=2),
    VALUES,
)


@SOME
@given(st.dictionaries(SECTIONS, CONTENTS))
def test_settings_are_read_or_refused(content):
    text = "\n".join(f"{key} = {_toml(value)}" for key, value in content.items())
    file, problems = read_toml(text)
    assert (file is None) == bool(problems)
    assert all(len(str(one)) < 3000 for one in problems)


def _toml(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_toml(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value) if isinstance(value, (str, bool)) else str(value)


@SOME
@given(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), min_size=1, max_size=20),
       st.floats(1e-4, 0.01), st.sampled_from([True, False]))  # fmt: skip
def test_a_reading_that_is_added_is_read_again(reader, size, semicolons):
    if not (reader.strip() and reader.isprintable()) or visible(reader) != reader:
        return
    text = with_reading("", Reading("h1", reader, size, size / 2), "1", semicolons=semicolons)
    table, problems = parse_csv(text, "readings.csv")
    assert table is not None
    assert problems == []
    frame = read_frame(table, READINGS).frame
    assert frame["reader"].tolist() == [
        " ".join(reader.replace("\u00a0", " ").replace("\u202f", " ").split(" ")).strip()
    ]
    # a reading is written to the micrometre
    np.testing.assert_allclose(frame["scar_length"], [size], rtol=0, atol=5.1e-7)


@SOME
@given(
    JSON, st.sampled_from(["schema", "outputs", "inputs", "template", "versions", "given", "pdf", "digest"])
)
def test_a_manifest_of_any_content_is_read_or_refused(value, key):
    with tempfile.TemporaryDirectory() as place:
        content = {"schema": "pinscar.manifest/1", "outputs": {}, key: value}
        (Path(place) / "manifest.json").write_text(json.dumps(content))
        (Path(place) / "results.json").write_text(json.dumps({"runs": value, "overall": value}))
        try:
            read_manifest(Path(place))
            list(told(report_changes(Path(place), Path(place))))
        except PinscarError as error:
            assert "\n" not in str(error)


@SOME
@given(JSON)
def test_results_of_any_content_are_compared_with_a_page(value):
    page = '<div class="table" id="table-runs"><table><thead><tr><th>Run</th></tr></thead><tbody>'
    page += "<tr><td>1</td></tr></tbody></table></div>"
    for name in ("runs", "criteria", "summaries", "comparisons", "overall"):
        list(unlike_numbers(page, {name: value}))


@SOME
@given(st.binary(max_size=200))
def test_bytes_are_json_or_refused(data):
    with tempfile.NamedTemporaryFile() as file:
        Path(file.name).write_bytes(data)
        with contextlib.suppress(ValueError):
            assert isinstance(read_json(Path(file.name)), dict)


@SOME
@given(
    st.text(max_size=40),
    st.sampled_from(["str", "int", "float", "list[str]", "dict[str, float]", "float | None"]),
)
def test_a_parameter_is_of_its_type_or_refused(text, annotation):
    declared = {"x": Parameter("x", annotation, None)}
    try:
        json.dumps(
            checked_parameters(declared, parse_assignments([f"x={text}"], declared), "t"), allow_nan=False
        )
    except UsageError as error:
        assert str(error)


@SOME
@given(st.text(max_size=30))
def test_what_is_made_visible_stays_so_and_names_look_like_themselves(text):
    shown = visible(text, layout=False)
    assert visible(shown, layout=False) == shown
    assert not has_hidden(shown)
    shown.encode("utf-8")
    assert look(look(text)) == look(text)


@SOME
@given(st.lists(st.tuples(CELLS, CELLS, NUMBERS, NUMBERS), min_size=1, max_size=4))
def test_a_folder_is_read_or_refused(rows):
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        head = "run_id,lubricant,load [N],scar_length [mm],duration [s],scar_width [mm]"
        lines = [",".join((*row, "60", "2.2")) for row in rows]
        (folder / "runs.csv").write_text("\n".join([head, *lines]), encoding="utf-8")
        (folder / "campaign.toml").write_text('[campaign]\nid = "f"\nreference = "R-10"\n')
        found, problems = check_campaign(folder)
        assert (found is None) == any(one.severity == "error" for one in problems)
