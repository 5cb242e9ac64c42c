"""Faults of the machine: killed, starved, full, odd. The report is whole, the line clear, nothing is left."""

from __future__ import annotations

import ctypes
import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from kill_at_random import contents, kill_many

from pinscar.cli import main
from pinscar.errors import RunError
from pinscar.press import files
from pinscar.press import files as put_file
from pinscar.press.inputs import input_stamps
from pinscar.press.private_folder import OWNER, UNLOCKED, PrivateFolder, sweep_private

PLAIN = ("--no-pdf", "--quiet")


@pytest.fixture
def temporary(tmp_path):
    """A place for temporary files of the test's own, short as a system's."""
    place = Path(f"/tmp/pf-{os.getpid()}-{time.monotonic_ns() % 100000}")
    place.mkdir()
    yield place
    shutil.rmtree(place, ignore_errors=True)


def made(command, folder, templates, *words, **options):
    return command("report", folder, "-t", templates / "plain.ipynb", *PLAIN, *words, **options)


def told(done, status, words=""):
    """The command ended with this status, one line, these words, and no traceback."""
    assert done.returncode == status, done.stderr
    assert len(done.stderr.splitlines()) == (1 if status else 0), done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_killed_at_random_moments(tmp_path, templates):
    words = ("--template", str(templates / "plain.ipynb"), *PLAIN)
    counts = kill_many(tmp_path, 4, 11, words)
    assert sum(counts.values()) == 4


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_killed_two_hundred_times(tmp_path, templates, seed):
    words = ("--template", str(templates / "plain.ipynb"), *PLAIN)
    assert sum(kill_many(tmp_path, 50, seed, words).values()) == 50


