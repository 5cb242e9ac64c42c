"""All figures of speed, each a ratio measured in one run: python tests/benchmarks/run_all.py.

Both sides of a ratio take turns, and which comes first changes from round to round. It writes the table into
DEVELOPERS.md and every single time into tests/benchmarks/figures.json, on an idle machine within 20 minutes.
Before that it says whether each figure agrees with the run before, by the scatter of both.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
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

    def ratios(self) -> list[float]:
        """The ratio of each round: both sides of a round were measured one after the other."""
        return [b / a if self.times else a / b for a, b in zip(self.ours, self.theirs, strict=True)]

    def row(self) -> str:
        """The line of the table; the range is that of the ratios of the single rounds."""
        ours, theirs, each = statistics.median(self.ours), statistics.median(self.theirs), self.ratios()
        middle, u = middle_of(each)
        said = (
            f"{middle:.3g}"
            if u is None
            else f"{middle:.3g} ± {float(f'{u:.1g}'):g} ({min(each):.3g} to {max(each):.3g})"
        )
        return (
            f"| {self.name} | {said}{' times' if self.times else ''} | {self.told(ours)}, "
            f"{self.told(theirs)} | {len(each)} | {self.wanted} | {self.note} |"
        )


def middle_of(ratios: Sequence[float]) -> tuple[float, float | None]:
    """Give the median and its standard uncertainty from the scatter; None of a single round.

    Examples
    --------
    >>> middle_of([1.0, 1.1, 0.9, 1.0, 1.0])
    (1.0, 0.04)
    >>> middle_of([2.0])
    (2.0, None)
    """
    if len(ratios) < 2:
        return ratios[0], None
    # The median of few normal values scatters a quarter more than their mean.
    u = 1.25 * statistics.stdev(ratios) / math.sqrt(len(ratios))
    return statistics.median(ratios), round(u, 3)


def agreement(name: str, now: Sequence[float], before: Sequence[float]) -> str:
    """Say whether two runs of a figure agree: they differ by no more than twice what both scatter.

    Examples
    --------
    >>> agreement("check", [1.2, 1.3], [1.3, 1.4])
    'check: 1.25, before 1.35, agree'
    """
    (one, u), (other, v) = middle_of(now), middle_of(before)
    if u is None or v is None:
        return f"{name}: {one:.3g}, before {other:.3g}, a single round tells no scatter"
    said = "agree" if abs(one - other) <= 2.0 * math.hypot(u, v) else "DIFFER"
    return f"{name}: {one:.3g}, before {other:.3g}, {said}"


def in_turns(number: int, *works: Callable[[], float]) -> list[float]:
    """Do what is compared, in the other order in every second round; give the times in the order given."""
    order = list(enumerate(works))
    done = {place: work() for place, work in (order if number % 2 == 0 else reversed(order))}
    return [done[place] for place, _ in order]


def start(rounds: int, scratch: Path) -> list[Figure]:
    """(b), (c): what a check and the help take to start, processor time."""
    del scratch
    pairs = [
        (Figure("check of 48 runs, to `import pandas`", "1.3"), ("check", PRECISION), "import pandas"),
        (Figure("check of the demo, to `import pandas`", "1.3"), ("check", DEMO), "import pandas"),
        (Figure("`--help`, to bare Python", "3"), ("--help",), "pass"),
    ]

    for _, words, bare in pairs:  # fills the disk's cache
        run((*COMMAND, *words)), run((sys.executable, "-c", bare))
    for number in range(rounds):
        for figure, words, bare in pairs:
            one, other = in_turns(
                number,
                lambda words=words: run((*COMMAND, *words)).processor,
                lambda bare=bare: run((sys.executable, "-c", bare)).processor,
            )
            figure.ours.append(one)
            figure.theirs.append(other)
    return [figure for figure, *_ in pairs]


def together(rounds: int, scratch: Path) -> list[Figure]:
    """(g): arrays against loops, processor time of one case."""
    del scratch
    figures = [
        (Figure("Hertz contacts at once, to a SciPy loop", "100 times", times=True), computed.hertz),
        (Figure("wear volumes at once, to a SciPy loop", "100 times", times=True), computed.wear),
        (Figure("censored likelihoods at once, to a SciPy loop", "20 times", times=True), computed.censored),
    ]

    for number in range(rounds):
        for figure, compare in figures:
            ours, theirs = compare(number)
            figure.ours.append(ours)
            figure.theirs.append(theirs)
    return [figure for figure, _ in figures]


def readers(rounds: int, scratch: Path) -> list[Figure]:
    """(f): evidence, processor time of one file, against a Gaussian filter (width 10) of the same numbers."""
    del scratch
    found: dict[str, Figure] = {}

    for number in range(rounds):
        for name, (ours, theirs) in computed.evidence(number):
            figure = found.setdefault(name, Figure(f"{name}, to a Gaussian filter of the same", ""))
            figure.ours.append(ours)
            figure.theirs.append(theirs)
    for figure in found.values():
        figure.note = f"{1 / statistics.median(figure.ours):.3g} a second of processor"
    return list(found.values())


def report(rounds: int, scratch: Path) -> list[Figure]:
    """(a): the demo report, first and after one changed cell, against the bare chain on the same page."""
    first = Figure("demo report, first time, to the bare chain", "0.8")
    again = Figure("demo report after one changed cell, to the bare chain", "0.5")
    single = Figure("demo report by one core (`--jobs 1`), first time", "")
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

    def both(number: int) -> float:
        (folder / "runs.csv").write_text(runs, encoding="utf-8")
        first.ours.append(ours(forget=True))
        (folder / "runs.csv").write_text(runs.replace(",3.78,", f",3.7{number % 8},", 1), encoding="utf-8")
        again.ours.append(ours(forget=False))
        return again.ours[-1]

    for number in range(rounds):
        other = in_turns(number, partial(both, number), chain)[1]
        for figure in (first, again):
            figure.theirs.append(other)
    single.ours.append(ours("--jobs", 1, forget=True))  # told, not aimed at: once
    single.theirs.append(statistics.median(first.theirs))
    return [first, again, single]


def side_by_side(rounds: int, scratch: Path) -> list[Figure]:
    """(e): 16 campaigns by one and by two jobs."""
    figure = Figure("16 campaigns without PDF by two jobs, to one", "1.8 times", times=True)
    folders = [scratch / "many" / f"c{number:02d}" for number in range(16)]
    for folder in folders:
        new_campaign(folder)

    # What the first of the two would keep would make the second faster.
    words = (*COMMAND, "report", *folders, "-q", "--no-pdf", "--no-cache", "--jobs")
    for number in range(rounds):
        two, one = in_turns(number, lambda: run((*words, 2)).wall, lambda: run((*words, 1)).wall)
        figure.ours.append(two)
        figure.theirs.append(one)
    return [figure]


def sizes(rounds: int, scratch: Path) -> list[Figure]:
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

    folders = [base, *places.values()]
    for number in range(rounds):
        works = [partial(run, (*COMMAND, "report", one, "-q", "--timeout", 3600)) for one in folders]
        other, *large = in_turns(number, *(lambda work=work: work().wall for work in works))
        for (figure, *_), took in zip(cases.values(), large, strict=True):
            figure.ours.append(took)
            figure.theirs.append(other)
    for name, (figure, *_) in cases.items():
        page = (places[name] / "report" / "report.html").stat().st_size
        figure.note = f"page of {page / 1e6:.1f} MB"
    return [figure for figure, *_ in cases.values()]


FEW_TRACES, MORE_TRACES, ALL_TRACES = 200, 400, 10_000
"""Traces that are read, and how many the memory is worked out for: reading all of them takes half an hour."""


def traces(rounds: int, scratch: Path) -> list[Figure]:
    """Traces of a minute at 100 Hz, one a run: the most memory of the process that reads them."""
    figure = Figure(
        f"memory for {MORE_TRACES} traces of a minute at 100 Hz, to {FEW_TRACES}", "", told=megabytes
    )
    folders = []
    for count in (MORE_TRACES, FEW_TRACES):
        folders.append(large_campaign(scratch / f"traces-{count}", count))
        add_traces(folders[-1], count)

    for number in range(rounds):
        more, few = in_turns(number, *(partial(peak_of_reading, one) for one in folders))
        figure.ours.append(more)
        figure.theirs.append(few)
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


PARTS: Mapping[str, tuple[int, Callable[[int, Path], list[Figure]]]] = {
    "start": (9, start),
    "together": (5, together),
    "readers": (5, readers),
    "report": (5, report),
    "jobs": (2, side_by_side),
    "traces": (1, traces),
    "sizes": (2, sizes),
}
"""How many rounds each part is measured, so that all take under 20 minutes, and what measures it."""


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
        "| What | Ratio ± u (single rounds) | Medians, ours and the other's | Rounds | Wanted | Beside it |",
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
    words.add_argument("--rounds", type=int, help="rounds of each part, in place of its own")
    words.add_argument("--only", nargs="+", choices=list(PARTS), default=list(PARTS))
    words.add_argument("--dry", action="store_true", help="print only, write nothing")
    chosen = words.parse_args()
    command = " ".join(["python tests/benchmarks/run_all.py", *sys.argv[1:]])
    head = f"Measured on {machine()}, {time.strftime('%-d %B %Y')}, by `{command}`:"
    begun, figures = time.monotonic(), []
    with tempfile.TemporaryDirectory() as scratch:
        for name in chosen.only:
            rounds, measure = PARTS[name]
            for figure in measure(chosen.rounds or rounds, Path(scratch)):
                figures.append(figure)
                print(figure.row(), flush=True)
    print(f"{(time.monotonic() - begun) / 60.0:.0f} minutes")
    before = json.loads(RAW.read_text(encoding="utf-8"))["figures"] if RAW.is_file() else []
    known = {one["what"]: Figure("", "", one["times"], "", one["ours"], one["theirs"]) for one in before}
    for one in figures:
        if one.name in known:
            print(agreement(one.name, one.ratios(), known[one.name].ratios()))
    if chosen.dry:
        return
    raw = [
        {
            "what": one.name,
            "times": one.times,
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
