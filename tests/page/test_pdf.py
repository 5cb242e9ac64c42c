"""The PDF: archive file, tags, attachments, only our face, whole figures, short lines, the same bytes."""

import io
import os
import re
import sys
from datetime import UTC, datetime

import pypdf
import pytest
from nbformat import v4

from pinscar.errors import RunError
from pinscar.page import markup, pdf
from pinscar.page.page import notebook_to_html
from pinscar.page.pdf import Attachment, css_string, html_to_pdf, render_pdf

pytestmark = pytest.mark.pdf

TINY = "<html lang='en'><head><title>Oils</title></head><body><h1>Oils</h1>{}</body></html>"


@pytest.fixture(scope="module")
def reader(sample_pdf):
    return pypdf.PdfReader(io.BytesIO(sample_pdf.data))


@pytest.fixture(scope="module")
def pages(reader):
    return [page.extract_text() for page in reader.pages]


def tiny(body="<p>Met.</p>", **options):
    return html_to_pdf(TINY.format(body), **{"title": "Oils", "campaign_id": "c-1", **options})


def tags(element, found):
    """Count the structure types below an element of the tag tree."""
    children = element.get("/K", [])
    for child in children if isinstance(children, list) else [children]:
        child = child.get_object()
        if isinstance(child, dict) and "/S" in child:
            found.append(child)
            tags(child, found)
    return found


def test_the_writer_has_nothing_to_remark_on_our_page(sample_pdf):
    assert sample_pdf.warnings == ()


def test_it_says_that_it_is_pdf_a_3a(reader):
    xmp = reader.trailer["/Root"]["/Metadata"].get_data().decode()
    assert re.search(r"pdfaid:part(=\"|>)3", xmp)
    assert re.search(r"pdfaid:conformance(=\"|>)A", xmp)
    root = reader.trailer["/Root"]
    assert root["/OutputIntents"][0]["/S"] == "/GTS_PDFA1"
    assert "/ID" in reader.trailer
    assert "/Encrypt" not in reader.trailer


def test_it_has_language_title_and_no_clock(reader):
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712
    assert reader.metadata.title == "May C-21 replace R-10 on the oven line? (conveyor-07)"
    assert reader.metadata.creation_date is None


def test_it_is_tagged_with_heads_and_alternative_texts(reader):
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712
    found = tags(root["/StructTreeRoot"], [])
    kinds = [element["/S"] for element in found]
    assert kinds.count("/H1") == 1
    assert kinds.count("/H2") == 4
    # Table heads are repeated on each of the pages of the long table, hence at least.
    assert kinds.count("/Table") >= 4
    assert kinds.count("/TH") > 120
    figures = [element for element in found if element["/S"] == "/Figure"]
    assert all(element.get("/Alt", "").strip() for element in figures)
    assert any("C-21 at 156 MPa" in element["/Alt"] for element in figures)


def test_only_our_face_is_embedded_and_it_is_embedded(reader):
    found = {}
    for page in reader.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            for below in font.get_object()["/DescendantFonts"]:
                descriptor = below.get_object()["/FontDescriptor"].get_object()
                found[str(descriptor["/FontName"])] = any(
                    name in descriptor for name in ("/FontFile2", "/FontFile3")
                )
    assert found
    assert all(re.fullmatch(r"/[A-Z]{6}\+Pinscar-?Text.*", name) for name in found), found
    assert all(found.values())


def test_attachments_carry_name_kind_relationship_and_dates(reader):
    root = reader.trailer["/Root"]
    specs = {spec.get_object()["/UF"]: spec.get_object() for spec in root["/AF"]}
    assert specs.keys() == {"runs.csv", "results.json"}
    assert specs["runs.csv"]["/AFRelationship"] == "/Source"
    assert specs["results.json"]["/AFRelationship"] == "/Data"
    stream = specs["runs.csv"]["/EF"]["/F"].get_object()
    assert stream.get_data() == b"run_id\nr001\n"
    assert stream["/Subtype"] == "/text/csv"
    assert stream["/Params"]["/ModDate"] == "D:20000101000000Z"


