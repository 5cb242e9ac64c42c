"""The built wheel carries all it needs: the command works from it in an empty folder, with no checkout."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def run(*words, folder, path=None):
    env = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    if path is not None:
        env["PYTHONPATH"] = str(path)
    return subprocess.run(
        [sys.executable, *map(str, words)], cwd=folder, env=env, capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """The wheel, built and unpacked beside the packages it depends on."""
    top = tmp_path_factory.mktemp("wheel")
    pip = ("-m", "pip", "--disable-pip-version-check", "--quiet")
    built = run(*pip, "wheel", ROOT, "--no-deps", "--no-build-isolation", "--wheel-dir", top, folder=top)
    assert built.returncode == 0, built.stderr
    (wheel,) = top.glob("pinscar-*.whl")
    place = run(*pip, "install", wheel, "--no-deps", "--target", top / "site", folder=top)
    assert place.returncode == 0, place.stderr
    return top / "site"


def test_new_check_and_report_work_in_an_empty_folder(installed, tmp_path):
    found = run("-c", "import pinscar; print(pinscar.__file__)", folder=tmp_path, path=installed)
    assert Path(found.stdout.strip()).is_relative_to(installed)
    for words in (
        ("new", "mine"),
        ("check", "mine"),
        ("report", "mine"),
        ("verify", "mine/report", "--rerun"),
    ):
        done = run("-m", "pinscar.cli.main", *words, folder=tmp_path, path=installed)
        # The starter's rows are examples: `check` warns of them, and nothing else is complained of.
        told = done.stderr.splitlines()
        if words[0] == "check":
            assert "this is an example row of the starter, not a run" in told.pop()
            assert "marked as example data" in done.stdout
        assert (done.returncode, told) == (0, []), words
    assert done.stdout.endswith("agree and the same bytes came out again\n")
    names = {path.name for path in (tmp_path / "mine" / "report").iterdir()}
    assert names == {
        "manifest.json",
        "report.html",
        "report.ipynb",
        "report.pdf",
        "results.json",
        "tables.xlsx",
    }
    assert (tmp_path / "mine" / "report" / "report.pdf").read_bytes().startswith(b"%PDF-")


def test_the_demo_campaigns_are_in_it(installed, tmp_path):
    done = run(
        "-m", "pinscar.cli.main", "new", "demo", "--demo", "conveyor_07", folder=tmp_path, path=installed
    )
    assert (done.returncode, done.stderr) == (0, "")
    done = run("-m", "pinscar.cli.main", "check", "demo", folder=tmp_path, path=installed)
    assert done.returncode == 0
    assert done.stdout.endswith("ready to report\n")


def test_the_licences_and_the_command_are_in_it(installed):
    (information,) = installed.glob("pinscar-*.dist-info")
    assert "pinscar = pinscar.entry:main" in (information / "entry_points.txt").read_text()
    assert list(information.rglob("LICENSE"))
    assert list((installed / "pinscar").rglob("OFL.txt"))
    assert (installed / "pinscar" / "py.typed").is_file()
