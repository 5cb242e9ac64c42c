"""Kill processes of a report at random moments: python tests/faults/kill_at_random.py --kills 200.

After each kill the report is the older one or the newer one, whole, and every process of the run ends. After
one more run nothing is left, neither in the campaign folder nor among the temporary files.
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
from pathlib import Path

TEMPLATES = Path(__file__).resolve().parents[1] / "fixtures" / "templates"
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


def kill_many(place: Path, kills: int, seed: int, words: tuple[str, ...]) -> dict[str, int]:
    """Kill runs, and raise AssertionError at the first that left something wrong."""
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
    counts = {"kept": 0, "new": 0, "done before the kill": 0}
    for number in range(kills):
        before = contents(folder / "report")
        (folder / "runs.csv").write_bytes((runs, other)[number % 2])
        process = start(folder, temporary, *words)
        time.sleep(dice.uniform(0.0, 1.1 * lasts))
        family = descendants(process.pid)
        # the command dies in half of the cases, else one of its helpers
        victim = process.pid if dice.random() < 0.5 else dice.choice(family)
        chosen = dice.choice(SIGNALS)
        seen = set(family)
        if dice.random() < 0.15:  # all at once, as when the machine runs out of memory
            for pid in family:
                _signal(pid, signal.SIGKILL)
        else:
            _signal(victim, chosen)
        out, err = process.communicate(timeout=600)
        if chosen == signal.SIGINT and "pinscar" not in err and "KeyboardInterrupt" in err:
            continue  # Python itself was still starting, and none of our code had run
        assert "Traceback" not in out + err, err
        if process.returncode > 0:
            assert process.returncode in (4, 130, 143), (process.returncode, err)
            assert len(err.splitlines()) == 1, err
        after = contents(folder / "report")
        assert after in reports, f"kill {number} left half a report"
        if process.returncode != 0 and after == before:
            counts["kept"] += 1
        else:
            counts["new" if process.returncode else "done before the kill"] += 1
        end = time.monotonic() + 60
        while running(seen, temporary) and time.monotonic() < end:
            time.sleep(0.1)
        assert not running(seen, temporary), f"kill {number} left processes"
    process = start(folder, temporary, *words)
    said = process.communicate(timeout=600)
    assert process.returncode == 0, said
    left = {path.name for path in folder.iterdir()} - clean
    assert not left, f"left in the campaign folder: {left}"
    assert not list(temporary.iterdir()), f"left among temporary files: {sorted(temporary.iterdir())}"
    return counts


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
    counts = kill_many(place, given.kills, given.seed, chosen)
    print(f"{given.kills} kills, seed {given.seed}: {counts}; every report whole, nothing left behind")
    shutil.rmtree(place)


if __name__ == "__main__":
    main()
