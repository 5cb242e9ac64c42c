"""Fixtures for everything that runs the command or the report's processes."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import pinscar
from pinscar.report.starter import new_campaign

TOOLKIT = Path(pinscar.__file__).resolve().parents[1]
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
            [sys.executable, "-m", "pinscar.cli", *map(str, words)],
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
def templates() -> Path:
    """Small templates: one that works, one that fails as it is told to."""
    return TEMPLATES
