"""The laboratory's report and the person's own text: each statement once, and nothing that acts."""

from __future__ import annotations

import math
import re
import shutil
from pathlib import Path

import pytest

from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.campaign_report import laboratory, own_text
from pinscar.decision.analysis import analyse
from pinscar.decision.record import Analysis
from pinscar.decision.results import results
from pinscar.page.outline import page_parts

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_demo" / "conveyor_07"
REPORT = """
[report]
laboratory = "Example Bench Laboratory (invented)"
address = ["12 Mill Lane", "Exampletown"]
place = "at the laboratory, bench 2"
customer = ["Example Conveyors (invented)", "3 Oven Road"]
order = "PO 4711"
number = "2026-014"
revision = 2
replaces = "2026-014, revision 1"
reason = "One run is excluded."
issued = 2026-04-24
author = "A. Author"
approver = "B. Approver"
method = { document = "Bench instruction BI-12", edition = "edition 3" }
deviations = []
environment = "relative humidity 45 to 55 %"
sampling = "by the customer"
supplied_by_customer = ["viscosities of all oils"]
external = []
opinions = ["Try C-21 on one conveyor first"]
"""


def bare(text: str) -> str:
    """Leave out the demo's own head, which stands last, and its samples."""
    kept = text.split("[report]")[0].splitlines(keepends=True)
    return "".join(line for line in kept if not line.startswith("sample = "))


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """The demo campaign without its evidence, with a laboratory's head and one sample."""
    folder = tmp_path_factory.mktemp("laboratory") / "campaign"
    folder.mkdir()
    for name in ("campaign.toml", "runs.csv", "load_steps.csv", "readings.csv"):
        shutil.copy(DEMO / name, folder / name)
    path = folder / "campaign.toml"
    text = bare(path.read_text(encoding="utf-8"))
    oil = 'id = "C-21"\nrole = "candidate"\n'
    sample = (
        'sample = { description = "ester oil", batch = "21-0426", condition = "sealed", '
        "received = 2026-04-09 }"
    )
    path.write_text(text.replace(oil, f"{oil}{sample}\n", 1) + REPORT, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def analysis(folder: Path) -> Analysis:
    return analyse(read_campaign(folder))


@pytest.fixture(scope="module")
def html(analysis: Analysis) -> str:
    parts = (laboratory.letterhead, laboratory.statements, laboratory.end)
    return "\n".join(part(analysis).data for part in parts)


def plain(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html).replace("\N{NO-BREAK SPACE}", " "))


@pytest.mark.parametrize(
    "words",
    [
        "The results relate only to the items tested",
        "shall not be reproduced except in full",
        "End of test report 2026-014, revision 2",
        "guarded acceptance and guarded rejection",
        "U = k u with k = 2",
        "opinions and interpretations, and no results",
        "does not answer for it",
        "Bench instruction BI-12, edition 3",
        "By the customer.",
        "ester oil",
        "9 April 2026",
        "24 April 2026",
        "12 Mill Lane",
        "Example Conveyors (invented)",
        "PO 4711",
        "A. Author",
        "B. Approver",
        "One run is excluded",
        "relative humidity 45 to 55 %",
        "Try C-21 on one conveyor first",
        "by design in at most 2.5 % of such campaigns",
    ],
)
def test_each_thing_that_a_test_report_must_say_stands_once(html: str, words: str) -> None:
    assert plain(html).count(words) == 1


def test_what_is_not_said_is_told_and_never_filled_in(html: str) -> None:
    items = html[html.index('id="table-items"') : html.index("Tests made at")]
    rows = re.findall(r"<tr>(.*?)</tr>", items.split("<tbody>")[1])
    told = {re.findall(r">([\w-]+)<", row)[0]: row.count("not stated") for row in rows}
    assert told == {"R-10": 5, "B-05": 5, "C-22": 5, "C-21": 1}


def test_the_letterhead_is_taken_over_the_title(html: str) -> None:
    parts = page_parts(f"<p>before</p>{html}")
    assert parts.letterhead.startswith(
        '<div class="letterhead" data-number="Test report 2026-014, revision 2"'
    )
    assert "letterhead" not in parts.front + parts.rest


def test_without_a_head_nothing_is_shown_and_nothing_stands_in_the_results(
    folder: Path, tmp_path: Path
) -> None:
    mine = tmp_path / "campaign"
    shutil.copytree(folder, mine)
    text = (mine / "campaign.toml").read_text(encoding="utf-8")
    (mine / "campaign.toml").write_text(bare(text), encoding="utf-8")
    analysis = analyse(read_campaign(mine))
    for part in (laboratory.letterhead, laboratory.statements, laboratory.end, own_text.appendix):
        assert part(analysis).data == ""
    assert "report" not in results(analysis, files=False)


