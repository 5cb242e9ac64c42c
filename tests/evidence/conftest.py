"""The rendered micrographs live with the demo data."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

DEMO = Path(__file__).resolve().parents[2] / "data_demo"


@pytest.fixture(scope="session")
def render():
    spec = importlib.util.spec_from_file_location("render_micrograph", DEMO / "render_micrograph.py")
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look their module up by name.
    sys.modules["render_micrograph"] = module
    spec.loader.exec_module(module)
    return module
