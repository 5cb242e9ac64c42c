"""Without elastic constants the contact table says so, and takes the median of nothing nowhere."""

from __future__ import annotations

import warnings
from pathlib import Path

from pinscar.campaign.campaign import read_campaign
from pinscar.campaign_report.results import contact_table
from pinscar.decision.analysis import analyse

TOML = """
[campaign]
id = "plain"
reference = "R-1"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
[[lubricants]]
id = "R-1"
role = "reference"
"""


def test_no_elastic_constants_no_warning(tmp_path: Path) -> None:
    (tmp_path / "campaign.toml").write_text(TOML, encoding="utf-8")
    rows = ["run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm]"]
    rows += [f"r{i},R-1,450,60,{3.3 + 0.02 * i:.2f},1.8" for i in range(3)]
    (tmp_path / "runs.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    analysis = analyse(read_campaign(tmp_path))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        table = contact_table(analysis)
    assert "not computed" in table
