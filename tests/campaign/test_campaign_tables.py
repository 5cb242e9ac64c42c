"""Tables on disk: cells, headers and rows as a spreadsheet shows them."""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from pinscar.campaign.columns import LOAD_STEPS, READINGS, RESERVED, RUNS, find_column
from pinscar.campaign.frames import CellTextError, read_choice, read_frame, read_moment, read_number
from pinscar.campaign.headers import read_headers
from pinscar.campaign.spreadsheets import TextTable, column_letter
from pinscar.campaign.tables import parse_csv, read_csv, read_xlsx
from pinscar.units import check_dimension


@pytest.mark.parametrize(
    ("cell", "comma", "number"),
    [
        ("2.31", False, 2.31),
        ("2,31", True, 2.31),
        ("2.31", True, 2.31),
        ("-5", False, -5.0),
        ("−5", False, -5.0),
        ("1e-3", False, 1e-3),
        ("1,5E3", True, 1500.0),
        (".5", False, 0.5),
        ("5.", False, 5.0),
        ("007", False, 7.0),
    ],
)
def test_numbers_as_people_write_them(cell: str, comma: bool, number: float) -> None:
    assert read_number(cell, decimal_comma=comma) == number


@pytest.mark.parametrize(
    ("cell", "comma", "code"),
    [
        ("2,31", False, "value-decimal-mark"),
        ("1,200", False, "value-decimal-mark"),
        ("1,200.5", False, "value-decimal-mark"),
        ("1.200,5", True, "value-decimal-mark"),
        ("1 200", True, "value-decimal-mark"),
        ("1'200", False, "value-decimal-mark"),
        ("1.200.000", True, "value-decimal-mark"),
        ("2.31 mm", False, "value-not-a-number"),
        ("<5", False, "value-not-a-number"),
        ("n/a", False, "value-not-a-number"),
        ("nan", False, "value-not-a-number"),
        ("inf", False, "value-not-a-number"),
        ("1e999", False, "value-not-a-number"),
        ("0x10", False, "value-not-a-number"),
        ("1_000", False, "value-not-a-number"),
        ("#DIV/0!", False, "value-not-a-number"),
    ],
)  # fmt: skip
def test_what_is_no_plain_number_is_refused(cell: str, comma: bool, code: str) -> None:
    with pytest.raises(CellTextError) as caught:
        read_number(cell, decimal_comma=comma)
    assert caught.value.code == code


def test_a_point_before_three_digits_is_refused_where_commas_mark_decimals() -> None:
    with pytest.raises(CellTextError, match="decimals or thousands"):
        read_number("1.200", decimal_comma=True, commas_used=True)
    assert read_number("0.200", decimal_comma=True, commas_used=True) == 0.2
    assert read_number("1.200", decimal_comma=True) == 1.2


def test_a_date_keeps_its_clock() -> None:
    assert read_moment("2026-03-04 08:30") == dt.datetime(2026, 3, 4, 8, 30)
    assert read_moment("2026-03-04T08:30Z") == dt.datetime(2026, 3, 4, 8, 30)
    assert read_moment("2026-03-04") == dt.datetime(2026, 3, 4)


@pytest.mark.parametrize(
    "cell", ["4.3.2026", "03/04/2026", "2026-02-30", "20260304", "yesterday", "2026-03-04T25:00"]
)
def test_a_date_in_another_form_is_refused(cell: str) -> None:
    with pytest.raises(CellTextError, match="ISO 8601"):
        read_moment(cell)


def test_a_choice_takes_capitals_and_no_other_words() -> None:
    assert read_choice("NO", ("yes", "no")) == "no"
    with pytest.raises(CellTextError):
        read_choice("n", ("yes", "no"))


def test_rows_are_counted_as_a_spreadsheet_does() -> None:
    table, problems = parse_csv('a,b\n\n1,"two\nlines"\n,\n3,4\n', "runs.csv")
    assert problems == []
    assert table is not None
    assert table.rows == ((3, ("1", "two\nlines")), (5, ("3", "4")))


def test_a_header_may_come_after_blank_rows() -> None:
    table, _ = parse_csv("\n\na;b\n1;2\n", "runs.csv")
    assert table is not None
    assert (table.header, table.rows) == (("a", "b"), ((4, ("1", "2")),))


def test_the_separator_line_of_a_spreadsheet_is_no_row() -> None:
    table, _ = parse_csv("sep=;\r\na;b\r\n1;2\r\n", "runs.csv")
    assert table is not None
    assert (table.header, table.rows) == (("a", "b"), ((2, ("1", "2")),))


def test_commas_in_quoted_headers_do_not_choose_the_separator() -> None:
    table, _ = parse_csv('"a, b, c";d\n1;2\n', "runs.csv")
    assert table is not None
    assert table.header == ("a, b, c", "d")


def test_short_rows_are_filled_and_closing_separators_dropped() -> None:
    table, problems = parse_csv("a,b,c\n1,2,3,\n1,2,3,\n", "runs.csv")
    assert problems == []
    table, problems = parse_csv("a,b,c\n1\n", "runs.csv")
    assert problems == []
    assert table is not None
    assert table.rows == ((2, ("1", "", "")),)


def test_a_row_shifted_by_a_decimal_comma_is_told_even_when_its_last_cell_is_blank() -> None:
    _, problems = parse_csv("a,b,note\n1,2,\n1,2,5,\n", "runs.csv")
    assert [(one.code, one.row) for one in problems] == [("table-too-many-cells", 3)]
    assert "decimal comma" in problems[0].message


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le"])
def test_text_in_another_unicode_form_is_told(encoding: str, tmp_path: Path) -> None:
    (tmp_path / "runs.csv").write_bytes("a,b\n1,2\n".encode(encoding))
    assert [one.code for one in read_csv(tmp_path / "runs.csv", "runs.csv")[1]] == ["file-encoding"]