def test_an_attachment_keeps_the_date_it_was_given():
    dated = datetime(2024, 3, 8, 12, tzinfo=UTC)
    data = tiny(attachments=[Attachment("runs.csv", b"x", "The runs", dated=dated)])
    root = pypdf.PdfReader(io.BytesIO(data)).trailer["/Root"]
    stream = root["/AF"][0].get_object()["/EF"]["/F"].get_object()
    assert stream["/Params"]["/CreationDate"] == "D:20240308120000Z"


def test_running_texts_stand_on_every_page(pages):
    count = len(pages)
    for i, text in enumerate(pages, start=1):
        assert f"page {i} of {count}" in text
        assert "results.json SHA-256 9f86d081884c7d65" in text
        # On the first page both stand large in the text, so they are not repeated at its head.
        assert text.count("Campaign conveyor-07") == 1
        assert i == 1 or text.count("May C-21 replace R-10 on the oven line?") == 1


def test_the_run_table_turns_the_page_and_repeats_its_head(reader, pages):
    turned = [i for i, page in enumerate(reader.pages) if page.mediabox.width > page.mediabox.height]
    assert len(turned) >= 2
    assert turned == list(range(turned[0], len(pages)))
    assert all("Wear coefficient" in pages[i] for i in turned)
    # The heading of its section goes with the table.
    assert "All runs" in pages[turned[0]]
    runs = [run for i in turned for run in re.findall(r"\br\d{3}\b", pages[i])]
    assert runs == [f"r{i:03d}" for i in range(1, 121)]


def test_upright_pages_are_a4_with_room_for_the_holes(reader):
    width, height = reader.pages[0].mediabox.width, reader.pages[0].mediabox.height
    # A4; the file gives points with one decimal.
    assert (float(width) / 72 * 25.4, float(height) / 72 * 25.4) == pytest.approx((210, 297), abs=0.1)
    lefts = []
    reader.pages[0].extract_text(
        visitor_text=lambda text, cm, tm, *_: lefts.append(tm[4] * cm[0] + cm[4]) if text.strip() else None
    )
    assert min(lefts) / 72 * 25.4 >= 20


def test_body_lines_are_at_most_80_characters(pages):
    words = ("steel pin", "wears", "carry", "noise", "microscope", "small scar")
    lines = [line for i in (2, 3) for line in pages[i].splitlines() if any(word in line for word in words)]
    assert len(lines) > 20
    assert 65 < max(map(len, lines)) <= 80


def test_captions_stand_with_what_they_belong_to(reader, pages):
    numbers = {page.indirect_reference.idnum: i for i, page in enumerate(reader.pages)}
    figures = [tag for tag in tags(reader.trailer["/Root"]["/StructTreeRoot"], []) if tag["/S"] == "/Figure"]
    for number, start in ((1, "Film pressure of three"), (2, "Wear slows"), (3, "Heat follows")):
        (where,) = [i for i, text in enumerate(pages) if f"Figure {number}. " in text]
        (figure,) = [tag for tag in figures if tag["/Alt"].startswith(start)]
        assert numbers[figure.raw_get("/Pg").idnum] == where
    (where,) = [i for i, text in enumerate(pages) if "Table 1. " in text]
    for piece in ("Film pressure", "112.4", "A censored cell gives a bound only"):
        assert piece in pages[where]


def test_no_heading_stands_at_the_foot_of_a_page(pages):
    headings = re.compile(r"^(\d+(\.\d+)?) [A-Z][a-z ]+$")
    for text in pages:
        body = [line for line in text.splitlines() if not re.match("page |results.json SHA", line)]
        assert not headings.match(body[-1].strip()), body[-1]


