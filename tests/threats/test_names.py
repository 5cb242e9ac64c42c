"""Names that look alike, that are paths, that are formulas, and file names beyond UTF-8."""

from __future__ import annotations

import os
import sys

import pytest

from pinscar.campaign.campaign import check_campaign
from pinscar.errors import Problem, Severity, look, loose_look, visible

HEAD = "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped\n"
TOML = """[campaign]
id = "names"
reference = "R-10"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
"""


def write(folder, runs, toml=TOML):
    folder.mkdir(exist_ok=True)
    rows = [f"{run},{oil},450,60,4.{place},2.2,yes\n" for place, (run, oil) in enumerate(runs)]
    (folder / "runs.csv").write_text(HEAD + "".join(rows), encoding="utf-8")
    (folder / "campaign.toml").write_text(toml, encoding="utf-8")
    return folder


def codes(folder):
    return [(one.code, one.severity.value) for one in check_campaign(folder)[1]]


PLAIN = [("1", "R-10"), ("2", "R-10"), ("3", "C-21"), ("4", "C-21")]


def test_plain_names_are_no_problem(tmp_path):
    assert codes(write(tmp_path / "c", PLAIN)) == []


@pytest.mark.parametrize(
    "double",
    ["\u0421-21", "C\u201121", "C\u221221", "\uff23-21", "C\u00a0-21".replace("\u00a0", "") + "\u3164"],
    ids=["cyrillic", "no-break hyphen", "minus", "full width", "filler"],
)
def test_two_oils_that_look_the_same_are_refused(tmp_path, double):
    found = codes(write(tmp_path / "c", [*PLAIN, ("5", double), ("6", double)]))
    # a filler is hidden, shows as its code, and so no longer looks the same
    assert ("name-lookalike", "error") in found or ("hidden-marks", "warning") in found


def test_both_are_spelled_out(tmp_path):
    _, problems = check_campaign(write(tmp_path / "c", [*PLAIN, ("5", "\u0421-21")]))
    (one,) = [one for one in problems if one.code == "name-lookalike"]
    assert "C-21, \u0421[U+0421]-21" in one.message


@pytest.mark.parametrize("double", ["c-21", "C21", "C-2l", "C-2I"])
def test_two_oils_that_nearly_look_the_same_are_warned_of(tmp_path, double):
    assert ("lubricant-lookalike", "warning") in codes(write(tmp_path / "c", [*PLAIN, ("5", double)]))


@pytest.mark.parametrize("double", ["\u202eR-10", "R-\u200b10", "R-10\ufeff", "R-10\x07", "R\u00ad-10"])
def test_a_hidden_mark_makes_another_oil_that_everyone_sees(tmp_path, double):
    folder = write(tmp_path / "c", [*PLAIN, ("5", double)])
    campaign, problems = check_campaign(folder)
    assert campaign is not None
    assert "[U+" in campaign.runs["lubricant"].iloc[-1]
    assert "hidden-marks" in {one.code for one in problems}


@pytest.mark.parametrize("double", ["A-1", "\u0430-1"])
def test_run_ids_that_look_alike_are_told(tmp_path, double):
    found = {code for code, _ in codes(write(tmp_path / "c", [("a-1", "R-10"), (double, "R-10"), *PLAIN]))}
    assert found & {"run-id-lookalike", "name-lookalike"}


@pytest.mark.parametrize("run_id", ["../x", "a/b", "..", ".", "a\\b", "C:x", "a\x00b", "x" * 200, "a|b"])
def test_a_run_id_with_a_path_or_a_mark_is_refused(tmp_path, run_id):
    folder = write(tmp_path / "c", [*PLAIN, (run_id, "R-10")])
    found = {code for code, severity in codes(folder) if severity == "error"}
    assert found & {"run-id-characters", "file-encoding"}


@pytest.mark.parametrize(
    "name", ["=cmd|' /C calc'!A1", '=HYPERLINK("http://x")', "@SUM(1)", "+A1!B2", "-1|x"]
)
def test_a_name_that_a_spreadsheet_would_run_is_refused(tmp_path, name):
    quoted = name.replace('"', '""')
    assert ("name-formula", "error") in codes(write(tmp_path / "c", [*PLAIN, ("5", f'"{quoted}"')]))
    escaped = name.replace("\\", "\\\\").replace('"', '\\"')
    folder = write(tmp_path / "d", PLAIN, TOML + f'[[lubricants]]\nid = "{escaped}"\n')
    assert ("name-formula", "error") in codes(folder)


def test_a_plan_writes_no_formula(tmp_path, command):
    folder = tmp_path / "p"
    folder.mkdir()
    (folder / "campaign.toml").write_text(TOML + '[[lubricants]]\nid = "=HYPERLINK(\\"http://x\\")"\n')
    done = command("plan", folder, "--log-sd", "0.1", "--no-pdf")
    assert done.returncode == 1
    assert "name-formula" not in done.stderr
    assert "a spreadsheet takes this for a formula" in done.stderr
    assert not (folder / "runs.csv").exists()


@pytest.mark.parametrize("kind", ["traces", "sound", "micrographs", "fling"])
@pytest.mark.parametrize("name", [b"\xff\xfe.png", "a\u202eb.png".encode(), b"a\nb.png", b"\x1b]0;x\x07.png"])
def test_a_file_s_name_that_cannot_be_seen_is_refused(tmp_path, kind, name):
    folder = write(tmp_path / "c", PLAIN)
    (folder / kind).mkdir()
    (folder.resolve() / kind / os.fsdecode(name)).write_bytes(b"x")
    (problem,) = [one for one in check_campaign(folder)[1] if one.severity is Severity.ERROR]
    assert problem.code == "file-name"
    str(problem).encode("ascii")


@pytest.mark.skipif(sys.platform != "linux", reason="file names are bytes on Linux")
def test_a_campaign_in_a_folder_beyond_utf_8_is_reported_on(tmp_path, command, templates):
    folder = write(tmp_path.resolve() / os.fsdecode(b"caf\xe9 \xff'\"$(x);&"), PLAIN)
    done = command("report", folder, "--template", templates / "plain.ipynb", "--no-pdf")
    assert (done.returncode, done.stderr) == (0, "")
    assert "caf[0xE9]" in done.stdout
    assert command("verify", folder / "report").returncode == 0


def test_what_looks_alike_after_the_unicode_consortium_s_tables():
    # Unicode Technical Standard 39, section 4: its examples of whole words that are confusable (from memory).
    assert look("p\u0430ypal") == look("paypal")
    assert look("scope") == look("\u0455\u0441\u043e\u0440\u0435")
    assert loose_look("1O") == loose_look("l0")
    assert look("R-10") != look("R-11")


def test_every_problem_shows_what_is_hidden():
    one = Problem(
        code="x",
        severity=Severity.ERROR,
        file="a\u202e.csv",
        message="m\x1b",
        mend="n\u200b",
        value="v\x07",
        column="c\udcff",
    )
    assert str(one) == "a[U+202E].csv, column c[0xFF]: m[U+001B] (found 'v[U+0007]'); n[U+200B]"
    assert visible("µm ≤ 5 °C – Öl") == "µm ≤ 5 °C – Öl"
