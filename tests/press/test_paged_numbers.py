"""`pinscar verify` on a table that shows some runs and pages through all: the block of all rows counts."""

import pytest

from pinscar.language.markup import said_page
from pinscar.language.messages import read_catalogue
from pinscar.language.speaker import Speaker
from pinscar.page import markup
from pinscar.press.page_numbers import unlike_numbers

RUNS = [
    {"run_id": f"n{number:03}", "scar_area_mm2": 5.0 + number / 100, "scar_pressure_MPa": 90.0 - number / 10}
    for number in range(420)
]
RESULTS = {"runs": RUNS}


def cells(run):
    return [run["run_id"], f"{run['scar_area_mm2']:.2f}", f"{run['scar_pressure_MPa']:.1f}", "not noted"]


def page():
    """Every fourth run in the table, all of them in the block beside it."""
    return str(
        markup.table(
            ["Run", ("Area", "mm²"), ("Pressure", "MPa"), "Wear stopped"],
            [cells(run) for run in RUNS[::4]],
            caption="Every run",
            key="runs",
            number_columns=[1, 2],
            beside=markup.all_rows(
                [cells(run) for run in RUNS], [""] * 420, number_columns=[1, 2], names=[0]
            ),
        )
    )


def test_a_page_as_it_was_made_agrees():
    assert 'id="table-runs"' in page()
    assert list(unlike_numbers(page(), RESULTS)) == []


def test_a_page_in_another_language_agrees_too():
    speaker = Speaker(catalogue=read_catalogue("de"), names=frozenset(run["run_id"] for run in RUNS))
    german = said_page(f'<html lang="de">{page()}</html>', speaker)
    assert "5,04" in german
    assert list(unlike_numbers(german, RESULTS)) == []


def test_a_changed_number_is_found_where_only_the_block_has_it():
    changed = page().replace('"n001","5.01"', '"n001","5.51"')
    assert changed != page()
    (found,) = unlike_numbers(changed, RESULTS)
    assert (found.where, found.shown, found.exact) == ("run n001, Area [mm²]", "5.51", "5.01")


def test_a_run_that_neither_has_is_named():
    (found,) = unlike_numbers(page(), {"runs": [*RUNS, {"run_id": "n999"}]})
    assert (found.shown, found.exact) == ("not listed", "run n999")
    (found,) = unlike_numbers(page(), {"runs": RUNS[:-1]})
    assert (found.shown, found.exact) == ("listed", "run n419")


@pytest.mark.parametrize("block", ["{", "[]", '{"rows":3}', '{"rows":[[0,99]]}', "[" * 100_000])
def test_a_block_that_is_no_block_lists_nothing(block):
    start, _, rest = page().partition('class="all-rows">')
    broken = f'{start}class="all-rows">{block}{rest[rest.index("</script>") :]}'
    found = list(unlike_numbers(broken, RESULTS))
    assert len(found) == 420 - 105
    assert {one.shown for one in found} == {"not listed"}
