"""What the campaign report says, and that it says the same as results.json."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.campaign_report import openers, sections
from pinscar.campaign_report.results import summary_table
from pinscar.decision.analysis import analyse
from pinscar.decision.record import Analysis
from pinscar.decision.responses import STANDARD
from pinscar.decision.results import results

TOML = """
[campaign]
id = "small-1"
title = "Small campaign"
question = "Is C-21 better?"
reference = "R-10"

[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
"""
HEAD = "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,excluded"


def campaign(folder: Path, rows: list[str], toml: str = TOML) -> Analysis:
    (folder / "campaign.toml").write_text(toml, encoding="utf-8")
    (folder / "runs.csv").write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    return analyse(read_campaign(folder))


FULL = [
    *(f"r{i},R-10,450,60,{3.60 + 0.05 * i:.2f},{1.97 + 0.02 * i:.2f},yes," for i in range(5)),
    *(f"c{i},C-21,450,60,{2.80 + 0.04 * i:.2f},{1.52 + 0.02 * i:.2f},yes," for i in range(5)),
]
SECTIONS = (
    sections.front,
    sections.limits,
    sections.tested,
    sections.fairness,
    sections.film_and_scar,
    sections.against_reference,
    sections.observations,
    sections.runs,
    sections.contact,
    sections.film_and_heat,
    sections.service,
    sections.spread,
    sections.provenance,
)


def page(analysis: Analysis) -> str:
    return "\n".join(section(analysis).data or "" for section in SECTIONS)


def words(html: str) -> str:
    text = re.sub(r"data:image[^\"]*", "", html)
    text = re.sub(r"<[^>]+>", " ", text)
    return re.sub(r"[\s\u2007\u2008\u00a0]+", " ", text)


def test_the_page_prints_the_estimates_of_results_json(tmp_path: Path) -> None:
    analysis = campaign(tmp_path, FULL)
    text = words(page(analysis))
    rows = [row for row in results(analysis)["summaries"] if row["response"] == "scar_area"]
    assert len(rows) == 2
    for row in rows:
        numbers = (row["estimate"], row["ci_low"], row["ci_high"])
        assert "{:.2f} ({:.2f} to {:.2f})".format(*numbers) in text


def test_the_answer_names_change_interval_and_repeats(tmp_path: Path) -> None:
    analysis = campaign(tmp_path, FULL)
    ratio = next(c for c in results(analysis)["comparisons"] if c["response"] == "scar_area")
    text = words(sections.front(analysis).data or "")
    low, high = (round(100 * (1 - ratio[end])) for end in ("ci_high", "ci_low"))
    assert f"C-21 left a scar about {round(100 * (1 - ratio['ratio']))} % smaller at 450 N" in text
    assert f"({low} to {high} %, n = 5 and 5)" in text


def test_without_limits_the_page_gives_no_verdict(tmp_path: Path) -> None:
    analysis = campaign(tmp_path, FULL)
    assert results(analysis)["overall"] is None
    assert 'class="verdict' not in page(analysis)
    assert "states no release limits" in words(page(analysis))


def test_a_single_run_gets_no_interval_anywhere(tmp_path: Path) -> None:
    analysis = campaign(tmp_path, [*FULL[:5], "c0,C-21,450,60,2.80,1.52,yes,"])
    summary = next(
        s for s in results(analysis)["summaries"] if s["lubricant"] == "C-21" and s["response"] == "scar_area"
    )
    assert (summary["ci_low"], summary["ci_high"], summary["n"]) == (None, None, 1)
    comparison = next(c for c in results(analysis)["comparisons"] if c["response"] == "scar_area")
    assert (comparison["ci_low"], comparison["ci_high"], comparison["p_adjusted"]) == (None, None, None)
    assert "single run, no interval" in words(page(analysis))


def test_an_all_censored_film_is_a_bound_and_never_a_value(tmp_path: Path) -> None:
    rows = [row.replace("yes", "no") if row.startswith("c") else row for row in FULL]
    analysis = campaign(tmp_path, rows)
    film = next(
        s
        for s in results(analysis)["summaries"]
        if s["lubricant"] == "C-21" and s["response"] == "film_pressure"
    )
    pressures = [r["scar_pressure_MPa"] for r in results(analysis)["runs"] if r["lubricant"] == "C-21"]
    assert (film["estimate"], film["ci_low"], film["n_censored"]) == (None, None, 5)
    assert film["ci_high"] == pytest.approx(max(pressures), rel=1e-12)
    assert film["confidence"] == pytest.approx(1 - 0.5**5)
    assert f"≤ {max(pressures):.0f}" in words(page(analysis))


def test_a_load_with_bounds_alone_names_every_oil(tmp_path: Path) -> None:
    text = words(page(campaign(tmp_path, [row.replace("yes", "no") for row in FULL])))
    told = re.search(r"there are bounds only, R-10 at most (\S+) MPa and C-21 at most (\S+) MPa", text)
    assert told is not None and float(told[1]) < float(told[2])
    assert "In 10 of 10 runs wear was still running: there" in text


def test_only_tables_with_bounds_explain_them(tmp_path: Path) -> None:
    analysis = campaign(tmp_path, FULL)
    area, film = (
        words(summary_table(analysis, [one for one in STANDARD if one.name == name], caption="c", key="k"))
        for name in ("scar_area", "film_pressure")
    )
    assert "Bounds" in film and "Bounds" not in area


def test_an_excluded_run_is_listed_with_its_reason_and_used_nowhere(tmp_path: Path) -> None:
    analysis = campaign(tmp_path, [*FULL, "c9,C-21,450,60,9.00,5.00,yes,pin slipped"])
    without = campaign(tmp_path, FULL)
    assert results(analysis)["summaries"] == results(without)["summaries"]
    assert "c9 excluded: pin slipped." in words(page(analysis))
    assert 'class="excluded"' in page(analysis)


def test_unlike_durations_are_tested_in_film_pressures_only_where_wear_had_stopped(tmp_path: Path) -> None:
    rows = [row.replace(",60,", ",90,") if row.startswith("c") else row for row in FULL]
    analysis = campaign(tmp_path, rows)
    films = [c for c in results(analysis)["comparisons"] if c["response"] == "film_pressure"]
    assert films and all(c["ci_low"] is not None and c["unlike"] is None for c in films)
    for comparison in results(analysis)["comparisons"]:
        if comparison in films:
            continue
        assert (comparison["ci_low"], comparison["ci_high"], comparison["p_adjusted"]) == (None, None, None)
        assert comparison["conclusion"].startswith("not compared: run for 90 s against 60 s")
    assert "unlike, not tested" in words(page(analysis)) or "Not compared" in words(page(analysis))
    assert next(f["severity"] for f in results(analysis)["audit"]) == "blocks"


def test_what_cannot_be_computed_says_why(tmp_path: Path) -> None:
    text = words(page(campaign(tmp_path, FULL)))
    assert "initial pressure is not computed, because an elastic constant is not stated" in text
    assert "Film thickness is not computed" in text
    assert "Flash temperature is not computed" in text
    assert "has no [service] section" in text
    assert "nan" not in text.lower().split()


def test_names_from_the_files_cannot_break_the_page(tmp_path: Path) -> None:
    rows = [row.replace("C-21", "<b>C&21</b>") for row in FULL]
    html = page(campaign(tmp_path, rows, TOML.replace("Is C-21 better?", "<script>alert(1)</script>")))
    assert "<script" not in html
    assert "<b>C" not in html


def test_a_bound_alone_can_refuse_but_never_meet(tmp_path: Path) -> None:
    limit = '\n[[criteria]]\nid = "film"\nresponse = "film_pressure"\nlubricant = "C-21"\nload = "450 N"\n'
    rows = [row.replace("yes", "no") if row.startswith("c") else row for row in FULL]
    low = campaign(tmp_path, rows, TOML + limit + 'rule = "at least"\nlimit = "60 MPa"\n')
    assert results(low)["overall"] == "undecided"
    high = campaign(tmp_path, rows, TOML + limit + 'rule = "at least"\nlimit = "300 MPa"\n')
    assert results(high)["overall"] == "not met"
    few = campaign(tmp_path, [*rows[:5], *rows[5:8]], TOML + limit + 'rule = "at least"\nlimit = "300 MPa"\n')
    assert results(few)["overall"] == "undecided", "three bounds carry 87.5 % confidence, less than 95 %"


def test_intervals_that_hold_for_several_oils_are_called_simultaneous_by_any_method(tmp_path: Path) -> None:
    third = [row.replace("C-21", "C-22").replace("c", "d", 1) for row in FULL if row.startswith("c")]
    one = words(sections.front(campaign(tmp_path, FULL)).data or "")
    several = words(sections.front(campaign(tmp_path, [*FULL, *third])).data or "")
    assert "95 % intervals, across repeats" in one
    assert "95 % intervals, simultaneous over the oils compared" in several


def test_the_blocked_demo_is_called_simultaneous_too() -> None:
    demo = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"
    analysis = analyse(read_campaign(demo))
    assert "simultaneous over the oils compared" in openers.answer_sentences(analysis)[0]


def test_page_one_has_the_dates_without_a_question_too(tmp_path: Path) -> None:
    html = sections.front(campaign(tmp_path, FULL, TOML.replace('question = "Is C-21 better?"', ""))).data
    assert "dates of the runs not recorded" in words(html or "")
