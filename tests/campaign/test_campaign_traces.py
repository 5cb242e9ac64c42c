"""Traces: read in any unit, with gaps, whatever else the recorder wrote; problems by file, row and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pinscar.campaign.campaign import check_campaign, read_campaign


def put(folder: Path, text: str, run: str = "h1") -> Path:
    (folder / "traces").mkdir(exist_ok=True)
    (folder / "traces" / f"{run}.csv").write_text(text, encoding="utf-8")
    return folder


def test_units_are_turned_to_si_and_gaps_stay_gaps(good: Path) -> None:
    text = "time [min];friction_force [kgf];temperature [degF]\n0;5,0;68\n0,25;;86\n1;4,0;\n"
    trace = read_campaign(put(good, text)).traces["h1"]
    assert trace["time"].tolist() == [0.0, 15.0, 60.0]
    # 1 kgf = 9.80665 N (3rd CGPM, 1901); 68 degF = 20 degC, 86 degF = 30 degC by definition
    np.testing.assert_allclose(trace["friction_force"], [49.03325, np.nan, 39.2266], rtol=1e-12)
    np.testing.assert_allclose(trace["temperature"], [293.15, 303.15, np.nan], rtol=1e-12)
    assert trace["motor_power"].isna().all()


def test_what_pinscar_does_not_read_cannot_stop_it(good: Path) -> None:
    text = "time [s],friction_force [N],humidity [%rH],state,channel 7\n0,50,x,run,1\n60,40,y,run,2\n"
    campaign, problems = check_campaign(put(good, text))
    assert problems == []
    assert list(campaign.traces["h1"].columns) == ["time", "friction_force", "motor_power", "temperature"]


def test_problems_name_file_row_column_and_value(good: Path) -> None:
    text = "time [s],friction force [N],temperature [degC]\n0,50,21\n30,44,n/a\n,40,-300\n"
    campaign, problems = check_campaign(put(good, text, "h3"))
    assert campaign is None
    assert [(one.code, one.file, one.row, one.column, one.value) for one in problems] == [
        ("column-near-miss", "traces/h3.csv", 1, "friction force [N]", None),
        ("value-missing", "traces/h3.csv", 4, "time [s]", None),
        ("value-not-a-number", "traces/h3.csv", 3, "temperature [degC]", "n/a"),
        ("value-out-of-range", "traces/h3.csv", 4, "temperature [degC]", "-300"),
    ]


@pytest.mark.parametrize("header", ["friction_force", "friction_force [kg]", "motor_power [N m]"])
def test_a_header_without_its_unit_is_refused(good: Path, header: str) -> None:
    _, problems = check_campaign(put(good, f"time [s],{header}\n0,50\n60,40\n"))
    assert [one.code for one in problems] in (["unit-missing"], ["unit-wrong"])


def test_a_column_wrong_throughout_is_one_line(good: Path) -> None:
    rows = "".join(f"{second},\u2014\n" for second in range(300))
    _, problems = check_campaign(put(good, "time [s],friction_force [N]\n" + rows))
    assert len(problems) <= 2
    assert "and 296 more" in problems[0].message


def test_the_trace_of_an_excluded_run_is_not_read(good: Path) -> None:
    runs = good / "runs.csv"
    text = runs.read_text(encoding="utf-8").replace("2026-03-03T08:05,,", "2026-03-03T08:05,rig shook,")
    runs.write_text(text, encoding="utf-8")
    campaign, problems = check_campaign(put(good, "nonsense\n", "h3"))
    assert (campaign.traces, problems) == ({}, [])


def test_a_trace_answers_for_the_temperature_rise(good: Path) -> None:
    toml = good / "campaign.toml"
    text = toml.read_text(encoding="utf-8").replace("film_pressure", "temperature_rise")
    toml.write_text(text.replace('at least"', 'at most"').replace("60 MPa", "40 K"), encoding="utf-8")
    assert [one.code for one in check_campaign(good)[1]] == ["response-without-data"]
    assert check_campaign(put(good, "time [s],temperature [degC]\n0,21\n60,50\n", "h2"))[1] == []
    assert "traces/h2.csv" in read_campaign(good).inputs
