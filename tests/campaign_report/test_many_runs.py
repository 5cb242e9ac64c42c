"""Of more runs than a page has room for, the table shows those that matter, and says how they were chosen."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pinscar.campaign_report.runs_table import OF_A_KIND, RUN_ROWS, runs_that_matter


def many(count):
    rng = np.random.default_rng(5)
    oils = np.array(["R-10", "C-21"])[np.arange(count) % 2]
    frame = pd.DataFrame(
        {
            "run_id": [f"n{k}" for k in range(count)],
            "lubricant": oils,
            "load_level": 450.0,
            "scar_pressure": rng.uniform(60e6, 120e6, count),
            "excluded": "",
            "flags": [()] * count,
        }
    )
    frame.loc[700, "excluded"] = "ring scratched"
    frame.loc[[650, 651], "flags"] = pd.Series([("width",), ("width",)], index=[650, 651])
    frame.loc[600, "scar_pressure"] = 1e6
    frame.loc[700, "scar_pressure"] = 0.5e6
    return frame


def test_a_table_that_has_room_shows_all():
    frame = many(RUN_ROWS + 501).head(RUN_ROWS)
    assert runs_that_matter(frame)[0] is frame


def test_excluded_flagged_extreme_and_a_sample_in_file_order():
    frame = many(1000)
    shown, said = runs_that_matter(frame)
    assert {700, 650, 651, 600} <= set(shown.index)
    assert frame.loc[frame["lubricant"] == "C-21", "scar_pressure"].idxmax() in shown.index
    assert list(shown.index) == sorted(shown.index)
    assert RUN_ROWS * 0.7 < len(shown) <= RUN_ROWS
    assert said == (
        "all excluded, all flagged, all with the least and the greatest pressure of each oil and load "
        "and one in every 4 of the others"
    )


def test_many_of_a_kind_leave_room_for_the_others():
    frame = many(2000)
    frame["flags"] = [("width",)] * 2000
    shown, said = runs_that_matter(frame)
    assert len(shown) <= RUN_ROWS
    assert f"the first {OF_A_KIND} of 2000 flagged" in said
    assert max(shown.index) > 1900