def test_a_brief_test_report_says_in_short_what_holds_for_it(analysis: Analysis) -> None:
    text = plain(laboratory.statements(analysis, "brief").data)
    for words in (
        "C-21 (ester oil, batch 21-0426, sealed, received 9 April 2026)",
        "Bench instruction BI-12, edition 3",
        "relate only to the items tested",
        "shall not be reproduced except in full",
        "Met is wrong in at most 2.5 % of such campaigns",
        "simplified report (ISO/IEC 17025:2017, 7.8.1.3, from memory)",
        "does not answer for it",
    ):
        assert text.count(words) == 1
    assert "<h" not in laboratory.statements(analysis, "brief").data


def test_the_expanded_uncertainty_is_that_of_the_law_of_propagation(analysis: Analysis) -> None:
    # JCGM 100:2008, 5.1.6: relative variances of a product add. Area ~ length x width, both read apart
    # with u = 0.03 mm; pressure = load / area with 1 % on the load. k = 2. Within 1 %: a few of the runs
    # were read by two readers, which makes their uncertainty smaller and moves the median a little.
    found = results(analysis, files=False)["report"]["expanded_uncertainty"]
    runs = analysis.included
    checked = 0
    for one in found:
        if one["response"] not in ("scar_area", "scar_pressure") or one["lubricant"] != "C-21":
            continue
        own = runs[(runs["lubricant"] == "C-21") & (runs["load_level"] == one["load_N"])]
        area = 1e-3 * 0.03 * ((own["scar_length"] ** -2 + own["scar_width_used"] ** -2) ** 0.5)
        share = float((area if one["response"] == "scar_area" else (area**2 + 0.01**2) ** 0.5).median())
        assert math.isclose(one["expanded_uncertainty"], 2.0 * share * one["value"], rel_tol=1e-2)
        checked += 1
    assert checked == 4


NOTES = """# Bench

See [the log](javascript:alert(1) "t"), <b onclick="x">bold</b> and ![inline](pictures/ring.png).

![The ring <after> run 12](pictures/ring.png)

###### Deep

<script>alert(2)</script>

| a | b |
|---|---|
| 1 | 2 |
"""


def with_notes(folder: Path, tmp_path: Path, text: str) -> Path:
    from PIL import Image

    mine = tmp_path / "campaign"
    shutil.copytree(folder, mine)
    (mine / "notes.md").write_text(text, encoding="utf-8")
    (mine / "pictures").mkdir()
    Image.new("RGB", (3000, 2000), "grey").save(mine / "pictures" / "ring.png")
    return mine


def test_own_text_is_shown_with_its_picture_and_nothing_in_it_acts(folder: Path, tmp_path: Path) -> None:
    mine = with_notes(folder, tmp_path, NOTES)
    campaign = read_campaign(mine)
    assert {"notes.md", "pictures/ring.png"} <= set(campaign.inputs)
    html = own_text.appendix(analyse(campaign)).data
    tags = set(re.findall(r"<([a-z0-9]+)", html))
    assert not tags & {"script", "a", "b", "style", "iframe", "link", "form", "input", "object"}
    assert "<p>See the log (" in html
    assert re.findall(r"<h(\d)", html) == ["2", "3", "4"]
    assert 'alt="The ring &lt;after&gt; run 12" width="1400" height="933"' in html
    assert not re.search(r"<[^>]*\son\w+=", html)
    assert page_parts(html).sections[0].level == 2


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("![Ring](pictures/rings.png)\n\n![Ring](pictures/ring.png)", "picture-unplaced"),
        ("![](pictures/ring.png)", "picture-unplaced"),
        ("![a](pictures/ring.png)\n\n![a](pictures/ring.png)", "picture-unplaced"),
        ("no picture at all", "picture-unplaced"),
        ("w" * 5000 + "\n\n![a](pictures/ring.png)", "notes-unreadable"),
    ],
)
def test_pictures_and_captions_must_fit(folder: Path, tmp_path: Path, text: str, code: str) -> None:
    found = check_campaign(with_notes(folder, tmp_path, text))[1]
    assert code in {one.code for one in found}


def test_a_link_out_of_the_folder_is_no_picture(folder: Path, tmp_path: Path) -> None:
    mine = with_notes(folder, tmp_path, "![a](pictures/ring.png)\n\n![b](pictures/out.png)")
    (tmp_path / "out.png").write_bytes((mine / "pictures" / "ring.png").read_bytes())
    (mine / "pictures" / "out.png").symlink_to(tmp_path / "out.png")
    assert "link-outside" in {one.code for one in check_campaign(mine)[1]}
