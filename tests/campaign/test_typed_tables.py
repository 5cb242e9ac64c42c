"""Tables as people type them: one reading is taken, two are asked about."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.columns import RUNS
from pinscar.campaign.quantities import quantities_in, usual_quantity
from pinscar.campaign.spreadsheets import TextTable, from_windows_1252
from pinscar.campaign.typed_dates import read_dates
from pinscar.campaign.typed_table import how_read, settle_table
from pinscar.units import UnitError


def column(header: str, *cells: str, typed: bool = True, dates: str | None = None) -> list[str]:
    rows = tuple((row, (cell,)) for row, cell in enumerate(cells, 2))
    places = frozenset((row, 0) for row, _ in rows) if typed else frozenset()
    settled = settle_table(
        TextTable(file="runs.xlsx", header=(header,), rows=rows, typed=places), RUNS, dates
    )
    return [settled.table.header[0], *(cells[0] for _, cells in settled.table.rows)]


@pytest.mark.parametrize(
    ("typed", "iso"),
    [
        ("04.03.2026", "2026-03-04"),
        ("4.3.2026 08:30", "2026-03-04T08:30:00"),
        ("4.3.26, 8.30 Uhr", "2026-03-04T08:30:00"),
        ("25/3/2026 14h05", "2026-03-25T14:05:00"),
        ("3/25/2026 2:05 pm", "2026-03-25T14:05:00"),
        ("3/25/2026 12:05 AM", "2026-03-25T00:05:00"),
        ("2026/3/4", "2026-03-04"),
        ("2026-03-04T08:30", "2026-03-04T08:30"),
        ("5/5/2026", "2026-05-05"),
    ],
)
def test_a_date_with_one_reading_is_read(typed: str, iso: str) -> None:
    assert read_dates([typed]).cells == (iso,)
    assert read_dates([typed]).open_readings == ()


def test_one_clear_cell_settles_the_column() -> None:
    assert read_dates(["3/4/2026", "", "13/4/2026"]).cells == ("2026-04-03", "", "2026-04-13")
    assert read_dates(["3/4/2026", "4/13/2026"]).cells == ("2026-03-04", "2026-04-13")


def test_a_column_that_contradicts_itself_is_left_as_typed() -> None:
    cells = ("13/4/2026", "4/13/2026")
    assert read_dates(cells).cells == cells


def test_two_readings_are_a_question_and_the_campaign_may_answer_it(
    fixture_folder: Callable[[str], Path],
) -> None:
    folder = fixture_folder("value-date-two-ways")
    (problem,) = check_campaign(folder)[1]
    assert "3 February 2026 (month first)" in problem.message
    assert "2 March 2026 (day first)" in problem.message
    # 3/3/2026 is one day either way, so only the two rows of 2/3/2026 are open
    assert "1 more, down to row 3" in problem.message
    settings = (folder / "campaign.toml").read_text(encoding="utf-8")
    settings = settings.replace("[campaign]\n", '[campaign]\ndates = "day first"\n')
    (folder / "campaign.toml").write_text(settings, encoding="utf-8")
    campaign, problems = check_campaign(folder)
    assert problems == []
    assert campaign is not None
    assert campaign.runs["run_at"].iloc[0] == dt.datetime(2026, 3, 2, 8, 10)


def test_text_cells_of_a_workbook_may_have_decimal_commas() -> None:
    assert column("scar_length [mm]", "4,10", "3,4") == ["scar_length [mm]", "4.1", "3.4"]


def test_a_comma_before_three_digits_needs_another_cell_to_settle_it() -> None:
    assert column("quiet_time [s]", "1,200") == ["quiet_time [s]", "1,200"]
    assert column("quiet_time [s]", "1,200", "2,5") == ["quiet_time [s]", "1.2", "2.5"]
    assert column("quiet_time [s]", "0,450") == ["quiet_time [s]", "0.45"]


def test_a_number_of_a_workbook_is_never_taken_for_one_with_thousands() -> None:
    table = TextTable(
        file="runs.xlsx",
        header=("scar_length [mm]",),
        rows=((2, ("4,10",)), (3, ("1.234",))),
        typed=frozenset({(2, 0)}),  # the second is a number in the workbook, not text
    )
    settled = settle_table(table, RUNS)
    assert settled.table.rows[1][1] == ("1.234",)
    assert settled.problems == ()


@pytest.mark.parametrize(
    ("header", "cell", "expected"),
    [
        ("ring_speed [rpm]", "700/min", ["ring_speed [rpm]", "700"]),
        ("ring_speed [1/min]", "700", ["ring_speed [rpm]", "700"]),
        ("ring_speed [U/min]", "700 U/min", ["ring_speed [rpm]", "700"]),
        ("ring_speed [min-1]", "700", ["ring_speed [rpm]", "700"]),
        ("duration [s]", "1,5 min", ["duration [s]", "90"]),
        ("duration [min]", "90 s", ["duration [min]", "1.5"]),
        ("duration [Min]", "1", ["duration [min]", "1"]),
        ("duration", "60 Sek", ["duration [s]", "60"]),
        ("load [N]", "0,45 kN", ["load [N]", "450"]),
        ("load", "450 N", ["load [N]", "450"]),
        ("load [N]", "450 mm", ["load [N]", "450 mm"]),
        ("fling_area [mm2]", "12", ["fling_area [mm^2]", "12"]),
        ("hardness_here [N/mm2]", "12", ["hardness_here [N/mm^2]", "12"]),
        ("peak_temperature [degC]", "85 °C", ["peak_temperature [degC]", "85"]),
        ("wear_stopped", "Nein", ["wear_stopped", "no"]),
        ("wear_stopped", "x", ["wear_stopped", "yes"]),
        ("wear_stopped", "oui", ["wear_stopped", "yes"]),
        ("smoke", "keine", ["smoke", "none"]),
        ("pin_state", "neu", ["pin_state", "new"]),
        ("excluded", "nein", ["excluded", ""]),
        ("note", "ja", ["note", "ja"]),
        ("lubricant", "1,5", ["lubricant", "1,5"]),
    ],
)
def test_what_is_typed_has_one_sense_in_its_column(header: str, cell: str, expected: list[str]) -> None:
    assert column(header, cell) == expected


def test_a_bare_header_takes_a_unit_only_where_all_cells_have_the_same() -> None:
    assert column("load", "450 N", "0.9 kN")[0] == "load"
    assert column("load", "450 N", "900")[0] == "load"


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("1,5 min", "time", "1.5 min"),
        ("700/min", "rotational speed", "700 rpm"),
        ("700 1/min", "rotational speed", "700 rpm"),
        ("700 min⁻¹", "rotational speed", "700 rpm"),
        ("120 N/mm2", "pressure", "120 N/mm^2"),
        ("12 mm", "length", "12 mm"),
        ("9.1e-6 m^2/s", "kinematic viscosity", "9.1e-6 m^2/s"),
    ],
)
def test_quantities_as_the_trade_writes_them(text: str, dimension: str, expected: str) -> None:
    assert usual_quantity(text, dimension) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("450, 600, 750 N", ("450 N", "600 N", "750 N")),
        ("450,600,750 N", ("450 N", "600 N", "750 N")),
        ("450 N, 900 N", ("450 N", "900 N")),
        ("450 und 900 N", ("450 N", "900 N")),
        ("4,5; 6 kg", ("4.5 kg", "6 kg")),
        ("1,5 min", ("1.5 min",)),
        ("0.45 kN", ("0.45 kN",)),
    ],
)
def test_one_unit_may_serve_a_list(text: str, expected: tuple[str, ...]) -> None:
    assert quantities_in(text) == expected


@pytest.mark.parametrize("text", ["450,900 N", "450, 900", "1,200 N"])
def test_a_list_with_two_senses_or_without_a_unit_is_asked_about(text: str) -> None:
    with pytest.raises(UnitError):
        quantities_in(text, "force")


def test_only_signs_that_people_type_are_read_in_the_older_encoding() -> None:
    text = "Öl;Länge [µm];85 °C;geprüft – ja\n"
    assert from_windows_1252(text.encode("cp1252")) == text
    assert from_windows_1252("Öl;Länge [µm]".encode("cp850")) is None
    assert from_windows_1252("Öl;Länge".encode("mac-roman")) is None


def test_how_each_column_was_read_is_told(fixture_folder: Callable[[str], Path]) -> None:
    folder = fixture_folder("_good")
    text = (folder / "runs.csv").read_text(encoding="utf-8").replace(",", ";")
    text = text.replace("4.10", "4,10").replace("yes", "ja").replace("2026-03-02T", "02.03.2026 ")
    (folder / "runs.csv").write_bytes(text.replace("squeal", "Geräusch").encode("cp1252"))
    (table,) = how_read(folder)
    assert table.said == "Windows-1252 text separated by semicolons, decimal commas allowed, 4 rows"
    said = {one.header: one.said for one in table.columns}
    assert said["wear_stopped"] == "yes or no: ja = yes (3), no (1)"
    assert said["run_at"].startswith("dates, 4 filled; day.month.year, such as '02.03.2026 08:10'")
    assert said["load [N]"] == "numbers in N, 4 filled, all 450"
    assert said["scar_length [mm]"].startswith("numbers in mm, 4 filled, 3.4 to 4.31")
    assert check_campaign(folder)[1] == []


def test_a_title_over_the_table_is_no_header(fixture_folder: Callable[[str], Path]) -> None:
    folder = fixture_folder("_good")
    text = (folder / "runs.csv").read_text(encoding="utf-8")
    (folder / "runs.csv").write_text(f"Oils; spring, second row\n\n{text}", encoding="utf-8")
    campaign, problems = check_campaign(folder)
    assert problems == []
    assert campaign is not None
    assert campaign.runs["row"].tolist() == [4, 5, 6, 7]
    (folder / "runs.csv").write_text(
        f"Oils\n\n{text}".replace("scar_length", "scar_lenght"), encoding="utf-8"
    )
    assert [(one.code, one.row) for one in check_campaign(folder)[1]] == [("column-near-miss", 3)]


def test_the_order_of_dates_is_known_even_where_the_settings_have_errors(
    fixture_folder: Callable[[str], Path],
) -> None:
    folder = fixture_folder("value-date-two-ways")
    settings = (folder / "campaign.toml").read_text(encoding="utf-8")
    settings = settings.replace("[campaign]\n", '[campaign]\ndates = "day first"\n').replace('"12 mm"', "12")
    (folder / "campaign.toml").write_text(settings, encoding="utf-8")
    assert [one.code for one in check_campaign(folder)[1]] == ["toml-unit-missing"]


def test_a_limit_may_be_typed_the_local_way(fixture_folder: Callable[[str], Path]) -> None:
    folder = fixture_folder("_good")
    settings = (folder / "campaign.toml").read_text(encoding="utf-8")
    settings = settings.replace('"60 MPa"', '"60,5 N/mm2"').replace('"700 rpm"', '"700/min"')
    (folder / "campaign.toml").write_text(settings, encoding="utf-8")
    campaign, problems = check_campaign(folder)
    assert problems == []
    assert campaign is not None
    assert campaign.file.criteria[0].limit == pytest.approx(60.5e6, rel=1e-12)
