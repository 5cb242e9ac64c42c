"""The command from outside: what it prints where, and the status it ends with."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from pinscar import __version__
from pinscar.campaign.columns import RUNS
from pinscar.cli import main as cli
from pinscar.errors import RunError


def test_version(command):
    done = command("--version")
    assert (done.returncode, done.stdout, done.stderr) == (0, f"pinscar {__version__}\n", "")


@pytest.mark.parametrize("words", [(), ("--help",)], ids=["bare", "help"])
def test_help_lists_the_commands(command, words):
    done = command(*words)
    assert (done.returncode, done.stderr) == (0, "")
    assert all(name in done.stdout for name in ("new", "check", "report", "verify"))


def test_the_start_imports_nothing_heavy():
    heavy = ("numpy", "pandas", "papermill", "IPython")
    code = f"import sys, pinscar.cli.main; print([name for name in {heavy} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("chek",), "No such command 'chek'"),
        (("report",), "Missing argument 'DIR...'"),
        (("report", "--no-such-option", "x"), "No such option: --no-such-option"),
        (("report", "--jobs", "0", "x"), "'--jobs'"),
        (("report", "x", "--template", "campaign_repotr"), "did you mean 'campaign_report'?"),
        (("report", "x", "-t", "no/such.ipynb"), "no template at no/such.ipynb"),
        (("report", "x", "-p", "confidense=0.9"), "did you mean 'confidence'?"),
        (
            ("report", "x", "-p", "confidence=high"),
            "parameter confidence of template campaign_report must be float",
        ),
        (("report", "x", "-p", "responses=scar_area"), "must be list[str]"),
        (("report", "x", "-p", "confidence"), "write a parameter as name=value"),
        (("report", "x", "-p", "folder=y"), "the folder is given as an argument"),
        (("report", "a/x", "b/x", "--out", "o"), "two of these reports would lie in one place"),
        (("verify", "no_such_report"), "no_such_report is not there"),
        (("new", "d", "--demo", "conveyor_70"), "did you mean 'conveyor_07'?"),
    ],
)
def test_wrong_usage_is_one_line_and_status_2(command, words, said, tmp_path):
    done = command(*words, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert len(done.stderr.splitlines()) == 1
    assert said in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_new_makes_a_campaign_with_every_column(command, tmp_path):
    assert command("new", tmp_path / "c").returncode == 0
    header = (tmp_path / "c" / "runs.csv").read_text().splitlines()[0].split(",")
    # weights stand in place of load, and the day is taken from run_at.
    assert set(header) == {column.header for column in RUNS} - {"weights [kg]", "run_day"}
    checked = command("check", tmp_path / "c")
    assert checked.returncode == 0
    assert "example row of the starter" in checked.stderr
    assert checked.stdout.endswith("0 excluded, 1 warning; ready to report, marked as example data\n")


def test_new_overwrites_nothing(command, campaign):
    before = (campaign / "runs.csv").read_bytes()
    done = command("new", campaign)
    assert done.returncode == 2
    assert done.stderr.splitlines() == [f"{campaign} already exists and is not empty; choose another name"]
    assert (campaign / "runs.csv").read_bytes() == before


def test_new_copies_a_demo_without_its_report(command, tmp_path):
    assert command("new", tmp_path / "d", "--demo", "conveyor_07").returncode == 0
    assert {"campaign.toml", "runs.csv"} <= {path.name for path in (tmp_path / "d").iterdir()}
    assert not (tmp_path / "d" / "report").exists()


@pytest.fixture
def broken(campaign):
    """Two errors in runs.csv, one in campaign.toml, an unknown column with a unit and one without."""
    lines = (campaign / "runs.csv").read_text().replace("scar_length [mm]", "scar_length").splitlines()
    lines = [
        f"{line},{extra}" for line, extra in zip(lines, ["noise [dB],batch"] + ["61,x"] * 8, strict=True)
    ]
    (campaign / "runs.csv").write_text("\n".join(lines).replace("450,60,", "450,-60,", 1) + "\n")
    toml = (campaign / "campaign.toml").read_text().replace('pin_diameter = "12 mm"', "pin_diametre = 12")
    (campaign / "campaign.toml").write_text(toml)
    return campaign


def test_check_lists_every_error_by_file_one_a_line(command, broken):
    done = command("check", broken)
    assert done.returncode == 1
    lines = done.stderr.splitlines()
    files = [line.removeprefix("error: ").split(",")[0] for line in lines if line.startswith("error: ")]
    assert files == sorted(files)
    assert {"campaign.toml", "runs.csv"} == set(files)
    assert any("column scar_length" in line for line in lines)
    assert any("row 2, column duration [s]" in line for line in lines)
    assert done.stdout.endswith("; not ready to report\n")


def test_check_as_json_says_the_same(command, broken):
    plain, done = command("check", broken), command("check", broken, "--json")
    assert (done.returncode, done.stderr) == (1, "")
    record = json.loads(done.stdout)
    assert record["status"] == 1
    assert len(record["problems"]) == len(plain.stderr.splitlines())
    assert {"code", "severity", "file", "row", "column", "value", "message", "mend"} <= set(
        record["problems"][0]
    )


def test_check_names_unknown_columns_it_keeps(command, campaign):
    lines = (campaign / "runs.csv").read_text().splitlines()
    extended = [
        f"{line},{extra}" for line, extra in zip(lines, ["noise [s],batch"] + ["61,x"] * 8, strict=True)
    ]
    (campaign / "runs.csv").write_text("\n".join(extended) + "\n")
    done = command("check", campaign)
    assert done.returncode == 0
    assert "kept column noise (unit s, usable as a response)" in done.stdout.splitlines()
    assert "kept column batch (text)" in done.stdout.splitlines()
    assert json.loads(command("check", campaign, "--json").stdout)["unknown_columns"] == {
        "noise": "s",
        "batch": None,
    }


@pytest.mark.parametrize("which", ["absent", "file", "empty"])
def test_check_of_no_campaign_is_one_plain_line(command, which, tmp_path):
    folder = tmp_path / which
    if which == "file":
        folder.write_text("")
    if which == "empty":
        folder.mkdir()
    done = command("check", folder)
    assert done.returncode == 1
    lines = done.stderr.splitlines()
    assert len(lines) == (2 if which == "empty" else 1)
    assert all(line.startswith("error: ") for line in lines)
    said = {
        "absent": "there is no such folder",
        "file": "this is a file and not a folder",
        "empty": "campaign.toml",
    }
    assert said[which] in done.stderr


def test_piped_output_has_no_colour_and_no_wrapping(command, broken):
    done = command("check", broken, env={"COLUMNS": "40", "FORCE_COLOR": ""})
    assert "\x1b" not in done.stderr + done.stdout
    assert max(map(len, done.stderr.splitlines())) > 80


def test_report_as_json(command, campaign, templates):
    done = command(
        "report", campaign, campaign.parent / "absent", "-t", templates / "plain.ipynb", "--no-pdf", "--json"
    )
    assert (done.returncode, done.stderr.count("\n")) == (1, 1)
    record = json.loads(done.stdout)
    assert record["status"] == 1
    good, bad = record["reports"]
    assert (good["status"], good["errors"], good["overall"]) == (0, [], None)
    assert good["files"] == ["manifest.json", "report.html", "report.ipynb", "results.json", "tables.xlsx"]
    assert (bad["status"], bad["problems"][0]["code"]) == (1, "folder-missing")


def test_without_pango_it_is_said_before_anything_runs(monkeypatch, campaign, capsys):
    def lacking():
        raise RunError("the PDF needs Pango; install it or leave the PDF out with --no-pdf")

    monkeypatch.setattr("pinscar.page.pdf.require_pango", lacking)
    assert cli.run(["report", str(campaign)]) == 4
    assert capsys.readouterr().err == "the PDF needs Pango; install it or leave the PDF out with --no-pdf\n"
    assert {path.name for path in campaign.iterdir()} == {"campaign.toml", "runs.csv"}


@pytest.mark.parametrize("debug", ["", "1"])
def test_a_fault_of_our_own_is_one_line_unless_asked(monkeypatch, campaign, capsys, debug):
    def faulty(folder):
        raise KeyError("lost")

    monkeypatch.setenv("PINSCAR_DEBUG", debug)
    monkeypatch.setattr("pinscar.bench.check.check_folder", faulty)
    assert cli.run(["check", str(campaign)]) == 4
    lines = capsys.readouterr().err.splitlines()
    assert lines[0] == "internal error: KeyError: 'lost'; please report it"
    assert (len(lines) > 1, "Traceback" in "".join(lines)) == (bool(debug), bool(debug))
