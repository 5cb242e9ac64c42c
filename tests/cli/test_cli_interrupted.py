"""The command stopped, or kept from writing: the older report stands, no process and no scratch folder."""

from __future__ import annotations

import ctypes
import os
import resource
import signal
import sys
import time

import pytest

from pinscar.press.files import locked

DROP_FROM_BOUNDS, OVERRIDE_PERMISSIONS = 24, 1  # PR_CAPBSET_DROP, CAP_DAC_OVERRIDE: Linux, capabilities(7)


def wait_for(condition, seconds=60):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.05)


def runs(pid):
    """Whether a process runs; a dead one that nobody has asked about yet does not."""
    done = os.popen(f"ps -o stat= -p {pid}").read().strip()
    return bool(done) and not done.startswith("Z")


def start_and_wait_for_the_kernel(command, folder, templates, fault):
    """Start a report that stops at a cell; return the process and the kernel's process id."""
    marker = folder.parent / "kernel"
    words = ("report", folder, "-t", templates / "faulty.ipynb", "--no-pdf")
    process = command.start(*words, "-p", f"fault={fault}", "-p", f"marker={marker}")
    wait_for(lambda: marker.exists() and marker.read_text())
    return process, int(marker.read_text())


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=lambda number: number.name)
def test_an_interrupted_run_cleans_up(number, command, reported, templates, assert_unharmed):
    process, kernel = start_and_wait_for_the_kernel(command, reported, templates, "stubborn")
    process.send_signal(number)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, out) == (128 + number, "")
    assert err.splitlines() == ["interrupted"]
    assert not runs(kernel)
    assert_unharmed(reported, failed_notebook=False)


def test_a_killed_run_is_swept_by_the_next(command, reported, templates, assert_unharmed):
    process, kernel = start_and_wait_for_the_kernel(command, reported, templates, "stubborn")
    process.kill()
    process.communicate(timeout=30)
    wait_for(lambda: not runs(kernel), seconds=20)
    left = {path.name for path in reported.iterdir() if path.name.startswith(".pinscar-")}
    assert len(left) == 2, "a scratch folder and a lock file nobody holds"
    failed = command("report", reported, "-t", templates / "faulty.ipynb", "--no-pdf", "-p", "fault=error")
    assert failed.returncode == 4
    assert_unharmed(reported, failed_notebook=True)


def test_a_failure_is_one_line_on_standard_error(command, reported, templates, assert_unharmed):
    done = command("report", reported, "-t", templates / "faulty.ipynb", "--no-pdf", "-p", "fault=kill")
    assert (done.returncode, done.stdout) == (4, "")
    place = "template faulty, cell 4 (fault)"
    said = f"{reported}: {place}: the kernel was killed by SIGKILL; see report-failed.ipynb"
    assert done.stderr.splitlines() == [said]
    assert_unharmed(reported, failed_notebook=True)


def test_the_second_writer_says_so(command, reported, templates):
    with locked(reported / "report"):
        done = command("report", reported, "-t", templates / "plain.ipynb", "--no-pdf")
    assert (done.returncode, done.stdout) == (4, "")
    said = f"{reported}: another run is writing {reported / 'report'}; wait for it to end"
    assert done.stderr.splitlines() == [said]
    assert (reported / "report" / "report.html").read_bytes() == b"an older report"


def obey_permissions():
    """Make root obey permissions as everybody else does."""
    if os.geteuid() == 0:
        ctypes.CDLL(None).prctl(DROP_FROM_BOUNDS, OVERRIDE_PERMISSIONS, 0, 0, 0)


@pytest.mark.skipif(sys.platform != "linux", reason="drops a Linux capability")
def test_a_folder_that_may_not_be_written_is_told(command, reported, templates, assert_unharmed):
    reported.chmod(0o555)
    try:
        words = ("report", reported, "-t", templates / "plain.ipynb", "--no-pdf")
        done = command(*words, preexec_fn=obey_permissions)
    finally:
        reported.chmod(0o755)
    assert (done.returncode, done.stdout) == (4, "")
    assert done.stderr.splitlines() == [f"{reported}: cannot write into {reported}: permission denied"]
    assert_unharmed(reported, failed_notebook=False)


def allow_small_files_only():
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))


def test_a_disk_that_fills_up_while_writing_is_told(command, reported, templates, assert_unharmed):
    words = ("report", reported, "-t", templates / "plain.ipynb", "--no-pdf")
    done = command(*words, preexec_fn=allow_small_files_only)
    assert (done.returncode, done.stdout) == (4, "")
    assert done.stderr.splitlines() == [f"{reported}: cannot write into {reported}: file too large"]
    assert_unharmed(reported, failed_notebook=False)


@pytest.mark.slow
def test_killed_at_any_moment_the_report_is_whole(command, reported, templates):
    """Kill the command at 20 moments of its run; the report is the older one or the new one, whole."""
    older = {path.name: path.read_bytes() for path in (reported / "report").iterdir()}
    words = ("report", reported, "-t", templates / "plain.ipynb", "--no-pdf")
    begin = time.monotonic()
    assert command(*words, "--out", reported.parent / "whole").returncode == 0
    lasts = time.monotonic() - begin
    newer = {path.name: path.read_bytes() for path in (reported.parent / "whole").iterdir()}
    for moment in range(20):
        process = command.start(*words)
        time.sleep(lasts * (moment + 0.5) / 20)
        process.kill()
        process.communicate(timeout=30)
        found = {path.name: path.read_bytes() for path in (reported / "report").iterdir()}
        assert found in (older, newer)
    assert command(*words).returncode == 0
    assert {path.name for path in reported.iterdir()} == {"campaign.toml", "runs.csv", "report"}
