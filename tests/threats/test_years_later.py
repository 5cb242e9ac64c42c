"""Years later: `verify` finds one changed byte anywhere, an added or a removed file, an edited page."""

from __future__ import annotations

import io
import json
import re
import shutil
from pathlib import Path

import numpy as np
import pypdf
import pytest

from pinscar.campaign_report import sections
from pinscar.decision.analysis import analyse_all
from pinscar.decision.check import check_all
from pinscar.decision.results import results
from pinscar.page.pdf import running_texts
from pinscar.press.inputs import input_hashes
from pinscar.press.manifest import make_manifest, manifest_bytes, manifest_digest, sha256
from pinscar.press.page_numbers import plain, unlike_numbers
from pinscar.press.results import results_bytes
from pinscar.press.verify import attachment_differences, read_manifest, verify_report
from pinscar.shipped import find_template, shipped_folder

PARAMETERS = {"folder": ".", "confidence": None, "responses": None}


@pytest.fixture(scope="module")
def evaluated():
    """The demo campaign's page parts and results, made in this process."""
    campaign, _ = check_all(shipped_folder("data_demo") / "conveyor_07")
    assert campaign is not None
    analysis = analyse_all(campaign)
    parts = (
        sections.front,
        sections.limits,
        sections.film_and_scar,
        sections.against_reference,
        sections.contact,
        sections.runs,
    )
    page = "\n".join(part(analysis).data for part in parts)
    return page, json.loads(results_bytes(results(analysis)))


def pdf_with(files):
    """A PDF of one page that carries files, made by another library than the report's."""
    writer, packed = pypdf.PdfWriter(), io.BytesIO()
    writer.add_blank_page(595, 842)
    for name, data in files.items():
        writer.add_attachment(name, data)
    writer.write(packed)
    return packed.getvalue()


def carried_by(folder):
    """What the report's PDF carries."""
    reader = pypdf.PdfReader(folder / "report" / "report.pdf")
    return {one.name: one.content for one in reader.attachment_list}


def carried_wrong(folder):
    """Which files of the PDF are not as the manifest has them."""
    report = folder / "report"
    return [one.name for one in attachment_differences(report, read_manifest(report))]


def put_pdf(folder, data):
    """Put a PDF in place of the report's, and its digest into the manifest: all that a forger would do."""
    (folder / "report" / "report.pdf").write_bytes(data)
    path = folder / "report" / "manifest.json"
    manifest = json.loads(path.read_text())
    manifest["outputs"]["report.pdf"] = sha256(data)
    path.write_text(json.dumps(manifest))


@pytest.fixture(scope="module")
def whole(evaluated, tmp_path_factory):
    """The campaign with a report of these files and a manifest of ours."""
    folder = tmp_path_factory.mktemp("years") / "campaign"
    shutil.copytree(shipped_folder("data_demo") / "conveyor_07", folder)
    for name in ("traces", "sound", "micrographs", "fling"):
        for path in sorted((folder / name).iterdir())[1:]:
            path.unlink()
    page, found = evaluated
    files = {"report.html": page.encode(), "results.json": results_bytes(found)}
    carried = {name: (folder / name).read_bytes() for name in ("runs.csv", "campaign.toml")}
    carried["results.json"] = files["results.json"]
    files |= {"report.pdf": pdf_with(carried), "report.ipynb": b"{}"}
    manifest = make_manifest(
        campaign="conveyor-07",
        template=find_template("campaign_report"),
        given={"folder": "."},
        parameters=PARAMETERS,
        inputs=input_hashes(folder, PARAMETERS),
        pdf=True,
    )
    (folder / "report").mkdir()
    for name, data in (files | {"manifest.json": manifest_bytes(manifest, files)}).items():
        (folder / "report" / name).write_bytes(data)
    return folder


@pytest.fixture
def copy(whole, tmp_path):
    shutil.copytree(whole, tmp_path / "campaign")
    return tmp_path / "campaign"


def found(folder):
    return {(one.kind, one.name) for one in verify_report(folder / "report", folder)}


def change(path: Path, place: float):
    data = bytearray(path.read_bytes())
    data[int(place * (len(data) - 1))] ^= 1
    path.write_bytes(bytes(data))


def test_as_it_was_it_agrees(whole):
    assert found(whole) == set()


@pytest.mark.parametrize("place", [0.0, 0.37, 1.0])
def test_one_byte_of_each_input_is_found(whole, copy, place):
    inputs = json.loads((whole / "report" / "manifest.json").read_text())["inputs"]
    kinds = {name.split("/")[0] for name in inputs}
    assert kinds >= {
        "campaign.toml",
        "runs.csv",
        "readings.csv",
        "load_steps.csv",
        "traces",
        "sound",
        "micrographs",
    }
    for name in inputs:
        before = (copy / name).read_bytes()
        change(copy / name, place)
        assert ("input", name) in found(copy)
        (copy / name).write_bytes(before)
    assert found(copy) == set()


