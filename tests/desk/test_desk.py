"""A campaign at the desk: what `pinscar.open` gives, and how it tells what is wrong."""

from __future__ import annotations

import shutil
import subprocess
import sys

import matplotlib
import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest

import pinscar
from pinscar.decision.results import results
from pinscar.errors import InputError, UsageError

matplotlib.use("Agg")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return pinscar.demo("conveyor_07", into=tmp_path_factory.mktemp("desk"))


@pytest.fixture
def quick(tmp_path):
    """The demo without pictures and recordings, whose reading takes most of a report's time."""
    copy = pinscar.demo("conveyor_07", into=tmp_path)
    for evidence in ("micrographs", "sound", "fling"):
        shutil.rmtree(copy / evidence)
    return copy


@pytest.fixture(scope="module")
def desk(folder):
    return pinscar.open(folder)


@pytest.fixture(autouse=True)
def close_figures():
    yield
    plt.close("all")


def test_importing_pinscar_loads_nothing_slow():
    heavy = ("numpy", "pandas", "matplotlib", "pint", "ipywidgets", "pinscar.desk.campaign")
    code = f"import sys, pinscar; print([name for name in {heavy} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_every_numeric_column_of_the_runs_tells_its_unit(desk):
    runs = desk.runs
    numeric = {name for name in runs.columns if runs[name].dtype.kind == "f"}
    assert numeric - runs.attrs["units"].keys() == set()


def test_the_runs_are_si_and_can_be_had_in_the_units_of_the_file(desk):
    first = desk.runs.set_index("run_id").loc["c07-01"]
    # c07-01 as typed: 3.79 kg of plates on a hanger of 0.8 kg, lever 10, 60 s, 3.78 mm by 2.03 mm, 53 degC
    assert first["load"] == pytest.approx(9.80665 * (3.79 + 0.8) * 10, rel=1e-12)
    assert first["scar_length"] == pytest.approx(3.78e-3, rel=1e-12)
    shown = desk.runs_in_units({"load": "kgf"}).set_index("run_id").loc["c07-01"]
    assert shown["load [kgf]"] == pytest.approx((3.79 + 0.8) * 10, rel=1e-9)
    assert shown["scar_length [mm]"] == pytest.approx(3.78, rel=1e-9)
    assert shown["scar_area [mm^2]"] == pytest.approx(np.pi / 4 * 3.78 * 2.03, rel=1e-9)
    assert shown["peak_temperature [degC]"] == pytest.approx(53.0, rel=1e-9)


def test_pint_quantities_on_request_carry_their_units_along(desk):
    runs = desk.runs_in_units(pint=True)
    pressure = (runs["load"] / runs["scar_area"]).iloc[0]
    assert pressure.to("MPa").magnitude == pytest.approx(desk.runs["scar_pressure"].iloc[0] * 1e-6, rel=1e-9)
    column = desk.quantity("load") / desk.quantity("scar_area")
    assert column.check("[pressure]")
    np.testing.assert_allclose(column.to("Pa").magnitude, desk.runs["scar_pressure"], rtol=1e-9)


@pytest.mark.parametrize(
    ("units", "said"),
    [
        ({"load": "mm"}, "load is in N, which can't be told in mm"),
        ({"laod": "N"}, "did you mean 'load'"),
        ({"load": "nonsuch"}, "load: "),
        ({"lubricant": "N"}, "no column with a unit"),
    ],
)
def test_units_that_do_not_fit_are_said(desk, units, said):
    with pytest.raises(UsageError, match=said):
        desk.runs_in_units(units)


@pytest.mark.parametrize(
    ("method", "key"),
    [
        ("summaries", "summaries"),
        ("compare", "comparisons"),
        ("criteria", "criteria"),
        ("audit", "audit"),
        ("claims", "claims"),
    ],
)
def test_tables_hold_what_results_json_holds_and_show_it_as_the_report_does(desk, method, key):
    table = getattr(desk, method)()
    records = results(desk.analysis)[key]
    assert len(records) == len(table) > 0
    pd.testing.assert_frame_equal(table.frame, pd.DataFrame(records))
    html = table._repr_html_()
    assert "<table" in html
    assert 'class="pinscar"' in html


