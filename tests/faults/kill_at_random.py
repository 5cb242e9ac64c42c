"""Kill processes of a report at random moments: python tests/faults/kill_at_random.py --kills 200.

After each kill the report is the older one or the newer one, whole, and every process of the run ends. After
one more run nothing is left, neither in the campaign folder nor among the temporary files. Most kills come at
any moment of a run; every fourth waits for the last one, in which the new report takes the place of the
older: it is so short that a moment chosen at random hardly ever meets it.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

TEMPLATES = Path(__file__).resolve().parents[1] / "fixtures" / "templates"
PUTTING = 0.05
"""Longest time from the moment that the manifest is written, the last file of a report, to the kill [s]."""

SIGNALS = (signal.SIGKILL, signal.SIGKILL, signal.SIGKILL, signal.SIGTERM, signal.SIGINT)


def start(folder: Path, temporary: Path, *words: str) -> subprocess.Popen[str]:
    """Start a report in a session of its own."""
    return subprocess.Popen(
        [sys.executable, "-c", "from pinscar.entry import main; main()", "report", str(folder), *words],
        env={**os.environ, "TMPDIR": str(temporary)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def descendants(pid: int) -> list[int]:
    """List the processes that a process started, and those they did."""
    listed = subprocess.run(["ps", "-eo", "pid=,ppid="], capture_output=True, text=True, check=True).stdout
    pairs = [tuple(map(int, line.split())) for line in listed.splitlines()]
    found, new = [pid], [pid]
    while new:
        new = [child for child, parent in pairs if parent in new and child not in found]
        found += new
    return found


def running(pids: set[int], temporary: Path) -> set[int]:
    """Tell which of some processes still run, by what they were started with: a number may be used anew."""
    alive = set()
    for pid in pids:
        try:
            environment = Path(f"/proc/{pid}/environ").read_bytes()
            state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
        except OSError:
            continue
        if str(temporary).encode() in environment and state != "Z":
            alive.add(pid)
    return alive


def contents(folder: Path) -> dict[str, bytes]:
    """Read all files of a folder."""
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())} if folder.is_dir() else {}


def wait_for_the_end(folder: Path, process: subprocess.Popen[str], delay: float) -> None:
    """Wait until a run has written the last file of its report, and a little longer."""
    while process.poll() is None and not list(folder.glob(".pinscar-report-*/report/manifest.json")):
        time.sleep(0.0005)
    time.sleep(delay)


def kill_one(
    folder: Path, temporary: Path, words: tuple[str, ...], dice: random.Random, lasts: float, aimed: bool
) -> tuple[int, str, str] | None:
    """Start a run, kill one of its processes or all, and see that all end; None if only Python had begun."""
    process = start(folder, temporary, *words)
    if aimed:
        wait_for_the_end(folder, process, dice.uniform(0.0, PUTTING))
    else:
        time.sleep(dice.uniform(0.0, 1.1 * lasts))
    family = descendants(process.pid)
    # the command dies in half of the cases, else one of its helpers
    victim = process.pid if dice.random() < 0.5 else dice.choice(family)
    chosen = dice.choice(SIGNALS)
    if dice.random() < 0.15:  # all at once, as when the machine runs out of memory
        for pid in family:
            _signal(pid, signal.SIGKILL)
    else:
        _signal(victim, chosen)
    out, err = process.communicate(timeout=600)
    end = time.monotonic() + 60
    while running(set(family), temporary) and time.monotonic() < end:
        time.sleep(0.1)
    assert not running(set(family), temporary), "processes are left"
    if chosen == signal.SIGINT and "pinscar" not in err and "KeyboardInterrupt" in err:
        return None  # none of our code had run
    return process.returncode, out, err


def kill_many(
    place: Path, kills: int, seed: int, words: tuple[str, ...], tell: Callable[[str], None] = lambda _: None
) -> dict[str, int]:
    """Kill runs, and raise AssertionError with all that was left wrong."""
    from pinscar.bench.prepare import new_campaign

    dice = random.Random(seed)
    folder, temporary = place / "campaign", place / "tmp"
    temporary.mkdir()
    new_campaign(folder)
    begin = time.monotonic()
    process = start(folder, temporary, *words)
    said = process.communicate(timeout=600)
    assert process.returncode == 0, said
    lasts = time.monotonic() - begin
    clean = {path.name for path in folder.iterdir()}
    reports = [contents(folder / "report")]
    runs = (folder / "runs.csv").read_bytes()
    # every other run reports on other data, so that an older report can be told from a newer one
    other = runs + b"\n"
    (folder / "runs.csv").write_bytes(other)
    process = start(folder, temporary, *words)
    assert process.wait(600) == 0
    reports.append(contents(folder / "report"))
    assert reports[0] != reports[1]
    counts = {"kept": 0, "new": 0, "done before the kill": 0, "Python was starting": 0}
    faults = []
    for number in range(kills):
        before = contents(folder / "report")
        (folder / "runs.csv").write_bytes((runs, other)[number % 2])
        try:
            done = kill_one(folder, temporary, words, dice, lasts, aimed=number % 4 == 3)
            after = contents(folder / "report")
            assert after in reports, f"half a report: {sorted(after)}"
            if done is None:
                counts["Python was starting"] += 1
            else:
                _well_ended(*done)
                kept = done[0] != 0 and after == before
                counts["kept" if kept else "new" if done[0] else "done before the kill"] += 1
        except AssertionError as error:
            faults.append(f"kill {number}: {error}")
            tell(faults[-1])
            if contents(folder / "report") not in reports:
                break
        if number % 10 == 9:
            tell(f"{number + 1} kills: {counts}, {len(faults)} faults")
    process = start(folder, temporary, *words)
    said = process.communicate(timeout=600)
    assert process.returncode == 0, said
    left = {path.name for path in folder.iterdir()} - clean
    assert not left, f"left in the campaign folder: {left}"
    assert not list(temporary.iterdir()), f"left among temporary files: {sorted(temporary.iterdir())}"
    assert not faults, faults
    return counts


def _well_ended(status: int, out: str, err: str) -> None:
    assert "Traceback" not in out + err, err
    if status > 0:
        assert status in (4, 130, 143), (status, err)
        assert len(err.splitlines()) == 1, err


def _signal(pid: int, number: int) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, number)


def main() -> None:
    """Kill, and print what came of it."""
    words = argparse.ArgumentParser()
    words.add_argument("--kills", type=int, default=200)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--template", default=str(TEMPLATES / "plain.ipynb"))
    words.add_argument("--pdf", action="store_true")
    given = words.parse_args()
    place = Path(tempfile.mkdtemp(prefix="kill-"))
    chosen = ("--template", given.template, *(() if given.pdf else ("--no-pdf",)))
    counts = kill_many(place, given.kills, given.seed, chosen, lambda line: print(line, flush=True))
    print(f"{given.kills} kills, seed {given.seed}: {counts}; every report whole, nothing left behind")
    shutil.rmtree(place)


if __name__ == "__main__":
    main()