def test_the_private_folder_of_a_dead_owner_is_swept_and_that_of_a_living_one_kept(temporary, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(temporary))
    monkeypatch.setattr("tempfile.tempdir", None)
    code = (
        "import os\nfrom pinscar.press.private_folder import PrivateFolder\n"
        "own = PrivateFolder()\nplace = own.path\n(place / 'log').write_text('x')\n"
        "print(place, flush=True)\n{end}"
    )
    alive = subprocess.Popen(
        [sys.executable, "-c", code.format(end="input()")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    kept = Path(alive.stdout.readline().strip())
    dead = subprocess.run(
        [sys.executable, "-c", code.format(end="os.kill(os.getpid(), 9)")],
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )
    swept = Path(dead.stdout.strip())
    for name in ("pinscar-mine", "pinscar-abcdefgh", "other"):  # none of ours, or not known to be
        (temporary / name).mkdir()
        (temporary / name / "file").write_text("mine")
    (temporary / "pinscar-linked00").symlink_to(kept)
    assert (kept / OWNER).exists()
    assert (swept / "log").exists()
    with PrivateFolder() as own:
        sweep_private()
        assert own.is_dir()
    assert not swept.exists()
    assert (kept / "log").exists()
    assert {path.name for path in temporary.iterdir()} == {
        kept.name, "pinscar-mine", "pinscar-abcdefgh", "other", "pinscar-linked00"
    }  # fmt: skip
    old = temporary / "pinscar-empty000"
    old.mkdir()
    os.utime(old, (time.time() - 2 * UNLOCKED,) * 2)
    sweep_private()
    assert not old.exists()
    alive.communicate("")


def test_a_private_folder_whose_removal_was_cut_off_is_swept_by_the_next_run(temporary, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(temporary))
    monkeypatch.setattr("tempfile.tempdir", None)
    # The worker removes the folder when the command was killed, and is killed itself at some moment of that.
    code = (
        "import os, shutil\nfrom pathlib import Path\nfrom pinscar.press import private_folder\n"
        "own = private_folder.PrivateFolder()\nprint(own.path, flush=True)\n"
        "for name in ('ipython', 'jupyter'):\n    (own.path / name / 'deep').mkdir(parents=True)\n"
        "(own.path / 'log').write_text('x')\nleft = [{moment}]\n"
        "def last(kept):\n    def act(*one, **words):\n        if left[0] == 0: os.kill(os.getpid(), 9)\n"
        "        left[0] -= 1\n        return kept(*one, **words)\n    return act\n"
        "for name in ('unlink', 'rmdir'):\n    setattr(os, name, last(getattr(os, name)))\n"
        "private_folder.remove_private(own.path)\n"
    )
    for moment in range(12):
        run = [sys.executable, "-c", code.format(moment=moment)]
        place = Path(subprocess.run(run, stdout=subprocess.PIPE, text=True, check=False).stdout.strip())
        there = sorted(path.name for path in place.iterdir()) if place.exists() else []
        assert not there or OWNER in there, (moment, there)
        sweep_private()
        if there:
            assert not place.exists()


def test_a_half_written_file_of_a_killed_writer_is_swept(tmp_path):
    half = tmp_path / ".pinscar-readings.csv-abcd1234"
    half.write_text("half")
    (tmp_path / ".pinscar-report.lock").write_text("")
    with (tmp_path / ".pinscar-readings.csv-wxyz5678").open("wb") as busy:
        put_file.fcntl.flock(busy, put_file.fcntl.LOCK_EX)
        put_file.put_file(tmp_path / "runs.csv", b"new")
    assert {path.name for path in tmp_path.iterdir()} == {
        "runs.csv", ".pinscar-report.lock", ".pinscar-readings.csv-wxyz5678"
    }  # fmt: skip


@pytest.mark.parametrize("limit", [0, 1_000, 20_000, 60_000])
def test_a_disk_that_is_full_at_any_write(command, reported, templates, temporary, limit):
    before = contents(reported / "report")

    def small():
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)

    done = made(command, reported, templates, preexec_fn=small, env={"TMPDIR": str(temporary)})
    told(done, 4)
    assert contents(reported / "report") == before
    assert not list(temporary.iterdir())


@pytest.mark.parametrize("number", range(3))
def test_no_room_at_the_write_of_each_file(tmp_path, monkeypatch, number):
    calls = []
    write = Path.write_bytes

    def full(self, data):
        calls.append(self.name)
        if len(calls) > number:
            raise OSError(28, "No space left on device")
        return write(self, data)

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(RunError, match=r"cannot write into .*: no space left on device"):
        (tmp_path / "scratch").mkdir()
        files.write_files(tmp_path / "scratch" / "report", {"a": b"1", "b": b"2", "c": b"3"})


@pytest.mark.parametrize("stream", ["full", "closed", "both closed"])
def test_streams_that_are_full_or_closed(campaign, stream, command, templates):
    def cut():
        if stream == "full":
            full = os.open("/dev/full", os.O_WRONLY)
            os.dup2(full, 1)
        else:
            os.close(1)
        if stream == "both closed":
            os.close(2)

    done = command("report", campaign, "-t", templates / "plain.ipynb", "--no-pdf", preexec_fn=cut)
    assert "Traceback" not in done.stderr
    assert done.returncode in (0, 4)
    assert (campaign / "report" / "manifest.json").exists()
    assert {path.name for path in campaign.iterdir()} == {"campaign.toml", "runs.csv", "report"}


def obey():
    """Make root obey permissions as everybody else does (Linux, capabilities(7))."""
    if os.geteuid() == 0:
        ctypes.CDLL(None).prctl(24, 1, 0, 0, 0)


@pytest.mark.parametrize("kind", ["missing", "a file", "not writable"])
def test_a_place_for_temporary_files_that_is_none(campaign, kind, tmp_path, command, templates):
    place = tmp_path / "t"
    if kind == "a file":
        place.write_text("")
    elif kind == "not writable":
        place.mkdir(mode=0o555)
    done = made(command, campaign, templates, env={"TMPDIR": str(place)}, preexec_fn=obey)
    # the system's usual place is taken instead
    told(done, 0)


def test_without_a_home(campaign, command, templates):
    done = made(command, campaign, templates, env={"HOME": "", "XDG_CACHE_HOME": "", "XDG_CONFIG_HOME": ""})
    told(done, 0)


@pytest.mark.parametrize("megabytes", [100, 200, 400, 800, 1200])
def test_little_memory(reported, megabytes, command, templates, temporary):
    before = contents(reported / "report")

    def starve():
        resource.setrlimit(resource.RLIMIT_AS, (megabytes << 20, megabytes << 20))

    done = made(command, reported, templates, preexec_fn=starve, env={"TMPDIR": str(temporary)})
    assert "Traceback" not in done.stderr
    if done.returncode:
        assert contents(reported / "report") == before
        assert done.returncode in (1, 4, 120) or done.returncode < 0
        assert done.stderr.strip()
    assert not list(temporary.iterdir())


def test_no_room_for_another_process(reported, templates, monkeypatch, capsys):
    """What fork answers at the limit of processes: one line, and the older report stays."""
    before = contents(reported / "report")

    def full(*words, **options):
        raise BlockingIOError(11, "Resource temporarily unavailable")

    monkeypatch.setattr("pinscar.child.subprocess.Popen", full)
    status = main.run(["report", str(reported), "-t", str(templates / "plain.ipynb"), *PLAIN])
    said = capsys.readouterr().err
    assert status == 4
    assert "Resource temporarily unavailable".lower() in said.lower()
    assert len(said.splitlines()) == 1
    assert contents(reported / "report") == before


@pytest.mark.parametrize("kilobytes", [40, 120, 300])
def test_a_disk_that_is_truly_full(reported, command, templates, tmp_path, kilobytes):
    """A small file system in memory holds the campaign; what does not fit leaves the old report whole."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(disk)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("mounting a small file system needs root")
    try:
        folder = disk / "campaign"
        shutil.copytree(reported, folder)
        before = contents(folder / "report")
        done = made(command, folder, templates)
        assert "Traceback" not in done.stderr
        if done.returncode:
            told(done, 4)
            assert contents(folder / "report") == before
        assert {path.name for path in folder.iterdir()} <= {"campaign.toml", "runs.csv", "report"}
    finally:
        subprocess.run(["umount", str(disk)], check=True)


@pytest.mark.parametrize("number", [8, 16, 32, 64])
def test_few_descriptors(reported, number, command, templates, temporary):
    before = contents(reported / "report")

    def starve():
        resource.setrlimit(resource.RLIMIT_NOFILE, (number, number))

    done = made(command, reported, templates, preexec_fn=starve, env={"TMPDIR": str(temporary)})
    assert "Traceback" not in done.stderr
    if done.returncode:
        told(done, 4)
        assert contents(reported / "report") == before
    assert not list(temporary.iterdir())


@pytest.mark.parametrize("year", [1970, 2040])
def test_the_clock_changes_no_byte(campaign, year, command, templates, tmp_path):
    told(made(command, campaign, templates), 0)
    before = contents(campaign / "report")
    moment = (year - 1970) * 31_557_600 + 86_400
    for path in campaign.glob("*.*"):
        os.utime(path, (moment, moment))
    library = clock_at(moment, tmp_path)
    env = {"TZ": "Pacific/Kiritimati"} | ({"LD_PRELOAD": str(library)} if library else {})
    told(made(command, campaign, templates, env=env), 0)
    assert contents(campaign / "report") == before


def clock_at(moment, place):
    """Build a library that tells another time; None where there is no compiler."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        return None
    source, library = place / "clock.c", place / "clock.so"
    source.write_text(
        "#include <time.h>\n#include <sys/syscall.h>\n#include <unistd.h>\n#include <sys/time.h>\n"
        f"static const long moment = {moment}L;\n"
        "int clock_gettime(clockid_t id, struct timespec *t) {\n"
        "  long r = syscall(SYS_clock_gettime, id, t);\n"
        "  if (r == 0 && id == CLOCK_REALTIME) t->tv_sec = moment;\n  return (int)r; }\n"
        "time_t time(time_t *t) { if (t) *t = moment; return moment; }\n"
        "int gettimeofday(struct timeval *t, void *z) { t->tv_sec = moment; t->tv_usec = 0; return 0; }\n"
    )
    done = subprocess.run(
        [compiler, "-shared", "-fPIC", "-o", library, source], capture_output=True, check=False
    )
    return library if done.returncode == 0 else None


@pytest.mark.parametrize("locale", ["C", "POSIX", "de_DE.UTF-8", "tr_TR.UTF-8", "no_such.locale"])
def test_the_locale_changes_no_byte(campaign, locale, command, templates):
    told(made(command, campaign, templates), 0)
    before = contents(campaign / "report")
    env = {"LC_ALL": locale, "LANG": locale, "LANGUAGE": "tr", "PYTHONUTF8": "0"}
    told(made(command, campaign, templates, env=env), 0)
    assert contents(campaign / "report") == before


@pytest.mark.parametrize("name", ["with blank & 'quote'", "-x", "%s{0}$HOME", "Ö漢字🛢", "a" * 200])
def test_odd_and_long_paths(campaign, name, command, templates):
    place = campaign.parent / name
    campaign.rename(place)
    told(made(command, place if not name.startswith("-") else f"./{name}", templates, cwd=campaign.parent), 0)
    assert (place / "report" / "manifest.json").exists()


def test_eight_reports_at_once(campaign, command, templates, temporary):
    words = ("report", campaign, "-t", templates / "plain.ipynb", *PLAIN)
    running = [command.start(*words, env={"TMPDIR": str(temporary)}) for _ in range(8)]
    ends = [(one, *one.communicate(timeout=600)) for one in running]
    assert {one.returncode for one, _, _ in ends} <= {0, 4}
    assert any(one.returncode == 0 for one, _, _ in ends)
    for one, _, err in ends:
        assert err.splitlines() == [] or "another run is writing" in err
        assert len(err.splitlines()) == (1 if one.returncode else 0)
    assert {path.name for path in campaign.iterdir()} == {"campaign.toml", "runs.csv", "report"}
    assert not list(temporary.iterdir())


def test_inputs_that_are_rewritten_and_put_back_during_the_run_are_noticed(campaign, templates, command):
    # The digests before and after are the same; the numbers came from other bytes.
    runs = campaign / "runs.csv"
    marker = campaign.parent / "kernel"
    template = campaign.parent / "slow.ipynb"
    notebook = json.loads((templates / "plain.ipynb").read_text())
    wait = f"import time, pathlib; pathlib.Path({str(marker)!r}).touch(); time.sleep(5)\n"
    notebook["cells"][3]["source"].insert(0, wait)
    template.write_text(json.dumps(notebook))
    process = command.start("report", campaign, "-t", template, "--no-pdf")
    end = time.monotonic() + 120
    while not marker.exists() and process.poll() is None and time.monotonic() < end:
        time.sleep(0.05)
    good = runs.read_bytes()
    runs.write_bytes(good.replace(b"4", b"5"))
    runs.write_bytes(good)
    _, err = process.communicate(timeout=180)
    assert process.returncode == 4, err
    assert "was changed while the report was being made" in err
    assert not (campaign / "report").exists()


def test_the_pdf_carries_the_bytes_that_the_manifest_names(campaign):
    from pinscar.press.files import CHANGED
    from pinscar.press.subject import read_inputs, subject_of
    from pinscar.press.worker import _as_hashed

    given = {"folder": "."}
    subject = subject_of(read_inputs(campaign, given), campaign, given, "t")
    assert _as_hashed(campaign, "runs.csv", subject) == (campaign / "runs.csv").read_bytes()
    stamps = input_stamps(campaign, subject.inputs)
    (campaign / "runs.csv").write_bytes((campaign / "runs.csv").read_bytes() + b"\n")
    assert input_stamps(campaign, subject.inputs) != stamps
    with pytest.raises(RunError, match=CHANGED):
        _as_hashed(campaign, "runs.csv", subject)