def test_a_scar_is_predicted_between_the_loads_that_were_run(desk):
    table = desk.predict_scar("60 s", "500 N", "C-22")
    (row,) = table.frame.to_dict("records")
    runs = desk.runs[(desk.runs["lubricant"] == "C-22") & (desk.runs["excluded"] == "")]
    lengths = runs.groupby(runs["load_level"].round())["scar_length"].median() * 1e3
    assert lengths[450] < row["scar_length_mm"] < lengths[600]
    assert row["single_low_mm"] < row["low_mm"] < row["scar_length_mm"]
    assert row["scar_length_mm"] < row["high_mm"] < row["single_high_mm"]
    html = table._repr_html_()
    assert "Scar to expect after 60.0 s at 500 N" in html
    assert "not the error of the model" in html


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("60 s", "500 mm"), "load: '500 mm' does not measure a force"),
        (("0 s", "500 N"), "must be above zero; got 0 s and 500 N"),
        (("60 s", "500 N", "C-99"), "no included run of an oil 'C-99'; there are R-10"),
    ],
)
def test_a_prediction_that_makes_no_sense_is_refused_in_a_line(desk, arguments, said):
    with pytest.raises(UsageError, match=said):
        desk.predict_scar(*arguments)


def test_one_response_is_compared_with_words_and_method(desk):
    table = desk.compare("scar_area")
    assert set(table.frame["response"]) == {"scar_area"}
    assert "within blocks" in table._repr_html_()
    assert "smaller" in table._repr_html_()


def test_summaries_of_named_responses_only(desk):
    assert set(desk.summaries("film_pressure").frame["response"]) == {"film_pressure"}
    with pytest.raises(UsageError, match=r"no run has the response 'scararea'; did you mean 'scar_area'\?$"):
        desk.summaries("scararea")


def test_the_campaign_shows_question_verdict_and_answer(desk):
    html = desk._repr_html_()
    assert "May C-21 replace R-10 on the oven line?" in html
    assert "47 runs (1 excluded), 4 oils" in html
    assert f"release limits: {desk.analysis.verdict}" in repr(desk)


@pytest.mark.parametrize("name", ["film_pressure", "scar_area", "ratio", "contact", "growth"])
def test_charts_take_axes_and_give_them_back(desk, name):
    _, given = plt.subplots(2, 1)
    drawn = getattr(desk.plot, name)(ax=given)
    assert drawn == list(given)
    assert all(axes.lines for axes in given)
    assert [axes.get_title(loc="left") for axes in given] == ["at 450 N", "at 600 N"]
    _, one = plt.subplots()
    assert getattr(desk.plot, name)(ax=one, load=450) is one


def test_charts_make_a_figure_of_their_own(desk):
    axes = desk.plot.film_pressure()
    assert len(axes) == 2
    assert plt.fignum_exists(axes[0].figure.number)
    labels = [tick.get_text() for tick in axes[0].get_yticklabels()]
    assert {label.split("\n")[0] for label in labels} == {"R-10", "C-21", "C-22", "B-05"}


def test_charts_say_how_many_axes_are_wanted(desk):
    _, one = plt.subplots()
    with pytest.raises(UsageError, match="2 loads and 1 axes"):
        desk.plot.film_pressure(ax=one)
    with pytest.raises(UsageError, match="nothing was run at 500 N"):
        desk.plot.film_pressure(load=500)


@pytest.fixture
def broken(tmp_path):
    copy = pinscar.demo("conveyor_07", into=tmp_path)
    runs = copy / "runs.csv"
    runs.write_text(runs.read_text().replace("scar_length [mm]", "scar_length").replace(",60,", ",sixty,", 1))
    return copy


