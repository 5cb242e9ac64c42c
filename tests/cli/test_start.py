"""What the command imports before it answers: a check, or the help, waits for nothing that it doesn't use."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pinscar import entry
from pinscar.cli import main
from pinscar.shipped import shipped_folder

HEAVY = ("matplotlib", "skimage", "scipy.stats", "scipy.optimize", "IPython", "jupyter_client", "nbclient")
HEAVY += ("nbconvert", "papermill", "ipykernel", "weasyprint", "pypdf", "ruptures", "soundfile", "jupyter")
HEAVY += ("dask", "distributed", "babel", "pint", "scipy.ndimage", "scipy.special")
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


def test_a_check_of_a_unit_out_of_the_ordinary_asks_pint(tmp_path):
    shutil.copytree(shipped_folder("data_demo") / "precision_02", tmp_path / "c")
    settings = tmp_path / "c" / "campaign.toml"
    settings.write_text(settings.read_text().replace('"12 mm"', '"0.12 dm"'))
    found = imported("check", tmp_path / "c")
    assert "pint" in found
    assert not found & {"dask", "babel", "distributed"}


def test_the_help_is_there_before_anything_is_imported():
    found = imported("--help")
    assert not {one for one in found if one.startswith(("typer", "rich", "json", "pathlib"))}
    assert {one for one in found if one.startswith("pinscar")} == {
        "pinscar", "pinscar.entry", "pinscar.import_path"
    }  # fmt: skip


@pytest.mark.parametrize("words", [(), ("--help",)])
def test_the_help_that_ships_is_that_of_the_commands(words, monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "80")
    assert main.run(list(words)) == 0
    made = capsys.readouterr().out
    assert made == (Path(entry.__file__).parent / "cli" / "help.txt").read_text()
    monkeypatch.setattr(sys, "argv", ["pinscar", *words])
    monkeypatch.setattr(main, "run", None)
    with pytest.raises(SystemExit) as ended:
        entry.main()
    assert ended.value.code == 0
    assert capsys.readouterr().out == made


def test_on_a_narrow_screen_the_help_is_laid_out_anew(monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.setattr(sys, "argv", ["pinscar", "--help"])
    with pytest.raises(SystemExit):
        entry.main()
    said = capsys.readouterr().out
    assert "Make the report of each campaign folder." in said
    assert max(map(len, said.splitlines())) <= 60


@pytest.mark.parametrize("words", [("--help",), ("--version",), ("report", "--help")])
def test_help_imports_nothing_that_computes(words):
    assert not imported(*words) & {*HEAVY, *ALSO_NUMBERS}
