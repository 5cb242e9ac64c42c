"""All figures of speed, each a ratio measured in one run: python tests/benchmarks/run_all.py.

Both sides of a ratio take turns, and their medians over the rounds are compared. It writes the table into
DEVELOPERS.md and every single time into tests/benchmarks/figures.json, on an idle machine within 20 minutes:
where that would not do, the slowest figures get fewer rounds, and the table says how many. Five rounds of all
take an hour and a half: --minutes 90.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import computed
import nbformat
from large import add_traces, large_campaign
from measuring import peak_of_reading, run

from pinscar.bench.prepare import new_campaign
from pinscar.shipped import shipped_folder

HERE = Path(__file__).resolve().parent
TABLE = HERE.parents[1] / "DEVELOPERS.md"
RAW = HERE / "figures.json"
BEGIN, END = "<!-- figures of speed: begin -->", "<!-- figures of speed: end -->"
DEMO = shipped_folder("data_demo") / "conveyor_07"
PRECISION = shipped_folder("data_demo") / "precision_02"
COMMAND = (
    sys.executable,
    "-c",
    "import sys; from pinscar.entry import main; sys.argv[0] = 'pinscar'; main()",
)


def seconds(value: float) -> str:
    """Write a time.

    Examples
    --------
    >>> seconds(12.34), seconds(0.01234), seconds(1.2e-6)
    ('12.3 s', '12.3 ms', '1.2 µs')
    """
    for unit, size in (("s", 1.0), ("ms", 1e-3)):
        if value >= size:
            return f"{value / size:.3g} {unit}"
    return f"{value / 1e-6:.3g} µs"


@dataclass
class Figure:
    """One ratio.

    Attributes
    ----------
    name, wanted : str
        What is compared, and what is aimed at.
    ours, theirs : list of float
        Times of both sides, or of one case of each [s].
    times : bool
        Whether it is told how many times faster ours is, in place of the share of time it takes.
    note : str
        What else was measured.
    told : callable
        How a measured value is written; a time unless it says otherwise.
    """

    name: str
    wanted: str
    times: bool = False
    note: str = ""
    ours: list[float] = field(default_factory=list)
    theirs: list[float] = field(default_factory=list)
    told: Callable[[float], str] = seconds

    def row(self) -> str:
        """The line of the table; the range is that of the ratios of the single rounds."""
        one, other = statistics.median(self.ours), statistics.median(self.theirs)
        each = [b / a if self.times else a / b for a, b in zip(self.ours, self.theirs, strict=True)]
        ratio = other / one if self.times else one / other
        kind = " times" if self.times else ""
        return (
            f"| {self.name} | {ratio:.3g}{kind} ({min(each):.3g} to {max(each):.3g}) | {self.told(one)}, "
            f"{self.told(other)} | {len(each)} | {self.wanted} | {self.note} |"
        )


class Clock:
    """Says whether another round fits into the time.

    Attributes
    ----------
    minutes : float
        Time for all.
    """

    def __init__(self, minutes: float) -> None:
        self._end = time.monotonic() + 60.0 * minutes

    def rounds(self, wanted: int, share: float, work: Callable[[int], None]) -> None:
        """Do up to so many rounds, at least one, within a share of the time that is left."""
        begun = time.monotonic()
        limit = share * max(self._end - begun, 0.0)
        for number in range(wanted):
            work(number)
            passed = time.monotonic() - begun
            if passed + passed / (number + 1) > limit:
                break


def start(rounds: int, clock: Clock, scratch: Path) -> list[Figure]:
    """(b), (c): what a check and the help take to start, processor time."""
    del scratch
    pairs = [
        (Figure("check of 48 runs, to `import pandas`", "1.3"), ("check", PRECISION), "import pandas"),
        (Figure("check of the demo, to `import pandas`", "1.3"), ("check", DEMO), "import pandas"),
        (Figure("`--help`, to bare Python", "3"), ("--help",), "pass"),
    ]

    def work(number: int) -> None:
        del number
        for figure, words, bare in pairs:
            figure.ours.append(run((*COMMAND, *words)).processor)
            figure.theirs.append(run((sys.executable, "-c", bare)).processor)

    for _, words, bare in pairs:  # fills the disk's cache
        run((*COMMAND, *words)), run((sys.executable, "-c", bare))
    clock.rounds(3 * rounds, 0.1, work)
    return [figure for figure, *_ in pairs]


def together(rounds: int, clock: Clock, scratch: Path) -> list[Figure]:
    """(g): arrays against loops, processor time of one case."""
    del scratch
    figures = [
        (Figure("Hertz contacts at once, to a SciPy loop", "100 times", times=True), computed.hertz),
        (Figure("wear volumes at once, to a SciPy loop", "100 times", times=True), computed.wear),
        (Figure("censored likelihoods at once, to a SciPy loop", "20 times", times=True), computed.censored),
    ]

    def work(number: int) -> None:
        for figure, compare in figures:
            ours, theirs = compare(number)
            figure.ours.append(ours)
            figure.theirs.append(theirs)

    clock.rounds(rounds, 0.15, work)
    return [figure for figure, _ in figures]


def readers(rounds: int, clock: Clock, scratch: Path) -> list[Figure]:
    """(f): evidence, processor time of one file, against a Gaussian filter (width 10) of the same numbers."""
    del scratch
    found: dict[str, Figure] = {}

    def work(number: int) -> None:
        for name, (ours, theirs) in computed.evidence(number):
            figure = found.setdefault(name, Figure(f"{name}, to a Gaussian filter of the same", ""))
            figure.ours.append(ours)
            figure.theirs.append(theirs)

    clock.rounds(rounds, 0.2, work)
    for figure in found.values():
        figure.note = f"{1 / statistics.median(figure.ours):.3g} a second of processor"
    return list(found.values())


def report(rounds: int, clock: Clock, scratch: Path) -> list[Figure]:
    """(a): the demo report, first and after one changed cell, against the bare chain on the same page."""
    first = Figure("demo report, first time, to the bare chain", "0.8")
    again = Figure("demo report after one changed cell, to the bare chain", "0.5")
    single = Figure("demo report by one core (`--jobs 1`), first time", "0.8")
    folder = scratch / "demo"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("report*", ".pinscar*"))
    empty = scratch / "empty.ipynb"
    nbformat.write(
        nbformat.v4.new_notebook(metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}}),
        empty,
    )
    runs = (folder / "runs.csv").read_text(encoding="utf-8")

    def ours(*words: object, forget: bool) -> float:
        if forget:
            shutil.rmtree(folder / ".pinscar-cache", ignore_errors=True)
        return run((*COMMAND, "report", folder, "-q", *words)).wall

    def chain() -> float:
        page = folder / "report" / "report.html"
        html = "import sys, weasyprint; weasyprint.HTML(sys.argv[1]).write_pdf(sys.argv[2])"
        return sum(
            run((sys.executable, *words), folder=scratch).wall
            for words in (
                ("-m", "papermill", "--no-progress-bar", empty, scratch / "out.ipynb"),
                ("-m", "nbconvert", "--to", "html", scratch / "out.ipynb"),
                ("-c", html, page, scratch / "chain.pdf"),
            )
        )

    def work(number: int) -> None:
        (folder / "runs.csv").write_text(runs, encoding="utf-8")
        first.ours.append(ours(forget=True))
        (folder / "runs.csv").write_text(runs.replace(",3.78,", f",3.7{number % 8},", 1), encoding="utf-8")
        again.ours.append(ours(forget=False))
        (folder / "runs.csv").write_text(runs, encoding="utf-8")
        single.ours.append(ours("--jobs", 1, forget=True))
        other = chain()
        for figure in (first, again, single):
            figure.theirs.append(other)

    clock.rounds(rounds, 0.35, work)
    return [first, again, single]


def side_by_side(rounds: int, clock: Clock, scratch: Path) -> list[Figure]:
    """(e): 16 campaigns by one and by two jobs."""
    figure = Figure("16 campaigns without PDF by two jobs, to one", "1.8 times", times=True)
    folders = [scratch / "many" / f"c{number:02d}" for number in range(16)]
    for folder in folders:
        new_campaign(folder)

    def work(number: int) -> None:
        del number
        # What the first of the two would keep would make the second faster.
        words = (*COMMAND, "report", *folders, "-q", "--no-pdf", "--no-cache")
        figure.ours.append(run((*words, "--jobs", 2)).wall)
        figure.theirs.append(run((*words, "--jobs", 1)).wall)

    clock.rounds(rounds, 0.3, work)
    return [figure]


def sizes(rounds: int, clock: Clock, scratch: Path) -> list[Figure]:
    """(d): large campaigns against 48 runs, with the PDF, their days as blocks."""
    cases = {
        "480 runs": (Figure("480 runs, to 48", ""), 480, 4),
        "20 oils of 25 runs": (Figure("20 oils of 25 runs, to 48 runs", "3"), 500, 20),
        "10,000 runs": (Figure("10,000 runs, to 48", "4"), 10_000, 4),
    }
    base = large_campaign(scratch / "48", 48)
    places = {
        name: large_campaign(scratch / name.replace(" ", "-"), runs, oils)
        for name, (_, runs, oils) in cases.items()
    }

    def work(number: int) -> None:
        del number
        other = run((*COMMAND, "report", base, "-q")).wall
        for name, (figure, *_) in cases.items():
            figure.ours.append(run((*COMMAND, "report", places[name], "-q", "--timeout", 3600)).wall)
            figure.theirs.append(other)

    clock.rounds(rounds, 1.0, work)
    for name, (figure, *_) in cases.items():
        page = (places[name] / "report" / "report.html").stat().st_size
        figure.note = f"page of {page / 1e6:.1f} MB"
    return [figure for figure, *_ in cases.values()]


FEW_TRACES, MORE_TRACES, ALL_TRACES = 200, 400, 10_000
"""Traces that are read, and how many the memory is worked out for: reading all of them takes half an hour."""


def traces(rounds: int, clock: Clock, scratch: Path) -> list[Figure]:
    """Traces of a minute at 100 Hz, one a run: the most memory of the process that reads them."""
    figure = Figure(
        f"memory for {MORE_TRACES} traces of a minute at 100 Hz, to {FEW_TRACES}", "", told=megabytes
    )
    folders = []
    for count in (MORE_TRACES, FEW_TRACES):
        folders.append(large_campaign(scratch / f"traces-{count}", count))
        add_traces(folders[-1], count)

    def work(number: int) -> None:
        del number
        figure.ours.append(peak_of_reading(folders[0]))
        figure.theirs.append(peak_of_reading(folders[1]))

    clock.rounds(rounds, 0.2, work)
    more, few = statistics.median(figure.ours), statistics.median(figure.theirs)
    each = (more - few) / (MORE_TRACES - FEW_TRACES)
    whole = more + max(each, 0.0) * (ALL_TRACES - MORE_TRACES)
    figure.note = f"at this slope {megabytes(whole)} for {ALL_TRACES:,} traces; wanted 1 GiB"
    return [figure]


def megabytes(value: float) -> str:
    """Write an amount of memory.

    Examples
    --------
    >>> megabytes(310_400_000.0)
    '310 MB'
    """
    return f"{value / 1e6:.0f} MB"


PARTS: Mapping[str, Callable[[int, Clock, Path], list[Figure]]] = {
    "start": start,
    "together": together,
    "readers": readers,
    "report": report,
    "jobs": side_by_side,
    "traces": traces,
    "sizes": sizes,
}


def machine() -> str:
    """Say what it was measured on."""
    model = next(
        (
            line.partition(":")[2].strip()
            for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
            if line.startswith("model name")
        ),
        platform.machine(),
    )
    load = os.getloadavg()[0]
    return (
        f"{model}, {os.cpu_count()} cores, load {load:.1f} at the start, Python {platform.python_version()}"
    )


def table(figures: Sequence[Figure], head: str) -> str:
    """Write the table, between its marks."""
    lines = [
        BEGIN,
        head,
        "",
        "| What | Ratio (single rounds) | Medians, ours and the other's | Rounds | Wanted | Beside it |",
        "| --- | --- | --- | --- | --- | --- |",
        *(figure.row() for figure in figures),
        END,
    ]
    return "\n".join(lines)


def put(text: str, made: str) -> str:
    """Replace the table of a text."""
    before, begin, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not (begin and end):
        raise SystemExit(f"DEVELOPERS.md has no place for the table: put {BEGIN} and {END} there")
    return before + made + after


def main() -> None:
    """Measure, print, and write the table."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--rounds", type=int, default=5)
    words.add_argument("--minutes", type=float, default=20.0, help="time for all")
    words.add_argument("--only", nargs="+", choices=list(PARTS), default=list(PARTS))
    words.add_argument("--dry", action="store_true", help="print only, write nothing")
    chosen = words.parse_args()
    command = " ".join(["python tests/benchmarks/run_all.py", *sys.argv[1:]])
    head = f"Measured on {machine()}, {time.strftime('%-d %B %Y')}, by `{command}`:"
    clock, figures = Clock(chosen.minutes), []
    with tempfile.TemporaryDirectory() as scratch:
        for name in chosen.only:
            for figure in PARTS[name](chosen.rounds, clock, Path(scratch)):
                figures.append(figure)
                print(figure.row(), flush=True)
    if chosen.dry:
        return
    raw = [
        {
            "what": one.name,
            "unit": "s" if one.told is seconds else "bytes",
            "ours": one.ours,
            "theirs": one.theirs,
            "beside": one.note,
        }
        for one in figures
    ]
    RAW.write_text(json.dumps({"measured": head, "figures": raw}, indent=1) + "\n", encoding="utf-8")
    TABLE.write_text(put(TABLE.read_text(encoding="utf-8"), table(figures, head)), encoding="utf-8")


if __name__ == "__main__":
    main()
