"""A reading is added to readings.csv as the file is written, and what stood there is never lost."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

import pytest

from pinscar.bench import readings_file
from pinscar.bench.readings_file import save_reading, saved_readings
from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.scar_readings import Reading
from pinscar.errors import InputError, RunError, Severity, UsageError
from pinscar.press.files import locked

GOOD = Path(__file__).resolve().parents[1] / "fixtures" / "campaigns" / "_good"
DEMO = Path(__file__).resolve().parents[2] / "data_demo"
RUNS = ("h1", "h2", "h3", "h4")
READ = Reading("h2", "op1", 3.4126e-3, 1.8274e-3, "K07")
PLAIN = "run_id,reader,reading,scar_length [mm],scar_width [mm]\n"


@pytest.fixture
def folder(tmp_path):
    return Path(shutil.copytree(GOOD, tmp_path / "campaign"))


def saved(folder, before, reading=READ):
    (folder / "readings.csv").write_bytes(before.encode("utf-8"))
    save_reading(folder, reading, RUNS)
    return (folder / "readings.csv").read_bytes().decode("utf-8")


def errors(folder):
    return [one for one in check_campaign(folder)[1] if one.severity is Severity.ERROR]


HEAD = "run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code"
WRITTEN = {
    "as documented": (
        ("run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code\nh2,op1,1,3.40,1.83,M11\n"),
        (
            "run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code\n"
            "h2,op1,1,3.40,1.83,M11\n"
            "h2,op1,2,3.413,1.827,K07\n"
        ),
    ),
    "no line end at the end": (
        ("run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code\nh1,op1,1,4.10,2.20,"),
        (
            "run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code\n"
            "h1,op1,1,4.10,2.20,\n"
            "h2,op1,1,3.413,1.827,K07\n"
        ),
    ),
    "a column is lacking": (
        ("run_id,reader,reading,scar_length [mm],scar_width [mm]\nh1,op1,1,4.10,2.20\n"),
        (
            "run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code\n"
            "h1,op1,1,4.10,2.20,\n"
            "h2,op1,1,3.413,1.827,K07\n"
        ),
    ),
    "semicolons and decimal commas": (
        ("run_id;reader;reading;scar_length [mm];scar_width [mm];blind_code\r\nh2;op2;1;3,41;1,83;\r\n"),
        (
            "run_id;reader;reading;scar_length [mm];scar_width [mm];blind_code\r\n"
            "h2;op2;1;3,41;1,83;\r\n"
            "h2;op1;1;3,413;1,827;K07\r\n"
        ),
    ),
    "semicolons and decimal points": (
        ("run_id;reader;reading;scar_length [mm];scar_width [mm];blind_code\nh2;op2;1;3.41;1.83;\n"),
        (
            "run_id;reader;reading;scar_length [mm];scar_width [mm];blind_code\n"
            "h2;op2;1;3.41;1.83;\n"
            "h2;op1;1;3.413;1.827;K07\n"
        ),
    ),
    "a comma in another number makes 3.413 doubtful": (
        (
            "run_id;reader;reading;scar_length [mm];scar_width [mm];blind_code;lamp [V]\n"
            "h2;op2;1;3.41;1.83;;5,5\n"
        ),
        (
            "run_id;reader;reading;scar_length [mm];scar_width [mm];blind_code;lamp [V]\n"
            "h2;op2;1;3.41;1.83;;5,5\n"
            "h2;op1;1;3,413;1,827;K07;\n"
        ),
    ),
    "other units, other order, columns of one's own": (
        (
            "blind_code,scar_width [um],note,run_id,scar_length [cm],reader,reading\n"
            'M1,1830,"lamp, left",h2,0.341,op1,7\n'
        ),
        (
            "blind_code,scar_width [um],note,run_id,scar_length [cm],reader,reading\n"
            'M1,1830,"lamp, left",h2,0.341,op1,7\n'
            "K07,1827,,h2,0.3413,op1,8\n"
        ),
    ),
    "quoted line ends": (
        ('run_id,reader,reading,scar_length [mm],scar_width [mm],note\nh1,op1,1,4.10,2.20,"two\nlines"\n'),
        (
            "run_id,reader,reading,scar_length [mm],scar_width [mm],note,blind_code\n"
            'h1,op1,1,4.10,2.20,"two\n'
            'lines",\n'
            "h2,op1,1,3.413,1.827,,K07\n"
        ),
    ),
    "a separator closes every row": (
        ("run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code\nh1,op1,1,4.10,2.20,,\n"),
        (
            "run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code\n"
            "h1,op1,1,4.10,2.20,,\n"
            "h2,op1,1,3.413,1.827,K07,\n"
        ),
    ),
    "blank header cells at the end": (
        ("run_id;reader;reading;scar_length [mm];scar_width [mm];;\nh1;op1;1;4,1;2,2;;\n;;;;;;\n"),
        (
            "run_id;reader;reading;scar_length [mm];scar_width [mm];blind_code;\n"
            "h1;op1;1;4,1;2,2;;\n"
            ";;;;;;\n"
            "h2;op1;1;3,413;1,827;K07;\n"
        ),
    ),
    "a line that declares the separator": (
        ("sep=;\r\nrun_id;reader;reading;scar_length [mm];scar_width [mm]\r\nh1;op1;1;4,1;2,2\r\n"),
        (
            "sep=;\r\n"
            "run_id;reader;reading;scar_length [mm];scar_width [mm];blind_code\r\n"
            "h1;op1;1;4,1;2,2;\r\n"
            "h2;op1;1;3,413;1,827;K07\r\n"
        ),
    ),
    "a byte order mark": (
        "\ufeffrun_id,reader,reading,scar_length [mm],scar_width [mm],blind_code\n",
        (
            "\ufeffrun_id,reader,reading,scar_length [mm],scar_width [mm],blind_code\n"
            "h2,op1,1,3.413,1.827,K07\n"
        ),
    ),
    "a header alone, no line end": (
        "run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code",
        ("run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code\nh2,op1,1,3.413,1.827,K07\n"),
    ),
    "a quote inside a cell": (
        ('run_id,reader,reading,scar_length [mm],scar_width [mm],note\nh1,op1,1,4.10,2.20,5" lens\n'),
        (
            "run_id,reader,reading,scar_length [mm],scar_width [mm],note,blind_code\n"
            'h1,op1,1,4.10,2.20,5" lens,\n'
            "h2,op1,1,3.413,1.827,,K07\n"
        ),
    ),
    "no numbers of readings": (
        ("run_id,reader,scar_length [mm]\nh2,op1,3.40\nh2,op1,3.42\n"),
        (
            "run_id,reader,scar_length [mm],reading,scar_width [mm],blind_code\n"
            "h2,op1,3.40,,,\n"
            "h2,op1,3.42,,,\n"
            "h2,op1,3.413,3,1.827,K07\n"
        ),
    ),
}


@pytest.mark.parametrize("case", WRITTEN)
def test_the_file_keeps_its_own_way_of_writing(folder, case):
    before, after = WRITTEN[case]
    assert saved(folder, before) == after
    assert errors(folder) == []
    last = saved_readings(folder, RUNS).iloc[-1]
    assert (last["run_id"], last["reader"], last["blind_code"]) == ("h2", "op1", "K07")
    assert last["scar_length"] == pytest.approx(READ.length, abs=0.5e-6)
    assert last["scar_width"] == pytest.approx(READ.width, abs=0.5e-6)


def test_a_campaign_without_readings_gets_the_file(folder):
    (folder / "readings.csv").unlink(missing_ok=True)
    assert save_reading(folder, READ, RUNS) == "1"
    assert (folder / "readings.csv").read_text(encoding="utf-8") == HEAD + "\nh2,op1,1,3.413,1.827,K07\n"
    assert errors(folder) == []
    mask = os.umask(0)
    os.umask(mask)
    assert (folder / "readings.csv").stat().st_mode & 0o777 == 0o666 & ~mask


def test_a_new_file_is_separated_as_the_runs_are(folder):
    (folder / "readings.csv").unlink(missing_ok=True)
    text = (folder / "runs.csv").read_text(encoding="utf-8").replace(",", ";").replace(".", ",")
    (folder / "runs.csv").write_text(text, encoding="utf-8")
    openly = Reading("h2", "Ó Br;án", 3.4e-3, 1.8e-3)
    save_reading(folder, openly, RUNS)
    written = (folder / "readings.csv").read_text(encoding="utf-8").splitlines()
    assert written[0] == "run_id;reader;reading;scar_length [mm];scar_width [mm]"
    assert written[1] == 'h2;"Ó Br;án";1;3,400;1,800'
    assert errors(folder) == []


@pytest.mark.parametrize("demo", ["conveyor_07", "reading_03"])
def test_the_demos_keep_every_row_and_pass_the_check(tmp_path, demo):
    folder = Path(shutil.copytree(DEMO / demo, tmp_path / demo))
    old = (folder / "readings.csv").read_text(encoding="utf-8").splitlines()
    campaign, _ = check_campaign(folder)
    runs = campaign.runs["run_id"].tolist()
    before = saved_readings(folder, runs)
    one = before.iloc[0]
    reading = Reading(one["run_id"], one["reader"], one["scar_length"], one["scar_width"], "X42")
    number = save_reading(folder, reading, runs)
    after = saved_readings(folder, runs)
    same = before[(before["run_id"] == one["run_id"]) & (before["reader"] == one["reader"])]
    assert int(number) == len(same) + 1
    assert after.iloc[:-1].equals(before)
    new = (folder / "readings.csv").read_text(encoding="utf-8").splitlines()
    assert [line.rstrip(",") for line in new[1:-1]] == [line.rstrip(",") for line in old[1:]]
    assert errors(folder) == []


BROKEN = {
    "no unit": PLAIN.replace(" [mm]", "") + "h1,op1,1,4.10,2.20\n",
    "no number": PLAIN + "h1,op1,1,long,2.20\n",
    "no such run": PLAIN + "h9,op1,1,4.10,2.20\n",
    "one number twice": PLAIN + "h1,op1,1,4.10,2.20\nh1,op1,1,4.11,2.20\n",
    "open quotes": PLAIN + 'h1,"op1,1,4.10,2.20\n',
    "empty": " \n",
}


@pytest.mark.parametrize("case", BROKEN)
def test_a_file_with_errors_is_refused_and_left_alone(folder, case):
    (folder / "readings.csv").write_text(BROKEN[case], encoding="utf-8")
    with pytest.raises(InputError) as refused:
        save_reading(folder, READ, RUNS)
    assert refused.value.problems
    assert {one.file for one in refused.value.problems} == {"readings.csv"}
    assert (folder / "readings.csv").read_text(encoding="utf-8") == BROKEN[case]


def test_latin_1_is_refused_and_left_alone(folder):
    raw = (PLAIN + "h1,J\u00e9r\u00f4me,1,4.10,2.20\n").encode("latin-1")
    (folder / "readings.csv").write_bytes(raw)
    with pytest.raises(InputError, match="UTF-8"):
        save_reading(folder, READ, RUNS)
    assert (folder / "readings.csv").read_bytes() == raw


@pytest.mark.parametrize(
    "reading",
    [
        Reading("h2", " ", 3e-3, 2e-3),
        Reading("h2", "op\n1", 3e-3, 2e-3),
        Reading("h2", "op1", 0.0, 2e-3),
        Reading("h2", "op1", 3e-3, float("nan")),
    ],
)
def test_what_is_no_reading_is_not_saved(folder, reading):
    with pytest.raises(UsageError):
        save_reading(folder, reading, RUNS)
    assert not (folder / "readings.csv").exists()


def test_a_run_that_is_not_there_gets_no_reading(folder):
    with pytest.raises(InputError, match="no run has this run_id"):
        save_reading(folder, Reading("h9", "op1", 3e-3, 2e-3), RUNS)
    assert not (folder / "readings.csv").exists()


def test_it_waits_for_a_report_only_so_long(folder, monkeypatch):
    monkeypatch.setattr(readings_file, "PATIENCE", 0.1)
    with locked(folder / "report"), pytest.raises(RunError, match="another run is writing"):
        save_reading(folder, READ, RUNS)
    assert not (folder / "readings.csv").exists()


@pytest.mark.parametrize("step", ["mkstemp", "replace"])
def test_a_folder_that_can_not_be_written_loses_nothing(folder, monkeypatch, step):
    # As on a disk mounted for reading only; permissions would not stop root, which tests may run as.
    def refuse(*_, **__):
        raise OSError(30, "Read-only file system")

    (folder / "readings.csv").write_text(HEAD + "\n", encoding="utf-8")
    before = sorted(path.name for path in folder.iterdir())
    if step == "mkstemp":
        monkeypatch.setattr(tempfile, "mkstemp", refuse)
    else:
        monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(RunError, match="read-only file system"):
        save_reading(folder, READ, RUNS)
    assert sorted(path.name for path in folder.iterdir()) == before
    assert (folder / "readings.csv").read_text(encoding="utf-8") == HEAD + "\n"


def test_a_link_and_the_permissions_of_the_file_stay(folder):
    there = folder / "elsewhere.csv"
    there.write_text(HEAD + "\n", encoding="utf-8")
    there.chmod(0o640)
    (folder / "readings.csv").symlink_to(there)
    save_reading(folder, READ, RUNS)
    assert (folder / "readings.csv").is_symlink()
    assert there.stat().st_mode & 0o777 == 0o640
    assert there.read_text(encoding="utf-8").endswith("h2,op1,1,3.413,1.827,K07\n")


@pytest.mark.parametrize("before", [None, HEAD + "\nh2,op1,1,3.40,1.83,M11\n"])
def test_a_reading_is_taken_back_byte_for_byte(folder, before):
    path = folder / "readings.csv"
    path.unlink(missing_ok=True)
    if before is not None:
        path.write_text(before, encoding="utf-8")
    saved = readings_file.save_with_undo(folder, READ, RUNS)
    readings_file.take_back(folder, saved)
    assert (path.read_text(encoding="utf-8") if path.exists() else None) == before


def test_a_reading_is_not_taken_back_over_another_one(folder):
    (folder / "readings.csv").write_text(PLAIN, encoding="utf-8")
    saved = readings_file.save_with_undo(folder, READ, RUNS)
    save_reading(folder, READ, RUNS)
    held = (folder / "readings.csv").read_bytes()
    with pytest.raises(RunError, match="changed since"):
        readings_file.take_back(folder, saved)
    assert (folder / "readings.csv").read_bytes() == held
