"""The same inputs give the same bytes: in another folder, time zone, language, home, and side by side."""

from __future__ import annotations

import hashlib
import json
import shutil

import pytest

FILES = ["manifest.json", "report.html", "report.ipynb", "report.pdf", "results.json", "tables.xlsx"]


def digests(report):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(report.iterdir())}


def unlike_home(folder):
    """A home whose owner has changed everything that can be changed for figures and notebooks."""
    startup = folder / ".ipython" / "profile_default" / "startup"
    startup.mkdir(parents=True)
    (startup / "00-mine.py").write_text("raise SystemExit('started my own file')")
    (startup.parent / "ipython_config.py").write_text("c.InteractiveShellApp.exec_lines = ['1 / 0']")
    (folder / ".config" / "matplotlib").mkdir(parents=True)
    (folder / ".config" / "matplotlib" / "matplotlibrc").write_text("lines.markersize: 30\nfont.size: 30\n")
    return folder


@pytest.fixture(scope="module")
def two_runs(command, templates, tmp_path_factory):
    """The report of one campaign made in two surroundings, the second beside another campaign."""
    from pinscar.bench.prepare import new_campaign

    top = tmp_path_factory.mktemp("bytes")
    here, there = top / "campaign", top / "an other" / "ünlike place"
    new_campaign(here)
    shutil.copytree(here, there)
    shutil.copytree(here, top / "third")
    # Neither a module nor a setting lying in the campaign folder may get into the run.
    (there / "numpy.py").write_text("raise ImportError('not the numpy that was meant')")
    (there / "matplotlibrc").write_text("lines.linewidth: 9\n")
    words = ("-t", templates / "plain.ipynb")
    first = command("report", here, *words, cwd=top, env={"TZ": "UTC", "PYTHONHASHSEED": "1"})
    surroundings = {
        "TZ": "Asia/Kolkata",
        "LANG": "de_DE.UTF-8",
        "LC_ALL": "POSIX",
        "PYTHONHASHSEED": "2",
        "OMP_NUM_THREADS": "2",
        "MPLBACKEND": "svg",
        "PYTHONWARNINGS": "error::DeprecationWarning:nowhere",
        "HOME": str(unlike_home(top / "home")),
    }
    second = command(
        "report", there.name, top / "third", "--jobs", 2, *words, cwd=there.parent, env=surroundings
    )
    assert (first.returncode, first.stderr) == (0, "")
    assert (second.returncode, second.stderr) == (0, "")
    return here / "report", there / "report", top


@pytest.mark.pdf
def test_the_bytes_are_the_same(two_runs):
    first, second, top = two_runs
    assert list(digests(first)) == FILES
    assert digests(first) == digests(second) == digests(top / "third" / "report")


@pytest.mark.pdf
def test_no_file_names_this_machine_or_carries_a_clock(two_runs):
    first, second, top = two_runs
    for report in (first, second):
        for path in report.iterdir():
            assert str(top).encode() not in path.read_bytes()
    notebook = json.loads((first / "report.ipynb").read_text())
    text = json.dumps([[cell["metadata"], cell.get("outputs")] for cell in notebook["cells"]])
    clocks_and_places = ("papermill", "start_time", "iopub", "a warning that names a file", "site-packages")
    assert [word for word in clocks_and_places if word in text + json.dumps(notebook["metadata"])] == []
    assert [cell["id"] for cell in notebook["cells"]] == [
        "parameters", "injected-parameters", "load", "runs-head", "runs", "noise", "results",
    ]  # fmt: skip
    assert "object object at 0x0" in text


@pytest.mark.pdf
def test_the_report_verifies_and_comes_out_again(two_runs, command, templates, tmp_path):
    campaign = two_runs[0].parent
    done = command("verify", campaign / "report")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == f"{campaign / 'report'}: data, files and versions agree\n"


@pytest.mark.pdf
def test_the_code_and_its_source_stay_out_of_the_pages(two_runs):
    page = (two_runs[0] / "report.html").read_text(encoding="utf-8")
    assert "read_campaign" not in page
    assert "publish_results" not in page
