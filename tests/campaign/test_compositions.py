"""What oils are made of: in campaign.toml, in lubricants.csv and in lubricants.xlsx, with the same checks."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.campaign.quantities import FieldError, composition, price, share

TABLE = (
    "lubricant,role,base A [%],AW-1 [g/kg],price [EUR/kg],drive_loss [W],kinematic_viscosity_40 [mm^2/s]\n"
)


def oils(folder: Path) -> dict[str, object]:
    return {one.id: one for one in read_campaign(folder).file.lubricants}


def test_a_table_of_oils_adds_to_campaign_toml(good: Path) -> None:
    (good / "lubricants.csv").write_text(
        TABLE + "R-10,,balance,,3.90,210,68\nC-21,candidate,balance,15,4.5,205,61.5\n", encoding="utf-8"
    )
    found = oils(good)
    assert found["R-10"].composition == {"base A": 1.0}
    assert found["C-21"].composition == pytest.approx({"base A": 0.985, "AW-1": 0.015})
    assert (found["C-21"].price.per_kg, found["C-21"].price.currency) == (4.5, "EUR")
    assert (found["C-21"].drive_loss, found["C-21"].role) == (205.0, "candidate")
    assert found["C-21"].kinematic_viscosity_40 == pytest.approx(61.5e-6)
    assert "lubricants.csv" in read_campaign(good).inputs


def test_a_workbook_and_a_decimal_comma_say_the_same(good: Path) -> None:
    text = "lubricant;base A [%];AW-1 [%]\nR-10;balance;\nC-21;98,5;1,5\n"
    (good / "lubricants.csv").write_text(text, encoding="utf-8-sig")
    by_text = oils(good)
    (good / "lubricants.csv").unlink()
    book = openpyxl.Workbook()
    for row in (["lubricant", "base A [%]", "AW-1 [%]"], ["R-10", "balance", None], ["C-21", 98.5, 1.5]):
        book.active.append(row)
    book.save(good / "lubricants.xlsx")
    assert oils(good) == by_text
    assert by_text["C-21"].composition == pytest.approx({"base A": 0.985, "AW-1": 0.015})


@pytest.mark.parametrize(
    ("text", "row", "column", "mend"),
    [
        ("lubricant,AW-1\nC-21,1.5\n", 1, "AW-1", "AW-1 [%]"),
        ("lubricant,price\nC-21,1.5\n", 1, "price", "price [EUR/kg]"),
        ("lubricants,AW-1 [%]\nC-21,100\n", 1, "lubricants", "write lubricant"),
        ("AW-1 [%]\n100\n", 1, None, "add a column lubricant"),
        ("lubricant,AW-1 [%],AW-1 [%]\nC-21,50,50\n", 1, "AW-1 [%]", "keep one"),
        ("lubricant,A [%],B [%]\nC-21,-1,balance\n", 2, "A [%]", "correct the value"),
        ("lubricant,A [%],B [%]\nC-21,101,0\n", 2, "A [%]", "correct the value"),
        ("lubricant,A [%],B [%]\nC-21,balance,balance\n", 2, "B [%]", "leave one of them"),
        ("lubricant,A [%],B [%]\nC-21,50,49\n", 2, None, "balance"),
        ("lubricant,A [%],B [%]\nC-21,fifty,balance\n", 2, "A [%]", "balance"),
        ("lubricant,A [%]\nC-21,100\nC-21,100\n", 3, "lubricant", "its own id"),
        ("lubricant,A [%]\n,100\n", 2, "lubricant", "fill it in"),
        ("lubricant,price [EUR/h],A [%]\nC-21,2,100\n", 2, "price [EUR/h]", "EUR/kg"),
        ("lubricant,role,A [%]\nC-21,best,100\n", 2, "role", "candidate"),
        ("lubricant,drive_loss [N]\nC-21,5\n", 2, "drive_loss [N]", "W"),
    ],
)
def test_bad_tables_say_where_and_what_to_do(
    good: Path, text: str, row: int, column: str | None, mend: str
) -> None:
    (good / "lubricants.csv").write_text(text, encoding="utf-8")
    campaign, problems = check_campaign(good)
    assert campaign is None
    (problem,) = [one for one in problems if one.severity == "error"]
    assert (problem.file, problem.row, problem.column) == ("lubricants.csv", row, column)
    assert mend in problem.mend


def test_two_tables_of_oils_are_one_too_many(good: Path) -> None:
    (good / "lubricants.csv").write_text("lubricant,A [%]\nC-21,100\n", encoding="utf-8")
    openpyxl.Workbook().save(good / "lubricants.xlsx")
    assert "file-twice" in {one.code for one in check_campaign(good)[1]}


def test_one_formula_twice_in_the_table_is_told_by_its_oil(good: Path) -> None:
    (good / "lubricants.csv").write_text(
        "lubricant,A [%],batch\nR-10,100,1\nC-21,100,2\nC-22,100,\n", encoding="utf-8"
    )
    (same,) = [one for one in check_campaign(good)[1] if one.code == "composition-same"]
    assert (same.file, same.value) == ("lubricants.csv", "C-22")


def test_bounds_of_a_component_are_in_order(edited: Callable[..., Path]) -> None:
    section = '[[components]]\nid = "A"\nlowest = "3 %"\nhighest = "2 %"\n\n[[criteria]]'
    (problem,) = check_campaign(edited("campaign.toml", ("[[criteria]]", section)))[1]
    assert (problem.column, problem.mend) == ("components[1].highest", "swap or correct the two")


@pytest.mark.parametrize("value", [1.5, "1.5", "-2 %", "101 %", "2 kg", True, "", "many %"])
def test_no_share(value: object) -> None:
    with pytest.raises(FieldError):
        share(value)


@pytest.mark.parametrize("value", ["4.2", "4.2 EUR", "EUR/kg", "4.2 eur/kg", "4.2 EUR/L", 4.2, "-1 EUR/kg"])
def test_no_price(value: object) -> None:
    with pytest.raises(FieldError):
        price(value)


@pytest.mark.parametrize(
    ("shares", "total"),
    [
        ({"A": "33.3 %", "B": "33.3 %", "C": "33.3 %"}, 1.0),  # rounded to 0.1 %: 99.9 %
        ({"A": "balance"}, 1.0),
        ({"A": "100 %", "B": "balance"}, 1.0),
        ({"A": "0 %", "B": "100 %"}, 1.0),
        ({"A": "500000 ppm", "B": "Balance"}, 1.0),
    ],
)
def test_awkward_but_valid_compositions(shares: dict[str, str], total: float) -> None:
    assert sum(composition(shares).values()) == pytest.approx(total, abs=1e-12)


@pytest.mark.parametrize("shares", [{"A": "99.8 %"}, {"A": "100 %", "B": "0.2 %"}, {}, {"A": "101 %"}, "x"])
def test_sums_that_are_off(shares: object) -> None:
    with pytest.raises(FieldError):
        composition(shares)


def test_a_wrong_row_leaves_its_oil_known(good: Path) -> None:
    """One wrong share is one error: the oil's runs are not said to be of an oil that nobody declared."""
    for text in (
        "lubricant,A [%],B [%]\nC-21,balance,1\nC-30,balance,-4\n",
        "lubricant,A [%],B [bar]\nC-21,balance,1\nC-30,balance,4\n",
    ):
        (good / "lubricants.csv").write_text(text, encoding="utf-8")
        runs = (good / "runs.csv").read_text(encoding="utf-8")
        (good / "runs.csv").write_text(runs.replace("C-21", "C-30", 1), encoding="utf-8")
        errors = [one for one in check_campaign(good)[1] if one.severity == "error"]
        assert [one.file for one in errors] == ["lubricants.csv"]


def test_what_the_table_says_of_an_oil_of_campaign_toml_is_told_of_the_table(good: Path) -> None:
    (good / "lubricants.csv").write_text(
        "lubricant,base A [%],abse A [%]\nR-10,100,\nC-21,,100\n", encoding="utf-8"
    )
    (near,) = [one for one in check_campaign(good)[1] if one.code == "component-near-miss"]
    assert (near.file, near.column, near.value) == ("lubricants.csv", "abse A", "abse A")