@pytest.mark.parametrize("name", ["report.html", "report.pdf", "report.ipynb", "results.json"])
@pytest.mark.parametrize("place", [0.0, 0.61, 1.0])
def test_one_byte_of_each_output_is_found(copy, name, place):
    change(copy / "report" / name, place)
    assert ("output", name) in found(copy)


def test_one_byte_of_each_file_that_the_pdf_carries_is_found_though_its_digest_was_changed_too(copy):
    carried = carried_by(copy)
    assert set(carried) == {"runs.csv", "campaign.toml", "results.json"}
    dice = np.random.default_rng(5)
    for name, data in carried.items():
        for place in dice.integers(0, len(data), 8):
            changed = bytearray(data)
            changed[place] ^= 1 << int(dice.integers(8))
            put_pdf(copy, pdf_with(carried | {name: bytes(changed)}))
            assert carried_wrong(copy) == [f"{name} inside report.pdf"]
    assert ("attachment", f"{name} inside report.pdf") in found(copy)


def test_a_file_added_to_the_pdf_or_taken_out_of_it_is_found(copy):
    carried = carried_by(copy)
    put_pdf(copy, pdf_with(carried | {"second.csv": b"a,b\n"}))
    assert carried_wrong(copy) == ["second.csv inside report.pdf"]
    del carried["runs.csv"]
    put_pdf(copy, pdf_with(carried))
    assert carried_wrong(copy) == ["runs.csv inside report.pdf"]


def test_a_second_file_under_the_same_name_is_found(copy):
    carried, packed = carried_by(copy), io.BytesIO()
    writer = pypdf.PdfWriter(io.BytesIO(pdf_with(carried)))
    writer.add_attachment("runs.csv", b"run_id\n")
    writer.write(packed)
    put_pdf(copy, packed.getvalue())
    assert carried_wrong(copy) == ["runs.csv (once more) inside report.pdf"]


def test_a_file_that_is_pinned_on_a_page_of_the_pdf_is_found(copy):
    from pypdf.generic import DictionaryObject, NameObject, RectangleObject, TextStringObject

    packed = io.BytesIO()
    writer = pypdf.PdfWriter(io.BytesIO(pdf_with(carried_by(copy))))
    hidden = writer.add_attachment("hidden.csv", b"run_id\n").pdf_object
    names = writer.root_object["/Names"]["/EmbeddedFiles"]["/Names"]
    del names[names.index("hidden.csv") : names.index("hidden.csv") + 2]
    note = DictionaryObject(
        {
            NameObject("/Type"): NameObject("/Annot"),
            NameObject("/Subtype"): NameObject("/FileAttachment"),
            NameObject("/Rect"): RectangleObject((10, 10, 20, 20)),
            NameObject("/FS"): hidden,
            NameObject("/Contents"): TextStringObject("data"),
        }
    )
    writer.add_annotation(0, note)
    writer.write(packed)
    put_pdf(copy, packed.getvalue())
    assert carried_wrong(copy) == ["hidden.csv inside report.pdf"]


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7 and no more", b"\0" * 100])
def test_a_pdf_that_cannot_be_opened_is_told(copy, data):
    put_pdf(copy, data)
    (said,) = map(str, attachment_differences(copy / "report", read_manifest(copy / "report")))
    assert said == "the file report.pdf cannot be opened as a PDF, so what it carries was not compared"


def test_one_byte_of_any_entry_of_the_manifest_is_found(copy):
    path = copy / "report" / "manifest.json"
    text = path.read_text()
    for match in re.finditer(r'"(?:sha256|runs\.csv|numpy|machine|code|digest|report\.html)": "(.)', text):
        other = "0" if match.group(1) != "0" else "1"
        path.write_text(text[: match.start(1)] + other + text[match.end(1) :])
        assert found(copy), match.group(0)


@pytest.mark.parametrize(
    "name", ["report/note.txt", "report/sub/note.txt", "graticule.csv", "traces/new.csv", "sound/new.wav"]
)
def test_an_added_file_is_found(copy, name):
    (copy / name).parent.mkdir(exist_ok=True)
    (copy / name).write_bytes(b"x")
    assert len(found(copy)) == 1


@pytest.mark.parametrize("name", ["report/report.pdf", "readings.csv", "traces", "micrographs"])
def test_a_removed_file_is_found(copy, name):
    shutil.rmtree(copy / name) if (copy / name).is_dir() else (copy / name).unlink()
    assert len(found(copy)) == 1


