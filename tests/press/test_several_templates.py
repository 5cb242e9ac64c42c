"""Templates that take several folders: one report beside them, complete, checkable, the same again."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from pinscar.errors import UsageError
from pinscar.press.build import build_reports
from pinscar.press.request import Outcome, make_requests
from pinscar.press.template import read_template
from pinscar.press.verify import rerun_differences, verify_report
from pinscar.shipped import find_template

DATA = Path(__file__).resolve().parents[2] / "data_demo"
SERIES = {"rig_control": "rig_control", "product_range": "range", "formulation_study": "formulation"}


def folders_of(place: Path) -> list[Path]:
    return sorted(path for path in place.iterdir() if path.is_dir())


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Each template with its demo series, reported once."""
    found = {}
    for name, series in SERIES.items():
        place = tmp_path_factory.mktemp(name) / series
        shutil.copytree(DATA / series, place, ignore=shutil.ignore_patterns("report*", ".*"))
        found[name] = place
        (outcome,) = made(name, place)
        assert outcome.status == 0, outcome.errors
    return found


def made(name: str, place: Path) -> list[Outcome]:
    template = read_template(find_template(name))
    told: list[Outcome] = []
    requests = make_requests(folders_of(place), template, {}, out=None, pdf=False, timeout=600)
    build_reports(requests, template.modules, 1, told.append)
    return told


def differences(report: Path, around: Path) -> list[str]:
    """What verify tells, but for pinscar's own code: whoever works on that while the tests run changes it."""
    return [str(one) for one in verify_report(report, around) if one.kind != "code"]


def pages(report: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in report.iterdir() if path.name != "manifest.json"}


@pytest.mark.page
@pytest.mark.parametrize("name", SERIES)
def test_axe_finds_nothing_on_the_page_of_a_series(places: dict[str, Path], name: str, axe) -> None:
    assert axe(places[name] / f"report-{name}" / "report.html") == []


@pytest.mark.parametrize("name", SERIES)
def test_one_report_lies_beside_the_campaigns(places: dict[str, Path], name: str) -> None:
    report = places[name] / f"report-{name}"
    assert {path.name for path in report.iterdir()} == {
        "report.html", "report.ipynb", "results.json", "tables.xlsx", "manifest.json",
    }  # fmt: skip
    manifest = json.loads((report / "manifest.json").read_text())
    campaigns = [path.name for path in folders_of(places[name]) if path != report]
    assert manifest["given"]["folders"] == campaigns
    assert {name.split("/")[0] for name in manifest["inputs"]} == set(campaigns)


@pytest.mark.parametrize("name", SERIES)
def test_made_again_over_the_whole_folder_it_is_the_same(places: dict[str, Path], name: str) -> None:
    report = places[name] / f"report-{name}"
    assert differences(report, places[name]) == []
    before = pages(report)
    (outcome,) = made(name, places[name])  # the earlier report is among the folders now, and passed over
    assert outcome.status == 0
    assert pages(report) == before


def test_a_rerun_elsewhere_gives_the_same_bytes(places: dict[str, Path]) -> None:
    assert rerun_differences(places["product_range"] / "report-product_range", places["product_range"]) == []


def test_changed_runs_are_told(places: dict[str, Path], tmp_path: Path) -> None:
    place = Path(shutil.copytree(places["rig_control"], tmp_path / "again"))
    runs = place / "2025-09" / "runs.csv"
    runs.write_text(runs.read_text().replace("60,", "61,", 1))
    assert differences(place / "report-rig_control", place) == ["the input 2025-09/runs.csv differs"]


def test_the_rig_report_says_what_its_results_say(places: dict[str, Path]) -> None:
    report = places["rig_control"] / "report-rig_control"
    results = json.loads((report / "results.json").read_text())
    html = (report / "report.html").read_text().replace("\N{NO-BREAK SPACE}", " ")
    (period,) = results["out_of_control"]
    assert period["first_day"] == "2025-12-09"
    assert f"scar area {100 * (period['ratio_or_difference'] - 1):.0f} % larger than usual" in html
    assert results["overall"] is None
    assert len(results["charts"][0]["points"]) == 40


def test_the_range_report_says_what_its_results_say(places: dict[str, Path]) -> None:
    report = places["product_range"] / "report-product_range"
    results = json.loads((report / "results.json").read_text())
    html = (report / "report.html").read_text().replace("\N{NO-BREAK SPACE}", " ")
    html = re.sub(r'<span class="nowrap">(.*?)</span>', r"\1", html)
    first = results["levels"][0]["range"][0]
    assert (
        f"scar area of {first['lubricant']} about {100 * (1 - first['ratio_as_run']):.0f} % smaller" in html
    )
    for sentence in results["study"]["left_out"]:
        assert sentence.replace("'", "&#39;") in html or sentence in html


def test_problems_name_the_campaign_they_are_in(places: dict[str, Path], tmp_path: Path) -> None:
    place = Path(shutil.copytree(places["rig_control"], tmp_path / "again"))
    shutil.rmtree(place / "report-rig_control")
    (place / "2025-08" / "runs.csv").unlink()
    (place / "2025-09" / "campaign.toml").unlink()
    (outcome,) = made("rig_control", place)
    assert outcome.status == 1
    assert [line.split(":")[0] for line in outcome.errors] == ["2025-08/runs.csv", "2025-09/campaign.toml"]
    assert not (place / "report-rig_control").exists()


def test_a_folder_given_twice_is_refused(places: dict[str, Path]) -> None:
    one = folders_of(places["rig_control"])[0]
    template = read_template(find_template("rig_control"))
    with pytest.raises(UsageError, match="given twice"):
        make_requests([one, one], template, {}, out=None, pdf=False, timeout=60)
