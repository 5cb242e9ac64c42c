"""The sheet to show outside is one page and the release record two, and both say what they must."""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
import subprocess
from datetime import date
from pathlib import Path

import pytest

from pinscar.campaign_report.setting import inputs_by_folder
from pinscar.errors import UsageError
from pinscar.press.build import build_reports
from pinscar.press.request import make_requests
from pinscar.press.template import read_template
from pinscar.shipped import find_template
from pinscar.study.release_record import read_decision

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"


def made(tmp_path_factory: pytest.TempPathFactory, name: str, **given: object) -> Path:
    """A report on the demo campaign by one template."""
    folder = tmp_path_factory.mktemp(name) / "campaign"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("report*"))
    template = read_template(find_template(name))
    requests = make_requests([folder], template, given, out=None, pdf=True, timeout=120)
    told: list[object] = []
    assert build_reports(requests, template.modules, 1, told.append) == 0, told
    return folder / "report"


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory, "comparison_sheet")


@pytest.fixture(scope="module")
def film_sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory, "comparison_sheet", response="film_pressure", load_N=600.0)


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory, "release_record")


def pages(report: Path) -> int:
    pypdf = pytest.importorskip("pypdf")
    return len(pypdf.PdfReader(io.BytesIO((report / "report.pdf").read_bytes())).pages)


def text(report: Path) -> str:
    html = (report / "report.html").read_text(encoding="utf-8")
    body = re.sub(r"<style.*?</style>", "", unwrapped(html), flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body))


def unwrapped(html: str) -> str:
    """The page without the marks that keep names on one line."""
    return re.sub(r'<span class="nowrap">(.*?)</span>', r"\1", html)


@pytest.mark.pdf
def test_the_sheet_is_one_page_and_the_record_two(sheet: Path, film_sheet: Path, record: Path) -> None:
    assert (pages(sheet), pages(film_sheet), pages(record)) == (1, 1, 2)


@pytest.mark.page
def test_axe_finds_nothing_on_the_pages(sheet: Path, record: Path, axe) -> None:
    assert axe(sheet / "report.html") == []
    assert axe(record / "report.html") == []


@pytest.mark.pdf
def test_the_files_keep_the_checked_rules_of_pdf_ua(sheet: Path, record: Path, pdf_faults) -> None:
    # The checker knows a running head or foot only where it comes back on three pages; here it sees prose.
    for report in (sheet, record):
        assert pdf_faults((report / "report.pdf").read_bytes(), but=["TAG-002"]) == []


def test_the_sheet_states_its_limits_and_asks_for_review(sheet: Path) -> None:
    said = text(sheet)
    assert "not a measure of service life" in said
    assert "a qualified person reviews it" in said
    assert "14 to 16 April 2026" in said


def test_the_letters_on_the_sheet_are_those_in_its_results(sheet: Path) -> None:
    ranking = json.loads((sheet / "results.json").read_text(encoding="utf-8"))["ranking"]
    html = unwrapped((sheet / "report.html").read_text(encoding="utf-8"))
    table = html[html.index('id="table-ranked"') :]
    for oil, letters in ranking["letters"].items():
        row = table[table.index(f">{oil}<") :].split("</tr>")[0]
        assert f">{letters}<" in row


def test_a_sheet_of_bounds_has_no_letters_and_says_why(film_sheet: Path) -> None:
    assert json.loads((film_sheet / "results.json").read_text(encoding="utf-8"))["ranking"]["letters"] == {}
    said = text(film_sheet)
    assert "No letters are given, because fewer than two oils can be compared." in said
    assert "4 runs of 6 give only a bound" in said.replace("\N{NO-BREAK SPACE}", " ")


def test_nothing_is_filled_in_where_people_sign(record: Path) -> None:
    html = (record / "report.html").read_text(encoding="utf-8")
    signing = html[html.index('<table class="signatures decision">') :]
    blanks = re.findall(r'<td class="blank"[^>]*>(.*?)</td>', signing)
    assert blanks == [""] * (1 + 2 * 3)
    assert signing.count('aria-label="not chosen"') == 3
    assert 'aria-label="chosen"' not in signing
    assert "Author" in signing
    assert "Approver" in signing


