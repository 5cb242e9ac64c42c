"""A campaign folder comes out as the numbers and words that were put in, however it was written."""

from __future__ import annotations

import hashlib
import io
import math
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.campaign.model import Campaign
from pinscar.errors import InputError

TOML = (Path(__file__).parent.parent / "fixtures" / "campaigns" / "_good" / "campaign.toml").read_text(
    encoding="utf-8"
)

# SI value = number * factor + offset. Factors: SI prefixes; inch 25.4 mm and pound 0.45359237 kg exactly
# (international yard and pound agreement, 1959); kilogram-force 9.80665 N (3rd CGPM, 1901);
# degF: K = (F + 459.67) / 1.8.
UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "load": {"N": (1, 0), "kN": (1e3, 0), "kgf": (9.80665, 0), "lbf": (4.4482216152605, 0)},
    "duration": {"s": (1, 0), "min": (60, 0), "h": (3600, 0), "ms": (1e-3, 0)},
    "scar_length": {
        **{"mm": (1e-3, 0), "um": (1e-6, 0), "µm": (1e-6, 0), "μm": (1e-6, 0), "cm": (1e-2, 0)},
        **{"in": (0.0254, 0), "thou": (2.54e-5, 0)},
    },
    "scar_width": {"mm": (1e-3, 0), "inch": (0.0254, 0), "m": (1, 0)},
    "ring_speed": {
        **{"rpm": (math.pi / 30, 0), "rad/s": (1, 0), "deg/s": (math.pi / 180, 0)},
        **{"revolution/s": (2 * math.pi, 0), "rev/min": (math.pi / 30, 0)},
    },
    "peak_temperature": {
        **{"degC": (1, 273.15), "°C": (1, 273.15), "K": (1, 0)},
        **{"degF": (1 / 1.8, 459.67 / 1.8)},
    },
    "fling_mass": {"mg": (1e-6, 0), "g": (1e-3, 0), "kg": (1, 0)},
    "fling_area": {"mm^2": (1e-6, 0), "cm²": (1e-4, 0), "in^2": (0.0254**2, 0)},
    "dose": {"mL": (1e-6, 0), "mm³": (1e-9, 0), "uL": (1e-9, 0), "cm^3": (1e-6, 0)},
    "micrograph_scale": {"um/px": (1e-6, 0), "mm/px": (1e-3, 0)},
    "scale_bar": {"mm": (1e-3, 0), "um": (1e-6, 0)},
    "torque": {"N m": (1, 0), "N·mm": (1e-3, 0)},
    "viscosity": {"mm^2/s": (1e-6, 0), "mm²/s": (1e-6, 0), "cSt": (1e-6, 0)},
    "share": {"%": (1e-2, 0), "1": (1, 0)},
}

RANGES = {
    "load": (200.0, 900.0),
    "duration": (30.0, 90.0),
    "scar_length": (2e-3, 8e-3),
    "scar_width": (1e-3, 2e-3),
    "ring_speed": (20.0, 150.0),
    "peak_temperature": (290.0, 400.0),
    "fling_mass": (0.0, 5e-5),
    "fling_area": (0.0, 5e-3),
    "dose": (1e-6, 5e-6),
    "micrograph_scale": (1e-6, 5e-6),
    "scale_bar": (1e-4, 2e-3),
    "torque": (-3.0, 3.0),
    "viscosity": (1e-5, 1e-3),
    "share": (0.0, 1.0),
}


def write_campaign(folder: Path, runs: str | bytes, toml: str = TOML, name: str = "runs.csv") -> Path:
    (folder / "campaign.toml").write_text(toml, encoding="utf-8")
    (folder / name).write_bytes(runs if isinstance(runs, bytes) else runs.encode())
    return folder


