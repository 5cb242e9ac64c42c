"""Fixtures for everything that runs the command or the processes behind a report, and a sample page."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from nbformat import v4

import pinscar
from pinscar.bench.prepare import new_campaign
from pinscar.campaign.campaign import read_campaign
from pinscar.decision.analysis import analyse
from pinscar.decision.record import Analysis
from pinscar.page import markup
from pinscar.page.page import notebook_to_html
from pinscar.page.pdf import Attachment, render_pdf
from pinscar.page.style import LIMIT, ROLES, figure_html, new_figure, report_style

TOOLKIT = Path(pinscar.__file__).resolve().parents[1]
DEMO = Path(__file__).resolve().parents[1] / "data_demo" / "conveyor_07"
TEMPLATES = Path(__file__).resolve().parent / "fixtures" / "templates"
OLD_FILES = {"report.html": b"an older report", "results.json": b"{}\n"}
OLD_MANIFEST = {
    "schema": "pinscar.manifest/1",
    "outputs": {name: hashlib.sha256(data).hexdigest() for name, data in OLD_FILES.items()},
}
OLD_REPORT = {**OLD_FILES, "manifest.json": json.dumps(OLD_MANIFEST).encode()}


class Command:
    """The command in a process of its own, as a person runs it."""

    @staticmethod
    def start(*words: object, env: dict[str, str] | None = None, **options: object) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, "-m", "pinscar.cli.main", *map(str, words)],
            env={**os.environ, "PYTHONPATH": str(TOOLKIT), **(env or {})},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            **options,
        )

    def __call__(self, *words: object, **options: object) -> subprocess.CompletedProcess[str]:
        process = self.start(*words, **options)
        out, err = process.communicate(timeout=180)
        return subprocess.CompletedProcess(words, process.returncode, out, err)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


@pytest.fixture(scope="session")
def command() -> Command:
    return Command()


@pytest.fixture
def campaign(tmp_path: Path) -> Path:
    """A small campaign without errors."""
    new_campaign(tmp_path / "campaign")
    return tmp_path / "campaign"


@pytest.fixture
def reported(campaign: Path) -> Path:
    """The same with a report that must not be harmed."""
    (campaign / "report").mkdir()
    for name, data in OLD_REPORT.items():
        (campaign / "report" / name).write_bytes(data)
    return campaign


@pytest.fixture
def assert_unharmed():
    """Check that a failed run left the older report as it was, and of its own at most a failed notebook."""

    def check(folder: Path, *, failed_notebook: bool) -> None:
        assert contents(folder / "report") == OLD_REPORT
        left = {path.name for path in folder.iterdir()} - {"campaign.toml", "runs.csv", "report"}
        assert left == ({"report-failed.ipynb"} if failed_notebook else set())

    return check


@pytest.fixture(scope="session")
def running_in_group():
    """Count the processes of a group that run; a dead one that nobody has asked about yet does not."""

    def count(group: int) -> int:
        listed = subprocess.run(
            ["ps", "-eo", "pgid=,stat="], capture_output=True, text=True, check=True
        ).stdout
        rows = (line.split() for line in listed.splitlines())
        return sum(int(number) == group and not state.startswith("Z") for number, state in rows)

    return count


@pytest.fixture(scope="session")
def demo_analysis() -> Analysis:
    """The demo campaign evaluated once per process, for tests that only read it."""
    return analyse(read_campaign(DEMO))


@pytest.fixture(scope="session")
def templates() -> Path:
    """Small templates: one that works, one that fails as it is told to."""
    return TEMPLATES


OILS = (("C-21", "candidate", 156.0), ("B-3", "benchmark", 131.0), ("R-10", "reference", 112.0))
TITLE = "May C-21 replace R-10 on the oven line?"
CAMPAIGN = "conveyor-07"


def interval_figure(width_mm=170.0):
    rng = np.random.default_rng(7)
    with report_style():
        figure = new_figure(62, width_mm=width_mm)
        axes = figure.subplots()
        for i, (name, role, centre) in enumerate(reversed(OILS)):
            look = ROLES[role]
            runs = centre * np.exp(0.06 * rng.standard_normal(5))
            if role == "reference":
                axes.axvspan(centre * 0.94, centre * 1.06, color=look.tint, lw=0)
            axes.plot(runs, np.full(5, i - 0.16), look.marker, color=look.colour, ms=4)
            axes.plot([centre * 0.94, centre * 1.06], [i, i], color=look.colour, lw=3)
            axes.plot([centre], [i], look.marker, color=look.colour, ms=7, mec="white")
            axes.annotate(f"{name}, {role}", (centre * 1.07, i), va="center", fontsize=8.5)
        axes.axvline(120, color=LIMIT, lw=1, ls=(0, (4, 2)))
        axes.annotate("limit 120 MPa", (120, 2.5), color=LIMIT, xytext=(3, 0), textcoords="offset points")
        axes.set(xlabel="Film pressure, MPa (log scale)", xscale="log", ylim=(-0.6, 2.8), yticks=[])
        axes.set_xticks([100, 120, 140, 160, 180], ["100", "120", "140", "160", "180"])
        axes.minorticks_off()
    return figure


def line_figure():
    with report_style():
        figure = new_figure(70)
        left, right = figure.subplots(1, 2)
        time = np.linspace(0, 10, 60)
        left.plot(time, 1 - np.exp(-time / 3), color=ROLES["candidate"].colour)
        left.set(xlabel="Time, min", ylabel="Scar depth, µm", title="Wear slows and stops")
        right.plot(time, 20 + 4 * np.sqrt(time), color=ROLES["benchmark"].colour)
        right.set(xlabel="Time, min", ylabel=r"Temperature rise $\Delta T$, K", title="Heat follows")
    return figure


def output(html):
    return v4.new_output("display_data", data={"text/html": str(html), "text/plain": "<object>"})


def code_cell(*outputs):
    noise = v4.new_output("stream", name="stderr", text="a warning nobody should read")
    return v4.new_code_cell("secret_source_text = 1", outputs=[noise, *map(output, outputs)])


def summary_table():
    rows = [
        ["C-21", "450", "5", "156 (147 to 166)", "1.39 (1.28 to 1.52)", "< 0.0001"],
        ["B-3", "450", "5", "131 (123 to 139)", "1.17 (1.07 to 1.27)", "0.0021"],
        ["R-10", "450", "6", "112.4 (105.3 to 119.9)", "reference", "reference"],
        ["R-10", "900", "1", "98 (single run, no interval)", "not computed", "not computed"],
        ["C-24 <trial>", "450", "4", "no estimate (below 134)", "not computed", "not computed"],
    ]
    headers = ["Oil", ("Load", "N"), "Runs", ("Film pressure", "MPa"), "Ratio to R-10", "p, adjusted"]
    return markup.table(
        headers,
        rows,
        caption="Film pressure by oil and load, with 95 % intervals.",
        key="summary",
        number_columns=[1, 2, 3, 4, 5],
        row_classes=["", "", "reference", "", ""],
        note="A censored cell gives a bound only: its wear was still running when the test ended.",
    )


def run_table(count=120):
    headers = ["Run", "Oil", ("Load", "N"), ("Scar length", "mm"), ("Scar width", "mm"), ("Pressure", "MPa")]
    headers += [("Wear volume", "mm³"), ("Wear coefficient", "10⁻⁶ mm³/(N m)"), "Wear stopped", "Remarks"]
    rng = np.random.default_rng(3)
    rows, classes = [], []
    for i in range(count):
        length, excluded = 2.4 + 0.5 * rng.random(), i % 17 == 5
        remark = (
            "excluded: ring scratched" if excluded else ("width far from implied" if i % 11 == 3 else "none")
        )
        stopped = ["yes", "no", "not judged"][i % 3]
        rows.append(
            [
                f"r{i + 1:03d}",
                OILS[i % 3][0],
                "450",
                f"{length:.2f}",
                f"{length * 0.55:.2f}",
                f"{450 / (0.785 * length**2 * 0.55):.1f}",
                f"{0.002 * length**4:.4f}",
                f"{9 + rng.random() * 4:.{i % 2 + 1}f}",
                stopped,
                remark,
            ]
        )
        classes.append("excluded" if excluded else "")
    return markup.table(
        headers,
        rows,
        caption="All runs. The full precision is in the attached results.json.",
        number_columns=[2, 3, 4, 5, 6, 7],
        row_classes=classes,
        key="runs",
        long=True,
        landscape=True,
        sortable=True,
    )


def small_table():
    rows = [["Pressure", "18 MPa", "156 MPa"], ["Sliding speed", "0.03 m/s", "1.47 m/s"]]
    return markup.table(["Quantity", "Service", "Bench"], rows, caption="The bench is more severe in both.")


WORDS = (
    "A steel pin is pressed by dead weights across a rotating ring wetted with the lubricant. The pin wears "
    "until the oval scar is wide enough for the lubricant film to carry the load; then the noise stops and "
    "wear stops. The scar is read under a microscope, and a small scar means a strong film. "
)
FRONT = (
    '<p class="lead">May C-21 replace R-10 on the oven line? Runs of 4 to 8 March 2024, 20 of 21 used.</p>',
    markup.verdict("met", "C-21 carries at least 120 MPa of film pressure at 450 N."),
    "<p>C-21 carried about 39 % more pressure than R-10 before its film broke (156 against 112 MPa). "
    "The whole interval, 147 to 166 MPa, lies above the limit.</p>",
)
PROSE = """## Film pressure

