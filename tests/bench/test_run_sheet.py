"""The run sheet as a workbook: what its cells accept, and that what a person types there is read back."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from openpyxl.utils import get_column_letter

from pinscar.bench.prepare import prepare, write_campaign
from pinscar.bench.questions import answers_of
from pinscar.bench.run_sheet import SPARE
from pinscar.bench.run_sheet_rules import LONGEST_TEXT, LONGEST_TITLE
from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.columns import RUNS
from pinscar.campaign.tables import read_xlsx
from pinscar.page.cautions import BENCH

GIVEN = {"reference": "007", "candidates": "1-2,=7", "load": "46 kgf", "title": "Trial & error", "days": "1"}
KGF = 9.80665  # N, by the standard acceleration of free fall (3rd CGPM, 1901)


def make(folder: Path, **given: str) -> Path:
    write_campaign(folder, prepare(folder, answers_of("Title", GIVEN | given)), xlsx=True)
    return folder / "runs.xlsx"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return make(tmp_path / "spring")


@pytest.fixture
def sheet(path):
    return openpyxl.load_workbook(path)["runs"]


def columns_of(sheet) -> dict[str, int]:
    return {cell.value.split(" [")[0]: cell.column for cell in sheet[1]}


def cell_in_row_2(path: Path, name: str) -> str:
    return f"{get_column_letter(columns_of(openpyxl.load_workbook(path)['runs'])[name])}2"


def rules_of(sheet) -> dict:
    found = {}
    for rule in sheet.data_validations.dataValidation:
        (area,) = rule.sqref.ranges
        found[sheet.cell(1, area.min_col).value.split(" [")[0]] = (rule, area)
    return found


def fill(path: Path, **typed) -> Path:
    """Fill every run with plausible values; ``typed`` maps a column to what stands in its first row."""
    book = openpyxl.load_workbook(path)
    sheet = book["runs"]
    at = columns_of(sheet)
    for row in range(2, 14):
        size = (1.0 if sheet.cell(row, at["lubricant"]).value == "007" else 0.88) * (1.0 + 0.01 * (row % 4))
        sheet.cell(row, at["scar_length"]).value = round(3.3 * size, 3)
        sheet.cell(row, at["scar_width"]).value = round(1.8 * size, 3)
    for name, value in typed.items():
        sheet.cell(2, at[name]).value = value
    book.save(path)
    return path


def test_the_same_campaign_gives_the_same_bytes_and_no_clock(tmp_path):
    first, second = (make(tmp_path / part / "spring").read_bytes() for part in ("a", "b"))
    assert first == second
    with zipfile.ZipFile(io.BytesIO(first)) as parts:
        assert {part.date_time for part in parts.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        said = parts.read("docProps/core.xml") + parts.read("docProps/app.xml")
    assert b"created" not in said
    assert b"modified" not in said
    assert b"<Application>" not in said


def test_the_sheet_holds_what_the_table_of_text_holds(path, sheet, tmp_path):
    folder = tmp_path / "csv" / "spring"
    write_campaign(folder, prepare(folder, answers_of("Title", GIVEN)), xlsx=False)
    lines = (folder / "runs.csv").read_text(encoding="utf-8").splitlines()
    assert [cell.value for cell in sheet[1]] == lines[0].split(",")
    table, problems = read_xlsx(path, "runs.xlsx")
    assert problems == []
    assert [",".join(cells) for _, cells in table.rows] == lines[1:]


def test_names_stay_text_and_numbers_are_numbers(sheet):
    at = columns_of(sheet)
    oils = [sheet.cell(row, at["lubricant"]) for row in range(2, 14)]
    assert {(cell.value, cell.data_type, cell.number_format) for cell in oils} == {
        (oil, "s", "@") for oil in ("007", "1-2", "=7")
    }
    assert sheet.cell(2, at["load"]).value == 46
    spare = 14 + SPARE - 1
    for name in ("run_id", "operator", "ring_id", "pin_lot", "excluded", "note"):
        assert sheet.cell(spare, at[name]).number_format == "@"
    assert sheet.cell(spare, at["run_at"]).number_format.replace("\\", "") == "yyyy-mm-dd hh:mm"


def test_every_column_has_its_rule_and_hint_on_every_row_the_spare_ones_too(sheet):
    rules = rules_of(sheet)
    assert set(rules) == set(columns_of(sheet))
    known = {column.name: column for column in RUNS}
    for name, (rule, area) in rules.items():
        assert (area.min_row, area.max_row) == (2, 13 + SPARE)
        assert rule.showInputMessage
        assert len(rule.promptTitle) <= LONGEST_TITLE
        assert len(rule.prompt) <= LONGEST_TEXT
        assert len(rule.error or "") <= LONGEST_TEXT
        if name in known:
            assert known[name].meaning[1:] in rule.prompt


def test_choices_come_from_lists(sheet):
    rules = rules_of(sheet)
    for column in RUNS:
        if column.kind == "choice":
            rule = rules[column.name][0]
            assert (rule.type, rule.formula1) == ("list", f'"{",".join(column.options)}"')
            assert rule.errorStyle in (None, "stop")
    assert rules["lubricant"][0].formula1 == "lists!$A$2:$A$4"
    lists = sheet.parent["lists"]
    assert lists.sheet_state == "hidden"
    assert [lists.cell(row, 1).value for row in (2, 3, 4)] == ["007", "1-2", "=7"]
    # no list that a spreadsheet would cut short at a comma within a name
    assert rules["lubricant"][0].errorStyle == "warning"


def test_numbers_have_the_usual_range_in_the_unit_of_their_header(sheet):
    rules = rules_of(sheet)
    load = rules["load"][0]
    # 5 N to 20 kN are usual, given to two digits
    assert (load.type, load.errorStyle) == ("decimal", "warning")
    assert float(load.formula1) == pytest.approx(5.0 / KGF, rel=2e-2)  # two digits
    assert float(load.formula2) == pytest.approx(20e3 / KGF, rel=3e-2)  # two digits
    assert "in kgf" in load.error
    drips = rules["drips"][0]
    assert (drips.type, drips.operator, drips.formula1) == ("whole", "greaterThanOrEqual", "0")
    moment = rules["run_at"][0]
    # 1 January 2000 is day 36526 of the 1900 date system (ISO/IEC 29500-1, 18.17.4.1)
    assert (moment.type, float(moment.formula1)) == ("date", 36526)
    assert (dt.date(2000, 1, 1) - dt.date(1899, 12, 30)).days == 36526


def test_it_is_ready_to_print(sheet):
    assert sheet.page_setup.orientation == "landscape"
    assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.print_title_rows == "$1:$1"
    assert sheet.freeze_panes == "B2"
    assert "&P of &N" in sheet.oddFooter.right.text
    assert sheet.oddFooter.left.text == "Trial && error"  # one & would be taken for a code


def test_the_second_sheet_explains_every_column(sheet):
    guide = sheet.parent["how to fill in"]
    rows = [[cell.value for cell in row] for row in guide.iter_rows()]
    start = next(place for place, row in enumerate(rows) if row[0] == "column") + 1
    told = {row[0]: row for row in rows[start:]}
    assert set(told) == set(columns_of(sheet))
    assert told["load"][1] == "kgf"
    assert "none, light or heavy" in told["smoke"][3]
    assert [name for name, row in told.items() if row[4] == "yes"] == [
        "run_id", "lubricant", "load", "duration", "scar_length",
    ]  # fmt: skip
    assert any(row[0] == BENCH for row in rows)


def test_blank_rows_are_no_runs(path):
    campaign, problems = check_campaign(fill(path).parent)
    assert problems == []
    assert len(campaign.runs) == 12
    assert campaign.runs["load"].tolist() == pytest.approx([46 * KGF] * 12, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "typed", "read"),
    [
        ("run_at", dt.datetime(2026, 3, 2, 9, 10), dt.datetime(2026, 3, 2, 9, 10)),
        ("run_at", dt.date(2026, 3, 2), dt.datetime(2026, 3, 2)),
        ("run_at", "2026-03-02 09:10", dt.datetime(2026, 3, 2, 9, 10)),
        ("wear_stopped", "yes ", True),
        ("wear_stopped", "No", False),
        ("drips", 3, 3.0),
        ("drips", 3.0, 3.0),
        ("quiet_time", "41", 41.0),
        ("pin_lot", "1-2", "1-2"),
        ("pin_lot", 12, "12"),
        ("note", "  ", ""),
        ("run_at", "2.3.2026", dt.datetime(2026, 3, 2)),
        ("run_at", "2.3.2026 9:10", dt.datetime(2026, 3, 2, 9, 10)),
        ("wear_stopped", True, True),
        ("wear_stopped", "ja", True),
        ("wear_stopped", "x", True),
        ("wear_stopped", "non", False),
        ("smoke", "leicht", "light"),
        ("excluded", "nein", ""),
        ("quiet_time", "40,5", 40.5),
        ("quiet_time", "0,5 min", 30.0),
        ("ring_speed", "700/min", pytest.approx(700 * 2 * np.pi / 60, rel=1e-12)),
    ],
)
def test_what_a_person_types_is_read_as_meant(name, typed, read, path):
    campaign, problems = check_campaign(fill(path, **{name: typed}).parent)
    assert [str(one) for one in problems] == []
    assert campaign.runs[name].iloc[0] == read


@pytest.mark.parametrize(
    ("name", "typed", "mend"),
    [
        ("load", "450 mm", "write the number alone, as its unit stands in the header"),
        ("scar_length", "2,850", "write decimals with a point"),
        ("scar_length", dt.datetime(2026, 2, 1), "a spreadsheet took the number for a date"),
        ("duration", dt.time(0, 1), "format the column as plain numbers"),
        ("run_at", "31.2.2026", "write it like 2026-03-04T08:30"),
        ("run_at", "2/3/2026", 'add dates = "day first"'),
        ("wear_stopped", "maybe", "write yes or no"),
        ("excluded", "yes", "leave the cell blank to include the run"),
        ("quiet_time", "=20+1", "open and save it in a spreadsheet"),
        ("drips", "#DIV/0!", "mend the formula"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_cell(name, typed, mend, path):
    _, problems = check_campaign(fill(path, **{name: typed}).parent)
    found = [one for one in problems if mend in one.mend]
    assert found, [str(one) for one in problems]
    cell = cell_in_row_2(path, name)
    assert (found[0].row, found[0].cell) == (2, cell)
    assert f"cell {cell}: " in str(found[0])


def test_merged_cells_are_told_and_merged_blanks_are_not(path):
    fill(path)
    book = openpyxl.load_workbook(path)
    at = columns_of(book["runs"])
    book["runs"].cell(2, at["operator"]).value = "AB"
    book["runs"].merge_cells(start_row=2, end_row=4, start_column=at["operator"], end_column=at["operator"])
    book["runs"].merge_cells(start_row=5, end_row=6, start_column=at["note"], end_column=at["note"])
    book.save(path)
    assert check_campaign(path.parent)[0].runs["operator"].tolist()[:4] == ["AB", "AB", "AB", ""]
    book["runs"].merge_cells(
        start_row=2, end_row=4, start_column=at["quiet_time"], end_column=at["quiet_time"]
    )
    book["runs"].cell(2, at["quiet_time"]).value = 41
    book.save(path)
    (problem,) = check_campaign(path.parent)[1]
    cell = cell_in_row_2(path, "quiet_time")
    assert (problem.code, problem.cell) == ("xlsx-merged", cell)
    letter = cell.rstrip("2")
    assert problem.message == f"the cells {letter}2:{letter}4 are merged, so all but the first are blank"


def test_the_sheet_runs_is_read_wherever_it_stands_and_a_hidden_one_is_not(path):
    fill(path)
    book = openpyxl.load_workbook(path)
    book.move_sheet("lists", -2)  # hidden, and now the first
    book.move_sheet("how to fill in", -1)
    book.save(path)
    assert check_campaign(path.parent)[1] == []
    book["runs"].title = "Tabelle1"  # what was called otherwise is found as the first that isn't hidden
    book.move_sheet("how to fill in", 1)
    assert book.sheetnames[0] == "lists"
    book.save(path)
    assert check_campaign(path.parent)[1] == []
