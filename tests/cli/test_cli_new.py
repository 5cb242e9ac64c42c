"""`pinscar new`: options and questions make a campaign that waits for its scars and lacks nothing else."""

from __future__ import annotations

import csv
import fcntl
import os
import pty
import select
import shlex
import signal
import struct
import sys
import termios
import tomllib
from collections import Counter
from pathlib import Path

import openpyxl
import pytest

from pinscar.bench import ask
from pinscar.bench.check import check_folder
from pinscar.bench.plan_command import is_unfilled
from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.model import GEOMETRIES
from pinscar.cli import main as cli
from pinscar.cli.options import EXAMPLES

TOOLKIT = Path(cli.__file__).resolve().parents[1]
OILS = ("--reference", "R-10", "--candidates", "C-21,C-22")
STILL = {"value-missing", "block-missing"}
SCARS = {  # length and width [mm] such as each geometry leaves them
    "crossed-cylinders": (3.3, 1.8),
    "ball-on-disc": (0.9, 0.9),
    "block-on-ring": (3.0, 8.0),
    "worn-ring": (3.3, 1.82),
}


@pytest.fixture(autouse=True)
def _nobody_there(monkeypatch):
    """Under ``pytest -s`` the terminal of the tests must not be asked."""
    monkeypatch.setattr(ask, "somebody_there", lambda: False)


@pytest.fixture
def new(tmp_path, capsys):
    """Run the command in this process, on a folder called spring."""

    def run(*words: str) -> tuple[int, Path, str, str]:
        status = cli.run(["new", str(tmp_path / "spring"), *words])
        told = capsys.readouterr()
        return status, tmp_path / "spring", told.out, told.err

    return run