def test_a_heading_is_pushed_to_the_next_page_with_its_text():
    filled = range(205, 257, 3)
    body = "".join(
        f"<div class='page-break' style='height:{fill}mm'></div><h2>Heat at {fill}</h2><p>Warm at {fill}.</p>"
        for fill in filled
    )
    html = notebook_to_html(
        v4.new_notebook(cells=[v4.new_markdown_cell(body)]), title="Oils", campaign_id="c-1"
    )
    reader = pypdf.PdfReader(io.BytesIO(html_to_pdf(html, title="Oils", campaign_id="c-1")))
    texts = [page.extract_text() for page in reader.pages]
    for fill in filled:
        (where,) = [i for i, text in enumerate(texts) if f"Warm at {fill}." in text]
        assert f"Heat at {fill}\n" in texts[where]
    assert len(texts) > len(filled) + 3, "no heading came near a page's foot"


def test_the_same_page_gives_the_same_bytes_under_any_clock_and_zone(monkeypatch):
    attachments = [Attachment("runs.csv", b"x", "The runs", "Source")]
    first = tiny(attachments=attachments)
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    monkeypatch.setenv("PYTHONHASHSEED", "7")
    monkeypatch.setenv("LANG", "C")
    monkeypatch.chdir(os.sep)
    assert tiny(attachments=attachments) == first


def test_a_picture_that_cannot_be_read_is_an_error():
    with pytest.raises(RunError, match="could not be made"):
        tiny('<img alt="x" src="data:image/png;base64,AAAA">')


def test_nothing_is_fetched_from_outside():
    with pytest.raises(RunError, match="may not fetch file:///etc/hostname"):
        tiny('<img alt="x" src="file:///etc/hostname">')


def test_a_writer_that_dies_is_one_plain_line(monkeypatch):
    monkeypatch.setattr(sys, "executable", "/bin/false")
    with pytest.raises(RunError, match="the writer ended with 1: no message") as caught:
        tiny()
    assert "\n" not in str(caught.value)


def test_bad_style_is_remarked():
    result = render_pdf(TINY.format("<style>p { colour: red }</style>"), title="Oils", campaign_id="c-1")
    assert len(result.warnings) == 1
    assert "colour" in result.warnings[0]


def test_missing_pango_is_told_before_any_work(monkeypatch):
    monkeypatch.setattr(pdf, "_loads", lambda file: "pango" not in file)
    with pytest.raises(RunError, match=r"needs Pango and PangoFT2.*--no-pdf"):
        pdf.require_pango()


@pytest.mark.parametrize("hostile", ['"; } body { display: none', "\\", "a\nb", "</style><script>"])
def test_running_texts_cannot_break_out_of_their_string(hostile):
    quoted = css_string(hostile)
    assert re.fullmatch(r'"(?:[^"\\\n<>]|\\[0-9a-f]{6})*"', quoted)
    text = pypdf.PdfReader(io.BytesIO(tiny("<p>Met.</p>" * 90, campaign_id=hostile))).pages[1].extract_text()
    assert "Met." in text


def test_a_long_table_leaves_neither_its_caption_nor_a_single_row_behind():
    rows = [[f"r{i:02d}", str(i)] for i in range(30)]
    filled = range(200, 252, 3)
    body = "".join(
        f"<div class='page-break' style='height:{fill}mm'></div>"
        + str(markup.table(["Run", "Value"], rows, caption=f"Caption {fill}", long=True))
        for fill in filled
    )
    shown = v4.new_output("display_data", data={"text/html": body})
    html = notebook_to_html(
        v4.new_notebook(cells=[v4.new_code_cell("x", outputs=[shown])]), title="Oils", campaign_id="c-1"
    )
    reader = pypdf.PdfReader(io.BytesIO(html_to_pdf(html, title="Oils", campaign_id="c-1")))
    texts = [page.extract_text() for page in reader.pages]
    split = 0
    for fill in filled:
        (where,) = [i for i, text in enumerate(texts) if f"Caption {fill}" in text]
        here = re.findall(r"\br\d\d\b", texts[where][texts[where].index(f"Caption {fill}") :])
        assert 3 <= len(here) <= 30
        assert len(here) == 30 or len(here) <= 27
        split += len(here) < 30
    assert 5 < split < len(filled), "no caption came near a page's foot"