def test_a_folder_with_errors_is_a_table_and_no_traceback(broken):
    with pytest.raises(InputError) as caught:
        pinscar.open(broken)
    lines = caught.value._render_traceback_()
    assert "weight" in lines[2]
    assert "how to mend it" in lines[2]
    assert any("runs.csv" in line and "scar_length" in line for line in lines[3:])
    # the duration that is no number is told once, and no trace is measured by it
    assert lines[0] == "Nothing was computed: 2 problems to mend or check."
    assert not any("nan" in line for line in lines)
    assert not any("Traceback" in line for line in lines)


def test_problems_can_be_looked_at_without_an_error(broken, folder):
    table = pinscar.check(broken)
    assert len(table) == len(pinscar.check(broken).frame) >= 2
    assert {"file", "row", "column", "message", "mend"} <= set(table.frame.columns)
    assert "How to mend it" in table._repr_html_()
    assert pinscar.check(folder)._repr_html_()


def test_the_demo_is_copied_once_and_what_is_changed_there_is_kept(tmp_path):
    copy = pinscar.demo("conveyor_07", into=tmp_path)
    (copy / "mine.txt").write_text("kept")
    assert pinscar.demo("conveyor_07", into=tmp_path) == copy
    assert (copy / "mine.txt").read_text() == "kept"
    assert not (copy / "report").exists()
    with pytest.raises(UsageError, match="did you mean 'conveyor_07'"):
        pinscar.demo("conveyor_70", into=tmp_path)


def test_the_report_is_made_step_by_step_and_linked(quick, monkeypatch):
    monkeypatch.chdir(quick.parent)
    steps = []
    report = pinscar.open(quick).report(pdf=False, progress=steps.append)
    assert report.page.is_file()
    assert report.overall == "not met"
    assert 'href="conveyor_07/report/report.html"' in report._repr_html_()
    done = [step["done"] for step in steps]
    assert done == sorted(done)
    assert done[-1] == steps[-1]["of"] - 1
    assert steps[-1]["text"] == "laying out the page"


def test_a_report_of_a_folder_that_broke_meanwhile_names_the_problems(desk, tmp_path):
    copy = pinscar.demo("conveyor_07", into=tmp_path)
    opened = pinscar.open(copy)
    (copy / "runs.csv").unlink()
    with pytest.raises(InputError) as caught:
        opened.report(pdf=False)
    assert any(problem.file == "runs.csv" for problem in caught.value.problems)


class TestPanel:
    """The one button."""

    def test_it_makes_the_report_and_shows_the_link(self, quick, monkeypatch):
        from pinscar.desk.report import Panel

        monkeypatch.chdir(quick.parent)
        panel = Panel(".")
        panel.with_pdf.value = False
        seen = []
        panel.progress.observe(lambda change: seen.append(change["new"]), names="value")
        panel.button.click()
        assert (quick / "report" / "report.html").is_file()
        assert len(set(seen)) > 10
        assert panel.progress.value == panel.progress.max
        assert "conveyor_07/report/report.html" in panel.outcome.value
        assert not panel.button.disabled

    def test_errors_are_shown_and_the_button_waits(self, broken):
        from pinscar.desk.report import Panel

        panel = Panel(broken.parent)
        assert panel.button.disabled
        assert "How to mend it" in panel.problems.value
        runs = broken / "runs.csv"
        mended = runs.read_text().replace(",scar_length,", ",scar_length [mm],").replace(",sixty,", ",60,")
        runs.write_text(mended)
        panel.again.click()
        assert not panel.button.disabled

    def test_a_folder_without_campaigns_is_said(self, tmp_path):
        from pinscar.desk.report import Panel

        with pytest.raises(UsageError, match=r"no campaign\.toml"):
            Panel(tmp_path)