The mean pressure $p = F/A$ follows from the scar area $A = \\frac{\\pi}{4} L\\,W$; with costs of $5 and $6
nothing is set. The same holds for the depth $h$ and the ring radius $R_\\mathrm{r}$, which this sentence goes
on about until it has filled more than two lines of the page, so that the measure of the text can be judged.

$$h(t) = h_\\infty \\left(1 + W_0\\left(-e^{-1 - t/\\tau}\\right)\\right), \\qquad
\\lambda = \\frac{h_\\mathrm{min}}{\\sqrt{R_{q1}^2 + R_{q2}^2}}$$

### What was compared

- **Load** and duration were the same for all runs.
- The ring was changed each day, and the day is the block.
"""


def make_notebook():
    caption = markup.Markup("Film pressure of each oil at 450 N; the band is the interval of <em>R-10</em>.")
    alt = (
        "Film pressure of three oils: C-21 at 156 MPa lies wholly above the limit of 120 MPa, R-10 below it."
    )
    chart = figure_html(
        interval_figure(), alt=alt, caption=caption, key="film", narrow=interval_figure(width_mm=92)
    )
    cells = [
        code_cell(*FRONT, chart),
        v4.new_markdown_cell(PROSE),
        code_cell(
            markup.finding("C-21 carried 1.39 times the film pressure of R-10 (95 % interval 1.28 to 1.52)."),
            markup.method_note(
                "Pooled t interval on logarithms, n - 1 degrees of freedom; Dunnett's limits."
            ),
            markup.Markup("<p>{} gives the numbers, {} shows them.</p>").format(
                markup.reference("table", "summary"), markup.reference("figure", "film")
            ),
            summary_table(),
            figure_html(
                line_figure(), alt="Wear slows and stops after six minutes.", caption="Depth and heat."
            ),
        ),
        v4.new_markdown_cell("## Fairness of the comparison"),
        code_cell(
            markup.finding("Two findings weaken the conclusion, none blocks it."),
            markup.callout("caution", "order of the runs.", "All runs of B-3 came on the last day."),
            markup.callout("note", "repeats.", "R-10 has six runs, the others five."),
            markup.key_value({"Rig": "crossed cylinders, 12 mm on 40 mm", "Speed": "1.47 m/s"}),
            small_table(),
            f"<p>Criteria: {markup.tag('met')}, {markup.tag('not met')}, {markup.tag('undecided')}.</p>",
        ),
        v4.new_markdown_cell("## Heat\n\n" + WORDS * 11),
        code_cell(
            figure_html(line_figure(), alt="Heat follows.", caption="The same again, to fill the page.")
        ),
        v4.new_markdown_cell("## All runs"),
        code_cell(markup.finding("Of 120 runs, 113 were used."), run_table()),
    ]
    return v4.new_notebook(cells=cells)


@pytest.fixture(scope="session")
def sample_notebook():
    return make_notebook()


@pytest.fixture(scope="session")
def sample_page(sample_notebook):
    return notebook_to_html(sample_notebook, title=TITLE, campaign_id=CAMPAIGN)


@pytest.fixture(scope="session")
def sample_pdf(sample_page):
    attachments = [
        Attachment("runs.csv", b"run_id\nr001\n", "The runs as entered", "Source"),
        Attachment("results.json", b"{}", "Every number at full precision", "Data"),
    ]
    digest = "results.json SHA-256 9f86d081884c7d65"
    return render_pdf(sample_page, title=TITLE, campaign_id=CAMPAIGN, attachments=attachments, digest=digest)


CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="module")
def browser():
    if not CHROMIUM.exists():
        if os.environ.get("CI") == "true":
            pytest.fail("CI must check the page in Chromium, and this machine has none")
        pytest.skip("no Chromium at /usr/bin/chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        yield running
        running.close()


@pytest.fixture
def axe(browser):
    """Run axe-core on a page in each width and scheme: what it finds, best practice and all."""
    from axe_playwright_python.sync_playwright import Axe

    def scan(file, looks=((1280, "light"), (390, "dark"))):
        found = []
        for width, scheme in looks:
            tab = browser.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
            tab.goto(Path(file).as_uri())
            tab.evaluate("document.fonts.ready")
            response = Axe().run(tab).response
            assert len(response["passes"]) > 20, "axe did not look at the page"
            found += [
                f"{width} {scheme}: {rule['id']} ({rule['impact']}) {node['html'][:160]}"
                for rule in response["violations"]
                for node in rule["nodes"]
            ]
            tab.close()
        return found

    return scan


# What the checker takes for a fault and is none, each with its reason.
_NO_FAULTS = {
    "DOC-012": "the file does not claim PDF/UA: no full validator has passed it",
    "TBL-010": "a table of two columns, each row with a head, has more head cells than data cells",
}


@pytest.fixture
def pdf_faults(tmp_path):
    """Check a PDF by the rules of PDF/UA-1 (ISO 14289-1) that a machine can check: the faults it finds."""
    from outloud import check

    def faults(data, but=()):
        file = tmp_path / "checked.pdf"
        file.write_bytes(data)
        result = check(str(file))
        assert result.error is None
        assert [run.rule for run in result.runs if run.status == "crashed"] == []
        assert sum(run.status == "ran" for run in result.runs) > 40
        return [
            f"{found.rule} p.{found.page}: {found.message}"
            for found in result.findings
            if found.severity == "error" and found.rule not in {*_NO_FAULTS, *but}
        ]

    return faults