def sizes(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers of a range as a bench gives them: zero, or no smaller than a billionth of the largest."""
    if low > 0.0:
        return st.floats(low, high)
    least = 1e-9 * high
    parts = [st.just(0.0), st.floats(least, high)]
    return st.one_of(parts if low == 0.0 else [*parts, st.floats(low, -least)])


@st.composite
def written_runs(draw: Any) -> tuple[dict[str, list[float]], list[str], list[list[float | str]]]:
    """Draw SI values for four runs and the way a header and its cells would show them."""
    values = {name: [draw(sizes(low, high)) for _ in range(4)] for name, (low, high) in RANGES.items()}
    header, columns = ["run_id", "lubricant"], [["a", "b", "c", "d"], ["R-10", "C-21", "R-10", "C-21"]]
    for name in draw(st.permutations(list(UNITS))):
        unit = draw(st.sampled_from(sorted(UNITS[name])))
        factor, offset = UNITS[name][unit]
        header.append(f"{name}{draw(st.sampled_from([' ', '  ', '']))}[{unit}]")
        columns.append([(value - offset) / factor for value in values[name]])
    return values, header, [list(row) for row in zip(*columns, strict=True)]


def assert_same(campaign: Campaign, values: dict[str, list[float]]) -> None:
    for name, expected in values.items():
        found = campaign.runs[name].to_numpy(dtype=float)
        np.testing.assert_allclose(
            found, expected, rtol=1e-12, atol=1e-12 * max(map(abs, RANGES[name])), err_msg=name
        )


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    drawn=written_runs(),
    separator=st.sampled_from([",", ";"]),
    comma=st.booleans(),
    bom=st.booleans(),
    end=st.sampled_from(["\n", "\r\n"]),
    quoted=st.booleans(),
    blank=st.booleans(),
)
def test_units_separators_and_marks_do_not_change_the_numbers(
    drawn: tuple[dict[str, list[float]], list[str], list[list[float | str]]],
    separator: str, comma: bool, bom: bool, end: str, quoted: bool, blank: bool,
) -> None:  # fmt: skip
    values, header, rows = drawn
    cells = [[repr(cell) if isinstance(cell, float) else str(cell) for cell in row] for row in rows]
    if comma and separator == ";":
        cells = [[cell.replace(".", ",") for cell in row] for row in cells]
    if quoted:
        cells = [[f'"{cell}"' for cell in row] for row in cells]
    lines = [separator.join(row) for row in [header, *cells]]
    if blank:
        lines.insert(2, separator * (len(header) - 1))
    text = ("\ufeff" if bom else "") + end.join(lines) + end
    with tempfile.TemporaryDirectory() as folder:
        campaign = read_campaign(write_campaign(Path(folder), text))
    assert_same(campaign, values)
    assert campaign.runs["row"].tolist() == ([2, 4, 5, 6] if blank else [2, 3, 4, 5])


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(drawn=written_runs())
def test_a_workbook_gives_the_numbers_of_the_csv(
    drawn: tuple[dict[str, list[float]], list[str], list[list[float | str]]],
) -> None:
    values, header, rows = drawn
    with tempfile.TemporaryDirectory() as folder:
        campaign = read_campaign(write_campaign(Path(folder), workbook([header, *rows]), name="runs.xlsx"))
    assert_same(campaign, values)


@pytest.mark.parametrize(
    ("header", "cell"),
    [
        ("fling_area [cm²]", "2.2250738585072014e-304"),
        ("fling_mass [mg]", "2.2250738585072014e-308"),
        ("torque [N m]", "-1e31"),
        ("share [%]", "1e33"),
        ("ring_speed [rpm]", "1e9"),
    ],
)
def test_a_size_that_no_measurement_gives_is_refused_with_its_cell(
    header: str, cell: str, good: Path
) -> None:
    path = good / "runs.csv"
    first, *rows = path.read_text(encoding="utf-8").splitlines()

    def errors(second: str) -> list[Any]:
        cells = ["700", second, "700", "700"]
        lines = [f"{first},{header}", *(f"{row},{text}" for row, text in zip(rows, cells, strict=True))]
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return [one for one in check_campaign(good)[1] if one.severity == "error"]

    assert errors("700") == []
    (found,) = errors(cell)
    assert (found.code, found.row, found.column, found.value) == ("value-out-of-range", 3, header, cell)
    assert found.message == "no measurement gives a number of this size"
    assert found.mend == "correct the value or the unit in the header"


def workbook(rows: list[list[Any]]) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_the_good_campaign_as_it_reads(good: Path) -> None:
    campaign = read_campaign(good)
    runs = campaign.runs
    assert campaign.problems == ()
    assert runs["run_id"].tolist() == ["h1", "h2", "h3", "h4"]
    assert runs["row"].tolist() == [2, 3, 4, 5]
    assert runs["wear_stopped"].tolist() == [True, True, True, False]
    assert runs["quiet_time"].tolist()[:3] == [41.0, 33.0, 44.0]
    assert math.isnan(runs["quiet_time"].tolist()[3])
    assert runs["run_day"].tolist() == ["2026-03-02", "2026-03-02", "2026-03-03", "2026-03-03"]
    assert runs["run_at"].tolist()[0] == pd.Timestamp("2026-03-02T08:10")
    assert runs["ring_speed"].tolist() == pytest.approx([700 * math.pi / 30] * 4, rel=1e-15, abs=0)
    assert runs["scar_from"].tolist() == ["runs"] * 4
    assert runs["excluded"].tolist() == [""] * 4
    assert campaign.units == {
        "load": "N", "duration": "s", "scar_length": "mm", "scar_width": "mm", "quiet_time": "s",
    }  # fmt: skip


def test_absent_columns_are_there_and_blank(good: Path) -> None:
    runs = read_campaign(good).runs
    assert runs["peak_temperature"].isna().all()
    assert runs["dose"].isna().all()
    assert (runs["smoke"] == "").all()
    assert (runs["pin_state"] == "").all()


def test_inputs_are_the_hashes_of_the_files(good: Path) -> None:
    (good / "traces").mkdir()
    (good / "traces" / "h1.csv").write_text("time [s],motor_power [W]\n0,120\n", encoding="utf-8")
    (good / "holiday.png").write_bytes(b"")
    inputs = read_campaign(good).inputs
    assert sorted(inputs) == ["campaign.toml", "runs.csv", "traces/h1.csv"]
    assert inputs["runs.csv"] == hashlib.sha256((good / "runs.csv").read_bytes()).hexdigest()


def test_all_problems_travel_with_the_error(edited: Callable[..., Path]) -> None:
    folder = edited("runs.csv", ("3.40", "x"), ("4.31", "y"))
    with pytest.raises(InputError) as caught:
        read_campaign(folder)
    assert [one.row for one in caught.value.problems] == [3, 4]
    assert caught.value.exit_status == 1


def test_an_excluded_run_may_be_blank_and_is_kept(edited: Callable[..., Path]) -> None:
    folder = edited(
        "runs.csv", ("h4,C-21,450,60,3.52,1.90,no,,2026-03-03T08:25,,", "h4,C-21,,,,,,,,pin slipped,")
    )
    runs = read_campaign(folder).runs
    assert runs["excluded"].tolist() == ["", "", "", "pin slipped"]
    assert runs["scar_length"].isna().tolist() == [False, False, False, True]


def test_weights_become_load_through_the_lever(edited: Callable[..., Path]) -> None:
    lever = 'ring_speed = "700 rpm"\nlever_ratio = 10\nhanger_mass = "800 g"'
    folder = edited("campaign.toml", ('ring_speed = "700 rpm"', lever))
    edited("runs.csv", ("load [N]", "weights [kg]"), (",450,", ",3.788,"))
    campaign = read_campaign(folder)
    # by hand: 9.80665 m/s^2 * (3.788 + 0.8) kg * 10
    assert campaign.runs["load"].tolist() == pytest.approx([449.929102] * 4, abs=1e-9)
    assert campaign.units["load"] == "N"


def test_weights_in_load_steps_use_the_same_lever(edited: Callable[..., Path]) -> None:
    lever = 'ring_speed = "700 rpm"\nlever_ratio = 10\nhanger_mass = "800 g"'
    folder = edited("campaign.toml", ('ring_speed = "700 rpm"', lever))
    steps = "run_id,start [min],weights [g]\nh1,0,2200\nh1,0.5,3788\n"
    (folder / "load_steps.csv").write_text(steps, encoding="utf-8")
    campaign = read_campaign(folder)
    assert campaign.load_steps["start"].tolist() == [0.0, 30.0]
    assert campaign.load_steps["load"].tolist() == pytest.approx([294.1995, 449.929102], abs=1e-9)


@pytest.mark.parametrize("load", ["300", "450"])
def test_the_load_of_a_stepped_run_is_its_last_steps(load: str, edited: Callable[..., Path]) -> None:
    folder = edited("runs.csv", ("h2,C-21,450", f"h2,C-21,{load}"))
    (folder / "load_steps.csv").write_text(
        "run_id,start [s],load [N]\nh2,0,300\nh2,20,450\n", encoding="utf-8"
    )
    assert read_campaign(folder).runs["load"].tolist() == [450.0] * 4


def test_a_stepped_run_may_leave_its_own_load_blank(edited: Callable[..., Path]) -> None:
    folder = edited("runs.csv", ("h2,C-21,450", "h2,C-21,"))
    (folder / "load_steps.csv").write_text(
        "run_id,start [s],load [N]\nh2,0,300\nh2,20,450\n", encoding="utf-8"
    )
    assert read_campaign(folder).runs["load"].tolist() == [450.0] * 4


def test_the_load_before_a_late_first_step_is_the_runs_own(edited: Callable[..., Path]) -> None:
    folder = edited("runs.csv", ("h2,C-21,450", "h2,C-21,300"))
    (folder / "load_steps.csv").write_text("run_id,start [s],load [N]\nh2,20,450\n", encoding="utf-8")
    campaign = read_campaign(folder)
    assert campaign.runs["load"].tolist() == [450.0] * 4
    assert campaign.load_steps.to_dict("list") == {
        "run_id": ["h2"] * 2,
        "start": [0.0, 20.0],
        "load": [300.0, 450.0],
    }


def test_a_table_of_steps_without_rows_is_no_error(good: Path) -> None:
    (good / "load_steps.csv").write_text("run_id,start [s],load [N]\n", encoding="utf-8")
    campaign = read_campaign(good)
    assert campaign.load_steps.empty
    assert list(campaign.load_steps.columns) == ["run_id", "start", "load"]


def test_a_blank_scar_is_the_mean_of_the_readers_means(edited: Callable[..., Path]) -> None:
    folder = edited("runs.csv", ("3.40,1.82", ","))
    readings = "run_id,reader,scar_length [um],scar_width [mm]\nh2,A,3400,1.8\nh2,A,3500,1.9\nh2,B,3600,\n"
    (folder / "readings.csv").write_text(readings, encoding="utf-8")
    campaign = read_campaign(folder)
    run = campaign.runs.iloc[1]
    # A's mean 3.45 mm and B's 3.60 mm give 3.525 mm; a plain mean would be 3.50 mm
    assert run["scar_length"] == pytest.approx(3.525e-3, rel=1e-12, abs=0)
    assert run["scar_width"] == pytest.approx(1.85e-3, rel=1e-12, abs=0)
    assert campaign.runs["scar_from"].tolist() == ["runs", "readings", "runs", "runs"]
    assert campaign.readings["reading"].tolist() == ["1", "2", "1"]


def test_an_own_column_keeps_its_unit_and_a_text_column_its_text(edited: Callable[..., Path]) -> None:
    folder = edited(
        "runs.csv", ("note", "torque [N cm],shaken"), (",,\n", ",,120,yes\n"), (",,squeal", ",,80,no")
    )
    campaign = read_campaign(folder)
    assert campaign.runs["torque"].tolist() == pytest.approx([1.2, 1.2, 1.2, 0.8], rel=1e-15, abs=0)
    assert campaign.units["torque"] == "N cm"
    assert campaign.runs["shaken"].tolist() == ["yes", "yes", "yes", "no"]
    assert "shaken" not in campaign.units


def test_the_clock_time_is_kept_as_written(edited: Callable[..., Path]) -> None:
    folder = edited("runs.csv", ("2026-03-02T08:10", "2026-03-02T23:50+09:00"))
    runs = read_campaign(folder).runs
    assert runs["run_at"].tolist()[0] == pd.Timestamp("2026-03-02T23:50")
    assert runs["run_day"].tolist()[0] == "2026-03-02"


def test_dates_of_a_workbook_are_dates(tmp_path: Path) -> None:
    header = [
        "run_id",
        "lubricant",
        "load [N]",
        "duration [s]",
        "scar_length [mm]",
        "scar_width [mm]",
        "run_at",
    ]
    when = pd.Timestamp("2026-03-02T08:10").to_pydatetime()
    rows = [[101, "R-10", 450, 60, 4.1, None, when], [102, "C-21", 450, 60.0, "3.4", 1.8, "2026-03-03"]]
    runs = read_campaign(write_campaign(tmp_path, workbook([header, [], *rows]), name="runs.xlsx")).runs
    assert runs["run_id"].tolist() == ["101", "102"]
    assert runs["run_day"].tolist() == ["2026-03-02", "2026-03-03"]
    assert runs["scar_length"].tolist() == pytest.approx([4.1e-3, 3.4e-3], rel=1e-12, abs=0)
    assert runs["row"].tolist() == [3, 4]


PIECES = ["h2", "R-10", "450", "60", "3.40", "yes", "33", "2026-03-02T08:30", ",", "\n", "load [N]"]
ODDITIES = [
    *("", "-1", "1e999", "nan", "\0", '"', "''", "=1+1", "1,5", "1.200,5", "#DIV/0!", "0x10", "١٢", "row"),
    *("[mm]", "load [m^9^9^9]", "load []", "load [", "[N]", "\r", ";;;;", "\u2028", "\ufeff", "excluded"),
    *("9999-12-31", "0001-01-01", "scar_length [mm]", "x [degC]", "x [degC/s]"),
]


@settings(max_examples=80, deadline=None)
@given(
    old=st.sampled_from(PIECES),
    new=st.one_of(st.text(max_size=8), st.sampled_from(ODDITIES)),
    count=st.sampled_from([1, 2, -1]),
)  # fmt: skip
def test_no_edit_of_the_runs_makes_the_reader_stumble(old: str, new: str, count: int) -> None:
    text = (Path(__file__).parent.parent / "fixtures" / "campaigns" / "_good" / "runs.csv").read_text(
        encoding="utf-8"
    )
    with tempfile.TemporaryDirectory() as folder:
        edited = text.replace(old, new, count).encode("utf-8", "surrogatepass")
        campaign, problems = check_campaign(write_campaign(Path(folder), edited))
    assert (campaign is None) == any(one.severity == "error" for one in problems)
    for one in problems:
        assert "pydantic" not in str(one).lower()
        assert one.message
        assert one.mend