def test_columns_have_letters() -> None:
    assert [column_letter(position) for position in (0, 25, 26, 701, 702)] == ["A", "Z", "AA", "ZZ", "AAA"]


def heads(*header: str, columns: Any = RUNS) -> tuple[list[str], list[tuple[str, str | None]]]:
    found, problems = read_headers(TextTable(file="runs.csv", header=header, rows=()), columns)
    return [one.name for one in found], [
        (one.code, one.column) for one in problems if one.code != "column-missing"
    ]


@pytest.mark.parametrize(
    "written",
    [
        *("Scar_Length [mm]", "scar length [mm]", "scar-length [mm]", "SCAR_LENGTH", "scar_length (mm)"),
        *("scar_length_mm", "scar length, mm", "scar_lenght [mm]"),
    ],
)
def test_a_header_almost_right_is_an_error_that_names_the_right_one(written: str) -> None:
    table = TextTable(file="runs.csv", header=("run_id", written), rows=())
    problem = next(one for one in read_headers(table, RUNS)[1] if one.column == written)
    assert (problem.code, problem.severity.value) == ("column-near-miss", "error")
    assert problem.mend == "write it as scar_length [mm]"
    assert not any(
        "scar_length" in one.message for one in read_headers(table, RUNS)[1] if one.code == "column-missing"
    )


def test_a_second_reading_beside_the_known_column_is_the_users_own() -> None:
    assert heads("scar_length [mm]", "scar_length_2 [mm]") == (["scar_length", "scar_length_2"], [])


def test_a_header_that_looks_like_an_optional_column_is_kept_with_a_warning() -> None:
    assert heads("operators") == (["operators"], [("column-near-miss", "operators")])


def test_a_column_of_the_tools_own_names_is_refused() -> None:
    for name in sorted(RESERVED):
        assert heads(name) == ([], [("column-reserved", name)])


def test_known_columns_fit_their_own_headers() -> None:
    for columns in (RUNS, LOAD_STEPS, READINGS):
        assert len({column.name for column in columns}) == len(columns)
        for column in columns:
            if column.needs_unit:
                check_dimension(column.unit, column.dimension)
            assert heads(column.header, columns=columns)[0] == [column.name]


def test_drips_need_no_unit_and_must_be_whole() -> None:
    table = TextTable(file="runs.csv", header=("drips",), rows=((2, ("3",)), (3, ("2.5",))))
    read = read_frame(table, (find_column(RUNS, "drips"),))  # type: ignore[arg-type]
    assert read.frame["drips"].tolist()[0] == 3.0
    assert [(one.code, one.row) for one in read.problems] == [("value-out-of-range", 3)]


def test_a_temperature_may_be_below_zero_but_not_below_the_absolute_one() -> None:
    table = TextTable(
        file="runs.csv", header=("ambient_temperature [degC]",), rows=((2, ("-10",)), (3, ("-300",)))
    )
    read = read_frame(table, (find_column(RUNS, "ambient_temperature"),))  # type: ignore[arg-type]
    assert read.frame["ambient_temperature"].tolist()[0] == pytest.approx(263.15, rel=1e-15, abs=0)
    assert [(one.code, one.row) for one in read.problems] == [("value-out-of-range", 3)]


def book(path: Path, rows: list[list[Any]], sheet_first: str | None = None) -> Path:
    workbook = openpyxl.Workbook()
    for row in rows:
        workbook.active.append(row)
    if sheet_first:
        workbook.create_sheet(sheet_first, 0)
    stream = io.BytesIO()
    workbook.save(stream)
    path.write_bytes(stream.getvalue())
    return path


def test_a_workbook_keeps_numbers_whole_and_exact(tmp_path: Path) -> None:
    path = book(tmp_path / "runs.xlsx", [["a", "b"], [101, 0.1 + 0.7], [None, None], ["x ", True]])
    table, problems = read_xlsx(path, "runs.xlsx")
    assert problems == []
    assert table is not None
    assert table.rows == ((2, ("101", "0.7999999999999999")), (4, ("x", "True")))


def test_only_the_first_sheet_counts(tmp_path: Path) -> None:
    path = book(tmp_path / "runs.xlsx", [["a"], [1]], sheet_first="empty")
    assert [one.code for one in read_xlsx(path, "runs.xlsx")[1]] == ["file-empty"]


def test_a_failed_formula_and_a_time_of_day_are_told(tmp_path: Path) -> None:
    path = book(tmp_path / "runs.xlsx", [["a", "b"], [dt.time(0, 1), 1]])
    assert [(one.code, one.row) for one in read_xlsx(path, "runs.xlsx")[1]] == [("xlsx-format", 2)]
    workbook = openpyxl.load_workbook(path)
    workbook.active["A2"] = "#DIV/0!"
    workbook.save(path)
    assert [(one.code, one.row) for one in read_xlsx(path, "runs.xlsx")[1]] == [("xlsx-no-value", 2)]


@pytest.mark.parametrize("cell", ["2026-02-01T00:00:00", "1. Feb", "Feb-01", "01-Feb"])
def test_a_number_that_a_spreadsheet_took_for_a_date_is_told_so(cell: str) -> None:
    with pytest.raises(CellTextError) as caught:
        read_number(cell)
    assert "took the number for a date" in caught.value.mend


@pytest.mark.parametrize("written", ["wear_stoped", "quiet_tme [s]"])
def test_a_mistyped_column_that_would_change_results_is_an_error(written: str) -> None:
    assert heads(written) == ([], [("column-near-miss", written)])