def rows_of(folder: Path) -> list[dict[str, str]]:
    with (folder / "runs.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def settings_of(folder: Path) -> dict:
    return tomllib.loads((folder / "campaign.toml").read_text(encoding="utf-8"))


def measured(number: int, row: dict, scar: tuple[float, float], reference: str) -> dict:
    """What a person would fill in after a run."""
    size = (1.0 if row["lubricant"] == reference else 0.88) * (1.0 + 0.012 * (number % 4))
    day = int(row["planned_day"].split()[1])
    return {
        "scar_length [mm]": round(scar[0] * size, 3),
        "scar_width [mm]": round(scar[1] * (1.0 if scar[1] == 8.0 else size), 3),
        "wear_stopped": "yes",
        "run_at": f"2026-03-{1 + day:02d}T09:{number:02d}",
        "ring_id": f"G-{day}",
    }


def fill_csv(folder: Path, scar: tuple[float, float], reference: str) -> None:
    rows = rows_of(folder)
    for number, row in enumerate(rows):
        row |= measured(number, row, scar, reference)
    with (folder / "runs.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def test_options_make_a_campaign_in_which_only_the_measured_is_missing(new):
    status, folder, out, err = new(
        *OILS, "--load", "46 kgf", "--duration", "1 min", "--film-pressure", "120 MPa"
    )
    assert (status, err) == (0, "")
    assert (
        "12 runs over 2 days, in random order: R-10, C-21 and C-22, 4 times each at 451 N, 1 min per run."
        in out
    )
    rows = rows_of(folder)
    # as the person writes them, and no other unit
    assert {(row["load [kgf]"], row["duration [min]"]) for row in rows} == {("46", "1")}
    found = check_folder(folder)
    assert {one.code for one in found.problems} == STILL
    assert str(found.lines[0]).startswith(
        "runs.csv, column scar_length [mm]: 12 runs have no scar yet (rows 2 to 13); "
    )
    assert len(found.lines) == 2
    assert found.summary == "12 runs still to be made; nothing else is wrong"
    settings = settings_of(folder)
    assert settings["campaign"]["id"] == "spring"
    assert settings["campaign"]["question"] == "May C-21 or C-22 replace R-10?"
    assert [(one["lubricant"], one["limit"]) for one in settings["criteria"]] == [
        ("C-21", "120 MPa"),
        ("C-22", "120 MPa"),
    ]


def test_what_was_not_given_is_marked_as_an_example_and_what_was_is_not(new):
    _, folder, _, _ = new(*OILS, "--pin-diameter", "10 mm", "--ring-speed", "650rpm")
    lines = (folder / "campaign.toml").read_text(encoding="utf-8").splitlines()
    marked = {line.split(" = ")[0] for line in lines if "# example" in line}
    assert {"hardness", "elastic_modulus", "roughness_rq", "poisson_ratio", "ring_diameter"} <= marked
    assert not {"pin_diameter", "ring_speed", "id", "reference"} & marked
    assert any(line.startswith('ring_speed = "650 rpm"') for line in lines)
    # nobody's viscosity is invented
    assert not any(line.startswith(("kinematic", "density")) for line in lines)


def test_the_order_is_fair_by_days_and_comes_again(new, tmp_path):
    _, folder, _, _ = new(*OILS, "--repeats", "6", "--days", "3")
    rows = rows_of(folder)
    assert Counter((row["planned_day"], row["lubricant"]) for row in rows) == {
        (f"day {day}", oil): 2 for day in (1, 2, 3) for oil in ("R-10", "C-21", "C-22")
    }
    assert [row["run_id"] for row in rows] == [f"run-{number:02d}" for number in range(1, 19)]
    again, other = tmp_path / "again" / "spring", tmp_path / "autumn"
    for place in (again, other):
        assert cli.run(["new", str(place), *OILS, "--repeats", "6", "--days", "3"]) == 0
    assert (again / "runs.csv").read_bytes() == (folder / "runs.csv").read_bytes()
    assert (other / "runs.csv").read_bytes() != (folder / "runs.csv").read_bytes()


def test_weights_in_kg_take_the_place_of_the_load(new):
    status, folder, out, _ = new(
        *OILS, "--load", "4 kg", "--lever-ratio", "10", "--hanger-mass", "800 g", "--film-pressure", "100 MPa"
    )
    assert status == 0
    assert "at 4 kg (471 N)" in out
    assert {row["weights [kg]"] for row in rows_of(folder)} == {"4"}
    fill_csv(folder, SCARS["crossed-cylinders"], "R-10")
    campaign, problems = check_campaign(folder)
    assert problems == []  # the limits are at a load that the runs have
    # 4.8 kg on the lever under standard gravity, 9.80665 m/s^2 (3rd CGPM, 1901)
    assert campaign.runs["load"].tolist() == pytest.approx([4.8 * 9.80665 * 10.0] * 12, rel=1e-12)


@pytest.mark.parametrize("geometry", GEOMETRIES)
def test_each_geometry_is_ready_once_the_scars_are_filled_in(geometry, new):
    status, folder, _, _ = new("--geometry", geometry, "--load", "450 N", "--repeats", "3")
    assert status == 0
    assert settings_of(folder)["rig"]["geometry"] == geometry
    fill_csv(folder, SCARS[geometry], "R-1")
    campaign, problems = check_campaign(folder)
    assert [str(one) for one in problems] == []
    assert len(campaign.runs) == 6


ODD = ('R "old" #3', "Öl-7", "=7", "C\\n:x", "'8")


def test_odd_names_come_through_whole(new):
    status, folder, _, _ = new(
        "--reference", ODD[0], "--candidates", ",".join(ODD[1:]), "--title", 'A "B" \\ #1'
    )
    assert status == 0
    settings = settings_of(folder)
    assert [one["id"] for one in settings["lubricants"]] == list(ODD)
    assert settings["campaign"]["title"] == 'A "B" \\ #1'
    assert {row["lubricant"] for row in rows_of(folder)} == set(ODD)
    assert {one.code for one in check_folder(folder).problems} == STILL


def test_a_workbook_filled_in_makes_a_report(new, capsys):
    status, folder, _, _ = new(
        "--reference", "007", "--candidates", "1-2", "--film-pressure", "100 MPa", "--xlsx"
    )
    assert status == 0
    assert sorted(path.name for path in folder.iterdir()) == ["campaign.toml", "runs.xlsx"]
    book = openpyxl.load_workbook(folder / "runs.xlsx")
    sheet = book["runs"]
    places = {cell.value: cell.column for cell in sheet[1]}
    for number in range(8):
        row = {name: sheet.cell(number + 2, place).value for name, place in places.items()}
        for name, value in measured(number, row, SCARS["crossed-cylinders"], "007").items():
            sheet.cell(number + 2, places[name]).value = value
    book.save(folder / "runs.xlsx")
    assert cli.run(["check", str(folder)]) == 0
    assert "8 runs, 2 lubricants, 1 load level, 0 excluded; ready to report" in capsys.readouterr().out
    assert cli.run(["report", str(folder), "--no-pdf"]) == 0
    assert (folder / "report" / "report.html").is_file()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--load", "450"), "--load '450': a load has no unit; write each with its own"),
        (("--load", "450 N, 4 kg"), "loads and weights are mixed"),
        (("--load", "450 N,450 N"), "write each load once"),
        (("--ring-speed", "1.5 m/s"), "m/s does not measure a rotational speed; write rpm"),
        (("--duration", "1,500 s"), "the comma can mean 1.500 or 1500"),
        (("--load", "450,900 N"), 'write "450; 900" for two'),
        (("--pin-diameter", "-12 mm"), "this must be more than zero"),
        (("--geometry", "ball on disk"), "did you mean ball-on-disc?"),
        (("--geometry", "block-on-ring", "--pin-diameter", "12 mm"), "--pin-diameter does not fit"),
        (("--repeats", "0"), "a whole number from 1 to 50"),
        (("--repeats", "four"), "a whole number from 1 to 50"),
        (("--candidates", "R-10, r10"), "'r10' and 'R-10' are too much alike"),
        (("--candidates", " , "), "no oil is named"),
        (("--reference", "A,B"), "the reference is one oil"),
        (("--title", " "), "--title is empty"),
        (("--film-pressure", "120"), "the number has no unit; write it with MPa"),
        (("--title", "x", "--demo", "conveyor_07"), "--demo copies a campaign as it is"),
        (("--xlsx", "--demo", "conveyor_07"), "--demo copies a campaign as it is"),
    ],
)
def test_an_option_that_cannot_be_taken_is_one_line_and_leaves_nothing(words, said, new):
    status, folder, out, err = new(*words)
    assert (status, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert said in err
    assert not folder.exists()


def test_the_reference_never_is_the_candidate_that_is_offered(new):
    status, folder, _, _ = new("--reference", "C-1")
    assert status == 0
    assert [one["id"] for one in settings_of(folder)["lubricants"]] == ["C-1", "C-2"]


def test_nothing_but_yes_is_the_starter_with_its_examples(new):
    _, folder, _, _ = new("--yes")
    said = (
        "8 runs, 2 lubricants, 1 load level, 0 excluded, 1 warning; ready to report, marked as example data"
    )
    assert check_folder(folder).summary == said


def test_a_folder_in_use_is_refused_before_anything_is_asked(new, monkeypatch, tmp_path):
    (tmp_path / "spring").mkdir()
    (tmp_path / "spring" / "notes.txt").write_text("mine", encoding="utf-8")
    monkeypatch.setattr(ask, "somebody_there", lambda: True)
    monkeypatch.setattr("builtins.input", lambda words: pytest.fail(f"asked: {words}"))
    status, _, _, err = new()
    assert (status, "already exists and is not empty" in err) == (2, True)


def test_a_place_that_cannot_be_written_is_told_before_anything_is_asked(new, monkeypatch, tmp_path):
    (tmp_path / "spring").write_text("a file", encoding="utf-8")
    monkeypatch.setattr(ask, "somebody_there", lambda: True)
    monkeypatch.setattr("builtins.input", lambda words: pytest.fail(f"asked: {words}"))
    assert cli.run(["new", str(tmp_path / "spring" / "inner")]) == 4


def test_a_wrong_option_is_told_before_anything_is_asked(new, monkeypatch):
    monkeypatch.setattr(ask, "somebody_there", lambda: True)
    monkeypatch.setattr("builtins.input", lambda words: pytest.fail(f"asked: {words}"))
    status, _, _, err = new("--days", "many")
    assert (status, "--days 'many'" in err) == (2, True)


def test_a_table_only_prepared_may_be_replaced_by_a_plan(new):
    _, folder, _, _ = new(*OILS)
    assert is_unfilled(folder / "runs.csv")
    fill_csv(folder, SCARS["crossed-cylinders"], "R-10")
    assert not is_unfilled(folder / "runs.csv")


def test_a_plan_writes_a_workbook_in_place_of_a_prepared_table(new, capsys):
    _, folder, _, _ = new(*OILS)
    words = (
        "--log-sd",
        "0.1",
        "--loads",
        "450 N",
        "--repeats",
        "2",
        "--duration",
        "60 s",
        "--no-pdf",
        "--xlsx",
    )
    assert cli.run(["plan", str(folder), *words]) == 0
    assert f"fill in {folder / 'runs.xlsx'}" in capsys.readouterr().out
    assert not (folder / "runs.csv").exists()
    assert check_folder(folder).summary == "6 runs still to be made; nothing else is wrong"


# A person at a terminal.

INTERRUPT = "\x03"


def at_a_terminal(folder: Path, typed: list[str], *words: str, columns: int = 100) -> tuple[int, str]:
    """Run the command on a terminal of its own, one answer typed at each question."""
    process, terminal = pty.fork()
    if process == 0:
        os.chdir(folder.parent)
        os.environ |= {"PYTHONPATH": str(TOOLKIT), "TERM": "xterm", "NO_COLOR": "1"}
        os.execv(sys.executable, [sys.executable, "-m", "pinscar.cli.main", "new", folder.name, *words])
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
    screen, left, last, idle = b"", list(typed), "", 0
    while idle < 20:
        if not select.select([terminal], [], [], 3)[0]:
            idle += 1
            # Ctrl-C between a question and the wait for its answer is seen only with the next key.
            if last == INTERRUPT:
                os.write(terminal, last.encode())
            continue
        idle = 0
        try:
            piece = os.read(terminal, 4096)
        except OSError:  # what Linux gives at the end of a terminal whose process has gone
            break
        if not piece:
            break
        screen += piece
        if screen.endswith(b": ") and left:
            last = left.pop(0)
            os.write(terminal, last.encode())
    else:
        os.kill(process, signal.SIGKILL)  # a test that never ends tells nothing
    status = os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])
    os.close(terminal)
    assert left == [], screen.decode()
    return status, screen.decode().replace("\r\n", "\n")


