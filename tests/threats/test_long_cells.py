"""Cells, headers and values of 100,000 letters: none is read in a time that grows with their square."""

from __future__ import annotations

import json

import pytest
from test_bombs import GOOD, SECONDS, TOML, alone

from pinscar.bench.check import starter_values
from pinscar.campaign.campaign import check_campaign

LONG = 100_000
"""Letters of a cell: a pattern that goes back over them for each takes a minute, not a second."""

CELLS = {
    "blanks": "a" + " " * LONG + "b",
    "figures": "1" * LONG + "x",
    "thousands": "1 234" * (LONG // 5) + "x",
    "commas": "1,234" * (LONG // 5) + "x",
    "points": "1." * (LONG // 2) + "x",
    "dashes": "1-" * (LONG // 2),
    "brackets": "[" * LONG,
    "quantity": "450" + " " * LONG + "N" + " " * LONG + "x",
    "unit": "450 " + "N*" * (LONG // 2),
    "powers": "450 N" + "^2" * (LONG // 2),
    "date": "1.1.2026" + " " * LONG + "8:10x",
    "and": "1 and " * (LONG // 6) + " " * LONG,
}


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "runs.csv").write_text(GOOD)
    (tmp_path / "campaign.toml").write_text(TOML)
    return tmp_path


def read(folder):
    """Read the folder within the bounds, without an end that is no problem of the input."""

    def act():
        starter_values(folder)
        return [str(one)[:300] for one in check_campaign(folder)[1]]

    said, _, time = alone(act)
    assert time < SECONDS, f"{time:.0f} s"
    assert not any(line.partition(":")[0].endswith(("Error", "Exception")) for line in said), said


@pytest.mark.parametrize("name", CELLS)
def test_a_long_cell_or_header_of_each_table(folder, name):
    cell = f'"{CELLS[name]}"'
    (folder / "runs.csv").write_text(
        "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,run_at,"
        f"oil_temperature [degC],{cell}\n1,R-10,{cell},60,4.1,2.2,{cell},{cell},{cell},{cell}\n"
    )
    (folder / "lubricants.csv").write_text(
        f"lubricant,base [%],AW [%],price [EUR/kg]\nR-10,balance,{cell},{cell}\n"
    )
    (folder / "traces").mkdir()
    (folder / "traces" / "1.csv").write_text(f"time [s],friction_force [N],{cell}\n0,{cell},1\n")
    read(folder)
    (folder / "lubricants.csv").write_text(f"lubricant,base [%],{cell}\nR-10,balance,1\n")
    read(folder)


@pytest.mark.parametrize("name", CELLS)
def test_a_long_value_of_the_settings(folder, name):
    value = json.dumps(CELLS[name])
    rig = TOML.replace('pin_diameter = "12 mm"', f"pin_diameter = {value}")
    (folder / "campaign.toml").write_text(f'{rig}[[lubricants]]\nid = "R-10"\nprice = {value}\n')
    read(folder)
    (folder / "campaign.toml").write_text(f"{TOML}fling_card = {value}\n[ {CELLS[name]}\n")
    read(folder)
