"""`pinscar plan`: a table to fill in that the check takes, and nothing of a person's ever overwritten."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"


@pytest.fixture
def empty(campaign: Path) -> Path:
    """A campaign without runs."""
    (campaign / "runs.csv").unlink()
    return campaign


def rows_of(folder: Path) -> list[dict[str, str]]:
    return list(csv.DictReader((folder / "runs.csv").open(encoding="utf-8")))


def test_the_planned_table_is_filled_in_and_checked(command, campaign):
    done = command("plan", campaign, "--log-sd", "0.1", "--duration", "60 s", "--no-pdf", "--json")
    assert done.returncode == 0, done.stderr
    results = json.loads((campaign / "plan" / "results.json").read_text())
    rows = rows_of(campaign)
    assert [row["run_id"] for row in rows] == [run["run_id"] for run in results["order"]]
    assert len(rows) == results["repeats"] * 2

    unfilled = command("check", campaign)
    assert unfilled.returncode == 1
    assert f"{len(rows)} runs still to be made; nothing else is wrong" in unfilled.stdout

    for number, row in enumerate(rows):
        size = 1.0 + 0.01 * (number % 5) - 0.1 * (row["lubricant"] == "C-1")
        row |= {
            "scar_length [mm]": f"{3.4 * size:.2f}",
            "scar_width [mm]": f"{1.85 * size:.2f}",
            "wear_stopped": "yes",
        }
        row["run_at"] = f"2026-03-{1 + int(row['planned_day'].split()[1]):02d}T08:{number:02d}"
    with (campaign / "runs.csv").open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    checked = command("check", campaign)
    assert (checked.returncode, checked.stderr) == (0, "")
    # What the plan was made from has not changed by that.
    assert command("verify", campaign / "plan").returncode == 0


def test_loads_and_duration_come_from_the_prepared_table(command, tmp_path):
    folder = tmp_path / "spring"
    words = ("--candidates", "H 1; H 2", "--load", "450, 600, 750 N", "--duration", "1,5 min")
    assert command("new", folder, *words).returncode == 0
    done = command("plan", folder, "--log-sd", "0.08", "--repeats", "3", "--no-pdf")
    assert (done.returncode, done.stderr) == (0, "")
    rows = rows_of(folder)
    assert {row["load [N]"] for row in rows} == {"450", "600", "750"}
    assert {row["duration [s]"] for row in rows} == {"90"}
    # the loads are in the manifest, so the plan is the same whatever becomes of the table
    given = json.loads((folder / "plan" / "manifest.json").read_text())["given"]
    assert given["loads"] == ["450 N", "600 N", "750 N"]


def test_a_pilot_elsewhere_is_found_and_the_same_plan_comes_again(command, empty, tmp_path):
    words = ("--pilot", DEMO, "--ratio", "0.85", "--days", "3", "--no-pdf")
    assert command("plan", empty, *words).returncode == 0
    first = (empty / "runs.csv").read_bytes()
    html = (empty / "plan" / "report.html").read_text()
    assert "Repeats of conveyor-07" in html
    assert "Run sheet" in html
    (empty / "runs.csv").unlink()
    assert command("plan", empty, *words).returncode == 0
    assert (empty / "runs.csv").read_bytes() == first


def test_runs_are_never_overwritten(command, campaign):
    path = campaign / "runs.csv"
    path.write_text(path.read_text() + "x,R-1,450,60,,,,,,,,,,,,,,,,,,,\n")
    before = path.read_bytes()
    done = command("plan", campaign, "--log-sd", "0.1", "--no-pdf")
    assert done.returncode == 2
    assert done.stderr.splitlines() == [
        f"{campaign} already has a runs.csv, which a plan does not replace; plan in a new folder"
    ]
    assert path.read_bytes() == before
    assert not (campaign / "plan").exists()


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        ((), 2, "either a pilot or the spread"),
        (("--log-sd", "0.1", "--pilot", "nowhere"), 1, "there is no such folder"),
        (("--log-sd", "0.1", "--ratio", "1"), 2, "ratio must be positive and not 1"),
        (("--log-sd", "0.1", "--loads", "450"), 2, "a load cannot be read"),
        (("--log-sd", "0.1", "--duration", "60 N"), 2, "the duration cannot be read"),
    ],
)
def test_what_cannot_be_planned_leaves_nothing(command, empty, words, status, said):
    done = command("plan", empty, *words, "--no-pdf")
    assert done.returncode == status
    (line,) = done.stderr.splitlines()
    assert said in line
    assert {path.name for path in empty.iterdir()} == {"campaign.toml"}


def test_a_folder_without_campaign_toml_is_a_problem(command, tmp_path):
    done = command("plan", tmp_path, "--log-sd", "0.1", "--no-pdf")
    assert done.returncode == 1
    assert "campaign.toml" in done.stderr


def test_a_pilot_with_errors_is_named(command, empty, tmp_path):
    pilot = Path(shutil.copytree(DEMO, tmp_path / "pilot", ignore=shutil.ignore_patterns("report*")))
    (pilot / "runs.csv").unlink()
    done = command("plan", empty, "--pilot", pilot, "--no-pdf")
    assert done.returncode == 1
    assert "../pilot/runs.csv: the table of runs is not there" in done.stderr
