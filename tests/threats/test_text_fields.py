"""Text of a stranger's campaign stays text: in the page, the PDF, the results and the terminal."""

from __future__ import annotations

import json
import re
import subprocess
import unicodedata
from html.parser import HTMLParser

import hostile_campaign as hostile
import pytest

from pinscar.errors import visible
from pinscar.press.build import build_reports
from pinscar.press.request import make_requests
from pinscar.press.template import read_template
from pinscar.shipped import find_template


def hidden(text: str) -> set[str]:
    """Find characters that steer a terminal or turn the direction of writing; line ends are none."""
    return {hex(ord(one)) for one in text if unicodedata.category(one) in ("Cc", "Cf", "Cs", "Co")} - {"0xa"}


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    folder = hostile.hostile_campaign(tmp_path_factory.mktemp("hostile") / "campaign")
    template = read_template(find_template("campaign_report"))
    told = []
    requests = make_requests([folder], template, {}, out=None, pdf=True, timeout=300)
    assert build_reports(requests, template.modules, 1, told.append) == 0, told
    return folder / "report"


class Page(HTMLParser):
    """The parts of a page that could act, and its text."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.inside = ""

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.inside = tag

    def handle_data(self, data):
        if self.inside not in ("script", "style"):
            self.text.append(data)


@pytest.fixture(scope="module")
def page(report):
    read = Page()
    read.feed((report / "report.html").read_text(encoding="utf-8"))
    return read


def test_no_text_of_the_campaign_became_markup(page):
    assert sum(tag == "script" for tag, _ in page.tags) == 1
    assert not {"iframe", "object", "embed", "form", "input", "base"} & {tag for tag, _ in page.tags}
    # the empty icon keeps a browser from asking a server for one
    assert [attributes["href"] for tag, attributes in page.tags if tag == "link"] == ["data:,"]
    for tag, attributes in page.tags:
        assert not [name for name in attributes if name.startswith("on")], tag
        for name in ("href", "src", "action", "style"):
            value = attributes.get(name) or ""
            assert "203.0.113" not in value
            assert "javascript:" not in value.casefold()
        if tag == "a":
            assert str(attributes["href"]).startswith("#"), attributes


@pytest.mark.parametrize(
    "name", ["MARKUP", "JINJA", "MARKDOWN", "MATH", "CSS", "FORMULA", "BIDI", "ZERO", "ESCAPES"]
)
def test_it_is_shown_as_it_was_written_hidden_marks_as_codes(page, name):
    text = " ".join("".join(page.text).split())
    assert " ".join(visible(getattr(hostile, name)).split()) in text


def test_nothing_that_cannot_be_seen_is_in_any_file(report):
    for name in ("report.html", "report.ipynb", "results.json", "manifest.json"):
        assert hidden((report / name).read_text(encoding="utf-8")) == set(), name


def test_formulas_of_names_are_drawn_as_they_are(report):
    # A dollar sign in an oil's name would be read as a formula by the drawing library, and fail on \frac.
    assert hostile.OILS[1] in (report / "report.html").read_text(encoding="utf-8").replace("&amp;", "&")


def test_the_pdf_says_the_same_and_its_foot_is_not_forged(report):
    said = subprocess.run(
        ["pdftotext", "-layout", report / "report.pdf", "-"], capture_output=True, text=True, check=True
    ).stdout
    assert hidden(said.replace("\f", "")) == set()
    assert "total[U+202E]0001" in re.sub(r"\s+", " ", said)
    digest = json.loads((report / "manifest.json").read_text())["digest"][:16]
    feet = re.findall(r"^ ?(Data and versions: .*?|forged.*?)(?: {2,}|$)", said, re.MULTILINE)
    assert set(feet) == {f"Data and versions: SHA-256 {digest}"}


def test_the_results_hold_the_names_in_full(report):
    results = json.loads((report / "results.json").read_text(encoding="utf-8"))
    assert {one["lubricant"] for one in results["runs"]} == set(hostile.OILS)


@pytest.mark.parametrize("words", [["check"], ["check", "--json"], ["gather", "--force"]])
def test_the_terminal_is_not_steered(report, command, words):
    done = command(*words[:1], report.parent, *words[1:])
    assert hidden(done.stdout + done.stderr) == set()
    assert "Traceback" not in done.stderr


def test_a_folder_s_name_does_not_steer_it_either(tmp_path, command):
    folder = tmp_path / "a\x1b]0;owned\x07\u202eb\n"
    folder.mkdir()
    done = command("report", folder)
    assert done.returncode == 1
    assert hidden(done.stdout + done.stderr) == set()
    assert "[U+001B]]0;owned" in done.stdout + done.stderr


def test_a_terminal_without_these_letters_gets_codes_and_no_traceback(report, command):
    done = command(
        "check", report.parent, env={"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "LC_ALL": "C"}
    )
    assert done.returncode == 0
    assert (done.stdout + done.stderr).isascii()
    assert "Traceback" not in done.stderr
