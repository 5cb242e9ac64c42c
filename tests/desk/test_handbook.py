"""The method handbook explains every response that pinscar knows, in sections of one shape."""

from __future__ import annotations

import re
from pathlib import Path

import nbformat
import pytest

from pinscar.campaign.columns import COMPUTED, RUNS, SETTINGS
from pinscar.decision.responses import STANDARD

ROOT = Path(__file__).resolve().parents[2]
HANDBOOK = ROOT / "notebooks" / "handbook.ipynb"
CELLS = nbformat.read(HANDBOOK, 4).cells
PROSE = [cell.source for cell in CELLS if cell.cell_type == "markdown"]
SECTIONS = [text for text in PROSE if re.search(r"^### ", text, re.MULTILINE)]

MEASURED = {column.name for column in RUNS if column.kind == "number"} - SETTINGS
RESPONSES = {response.name for response in STANDARD} | set(COMPUTED) | MEASURED
"""Whatever a run can be judged by: computed, or measured and no setting of the run."""

SHAPE = ("**Equation**", "**Source.**", "**Holds when.**", "**Where it stands.**", "**Worked example.**")


def heading(section: str) -> str:
    return next(line for line in section.splitlines() if line.startswith("### "))


@pytest.mark.parametrize("name", sorted(RESPONSES))
def test_every_response_has_a_section_that_names_it_in_its_heading(name):
    named = [heading(one) for one in SECTIONS if f"`{name}`" in heading(one)]
    assert len(named) == 1, f"notebooks/handbook.ipynb has {len(named)} sections with `{name}` in the heading"


def test_no_heading_names_a_response_that_is_none():
    named = set(re.findall(r"`(\w+)`", " ".join(heading(one) for one in SECTIONS)))
    assert named <= RESPONSES


@pytest.mark.parametrize("section", SECTIONS, ids=heading)
def test_every_section_has_the_same_parts_in_the_same_order(section):
    places = [section.find(f"\n\n{part}") for part in SHAPE]
    assert -1 not in places
    assert places == sorted(places)


def test_every_section_works_its_example_by_hand_and_by_pinscar():
    """The cells after a section: plain arithmetic first, without pinscar, then pinscar with a comparison."""
    places = [place for place, cell in enumerate(CELLS) if cell.source in SECTIONS]
    assert len(places) == len(SECTIONS) > 60
    for place in places:
        name, by_hand, by_pinscar = CELLS[place].id, CELLS[place + 1], CELLS[place + 2]
        assert (by_hand.id, by_pinscar.id) == (f"{name}-hand", f"{name}-pinscar")
        assert "import pinscar" not in by_hand.source, name
        assert "from pinscar" not in by_hand.source, name
        assert "side_by_side(" in by_pinscar.source or "assert " in by_pinscar.source, name


def test_every_link_leads_to_a_cell():
    """JupyterLab scrolls to ``#cell-id=NAME``, and nbconvert gives each cell that very anchor."""
    links = re.findall(r"\]\(#([^)\s]+)\)", "\n".join(PROSE))
    assert len(links) > 100
    assert set(links) <= {f"cell-id={cell.id}" for cell in CELLS}


def test_every_section_stands_in_the_contents():
    contents = " ".join(next(text for text in PROSE if "## Contents" in text).split())
    entries = [heading(one)[4:].split(" `")[0].replace(". ", " ", 1) for one in SECTIONS]
    assert [one for one in entries if f"[{one}](" not in contents] == []


def test_every_table_and_section_that_is_pointed_at_is_in_the_report():
    """What stands in italics under "Where it stands" is a heading of a template, or a caption."""
    report = [path.read_text(encoding="utf-8") for path in (ROOT / "toolkit/pinscar").rglob("*.py")]
    report += [path.read_text(encoding="utf-8") for path in (ROOT / "toolkit/pinscar/study").rglob("*.py")]
    report += [path.read_text(encoding="utf-8") for path in (ROOT / "templates").glob("*.ipynb")]
    shown = "\n".join(report)
    stands = [re.search(r"\*\*Where it stands\.\*\*([^*`]|\*[^*]+\*|`[^`]+`)+", one) for one in SECTIONS]
    named = {" ".join(n.split()) for m in stands for n in re.findall(r"(?<!\*)\*([^*]+)\*(?!\*)", m.group(0))}
    assert len(named) > 15
    assert {name for name in named if name not in shown} == set()


def test_every_key_of_a_run_that_is_pointed_at_is_in_the_results():
    sources = (path.read_text(encoding="utf-8") for path in (ROOT / "toolkit/pinscar").rglob("*.py"))
    written = "\n".join(sources)
    keys = set(re.findall(r"`runs\[\]\.(\w+)`", "\n".join(PROSE)))
    assert len(keys) > 10
    assert {key for key in keys if f'"{key}"' not in written} == set()