OFFERED = "\n"


def test_questions_are_asked_again_until_an_answer_can_be_taken(tmp_path):
    oils = ["?\n", "R-10\n", "R-10\n", "C-21\n"]
    rig = ["12 mm\n", "10 and 38 mm\n"]
    runs = ["450\n", "4,5; 6 kg\n", OFFERED, "3\n", "120 N/mm2\n", "ods\n", "?\n", "csv\n"]
    status, screen = at_a_terminal(tmp_path / "oven_line", oils + rig + runs, "--ring-speed", "650/min")
    assert status == 0, screen
    assert "The oil that is known" in screen
    assert "'R-10' is named twice" in screen
    assert "write two diameters with their units" in screen
    assert "a load has no unit" in screen
    assert "Speed of the ring" not in screen
    assert "12 runs over 2 days" in screen
    # A question fits the screen; what is typed behind it is the person's own.
    assert max(len(line.split(": ")[0]) for line in screen.splitlines()) <= 100
    settings = settings_of(tmp_path / "oven_line")
    assert settings["campaign"] | {"block": "run_day"} == settings["campaign"]
    assert settings["campaign"]["question"] == "May C-21 replace R-10?"
    assert (settings["rig"]["pin_diameter"], settings["rig"]["ring_diameter"]) == ("10 mm", "38 mm")
    assert settings["rig"]["ring_speed"] == "650 rpm"
    assert (settings["rig"]["lever_ratio"], settings["rig"]["hanger_mass"]) == (10, "0.8 kg")
    # what was not asked is marked, what was answered is not
    left = check_folder(tmp_path / "oven_line").starter
    assert "rig.hanger_mass = 0.8 kg" in left
    assert not any("diameter" in one or "ring_speed" in one for one in left)
    assert {one.code for one in check_folder(tmp_path / "oven_line").problems} == STILL


