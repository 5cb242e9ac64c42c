"""What lies beside results.json: its tables as a workbook, and the report as one archive."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import openpyxl

from pinscar.press.files import file_stem, zip_report
from pinscar.press.results import tables_bytes

RESULTS = {
    "schema": "pinscar.results/1",
    "campaign": {"id": "c-1", "title": "Oils"},
    "overall": "met",
    "runs": [{"run_id": "007", "scar_area_mm2": 5.25, "wear_stopped": None, "flags": ["a", "b"]}],
    "criteria": [{"id": "film", "verdict": "met", "limit": 100.0}],
    "claims": [],
    "data_mark": "Invented data",
}


def test_each_table_is_a_sheet_and_numbers_stay_numbers() -> None:
    data = tables_bytes(RESULTS)
    assert data is not None
    book = openpyxl.load_workbook(io.BytesIO(data))
    assert book.sheetnames == ["about", "criteria", "runs"]
    head, row = book["runs"].iter_rows(values_only=True)
    assert dict(zip(head, row, strict=True)) == {
        "run_id": "007", "scar_area_mm2": 5.25, "wear_stopped": None, "flags": "a, b",
    }  # fmt: skip
    # the mark of invented data stands on every printed page, and where the workbook opens
    assert book["runs"].oddHeader.left.text == "Invented data"
    assert ("data_mark", "Invented data") in list(book["about"].iter_rows(values_only=True))


def test_text_is_never_a_formula() -> None:
    data = tables_bytes({"runs": [{"lubricant": "=1+1", "note": "+A1"}]})
    assert data is not None
    cells = openpyxl.load_workbook(io.BytesIO(data))["runs"][2]
    assert [(cell.value, cell.data_type) for cell in cells] == [("=1+1", "s"), ("+A1", "s")]


def test_the_same_results_give_the_same_bytes_and_none_no_file() -> None:
    assert tables_bytes(RESULTS) == tables_bytes(dict(RESULTS))
    assert tables_bytes({"overall": "met", "claims": []}) is None


def test_an_archive_holds_the_report_and_comes_again(tmp_path: Path) -> None:
    report = tmp_path / "spring" / "report"
    report.mkdir(parents=True)
    (report / "report.html").write_text("page", encoding="utf-8")
    (report / "manifest.json").write_text("{}", encoding="utf-8")
    place = zip_report(report, file_stem("c 1", "campaign_report"))
    assert place == tmp_path / "spring" / "c-1-campaign_report.zip"
    first = place.read_bytes()
    with zipfile.ZipFile(place) as archive:
        assert archive.namelist() == [
            "c-1-campaign_report/manifest.json", "c-1-campaign_report/report.html",
        ]  # fmt: skip
        assert archive.read("c-1-campaign_report/report.html") == b"page"
    assert zip_report(report, "c-1-campaign_report").read_bytes() == first