def test_names_and_decision_stand_where_they_are_given_and_the_signature_stays_blank(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    given = {"decision": "conditional", "remarks": "Only <on> conveyor 3", "author": "A. B."}
    given |= {"author_date": "20.4.2026", "approver": "C. D.", "paper": "letter"}
    signers = ["Quality: E. F., 2026-04-24", "Plant"]
    record = made(tmp_path_factory, "release_record", **given, signers=signers)
    html = (record / "report.html").read_text(encoding="utf-8")
    blanks = re.findall(r'<td class="blank"[^>]*>(.*?)</td>', html)
    assert [one.replace("\N{NO-BREAK SPACE}", " ") for one in blanks] == [
        *("Only &lt;on&gt; conveyor 3", "A. B.", "20 April 2026", "", "C. D.", "", ""),
        *("E. F.", "24 April 2026", "", "", "", ""),
    ]
    ticked = re.findall(r'aria-label="chosen">.</span> ([^<]*)<', html)
    assert ticked == ["Release under the conditions below"]
    assert "A name typed here is not a signature" in text(record)
    assert "does not rest on the verdict (it is Not met)" in text(record)
    assert pages(record) == 2
    said = json.loads((record / "results.json").read_text(encoding="utf-8"))["release_record"]
    assert [one["date"] for one in said["signers"]] == ["2026-04-20", None, "2026-04-24", None]
    box = pypdf_box(record)
    assert (round(box[0]), round(box[1])) == (612, 792)


def pypdf_box(report: Path) -> tuple[float, float]:
    """Width and height of the first page, in points."""
    pypdf = pytest.importorskip("pypdf")
    page = pypdf.PdfReader(io.BytesIO((report / "report.pdf").read_bytes())).pages[0]
    return float(page.mediabox.width), float(page.mediabox.height)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"decision": "releas"}, "did you mean release"),
        ({"decision": "reject"}, "needs a named approver"),
        ({"decision": "conditional", "approver": "C. D."}, "needs its conditions"),
        ({"author_date": "2026-04-15"}, "before the last run, 2026-04-16"),
        ({"approver_date": "4/5/2026"}, "4 May 2026"),
        ({"author_date": "soon"}, "not a date"),
        ({"signers": [": E. F."]}, "role: name, date"),
        ({"signers": ["Quality: E. F., 2026-04-01"]}, "signers, Quality"),
        ({"signers": ["Plant"] * 9}, "room for 8"),
    ],
)
def test_what_cannot_stand_on_a_record_is_refused(typed: dict[str, object], words: str) -> None:
    with pytest.raises(UsageError, match=re.escape(words)):
        read_decision(**typed, last_run=date(2026, 4, 16))  # type: ignore[arg-type]


def test_the_day_of_the_last_run_can_be_signed() -> None:
    said = read_decision(author="A. B.", author_date="16/4/2026", last_run=date(2026, 4, 16))
    assert said.signers[0].date == date(2026, 4, 16)


def test_the_record_names_every_limit_grave_finding_claim_and_input(record: Path) -> None:
    results = json.loads((record / "results.json").read_text(encoding="utf-8"))
    manifest = json.loads((record / "manifest.json").read_text(encoding="utf-8"))
    said = text(record).replace("\N{NO-BREAK SPACE}", " ")
    assert [c["id"] for c in results["criteria"] if c["id"] not in said] == []
    grave = [f["message"] for f in results["audit"] if f["severity"] != "note"]
    assert [message for message in grave if message not in said] == []
    digests = inputs_by_folder(manifest["inputs"])
    assert [name for name, digest in digests.items() if name not in said or digest not in said] == []
    assert "Of 3 claims, 1 supported, 1 not supported and 1 refused." in said


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs sha256sum")
def test_the_digest_of_a_folder_is_what_the_common_tool_gives(tmp_path: Path) -> None:
    (tmp_path / "traces").mkdir()
    inputs = {}
    for name in ("traces/b.csv", "traces/a.csv", "traces/c.csv"):
        (tmp_path / name).write_text(f"time [s] of {name}\n", encoding="utf-8")
        inputs[name] = hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()
    piped = "sha256sum traces/* | sha256sum"
    done = subprocess.run(["sh", "-c", piped], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert inputs_by_folder(inputs) == {"traces/ (3 files)": done.stdout.split()[0]}