@pytest.mark.parametrize("weights", [False, True])
def test_at_most_eight_questions_are_asked(weights, tmp_path):
    answers = [OFFERED, OFFERED, OFFERED, *(["4 kg\n", OFFERED] if weights else [OFFERED]), *[OFFERED] * 3]
    status, screen = at_a_terminal(tmp_path / "c", answers)
    assert status == 0, screen
    assert len(answers) <= 8
    assert screen.count("]: ") == len(answers)


def test_two_oils_may_stand_with_a_semicolon_between(new):
    _, folder, out, _ = new("--candidates", "H 1; H 2", "--load", "450, 600, 750 N")
    assert [one["id"] for one in settings_of(folder)["lubricants"]] == ["R-1", "H 1", "H 2"]
    assert "36 runs over 2 days" in out


def test_no_at_the_end_goes_through_every_question(tmp_path):
    first = ["R-5\n", OFFERED, "10 mm; 40 mm\n", *[OFFERED] * 3, "no\n"]
    again = ["A title\n", OFFERED, "C-9\n", *[OFFERED] * 11, "xlsx\n"]
    status, screen = at_a_terminal(tmp_path / "c", first + again)
    assert status == 0, screen
    assert "Reference oil, which the others are compared with [R-5]:" in screen
    assert "Diameter of the pin [10 mm]:" in screen
    assert sorted(path.name for path in (tmp_path / "c").iterdir()) == ["campaign.toml", "runs.xlsx"]
    assert [one["id"] for one in settings_of(tmp_path / "c")["lubricants"]] == ["R-5", "C-9"]
    assert settings_of(tmp_path / "c")["campaign"]["title"] == "A title"


