"""How long the command takes to start, as ratios: python tests/benchmarks/bench_start.py --rounds 7.

Each ratio is measured in one run: both sides alternate, and their medians are compared. It prints them,
and the raw times as JSON.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import statistics
import subprocess
import sys
import time

from pinscar.shipped import shipped_folder

COMMAND = "import sys; from pinscar.entry import main; sys.argv = ['pinscar', *sys.argv[1:]]; main()"
PRECISION = str(shipped_folder("data_demo") / "precision_02")
DEMO = str(shipped_folder("data_demo") / "conveyor_07")
PAIRS = {
    "check of 48 runs / import pandas": ((COMMAND, "check", PRECISION), ("import pandas",)),
    "check of the demo / import pandas": ((COMMAND, "check", DEMO), ("import pandas",)),
    "--help / bare Python": ((COMMAND, "--help"), ("pass",)),
}


def seconds(words: tuple[str, ...]) -> float:
    """Run Python once, and return the processor time it took: other work on the machine is not counted."""
    before = os.times()
    subprocess.run([sys.executable, "-c", *words], stdout=subprocess.DEVNULL, check=True)
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def main() -> None:
    """Measure each pair, alternating, and print the ratios."""
    words = argparse.ArgumentParser()
    words.add_argument("--rounds", type=int, default=7)
    rounds = words.parse_args().rounds
    raw = {}
    machine = platform.processor() or platform.machine()
    print(f"{machine}, {os.cpu_count()} cores, Python {sys.version.split()[0]}")
    for name, (ours, theirs) in PAIRS.items():
        seconds(ours), seconds(theirs)  # the first run fills the disk's cache
        times = [(seconds(ours), seconds(theirs)) for _ in range(rounds)]
        one, other = (statistics.median(part) for part in zip(*times, strict=True))
        raw[name] = times
        print(f"{name}: {one / other:.2f} ({one:.2f} s / {other:.2f} s, medians of {rounds})")
    print(json.dumps({"at": time.strftime("%Y-%m-%d"), "times": raw}))


if __name__ == "__main__":
    main()
