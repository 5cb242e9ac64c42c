"""What the command imports before it answers: a check, or the help, waits for nothing that it doesn't use."""

from __future__ import annotations

import subprocess
import sys

import pytest

from pinscar.shipped import shipped_folder

HEAVY = ("matplotlib", "skimage", "scipy.stats", "scipy.optimize", "IPython", "jupyter_client", "nbclient")
HEAVY += ("nbconvert", "papermill", "ipykernel", "weasyprint", "pypdf", "ruptures", "soundfile")
ALSO_NUMBERS = ("numpy", "pandas", "pint", "scipy")

CODE = """
import sys
from pinscar.entry import main
sys.argv = ["pinscar", *sys.argv[1:]]
try:
    main()
finally:
    sys.stderr.write("\\n" + " ".join(sys.modules))
"""


def imported(*words):
    done = subprocess.run(
        [sys.executable, "-c", CODE, *map(str, words)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-500:]
    assert done.stdout
    return set(done.stderr.splitlines()[-1].split())


@pytest.mark.parametrize("campaign", ["precision_02", "conveyor_07"])
def test_a_check_imports_no_drawing_no_notebook_and_no_statistics(campaign):
    found = imported("check", shipped_folder("data_demo") / campaign)
    assert "pandas" in found
    assert not found & set(HEAVY)


@pytest.mark.parametrize("words", [("--help",), ("--version",), ("report", "--help")])
def test_help_imports_nothing_that_computes(words):
    assert not imported(*words) & {*HEAVY, *ALSO_NUMBERS}
