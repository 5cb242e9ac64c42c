"""One page over many reports: what each concluded, its film pressures over time, and what is stale."""

from __future__ import annotations

import json
import re
from datetime import date

import pytest

from pinscar.cli.main import run
from pinscar.errors import UsageError
from pinscar.press.inputs import input_hashes
from pinscar.press.manifest import NAME, make_manifest, manifest_bytes
from pinscar.shipped import find_template
from pinscar.study.index.page import points_by_load, write_index
from pinscar.study.index.reports import find_reports, read_report


def film(oil, load, estimate, low, high, censored=0):
    return {
        "lubricant": oil, "load_N": load, "response": "film_pressure", "unit": "MPa", "n": 6,
        "n_censored": censored, "estimate": estimate, "ci_low": low, "ci_high": high,
    }  # fmt: skip


def results(campaign, days, verdict, films, **more):
    limit = {
        "requirement": "film pressure of C-21 at 450 N at least 120 MPa",
        "verdict": verdict,
        "unit": "MPa",
    }
    limit |= {"estimate": 117.4, "ci_low": 105.9, "ci_high": 130.1}
    return {
        "schema": "pinscar.results/1",
        "campaign": {"id": campaign, "confidence": 0.95},
        "runs": [{"run_id": str(k), "run_day": day} for k, day in enumerate(days)],
        "summaries": films,
        "criteria": [limit] if verdict else [],
        "overall": verdict,
        "lubricants": [
            {"lubricant": "R-10", "role": "reference"},
            {"lubricant": "C-21", "role": "candidate"},
        ],
        **more,
    }


def put(folder, record):
    """A report as the press leaves it, of a campaign that is there."""
    (folder / "report").mkdir(parents=True)
    (folder / "campaign.toml").write_text("[campaign]\n")
    (folder / "runs.csv").write_text("run_id\n")
    files = {"report.html": b"<title>x</title>", "results.json": json.dumps(record).encode()}
    manifest = make_manifest(
        campaign=record["campaign"]["id"],
        template=find_template("campaign_report"),
        given={"folder": "."},
        parameters={"folder": "."},
        inputs=input_hashes(folder, {"folder": "."}),
        pdf=False,
    )
    files[NAME] = manifest_bytes(manifest, files)
    for name, data in files.items():
        (folder / "report" / name).write_bytes(data)
    return folder


@pytest.fixture
def lab(tmp_path):
    place = tmp_path / "lab"
    put(
        place / "spring",
        results(
            "spring-1",
            ["2026-03-02", "2026-03-04"],
            "met",
            [film("R-10", 450.1, 74.7, 62.0, 88.5), film("C-21", 450.1, 117.4, 105.9, 130.1)],
        ),
    )
    put(
        place / "autumn",
        results(
            "autumn <b>2",
            ["2026-09-01"],
            "undecided",
            [film("R-10", 450.9, 76.0, 70.0, 82.0), film("C-21", 600.2, None, None, 21.4, 6)],
        ),
    )
    put(place / "plain", results("plain-3", [], None, []))
    (place / "empty").mkdir()
    return place  # fmt: skip


def text_of(page):
    return re.sub(r"[\s ]+", " ", re.sub(r"<[^>]+>", " ", page.read_text(encoding="utf-8")))


def test_reports_are_found_in_and_below_folders(lab):
    wanted = [lab / name / "report" for name in ("autumn", "plain", "spring")]
    assert find_reports([lab]) == wanted
    assert find_reports([lab / "spring", lab / "spring" / "report", lab]) == [wanted[2], *wanted[:2]]
    with pytest.raises(UsageError, match="no report in"):
        find_reports([lab / "empty"])
    with pytest.raises(UsageError, match="not there"):
        find_reports([lab / "winter"])


def test_the_page_says_verdicts_limits_and_film_pressures(lab, tmp_path):
    (tmp_path / "pages").mkdir()
    write_index([lab], tmp_path / "pages" / "reports.html")
    page = tmp_path / "pages" / "reports.html"
    said, source = text_of(page), page.read_text(encoding="utf-8")
    assert "3 reports: 1 met, 1 undecided and 1 without release limits; all agree" in said
    assert 'href="../lab/spring/report/report.html"' in source
    assert "<b>2" not in source  # an id is text
    assert "autumn &lt;b&gt;2" in source
    assert "117 (106 to 130)" in said
    assert "at most 21.4" in said
    assert "6 (6 still wearing)" in said
    assert "2 to 4 March 2026" in said
    assert source.count("<script") <= 1


def test_points_stand_at_the_middle_day_and_near_loads_together(lab):
    found = points_by_load([read_report(place) for place in find_reports([lab])])
    assert list(found) == [450.1, 600.2]
    assert [(one.day, one.film.oil) for one in found[450.1]] == [
        (date(2026, 3, 4), "C-21"), (date(2026, 3, 4), "R-10"), (date(2026, 9, 1), "R-10")
    ]  # fmt: skip


def test_what_is_stale_is_named(lab, tmp_path):
    (lab / "spring" / "runs.csv").write_text("run_id\n1\n")
    (lab / "autumn" / "report" / "report.html").write_text("changed")
    (lab / "plain" / "report" / "results.json").write_text("{")
    write_index([lab], tmp_path / "reports.html")
    said = text_of(tmp_path / "reports.html")
    assert "data changed: runs.csv" in said
    assert "files changed: report.html" in said
    assert "its results.json cannot be read" in said
    assert "2 reports stale" in said


@pytest.mark.parametrize(
    "content",
    [
        "[]", '{"campaign": []}', '{"campaign": {"id": 3}, "summaries": 7}',
        '{"campaign": {}, "criteria": [1]}',
        '{"campaign": {}, "runs": [null]}', '{"campaign": {}, "lubricants": [{}]}',
    ],
)  # fmt: skip
def test_results_of_a_stranger_end_in_a_line(lab, tmp_path, content):
    (lab / "spring" / "report" / "results.json").write_text(content)
    write_index([lab], tmp_path / "reports.html")
    assert "cannot be read" in text_of(tmp_path / "reports.html")


def test_odd_days_and_numbers_draw_no_point(lab, tmp_path):
    record = results("odd", ["yesterday", "2026-13-40"], "met", [film("C-21", 450.0, True, "x", None)])
    (lab / "spring" / "report" / "results.json").write_text(json.dumps(record))
    write_index([lab / "spring"], tmp_path / "reports.html")
    assert "No report has film pressures" in text_of(tmp_path / "reports.html")


def test_the_same_reports_give_the_same_page_and_only_such_a_page_is_replaced(lab, tmp_path):
    page = tmp_path / "reports.html"
    write_index([lab], page)
    first = page.read_bytes()
    write_index([lab], page)
    assert page.read_bytes() == first
    page.write_text("<title>My own page</title>")
    with pytest.raises(UsageError, match="no page of this kind"):
        write_index([lab], page)


def test_the_command(lab, tmp_path, capsys):
    (lab / "spring" / "runs.csv").write_text("run_id\n1\n")
    assert run(["index", str(lab), "--out", str(tmp_path / "year.html")]) == 0
    assert capsys.readouterr().out == f"{tmp_path / 'year.html'}: 3 reports, 1 stale\n"
    assert run(["index", str(lab), "--out", str(tmp_path / "year.html"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["overall"] for one in told["reports"]] == ["undecided", None, "met"]
    assert run(["index", str(tmp_path / "nowhere")]) == 2