def test_printed_commands_are_quoted_for_the_shell(tmp_path, capsys):
    folder = tmp_path / "May's oils; $HOME"
    assert cli.run(["new", str(folder), *OILS]) == 0
    line = capsys.readouterr().out.splitlines()[-1]
    assert shlex.split(line.partition("pinscar check ")[2]) == [str(folder)]


@pytest.mark.parametrize(
    ("key", "status", "said"), [(INTERRUPT, 130, "interrupted"), ("\x04", 2, "nothing was made")]
)
def test_an_end_in_the_middle_leaves_nothing(key, status, said, tmp_path):
    ended, screen = at_a_terminal(tmp_path / "c", [OFFERED, "R-5\n", key], columns=60)
    assert ended == status
    assert said in screen.splitlines()[-1]
    assert "Traceback" not in screen
    assert list(tmp_path.iterdir()) == []
    assert max(len(line.split(": ")[0]) for line in screen.splitlines()) <= 60


def test_a_folder_that_is_not_there_is_named_once(command, tmp_path):
    done = command("report", "nowhere", "--no-pdf", cwd=tmp_path)
    assert done.returncode == 1
    assert done.stderr.splitlines() == ["nowhere: there is no such folder; check the path"]


def test_a_starter_and_a_demo_say_what_comes_next(command, tmp_path):
    starter, demo = tmp_path / "starter", tmp_path / "demo"
    assert command("new", starter).stdout.endswith(f"then: pinscar check {starter}\n")
    assert command("new", demo, "--demo", "conveyor_07").stdout.endswith(f"next: pinscar report {demo}\n")


def test_examples_fit_eighty_columns():
    assert all(len(f"    {line}") <= 80 for lines in EXAMPLES.values() for line in lines)
