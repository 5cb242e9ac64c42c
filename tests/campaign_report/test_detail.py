"""The three lengths of a report, and the first page that decides: for limits or none, one oil or many."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.campaign_report import answer, layout, openers
from pinscar.decision.analysis import analyse
from pinscar.decision.record import Analysis
from pinscar.decision.results import comparison_entries
from pinscar.errors import UsageError
from pinscar.page.outline import page_parts
from pinscar.press.page_numbers import unlike_numbers

TOML = """
[campaign]
id = "small-1"
question = "Is C-21 better, or D-9?"
reference = "R-10"

[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
"""
HEAD = (
    "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,quiet_time [s],"
    "excluded"
)


def oil(name: str, length: float, *, n: int = 5, load: int = 450, duration: int = 60, stopped: str = "yes"):
    """Give runs of one oil whose scars scatter by a hundredth or two."""
    return [
        f"{name}-{load}-{i},{name},{load},{duration},{length + 0.04 * i:.2f},"
        f"{0.545 * length + 0.02 * i:.2f},{stopped},,"
        for i in range(n)
    ]


def limit(
    name: str, oil_name: str, text: str, response: str = "film_pressure", rule: str = "at least"
) -> str:
    key = "limit = " + (f'"{text}"' if " " in text else text)
    return (
        f'\n[[criteria]]\nid = "{name}"\nresponse = "{response}"\nlubricant = "{oil_name}"\n'
        f'load = "450 N"\nrule = "{rule}"\n{key}\n'
    )


def declared(*names: str) -> str:
    return "".join(f'\n[[lubricants]]\nid = "{name}"\n' for name in ("R-10", *names))


def campaign(folder: Path, rows: list[str], more: str = "") -> Analysis:
    (folder / "campaign.toml").write_text(TOML + more, encoding="utf-8")
    (folder / "runs.csv").write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    return analyse(read_campaign(folder))


def words(html: object) -> str:
    text = re.sub(r"data:image[^\"]*", "", str(html))
    return re.sub(r"[\s\u2007\u2008\u00a0]+", " ", unescape(re.sub(r"<[^>]+>", " ", text))).replace(" :", ":")


def front(analysis: Analysis) -> str:
    return words(layout.front(analysis, "standard").data)


def whole(analysis: Analysis, detail: layout.Detail) -> str:
    """Put a report's cells together, as the template does."""
    parts = [layout.front(analysis, detail), layout.second_page(analysis, detail)]
    last = [layout.section(analysis, key, detail) for key in ("cautions", "methods", "trace")]
    keys = [one.key for one in layout.SECTIONS if one.key not in ("cautions", "methods", "trace")]
    parts += [layout.section(analysis, key, detail) for key in keys]
    return "\n".join(str(one.data) for one in [*parts, layout.absent(analysis, detail), *last])


@pytest.fixture(scope="module")
def demo(demo_analysis: Analysis) -> dict[str, str]:
    """The demo report in each length."""
    details: tuple[layout.Detail, ...] = ("brief", "standard", "full")
    return {detail: whole(demo_analysis, detail) for detail in details}


def test_a_length_that_is_none_is_refused_in_plain_words() -> None:
    with pytest.raises(UsageError, match=r"^detail must be brief, standard or full, not 'long'$"):
        layout.checked("long")


def test_each_limit_stands_in_words_with_its_numbers_and_not_by_its_id(tmp_path: Path) -> None:
    more = limit("my-own-id", "C-21", "300 MPa") + limit(
        "other-id", "C-21", "0.9", "scar_area", "ratio at most"
    )
    text = front(campaign(tmp_path, oil("R-10", 3.6) + oil("C-21", 2.8), more))
    assert re.search(
        r"Film pressure at 450 N: [\d.]+ \([\d.]+ to [\d.]+\) MPa, at least 300 MPa: not met", text
    )
    assert re.search(r"Scar area at 450 N: 0\.\d+ \(.*?\) times that of R-10, at most 0\.9 times: met", text)
    assert "Not met. C-21 misses 1 of 2 limits (film pressure at 450 N)" in text
    assert "-id" not in text
    assert "the oil has to change, or the limit has to be reviewed" in text


def test_every_oil_that_is_asked_about_is_named_with_runs_or_without(tmp_path: Path) -> None:
    rows = oil("R-10", 3.6) + oil("C-21", 2.8) + oil("E-1", 3.0)
    text = front(campaign(tmp_path, rows, declared("C-21", "E-1", "D-9") + limit("a", "E-1", "50 MPa")))
    assert "E-1 meets its limit; no limit is stated for C-21 and D-9" in text
    assert "C-21 left a scar" in text
    assert "There is no included run of D-9." in text
    assert "Run D-9, which the campaign names." in text


def test_an_undecided_limit_says_how_many_runs_would_settle_it(tmp_path: Path) -> None:
    rows = oil("R-10", 3.6) + oil("C-21", 2.8, n=3)
    text = front(campaign(tmp_path, rows, limit("a", "C-21", "128 MPa")))
    assert "Undecided. C-21 is open: its only limit is undecided (film pressure at 450 N)" in text
    assert re.search(r"\d+ further runs? of C-21 would settle it with a chance of about 80 %", text)


def test_a_limit_without_runs_asks_for_them(tmp_path: Path) -> None:
    text = front(
        campaign(
            tmp_path,
            oil("R-10", 3.6) + oil("C-21", 2.8),
            declared("C-21", "D-9") + limit("a", "D-9", "90 MPa"),
        )
    )
    assert "Film pressure at 450 N: no run tells it, at least 90 MPa: undecided" in text
    assert "Film pressure of D-9 at 450 N: make the runs that its limit needs." in text


def test_without_limits_the_page_still_answers_and_says_what_is_missing(tmp_path: Path) -> None:
    text = front(campaign(tmp_path, oil("R-10", 3.6) + oil("C-21", 2.8)))
    assert "C-21 left a scar about" in text
    assert "No release limits are stated" in text


def test_one_oil_alone_is_compared_with_nothing(tmp_path: Path) -> None:
    analysis = campaign(tmp_path, oil("R-10", 3.6))
    text = front(analysis)
    assert "Only R-10 was run, so there is nothing to compare it with." in text
    assert "one oil alone can't be compared" in text
    assert "R-10 was not run at a load of R-10" not in words(whole(analysis, "standard"))


def test_a_blocked_comparison_is_said_and_asked_for_again(tmp_path: Path) -> None:
    rows = oil("R-10", 3.6) + oil("C-21", 2.8, duration=90)
    more = limit("a", "C-21", "0.9", "scar_area", "ratio at most")
    text = front(campaign(tmp_path, rows, more))
    assert "1 finding blocks a comparison" in text
    assert "not judged, because the two were run under different conditions" in text
    assert "repeat the runs under the conditions of the reference" in text


def test_many_oils_are_counted_and_their_limits_cut_short(tmp_path: Path) -> None:
    names = [f"K-{i}" for i in range(10)]
    rows = oil("R-10", 3.6) + [row for i, name in enumerate(names) for row in oil(name, 2.6 + 0.1 * i)]
    more = "".join(limit(f"l{i}", name, "90 MPa") for i, name in enumerate(names))
    analysis = campaign(tmp_path, rows, more)
    text = front(analysis)
    assert re.search(r"Of 10 oils with limits, \d", text)
    assert 1 <= text.count("at least 90 MPa") < answer.MOST_LIMITS
    assert re.search(r"Of \d further limits, ", text)
    assert len(list(answer.next_steps(analysis))) >= 1


def test_a_single_run_is_asked_to_be_repeated(tmp_path: Path) -> None:
    text = front(campaign(tmp_path, oil("R-10", 3.6) + oil("C-21", 2.8, n=1)))
    assert "Repeat C-21 at 450 N: a single run gives no interval." in text


def test_sections_without_data_shrink_to_one_line_each(tmp_path: Path) -> None:
    analysis = campaign(tmp_path, oil("R-10", 3.6) + oil("C-21", 2.8))
    html = whole(analysis, "standard")
    headings = re.findall(r"<h2>(.*?)</h2>", html)
    assert layout.ABSENT in headings
    assert not {"What the recordings tell", "Bench against service", "Release limits"} & set(headings)
    listed = html[html.index(f"<h2>{layout.ABSENT}") :].split("</ul>")[0]
    assert listed.count("<li>") == sum(bool(one.absent(analysis)) for one in layout.SECTIONS) >= 6
    assert layout.ABSENT not in re.findall(r"<h2>(.*?)</h2>", whole(analysis, "full"))


@pytest.mark.parametrize("detail", ["brief", "standard", "full"])
def test_every_link_of_every_length_leads_somewhere(demo: dict[str, str], detail: str) -> None:
    parts = page_parts(demo[detail])
    html = parts.front + parts.rest
    wanted = set(re.findall(r'href="#([^"]+)"', html))
    assert wanted <= set(re.findall(r'\sid="([^"]+)"', html))
    assert "data-refer" not in html


def test_method_notes_stand_once_and_tables_refer_to_their_numbers(demo: dict[str, str]) -> None:
    html = demo["standard"]
    numbers = re.findall(r'id="method-(\d+)"', html)
    assert numbers == [str(i) for i in range(1, len(numbers) + 1)]
    assert len(numbers) > 8
    assert 'class="method"' not in html.split("<h2>Notes on method</h2>")[0]
    assert set(re.findall(r'href="#method-(\d+)"', html)) == set(numbers)
    for text in ("Hamrock and Dowson", "within blocks, Welch t"):
        assert html.count(text) >= 1
        assert text not in html.split("<h2>Notes on method</h2>")[0]


def test_tables_of_comparisons_are_joined_by_group(demo: dict[str, str]) -> None:
    standard, full = demo["standard"], demo["full"]
    assert standard.count(' id="table-against-') == 3
    assert full.count(' id="table-against-') == 5
    assert len(standard) < len(full)


def test_oils_stand_in_one_order_everywhere(demo_analysis: Analysis, demo: dict[str, str]) -> None:
    assert demo_analysis.oils == ("R-10", "C-21", "C-22", "B-05")
    for detail in ("standard", "full"):
        html = demo[detail]
        for table in re.findall(r"<table[^>]*>.*?</table>", html, re.DOTALL):
            heads = re.findall(r'<th scope="row"[^>]*>([A-Z]-\d\d) at (\d+) N</th>', table)
            by_load = [[name for name, at in heads if at == load] for load in ("450", "600")]
            for names in by_load:
                order = [demo_analysis.oils.index(name) for name in dict.fromkeys(names)]
                assert order == sorted(order)


def test_the_verdict_of_each_oil_in_words(demo_analysis: Analysis) -> None:
    assert openers.verdict_sentence(demo_analysis) == (
        "C-21 misses 1 of 5 limits (fling mass at 450 N), and 1 is open (film pressure at 450 N); no limit "
        "is stated for C-22."
    )


def test_a_claim_shows_the_interval_of_the_comparison_of_one_method(
    demo_analysis: Analysis,
) -> None:
    text = words(layout.section(demo_analysis, "claims", "standard").data)
    assert "About 36 % smaller than R-10 (27 to 44 %)." in text
    assert "that of the comparison holds" not in text


def test_verify_reads_the_joined_tables_too(demo_analysis: Analysis, demo: dict[str, str]) -> None:
    exact = {"comparisons": comparison_entries(demo_analysis)}
    start = demo["standard"].index(' id="table-against-film-pressure"')
    page = demo["standard"][start - 40 :].split("</table>")[0] + "</table>"
    page = page[page.index("<div") :]
    assert list(unlike_numbers(page, exact)) == []
    (one,) = unlike_numbers(page.replace("0.64", "0.74", 1), exact)
    assert one.where == "C-21 at 450 N, Scar area over the reference"
