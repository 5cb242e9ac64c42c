"""Drawings in PDF operators: what they say, what is left to the PDF writer, and that both look the same."""

import base64
import io
import shutil
import subprocess

import numpy as np
import pypdf
import pytest
from PIL import Image

from pinscar.page import pdf_child
from pinscar.page.drawing import drawing_of
from pinscar.page.formula import formula_html
from pinscar.page.pdf import html_to_pdf
from pinscar.page.pdf_child import taken_drawings
from pinscar.page.style import figure_svg, new_figure, report_style

HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 60 20"'
)


def svg(body, more=""):
    return f"{HEAD}{more}>{body}</svg>".encode()


def said(body):
    return drawing_of(svg(body)).operators.decode().split("\n")


def test_lines_curves_and_closing_are_those_of_the_path():
    assert said('<path d="M1 2L3 4C5 6 7 8 9 10z"/>') == [
        "0 0 0 rg",
        "1 2 m",
        "3 4 l",
        "5 6 7 8 9 10 c",
        "h",
        "f",
    ]


def test_a_quadratic_curve_is_raised_by_a_degree_from_where_it_starts():
    # ISO 32000-2 section 8.5.2 has cubic curves only: their inner points lie two thirds of the way to the
    # control point; after closing, the next curve starts where the figure began.
    assert said('<path d="M0 0Q3 3 6 0zQ0 -3 9 0"/>')[1:] == [
        "0 0 m",
        "2 2 4 2 6 0 c",
        "h",
        "0 -2 3 -2 9 0 c",
        "f",
    ]


def test_a_look_is_handed_down_and_said_once():
    lines = said(
        '<g style="fill: none; stroke: #ff0000; stroke-width: 2">'
        '<path d="M0 0L9 0"/><path d="M0 5L9 5" style="stroke-dasharray: 3,1; stroke-linecap: square"/></g>'
    )
    assert lines.count("1 0 0 RG") == lines.count("2 w") == 1
    assert lines.index("[] 0 d") < lines.index("[3 1] 0 d")
    assert lines.count("S") == 2
    assert "2 J" in lines
    assert "f" not in lines


def test_the_sheet_of_a_chart_goes_before_what_is_handed_down():
    sheet = "<style>*{stroke-linejoin: round; stroke-linecap: butt}</style>"
    lines = said(f'{sheet}<g style="stroke: #000000; stroke-linecap: square"><path d="M0 0L9 0"/></g>')
    assert "0 J" in lines
    assert "2 J" not in lines


def test_uses_are_put_in_place_and_what_they_change_is_put_back():
    lines = said(
        '<defs><path id="a" d="M0 0L1 1" transform="scale(0.5)"/></defs>'
        '<use xlink:href="#a" x="10" y="20" style="fill: #00ff00"/><path d="M2 2L3 3"/>'
    )
    assert lines == [
        "q",
        "0.5 0 0 0.5 10 20 cm",
        "0 1 0 rg",
        "0 0 m",
        "1 1 l",
        "f",
        "Q",
        "0 0 0 rg",
        "2 2 m",
        "3 3 l",
        "f",
    ]


def test_a_clip_holds_for_one_thing():
    lines = said(
        '<defs><clipPath id="c"><rect x="1" y="2" width="3" height="4"/></clipPath></defs>'
        '<path d="M0 0L9 9" clip-path="url(#c)"/>'
    )
    assert lines == ["q", "1 2 3 4 re", "W n", "0 0 0 rg", "0 0 m", "9 9 l", "f", "Q"]


@pytest.mark.parametrize(
    "body",
    [
        "<text>A</text>",
        '<image href="data:image/png;base64,"/>',
        '<circle r="3"/>',
        '<path d="M0 0A1 1 0 0 1 2 2"/>',
        '<path d="M0 0l1 1"/>',
        '<path d="M0 0L1e3 1"/>',
        '<path d="M0 0L1"/>',
        '<path d="M0 0L1 1" style="opacity: 0.5"/>',
        '<path d="M0 0L1 1" fill="red"/>',
        '<path d="M0 0L1 1" fill="url(#g)"/>',
        '<path d="M0 0L1 1" transform="skewX(3)"/>',
        '<path d="M0 0L1 1" clip-path="url(#none)"/>',
        '<path d="M0 0L1 1" stroke="#000000" stroke-width="1mm"/>',
        '<rect width="3" height="3" rx="1"/>',
        '<g id="a"><use xlink:href="#a"/></g>',
        "<style>path { fill: none }</style>",
        "<svg/>",
    ],
)
def test_what_is_not_understood_is_left_to_the_writer(body):
    assert drawing_of(svg(body)) is None


@pytest.mark.parametrize("broken", [b"", b"no picture", b"<svg", svg("", ' preserveAspectRatio="none"')])
def test_what_is_no_such_drawing_is_left_too(broken):
    assert drawing_of(broken) is None


def chart():
    with report_style():
        figure = new_figure(60)
        axes = figure.subplots()
        axes.plot([0, 1, 2], [3, 1, 2], "o-", color="#0b62a4")
        axes.plot([0, 1, 2], [1, 2, 3], "D", color="#b1780a", linestyle=(0, (5, 1.5)))
        axes.axhspan(1.2, 1.8, color="#e6e9ec")
        axes.grid(axis="x")
        axes.set_xlabel("Film pressure [MPa], run by run")
        axes.set_ylabel("Scar area")
        return figure_svg(figure)


def page():
    picture = base64.b64encode(chart()).decode()
    return (
        "<html lang='en'><head><title>Oils</title></head><body><h1>Oils</h1>"
        f'<img alt="A chart." src="data:image/svg+xml;base64,{picture}">'
        f"<p>{formula_html('p = F / A')}</p>{formula_html('a^{b}', display=True)}</body></html>"
    )


def test_every_chart_and_formula_is_translated():
    html, pictures = taken_drawings(page())
    assert len(pictures) == 3
    assert "data:image/svg" not in html
    assert all(f'src="{name}"' in html for name in pictures)


def seen(data, folder, name):
    file = folder / f"{name}.pdf"
    file.write_bytes(data)
    subprocess.run(["pdftoppm", "-r", "100", "-gray", "-singlefile", file, file.with_suffix("")], check=True)
    return np.asarray(Image.open(file.with_suffix(".pgm")), dtype=float)


@pytest.mark.pdf
@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="needs poppler")
def test_it_looks_as_the_writer_draws_it(tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    request = {"html": page(), "stylesheet": "", "files": "file:///nowhere", "attachments": []}
    ours = seen(pdf_child._write(request), tmp_path, "ours")
    monkeypatch.setattr(pdf_child, "drawing_of", lambda svg: None)
    theirs = seen(pdf_child._write(request), tmp_path, "theirs")
    assert (theirs < 128).sum() > 1000  # there is something to see
    # Both round places of points, and differ by the grey of a few edges.
    assert (np.abs(ours - theirs) > 64).sum() < 20
    assert np.abs(ours - theirs).mean() < 0.02


@pytest.mark.pdf
def test_a_drawing_is_a_figure_with_its_alternative_text():
    reader = pypdf.PdfReader(io.BytesIO(html_to_pdf(page(), title="Oils", campaign_id="c-1")))
    texts = [
        item.get_object().get("/Alt")
        for item in reader.trailer["/Root"]["/StructTreeRoot"]["/ParentTree"]["/Nums"][1]
        if item.get_object()
    ]
    assert "A chart." in texts
    assert "p equals F over A" in texts
