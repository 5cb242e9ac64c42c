"""Traces: read in any unit, with gaps, whatever else the recorder wrote; problems by file, row and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
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


def put_parquet(folder: Path, run: str = "h1", **columns: object) -> Path:
    (folder / "traces").mkdir(exist_ok=True)
    frame = pd.DataFrame({name.replace("__", " [") + "]": values for name, values in columns.items()})
    frame.to_parquet(folder / "traces" / f"{run}.parquet", index=False)
    return folder


def test_a_parquet_trace_reads_like_its_csv(good: Path) -> None:
    rng = np.random.default_rng(3)
    frame = pd.DataFrame(
        {
            "time [min]": np.sort(rng.uniform(0.0, 1.0, 40)),
            "friction_force [N]": np.where(np.arange(40) % 7, rng.normal(45.0, 3.0, 40), np.nan),
            "temperature [degF]": pd.Series(rng.normal(90.0, 9.0, 40), dtype="float32"),
            "state": "run",
        }
    )
    (good / "traces").mkdir()
    frame.to_csv(good / "traces" / "h1.csv", index=False)
    frame.set_index("time [min]").to_parquet(good / "traces" / "h2.parquet")
    campaign, problems = check_campaign(good)
    assert problems == []
    pd.testing.assert_frame_equal(campaign.traces["h1"], campaign.traces["h2"], rtol=1e-6)
    assert len(campaign.inputs["traces/h2.parquet"]) == 64


def test_problems_of_a_parquet_trace_name_row_column_and_value(good: Path) -> None:
    put_parquet(
        good, time__s=[0, 30, 30], friction_force__N=["50", "44 N", "40"], temperature__degC=[[21]] * 3
    )
    campaign, problems = check_campaign(good)
    assert campaign is None
    assert [(one.code, one.file, one.row, one.column, one.value) for one in problems] == [
        ("parquet-type", "traces/h1.parquet", None, "temperature [degC]", None),
        ("value-not-a-number", "traces/h1.parquet", 3, "friction_force [N]", "44 N"),
        ("trace-order", "traces/h1.parquet", 4, "time [s]", None),
    ]


@pytest.mark.parametrize("cut", [0, 3, 40, 0.5, -1])
def test_a_damaged_parquet_trace_is_a_problem(good: Path, cut: float) -> None:
    path = put_parquet(good, time__s=[0, 60], friction_force__N=[50.0, 40.0]) / "traces" / "h1.parquet"
    whole = path.read_bytes()
    path.write_bytes(whole[: round(len(whole) * cut) if isinstance(cut, float) else cut])
    assert [one.code for one in check_campaign(good)[1]] == ["parquet-unreadable"]
    damaged = bytearray(whole)
    damaged[len(whole) // 2] ^= 0xFF  # somewhere in the pages or in the footer
    path.write_bytes(bytes(damaged))
    check_campaign(good)  # whatever it then says, it says it without a traceback


def test_of_two_traces_of_a_run_the_csv_is_read_and_the_other_named(good: Path) -> None:
    put(good, "time [s],friction_force [N]\n0,50\n60,40\n")
    put_parquet(good, time__s=[0, 60], friction_force__N=[99.0, 99.0])
    campaign, problems = check_campaign(good)
    assert [(one.code, one.file) for one in problems] == [("evidence-twice", "traces/h1.parquet")]
    assert "this one is not read" in problems[0].message
    assert campaign.traces["h1"]["friction_force"].tolist() == [50.0, 40.0]


def test_a_tail_of_the_unloaded_pin_is_no_overrun(good: Path) -> None:
    text = "time [s],friction_force [N]\n" + "".join(f"{t},{45 if t <= 60 else 1}\n" for t in range(90))
    assert check_campaign(put(good, text))[1] == []


@pytest.mark.parametrize("response", ["friction_coefficient", "friction_energy"])
def test_a_limit_on_friction_asks_for_a_trace(good: Path, response: str) -> None:
    toml = good / "campaign.toml"
    text = (
        toml.read_text(encoding="utf-8").replace("film_pressure", response).replace('at least"', 'at most"')
    )
    limit = '"4 kJ"' if response == "friction_energy" else "0.1"
    toml.write_text(text.replace('"60 MPa"', limit), encoding="utf-8")
    (problem,) = check_campaign(good)[1]
    assert (problem.code, problem.mend[:32]) == ("response-without-data", "put traces with friction_force [")
    assert check_campaign(put(good, "time [s],friction_force [N]\n0,50\n60,40\n", "h2"))[1] == []
