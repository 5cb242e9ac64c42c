"""How a finished text is said in another language: holes, numbers, names, nothing left out in silence."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from pinscar.language.markup import said_page, said_script
from pinscar.language.messages import local_date, local_numbers, read_catalogue
from pinscar.language.speaker import Speaker

TEMPLATES = Path(__file__).resolve().parents[2] / "templates"


@pytest.fixture
def german():
    texts = frozenset(["Oven line, hall 2", "wear was still running in my view"])
    return Speaker(catalogue=read_catalogue("de"), names=frozenset(["R-10", "C-21", "film"]), texts=texts)


@pytest.mark.parametrize(
    ("english", "german_text"),
    [
        ("0.64 (0.57 to 0.71)", "0,64 (0,57 bis 0,71)"),
        ("117 (106 to 130) MPa", "117 (106 bis 130) MPa"),
        ("at least 49.0 s", "mindestens 49,0 s"),
        ("120 rpm", "120 min⁻¹"),
        ("1 run", "1 Lauf"),
        ("12 runs", "12 Läufe"),
        ("R-10 and C-21", "R-10 und C-21"),
        ("Not met", "Nicht eingehalten"),
        ("Film pressure [MPa], logarithmic", "Filmdruck [MPa], logarithmisch"),
        (
            "film pressure of C-21 at 450 N at least 120 MPa",
            "Filmdruck von C-21 bei 450 N mindestens 120 MPa",
        ),
        ("1 run had no measured width.", "In 1 Lauf wurde keine Breite gemessen."),
        ("sound/c07-01.wav", "sound/c07-01.wav"),
        ("Oven line, hall 2", "Oven line, hall 2"),
        ("wear was still running in my view", "wear was still running in my view"),
    ],
)
def test_a_text_is_said_with_its_numbers_and_its_names(german, english, german_text):
    assert german.say(english) == german_text
    assert not german.missing


def test_what_no_message_fits_stays_english_and_is_noted_as_a_message(german):
    said = german.say("R-10 sang 3 songs in 60 s. Nothing here is a result.")
    assert said == "R-10 sang 3 songs in 60 s. Nichts hiervon ist ein Ergebnis."
    assert list(german.missing) == ["{oil} sang {n} songs in {q}."]


def test_markup_stays_where_it_is_about_and_sections_keep_their_numbers(german):
    page = (
        '<html lang="de"><p class="x" title="Release limits"><strong>Not met.</strong> C-21 misses '
        "1 of 5 limits (<em>film pressure</em> at 450 N).</p>"
        '<h2><span class="section-number">7.1</span> Claims</h2>'
        '<code>not met</code><div class="own-text"><p>Claims</p></div><p>a &lt; b</p></html>'
    )
    said = said_page(page, german)
    assert 'title="Freigabegrenzwerte"><strong>Nicht eingehalten.</strong> C-21 verfehlt 1 von 5' in said
    assert "(<em>Filmdruck</em> bei 450\N{NO-BREAK SPACE}N)" in said
    assert '<span class="section-number">7.1</span> Aussagen' in said
    assert '<code>not met</code><div class="own-text"><p>Claims</p></div>' in said
    assert "<script" not in said_page("<p>&lt;script&gt;</p>", german)


@pytest.mark.parametrize(
    ("english", "german_text"),
    [
        ("16 April 2026", "16. April 2026"),
        ("14 to 16 April 2026", "14. bis 16. April 2026"),
        ("28 April to 2 May 2026", "28. April bis 2. Mai 2026"),
        ("30 December 2025 to 2 January 2026", "30. Dezember 2025 bis 2. Januar 2026"),
    ],
)
def test_dates_are_written_as_the_language_does(english, german_text):
    """CLDR, by Babel: long dates of German have the day with a point and the month spelled out."""
    assert local_date(english, "de", "bis") == german_text


def test_versions_and_digests_are_no_numbers():
    assert local_numbers("numpy 2.4.6, 7.1 mm, ab12.5f, 1.5", "de") == "numpy 2.4.6, 7,1 mm, ab12.5f, 1,5"


def test_every_piece_of_the_script_that_the_catalogue_says_is_there(german):
    script = (TEMPLATES / "page" / "sorting.js").read_text(encoding="utf-8")
    said = said_script(script, german)
    assert not german.missing
    assert "Nur Zeilen zeigen mit " in said and "not sorted" not in said


def test_each_message_has_the_same_holes_in_both_languages_and_no_translation_is_empty():
    from babel.messages.pofile import read_po

    path = Path(sys.modules["pinscar.language"].__file__).with_name("catalogues") / "de.po"
    with path.open("rb") as file:
        messages = [one for one in read_po(file, locale="de", abort_invalid=True) if one.id]
    import re

    def holes(text: str) -> list[str]:
        return sorted(set(re.findall(r"\{[a-z]+\d*\}", text)))

    assert len(messages) > 1000
    assert [one.id for one in messages if not one.string or holes(one.id) != holes(one.string)] == []


def test_english_needs_no_catalogue():
    """A report in English reads no catalogue: Babel is not even imported."""
    code = (
        "import sys; from pinscar.page.page import notebook_to_html; import nbformat.v4 as v4;"
        "notebook_to_html(v4.new_notebook(), title='t', campaign_id='c');"
        "print(any(name.startswith('babel.messages') for name in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
