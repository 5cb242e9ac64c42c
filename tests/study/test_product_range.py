"""Campaigns joined through their reference: what that takes out, and what stays out with its reason."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.campaign.model import Campaign
from pinscar.errors import InputError, UsageError
from pinscar.study.range.study import study_range

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "range"
TOML = """
[campaign]
id = "{name}"
reference = "{reference}"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "{pin} mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
"""
HEAD = "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,ring_id"
REPEATS = (0.98, 1.0, 1.02)


def campaign(
    folder: Path,
    name: str,
    oils: dict[str, float],
    *,
    scale: float = 1.0,
    reference: str = "R",
    pin: float = 12,
    duration: int = 60,
    rings: dict[str, str] | None = None,
) -> Campaign:
    """Three runs of each oil, whose scar axes are `oils` times those of the reference, all times `scale`."""
    rows = [
        f"{oil}{i},{oil},450,{duration},{3.0 * factor * scale * r:.5f},{1.7 * factor * scale * r:.5f},yes,"
        f"{(rings or {}).get(oil, 'G-1')}"
        for oil, factor in oils.items()
        for i, r in enumerate(REPEATS)
    ]
    (folder / name).mkdir()
    (folder / name / "campaign.toml").write_text(TOML.format(name=name, reference=reference, pin=pin))
    (folder / name / "runs.csv").write_text("\n".join([HEAD, *rows]) + "\n")
    return read_campaign(folder / name)


def test_what_changes_all_oils_of_a_campaign_alike_falls_out(tmp_path: Path) -> None:
    first = campaign(tmp_path, "one", {"R": 1.0, "A": 0.8})
    other = campaign(tmp_path, "two", {"R": 1.0, "B": 1.2}, scale=1.3)
    (level,) = study_range([first, other]).levels
    found = {line.ranked.lubricant: line.estimate for line in level.lines}
    assert found == {
        "A": pytest.approx(0.64, rel=1e-3, abs=0),
        "R": None,
        "B": pytest.approx(1.44, rel=1e-3, abs=0),
    }
    assert [line.ranked.lubricant for line in level.lines] == ["A", "R", "B"]  # a smaller scar is better
    assert [one.mean for one in level.references] == [
        pytest.approx(4.004, rel=1e-2, abs=0),
        pytest.approx(6.767, rel=1e-2, abs=0),
    ]


def test_the_interval_as_run_is_that_of_the_pooled_t_test(tmp_path: Path) -> None:
    from scipy import stats

    one = campaign(tmp_path, "one", {"R": 1.0, "A": 0.8})
    (level,) = study_range([one]).levels
    areas = {
        oil: [math.pi / 4 * 3.0 * 1.7 * (f * r) ** 2 for r in REPEATS]
        for oil, f in {"R": 1, "A": 0.8}.items()
    }
    t = stats.ttest_ind([math.log(x) for x in areas["A"]], [math.log(x) for x in areas["R"]])
    low, high = t.confidence_interval(0.95)
    best = level.lines[0]
    assert best.low == pytest.approx(math.exp(low), rel=1e-3, abs=0)
    assert best.high == pytest.approx(math.exp(high), rel=1e-3, abs=0)
    assert level.between_sd is None


def test_an_oil_in_two_campaigns_shows_the_spread_between_them(tmp_path: Path) -> None:
    first = campaign(tmp_path, "one", {"R": 1.0, "A": 0.7})
    other = campaign(tmp_path, "two", {"R": 1.0, "A": 0.9})
    (level,) = study_range([first, other]).levels
    assert level.between_df == 1
    # The two log ratios lie 2 ln(0.9/0.7) = 0.503 apart, far beyond their errors.
    assert level.between_sd == pytest.approx(2 * math.log(0.9 / 0.7) / math.sqrt(2), rel=0.05, abs=0)
    line = level.lines[0]
    assert line.ranked.low is not None
    assert line.low is not None
    assert line.ranked.low < line.low


def test_what_cannot_be_joined_is_left_out_with_its_reason(tmp_path: Path) -> None:
    study = study_range(
        [
            campaign(tmp_path, "good", {"R": 1.0, "A": 0.8}),
            campaign(tmp_path, "other-rig", {"R": 1.0, "B": 0.8}, pin=10),
            campaign(tmp_path, "longer", {"R": 1.0, "C": 0.8}, duration=120),
            campaign(tmp_path, "no-reference", {"S": 1.0, "D": 0.8}, reference="S"),
            campaign(tmp_path, "rings", {"R": 1.0, "E": 0.8}, rings={"E": "G-2"}),
        ]
    )
    (level,) = study.levels
    assert {line.ranked.lubricant for line in level.lines} == {"A", "R"}
    said = " ".join(study.left_out)
    assert "other-rig: its pin diameter is 10 mm, not 12 mm" in said
    assert "longer at 450 N: run for 120 s against 60 s for campaign good" in said
    assert "no-reference at 450 N: the reference R was not run" in said
    assert "E and R never ran on the same ring" in said


def test_nothing_to_join_is_a_plain_problem(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        study_range([campaign(tmp_path, "one", {"R": 1.0})])
    assert {problem.code for problem in caught.value.problems} == {"range-not-joined"}


def test_references_that_differ_must_be_named(tmp_path: Path) -> None:
    pair = [
        campaign(tmp_path, "one", {"R": 1.0, "S": 0.9}),
        campaign(tmp_path, "two", {"S": 1.0, "R": 0.9}, reference="S"),
    ]
    with pytest.raises(InputError, match="different references"):
        study_range(pair)
    assert study_range(pair, reference="S").levels[0].between_df == 1


@pytest.mark.parametrize("wrong", ["film_pressure", "nonsense"])
def test_a_response_that_cannot_be_joined_is_refused(tmp_path: Path, wrong: str) -> None:
    with pytest.raises(UsageError):
        study_range([campaign(tmp_path, "one", {"R": 1.0, "A": 0.8})], wrong)


def test_the_demo_puts_the_best_oils_of_its_recipe_first() -> None:
    study = study_range([read_campaign(path) for path in sorted(DEMO.glob("*_0?"))])
    (level,) = study.levels
    places = [line.ranked.lubricant for line in level.lines]
    assert places[0] == "C-21"
    assert places[-2:] == ["R-10", "B-05"]


def test_the_order_of_the_folders_does_not_matter(tmp_path: Path) -> None:
    for path in DEMO.glob("*_0?"):
        shutil.copytree(path, tmp_path / path.name)
    folders = sorted(tmp_path.iterdir())
    one, other = (study_range([read_campaign(path) for path in paths]) for paths in (folders, folders[::-1]))
    assert [line.estimate for line in one.levels[0].lines] == pytest.approx(
        [line.estimate for line in other.levels[0].lines]
    )
