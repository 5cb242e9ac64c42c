"""A campaign folder from a stranger runs nothing: no module, start-up file or setting in it is taken."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

MODULES = ("json", "numpy", "sitecustomize", "usercustomize", "secrets", "pinscar", "matplotlib", "colorsys")
SETTINGS = {
    "matplotlibrc": "lines.linewidth: 9\naxes.facecolor: red\nfont.size: 30\n",
    ".env": "PYTHONPATH=.\nMPLBACKEND=module://json\n",
    "jupyter_config.py": "{trap}",
    "ipython_config.py": "{trap}",
    "ipython_kernel_config.py": "{trap}",
    "conftest.py": "{trap}",
    ".ipython/profile_default/startup/00.py": "{trap}",
    "profile_default/startup/00.py": "{trap}",
}


def set_traps(folder: Path, told: Path, names=MODULES) -> None:
    """Put modules and settings into a folder that leave a mark when they run."""
    trap = f"open({str(told)!r}, 'a').write(__file__ + chr(10))\n"
    for name in names:
        (folder / f"{name}.py").write_text(trap)
    for name, text in SETTINGS.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text.format(trap=trap))


def ran(told: Path) -> str:
    return told.read_text() if told.exists() else ""


def entered(*words, cwd, env):
    """Run the command as its console script does: not with the working folder on its path."""
    start = "import sys; sys.path.pop(0); from pinscar.entry import main; main()"
    return subprocess.run(
        [sys.executable, "-c", start, *map(str, words)],
        cwd=cwd,
        env={k: v for k, v in os.environ.items() if k != "PYTHONPATH"} | env,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )


@pytest.fixture
def hostile(campaign, tmp_path):
    told = tmp_path / "ran.txt"
    set_traps(campaign, told)
    return campaign, told


@pytest.mark.parametrize("inside", [True, False])
@pytest.mark.parametrize("start", ["script", "-m"])
def test_a_report_imports_nothing_from_the_folder(hostile, command, templates, tmp_path, inside, start):
    folder, told = hostile
    if start == "-m":
        (folder / "pinscar.py").unlink()  # Python looks for the module to run where the person stands
    words = ["report", "." if inside else folder, "--template", templates / "plain.ipynb"]
    run = entered if start == "script" else command
    done = run(*words, cwd=folder if inside else tmp_path, env={})
    assert done.returncode == 0, done.stderr
    assert ran(told) == ""


@pytest.mark.parametrize("path", ["{folder}", ".", os.pathsep])
def test_no_folder_of_pythonpath_reaches_the_processes_of_a_report(campaign, templates, tmp_path, path):
    # What Python itself imports before the command starts is out of its hands.
    told = tmp_path / "ran.txt"
    set_traps(campaign, told, set(MODULES) - {"sitecustomize", "usercustomize", "pinscar"})
    words = ["report", ".", "--template", templates / "plain.ipynb"]
    done = entered(*words, cwd=campaign, env={"PYTHONPATH": path.format(folder=campaign)})
    assert done.returncode == 0, done.stderr
    assert ran(told) == ""


def test_settings_in_the_folder_or_of_the_person_change_no_byte(campaign, command, templates, tmp_path):
    words = ("--template", templates / "plain.ipynb")
    plain, trapped, home = tmp_path / "plain", tmp_path / "trapped", tmp_path / "home"
    assert command("report", campaign, *words, "--out", plain, cwd=tmp_path).returncode == 0
    for place in (campaign, home, home / ".config" / "matplotlib"):
        place.mkdir(parents=True, exist_ok=True)
        set_traps(place, tmp_path / "ran.txt", [])
    env = {"HOME": str(home), "MPLCONFIGDIR": str(campaign), "JUPYTER_CONFIG_DIR": str(campaign)}
    env |= {"IPYTHONDIR": str(campaign), "MATPLOTLIBRC": str(campaign / "matplotlibrc")}
    done = command("report", ".", *words, "--out", trapped, cwd=campaign, env=env)
    assert done.returncode == 0, done.stderr
    for file in plain.iterdir():
        assert file.read_bytes() == (trapped / file.name).read_bytes(), file.name
    assert ran(tmp_path / "ran.txt") == ""


@pytest.mark.parametrize("inside", [True, False])
def test_a_notebook_opens_a_folder_without_importing_from_it(hostile, tmp_path, inside):
    # As in a kernel that Jupyter started in the folder of the notebook: the working folder is on the path.
    folder, told = hostile
    (folder / "pinscar.py").unlink()  # the person's own import statement would take it before pinscar runs
    code = (
        "import sys; sys.path.insert(0, '')\n"
        "import pinscar; opened = pinscar.open({folder!r}); opened.runs; import colorsys; print('opened')"
    ).format(folder="." if inside else str(folder))
    env = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    done = subprocess.run(
        [sys.executable, "-P", "-c", code],
        cwd=folder if inside else tmp_path,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "opened\n", done.stderr
    assert ran(told) == ""
