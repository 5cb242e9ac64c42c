"""One run at the desk, and the tables of responses and evidence."""

from __future__ import annotations

import html
import re

import matplotlib
import matplotlib.pyplot as plt
import numpy as np
import pytest

import pinscar
from pinscar.errors import UsageError

matplotlib.use("Agg")


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    copy = pinscar.demo("conveyor_07", into=tmp_path_factory.mktemp("run"))
    # a few pictures are read sooner than all
    kept = {"micrographs": ("c07-01", "c07-08"), "fling": ("c07-01", "c07-17", "c07-22")}
    for folder, names in kept.items():
        for path in (copy / folder).iterdir():
            if path.stem not in names:
                path.unlink()
    return pinscar.open(copy)


@pytest.fixture(scope="module")
def pages(desk):
    return {name: desk.run(name)._repr_html_() for name in ("c07-01", "c07-08", "c07-17")}


@pytest.fixture(autouse=True)
def close_figures():
    yield
    plt.close("all")


def words(page):
    """The text of a page, its tags and pictures taken away."""
    text = re.sub(r"<style>.*?</style>|<[^>]*>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(text).replace("\u2007", "").replace("\u2008", "").split())


def cells(page, head):
    """The cells of the row of a table that begins with these words."""
    for row in re.findall(r"<tr[^>]*>(.*?)</tr>", page, flags=re.DOTALL):
        found = [words(cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, flags=re.DOTALL)]
        if found[0] == head:
            return found
    raise AssertionError(f"no row {head!r}")


def test_a_run_shows_its_numbers_beside_those_of_its_oil(desk, pages):
    page = pages["c07-01"]
    assert "Run c07-01: R-10 at 450 N" in page
    # scar of 3.78 mm by 2.03 mm under 450.1 N: pi/4 L W, and force over that
    area = np.pi / 4 * 3.78 * 2.03
    found = cells(page, "Scar area [mm²]")
    assert found[1] == f"{area:.2f}"
    assert cells(page, "Scar pressure [MPa]")[1] == f"{9.80665 * 45.9 / area:.1f}"
    row = desk.summaries("scar_area").frame.query("lubricant == 'R-10' and load_N < 500").iloc[0]
    # Two figures of the width: 1.9 mm^2 here, so one decimal.
    assert 1.0 < row["ci_high"] - row["ci_low"] < 9.9
    ends = f"({row['ci_low']:.1f} to {row['ci_high']:.1f})"
    assert found[2] == f"{row['estimate']:.1f} {ends}"
    assert found[3] == str(row["n"]) == "6"
    assert cells(page, "Friction energy [J]")[2:] == ["single run", "1"]


def test_a_run_shows_what_was_typed_and_what_was_not(pages):
    page = pages["c07-08"]
    assert cells(page, "scar length [mm]") == ["scar length [mm]", "8.36"]
    assert cells(page, "run at")[1] == "2026-04-14 09:58"
    assert cells(page, "wear stopped")[1] == "no"
    text = words(page)
    assert "Blank: quiet time, excluded, sound gain, fling area." in text
    assert "No trace and no recording and no fling card of this run is in the folder." in text


def test_flags_findings_and_bounds_are_told_in_words(pages):
    page = pages["c07-08"]
    assert "Wear was still running at the end" in page
    assert "B-05 at 600 N was run for 40 s against 60 s for the reference" in page
    pressure = cells(page, "Scar pressure [MPa]")[1]
    assert cells(page, "Film pressure [MPa]")[1] == f"at most {pressure}"
    assert cells(page, "Quiet time [s]")[1] == "at least 40.0"


def test_an_excluded_run_says_why(desk):
    run = desk.run("c07-10")
    assert "Excluded: Hanger touched the frame in the first seconds, load not known." in words(
        run._repr_html_()
    )
    assert "excluded: hanger touched" in repr(run)
    assert run.trace is None
    assert run.recording is None


def test_evidence_is_shown_with_its_numbers(pages):
    text = words(pages["c07-17"])
    # typed in runs.csv: quiet after 21 s, peak 46 degC, fling area 441 mm²
    assert re.search(r"quiet after 2[12]\.\d \(2[12]\.\d to 2[12]\.\d\) s \(typed 21 s\)", text)
    assert re.search(r"temperature peaked at 4[56]\.\d °C", text)
    assert re.search(r"123 drops, covered 4\d\d\.\d mm² .* \(typed 441 mm²\)", text)
    seen = words(pages["c07-01"])
    assert re.search(r"length 3\.7\d ± 0\.0\d mm \(typed 3\.78\)", seen)


def test_a_run_gives_its_readings_to_compute_with(desk):
    run = desk.run("c07-01")
    assert run.values["scar_length"] == pytest.approx(3.78e-3)
    assert run.values.attrs["units"]["scar_length"] == "m"
    assert run.trace.attrs["units"]["friction_force"] == "N"
    energy = np.trapezoid(run.trace["friction_force"], run.trace["time"]) * run.values["sliding_speed"]
    assert energy == pytest.approx(run.values["friction_energy"], rel=1e-9)
    # Typed by hand when the noise stopped; the recording tells it to a window or two.
    assert run.recording.quiet_time == pytest.approx(45.0, abs=2.0)
    # Rendered to the typed scar; two readings of one scar differ by about 1 %.
    assert run.scar.length == pytest.approx(3.78e-3, rel=0.02)
    # The typed area stands for a reading by another method: the two may differ by some per cent.
    assert run.fling.fling_area == pytest.approx(248e-6, rel=0.1)


def test_charts_of_a_run_take_axes_and_give_them_back(desk):
    run = desk.run("c07-01")
    _, grid = plt.subplots(2, 3)
    assert run.plot_trace(grid[:, 0]) == list(grid[:, 0])
    assert grid[0, 0].get_xlim() == (0.0, 60.0)
    assert run.plot_sound(grid[0, 1]) is grid[0, 1]
    assert run.plot_scar(grid[0, 2]) is grid[0, 2]
    assert run.plot_fling(grid[1, 2]) is grid[1, 2]
    assert grid[0, 2].images
    assert grid[1, 2].images
    assert len(run.plot_trace()) == 2
    with pytest.raises(UsageError, match="needs 2 axes, not 1"):
        run.plot_trace(grid[0, 1])


@pytest.mark.parametrize("chart", ["trace", "sound", "scar", "fling"])
def test_a_chart_of_what_is_not_there_says_where_it_belongs(desk, chart):
    with pytest.raises(UsageError, match=r"c07-47 has no .* (lie in|RUN_ID)"):
        getattr(desk.run("c07-47"), f"plot_{chart}")()


def test_a_wrong_name_is_answered_with_the_nearest(desk):
    with pytest.raises(
        UsageError, match=r"did you mean 'c07-01'\? \(there are 47: c07-01 … c07-47\)"
    ) as caught:
        desk.run("C07_1")
    assert caught.value._render_traceback_() == [str(caught.value)]


def test_responses_are_listed_and_those_on_request_can_be_had(desk):
    listed = desk.responses.frame.set_index("response")
    assert listed.loc["friction_energy", ["unit", "n", "shown"]].tolist() == ["J", 6, False]
    assert (
        listed.loc["film_pressure", "n_censored"] == desk.runs.query("excluded == ''")["left_censored"].sum()
    )
    assert "friction_energy" not in set(desk.summaries().frame["response"])
    assert set(desk.summaries("friction_energy").frame["unit"]) == {"J"}
    assert desk.plot.response("heating_rate", load=450).lines
    assert set(desk.compare("friction_energy").frame["response"]) == {"friction_energy"}


@pytest.mark.parametrize(
    ("table", "folder"),
    [("traces", "traces"), ("recordings", "sound"), ("micrographs", "micrographs"), ("fling_cards", "fling")],
)
def test_evidence_is_a_table_with_a_row_a_file(desk, table, folder):
    found = getattr(desk, table)()
    assert set(found.frame["run_id"]) == {path.stem for path in (desk.folder / folder).iterdir()}
    assert "<img" in found._repr_html_()


def test_a_campaign_without_evidence_says_so(tmp_path):
    import shutil

    copy = pinscar.demo("conveyor_07", into=tmp_path)
    for name in ("traces", "sound", "micrographs", "fling"):
        shutil.rmtree(copy / name)
    desk = pinscar.open(copy)
    for name in ("traces", "recordings", "micrographs", "fling_cards"):
        table = getattr(desk, name)()
        assert len(table) == 0
        assert re.search('<p class="finding">No (included )?run', table._repr_html_())