def test_the_page_shows_the_numbers_of_the_results(evaluated):
    assert list(unlike_numbers(*evaluated)) == []


def cells(page, table):
    """List the cells of a table of the page as they stand in it."""
    part = page[page.index(f'id="{table}"') :]
    part = part[part.index("<tbody>") : part.index("</tbody>")]
    return [(m.group(1), m.group(2)) for m in re.finditer(r"(<t[hd][^>]*>)([^<]+)</t[hd]>", part)]


@pytest.mark.parametrize("table", ["table-runs", "table-film", "table-wear", "table-against-scar-area"])
def test_a_number_changed_in_the_page_is_found(evaluated, table):
    page, exact = evaluated
    tried = 0
    for opening, text in cells(page, table):
        numbers = re.findall(r"\d+\.\d+", text)
        if not numbers or ("number" not in opening and "interval" not in opening) or "0.0001" in text:
            continue
        # the last figure, up or down by two: the least that is no rounding
        last = numbers[0][:-1] + str((int(numbers[0][-1]) + 5) % 10)
        changed = page.replace(f"{opening}{text}<", f"{opening}{text.replace(numbers[0], last, 1)}<")
        assert changed != page
        shown = list(unlike_numbers(changed, exact))
        if table == "table-runs" or "(" in text:
            assert shown, (table, text)
            tried += 1
    assert tried > 3


def test_a_verdict_changed_in_the_page_is_found(evaluated):
    page, exact = evaluated
    changed = page.replace("<strong>Not met.</strong>", "<strong>Met.</strong>")
    assert changed != page
    assert [one.where for one in unlike_numbers(changed, exact)] == ["the verdict"]
    criterion = exact["criteria"][0]
    for old, new in (("106 to 130", "121 to 130"), ("Undecided", "Met")):
        changed = page.replace(old, new)
        assert changed != page
        assert any(criterion["id"] in one.where for one in unlike_numbers(changed, exact))


def test_a_run_taken_out_of_the_page_is_found(evaluated):
    page, exact = evaluated
    at = page.index('id="table-runs"')
    row = re.search(r"<tr[^>]*><th[^>]*>c07-03<.*?</tr>", page[at:], re.DOTALL)
    assert row is not None
    shown = list(unlike_numbers(page.replace(row.group(0), ""), exact))
    assert [one.exact for one in shown] == ["run c07-03"]


def test_a_page_that_was_edited_together_with_its_digest_is_found_by_its_numbers(copy):
    page, manifest = copy / "report" / "report.html", copy / "report" / "manifest.json"
    page.write_text(page.read_text().replace("<strong>Not met.</strong>", "<strong>Met.</strong>"))
    content = json.loads(manifest.read_text())
    content["outputs"]["report.html"] = sha256(page.read_bytes())
    manifest.write_text(json.dumps(content))
    assert found(copy) == {("numbers", "the verdict")}
    (one,) = verify_report(copy / "report", copy)
    assert str(one).startswith("report.html shows 'Met. C-21 misses 1 of 5 limits")
    assert str(one).endswith("for the verdict; results.json has 'not met'")


def test_who_rewrites_everything_is_not_found_and_that_is_said(copy):
    # The manifest guards against accident: whoever makes inputs and digests anew agrees with himself.
    (copy / "runs.csv").write_bytes((copy / "runs.csv").read_bytes() + b"\n")
    path = copy / "report" / "manifest.json"
    content = json.loads(path.read_text())
    content["inputs"]["runs.csv"] = sha256((copy / "runs.csv").read_bytes())
    content["digest"] = manifest_digest(content)
    path.write_text(json.dumps(content))
    assert found(copy) == {("attachment", "runs.csv inside report.pdf")}
    put_pdf(copy, pdf_with(carried_by(copy) | {"runs.csv": (copy / "runs.csv").read_bytes()}))
    assert found(copy) == set()
    guide = " ".join((Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8").split())
    assert "against accident" in guide


def test_the_digest_at_the_foot_leads_from_paper_to_the_manifest(whole):
    content = json.loads((whole / "report" / "manifest.json").read_text())
    foot = f"Data and versions: SHA-256 {content['digest'][:16]}"
    assert foot in running_texts(title="t", campaign_id="c", digest=foot)
    # from the sheet to the file: the number on it begins what the manifest gives when computed anew
    assert manifest_digest(content).startswith(foot.rsplit(" ", 1)[1])


def test_numbers_as_shown_are_read_back():
    assert plain("\u2007118\u2008 (\u2212104 to 134)") == "118 (-104 to 134)"
