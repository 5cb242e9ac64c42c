"""The table of speed: ratios of medians, the range of single rounds, in its place."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import pytest
import run_all
from large import add_traces, large_campaign
from measuring import Taken
from run_all import BEGIN, END, Figure, agreement, in_turns, put, table

from pinscar.decision.check import check_all


def test_a_row_has_the_median_of_ratios_its_uncertainty_and_the_range_of_rounds():
    share = Figure("report, to the chain", "0.8", ours=[2.0, 4.0, 3.0], theirs=[4.0, 4.0, 5.0])
    # ratios 0.5, 1, 0.6: standard deviation 0.2646, times 1.25 over the root of 3
    assert share.row() == "| report, to the chain | 0.6 ± 0.2 (0.5 to 1) | 3 s, 4 s | 3 | 0.8 |  |"
    faster = Figure("arrays", "100 times", times=True, ours=[0.001], theirs=[0.25], note="x")
    assert faster.row() == "| arrays | 250 times | 1 ms, 250 ms | 1 | 100 times | x |"


def test_two_runs_agree_within_twice_the_scatter_of_both():
    one, near, far = [1.0, 1.1, 0.9], [1.2, 1.1, 1.3], [2.0, 2.1, 1.9]
    assert agreement("a", one, near).endswith("agree")
    assert agreement("a", one, far).endswith("DIFFER")
    assert agreement("a", [1.0], far).endswith("no scatter")


def test_the_order_changes_from_round_to_round_and_the_times_stay_in_place():
    asked = []

    def work(name):
        asked.append(name)
        return float(name)

    works = [partial(work, "1"), partial(work, "2")]
    assert [in_turns(number, *works) for number in range(2)] == [[1.0, 2.0], [1.0, 2.0]]
    assert asked == ["1", "2", "2", "1"]


def test_the_table_is_put_between_its_marks():
    made = table([Figure("a", "1", ours=[1.0], theirs=[1.0])], "Measured somewhere:")
    text = put(f"before\n{BEGIN}\nold\n{END}\nafter\n", made)
    assert text.startswith(f"before\n{BEGIN}\nMeasured somewhere:\n")
    assert text.endswith(f"{END}\nafter\n")
    assert "old" not in text
    with pytest.raises(SystemExit):
        put("no place", made)


@pytest.mark.parametrize(("runs", "oils"), [(48, 4), (60, 20)])
def test_large_campaigns_have_no_errors(tmp_path, runs, oils):
    folder = large_campaign(tmp_path / "c", runs, oils)
    campaign, problems = check_all(folder, None)
    assert campaign is not None, problems
    assert len(campaign.runs) == runs
    assert campaign.runs["lubricant"].nunique() == oils


def test_traces_cover_their_runs(tmp_path):
    folder = large_campaign(tmp_path / "c", 8)
    add_traces(folder, 3, rate=2.0)
    campaign, problems = check_all(folder, None)
    assert campaign is not None, problems
    assert sorted(campaign.traces) == ["n00000", "n00001", "n00002"]
    assert campaign.traces["n00000"]["time"].max() == 59.5


def test_memory_for_many_traces_is_told_at_the_slope_of_few(tmp_path, monkeypatch):
    monkeypatch.setattr(run_all, "add_traces", lambda folder, count: None)
    monkeypatch.setattr(run_all, "peak_of_reading", lambda folder: 1e6 * (200 + int(folder.name[7:]) / 100))
    (figure,) = run_all.traces(1, tmp_path)
    # 204 MB and 202 MB: a hundredth of one a trace, and 9600 more of them
    assert "204 MB, 202 MB" in figure.row()
    assert figure.note.startswith("at this slope 300 MB for 10,000 traces")


@pytest.mark.parametrize("part", ["start", "report", "jobs", "sizes"])
def test_each_part_takes_turns_and_gives_its_rows(part, tmp_path, monkeypatch):
    asked = []

    def run(words, folder=None, env=None):
        asked.append([str(word) for word in words])
        if "report" in asked[-1]:
            for place in (path for path in map(Path, asked[-1]) if (path / "campaign.toml").is_file()):
                (place / "report").mkdir(exist_ok=True)
                (place / "report" / "report.html").write_text("page")
        return Taken(2.0, 1.0)

    monkeypatch.setattr(run_all, "run", run)
    monkeypatch.setattr(
        run_all, "large_campaign", lambda folder, runs, oils=4: large_campaign(folder, min(runs, 60), oils)
    )
    figures = run_all.PARTS[part][1](2, tmp_path)
    assert all(figure.row().startswith("| ") for figure in figures)
    assert all(len(figure.ours) == len(figure.theirs) for figure in figures)
    assert len(figures[0].ours) == 2
    assert len(asked) >= 2 * len(figures)
