"""The rendered micrographs and fling cards live with the demo data."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

DEMO = Path(__file__).resolve().parents[2] / "data_demo"
PICTURES = Path(__file__).resolve().parents[1] / "fixtures" / "pictures"


def _module(name: str, folder: Path = DEMO) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, folder / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look their module up by name.
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def render():
    return _module("render_micrograph")


@pytest.fixture(scope="session")
def render_card():
    return _module("render_card")


@pytest.fixture(scope="session")
def dabbed_cards():
    return _module("dabbed_cards", PICTURES)


@pytest.fixture(scope="session")
def dotted_cards():
    return _module("dotted_cards", PICTURES)


@pytest.fixture(scope="session")
def scratched_bars():
    return _module("scratched_bars", PICTURES)


@pytest.fixture(scope="session")
def ruled():
    return _module("ruled", PICTURES)
