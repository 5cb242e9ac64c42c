"""Campaign folders for the reading tests: a good one, and one overlay per way of going wrong."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

FIXTURES = Path(__file__).parent.parent / "fixtures" / "campaigns"


def overlay(name: str, folder: Path) -> Path:
    """Lay the files of a fixture over the good campaign; a workbook takes the place of the csv."""
    shutil.copytree(FIXTURES / "_good", folder)
    shutil.copytree(FIXTURES / name, folder, dirs_exist_ok=True)
    if name.startswith("xlsx") or name == "file-missing":
        (folder / "runs.csv").unlink()
    return folder


@pytest.fixture
def fixture_folder(tmp_path: Path) -> Callable[[str], Path]:
    return lambda name: overlay(name, tmp_path / "campaign")


@pytest.fixture
def good(tmp_path: Path) -> Path:
    return Path(shutil.copytree(FIXTURES / "_good", tmp_path / "campaign"))


@pytest.fixture
def edited(good: Path) -> Callable[..., Path]:
    """Give the good campaign with pieces of a file's text replaced."""

    def edit(file: str, *changes: tuple[str, str]) -> Path:
        text = (good / file).read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text, f"{old!r} is not in {file}"
            text = text.replace(old, new)
        (good / file).write_text(text, encoding="utf-8")
        return good

    return edit
