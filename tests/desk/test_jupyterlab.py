"""The notebooks in a real JupyterLab and a real browser: scars read with the mouse, a report at a button."""

from __future__ import annotations

import contextlib
import csv
import json
import math
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path
from time import monotonic, sleep

import pytest

import pinscar
from pinscar.bench.prepare import new_campaign

pytestmark = pytest.mark.page

ROOT = Path(__file__).resolve().parents[2]
TOOLKIT = Path(pinscar.__file__).resolve().parents[1]
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
PATIENCE = 90_000
"""Longest wait for a state of the page [ms]: the machine may be busy with other tests."""


@pytest.fixture(scope="module")
def browser():
    if not CHROMIUM.exists():
        if os.environ.get("CI") == "true":
            pytest.fail("CI must try the notebooks in Chromium, and this machine has none")
        pytest.skip("no Chromium at /usr/bin/chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        yield running
        running.close()


class Lab:
    """A JupyterLab server on notebooks of its own."""

    def __init__(self, place: Path) -> None:
        self.place = place
        self.work = place / "work"
        self.work.mkdir()
        quiet = place / "settings" / "@jupyterlab" / "apputils-extension" / "notification.jupyterlab-settings"
        quiet.parent.mkdir(parents=True)
        quiet.write_text('{"fetchNews": "false", "checkForUpdates": false}', encoding="utf-8")
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", *self._options()],
            cwd=self.work,
            env=self._environment(),
            stdout=(place / "lab.log").open("wb"),
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )

    def _options(self) -> list[str]:
        settings = {
            "ServerApp.ip": "127.0.0.1",
            "ServerApp.port": self.port,
            "ServerApp.port_retries": 0,
            "ServerApp.root_dir": self.work,
            "IdentityProvider.token": "",
            "ServerApp.allow_root": True,
            "ServerApp.open_browser": False,
            "ServerApp.disable_check_xsrf": True,
            "LabApp.check_for_updates_class": "jupyterlab.NeverCheckForUpdate",
            "LabApp.extension_manager": "readonly",
        }
        return [f"--{name}={value}" for name, value in settings.items()]

    def _environment(self) -> dict[str, str]:
        """Nothing outside of the place is read or written; what is installed stays where Python finds it."""
        own = {
            "HOME": "home",
            "JUPYTER_CONFIG_DIR": "config",
            "JUPYTER_DATA_DIR": "data",
            "JUPYTER_RUNTIME_DIR": "runtime",
            "JUPYTERLAB_SETTINGS_DIR": "settings",
            "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
            "IPYTHONDIR": "ipython",
            "MPLCONFIGDIR": "matplotlib",
            "TMPDIR": "tmp",
        }
        for name in own.values():
            (self.place / name).mkdir(exist_ok=True)
        paths = os.pathsep.join(filter(None, [str(TOOLKIT), os.environ.get("PYTHONPATH")]))
        return {
            **os.environ,
            **{name: str(self.place / folder) for name, folder in own.items()},
            "PYTHONPATH": paths,
            "JUPYTER_PREFER_ENV_PATH": "1",
        }

    def wait(self) -> None:
        until = monotonic() + PATIENCE / 1000
        while True:
            if self.process.poll() is not None or monotonic() > until:
                pytest.fail(f"JupyterLab did not come up:\n{(self.place / 'lab.log').read_text()[-3000:]}")
            with contextlib.suppress(OSError):
                urllib.request.urlopen(f"http://127.0.0.1:{self.port}/api", timeout=5).close()
                return
            sleep(0.1)

    def end(self) -> None:
        """Ask the server to stop, which ends its kernels, and make sure."""
        self.process.send_signal(signal.SIGTERM)
        try:
            self.process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()

    def address(self, notebook: str) -> str:
        return f"http://127.0.0.1:{self.port}/lab/tree/{notebook}?reset"


@pytest.fixture(scope="module")
def lab(browser, tmp_path_factory):
    running = Lab(tmp_path_factory.mktemp("lab"))
    try:
        running.wait()
        yield running
    finally:
        running.end()


@pytest.fixture
def tab(browser):
    page = browser.new_page(viewport={"width": 1280, "height": 1000})
    page.set_default_timeout(PATIENCE)
    yield page
    page.close()


def cells_of(name, ids):
    """The notebook as it ships, with these cells alone."""
    notebook = json.loads((ROOT / "notebooks" / f"{name}.ipynb").read_text(encoding="utf-8"))
    kept = [cell for cell in notebook["cells"] if cell["id"] in ids]
    assert [cell["id"] for cell in kept] == ids
    return notebook | {"cells": kept}


def run_all(tab, lab, name):
    """Open a notebook and run it from the menu, as a person does."""
    tab.goto(lab.address(name))
    # the page is there before its kernel, and would ask for one
    tab.get_by_text(re.compile(r"\| Idle$")).wait_for()
    tab.locator(".lm-MenuBar-itemLabel", has_text="Run").click()
    tab.locator(".lm-Menu-itemLabel").get_by_text("Run All Cells", exact=True).click()


def number(panel, label):
    return float(panel.get_by_label(label, exact=True).input_value())


def test_a_scar_is_read_with_the_mouse_and_nobody_learns_which(tab, lab):
    notebook = cells_of("read_scars", ["open", "hand", "hand-rows"])
    (lab.work / "read_scars.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
    run_all(tab, lab, "read_scars.ipynb")
    panel = tab.locator(".jp-OutputArea", has=tab.locator(".jupyter-matplotlib"))
    panel.get_by_role("button", name="Save and go on").wait_for()
    code = re.search(r"Scar ([A-Z]\d\d)", panel.inner_text())[1]
    (folder,) = (lab.place / "tmp").glob("pinscar-demo-*/conveyor_07")
    before = readings(folder)

    drag_lower_end(tab, panel, 30)
    length, width = number(panel, "Length [mm]"), number(panel, "Width [mm]")
    panel.get_by_role("button", name="Save and go on").click()
    panel.get_by_text(f"Scar {code} saved").wait_for()
    panel.get_by_text("1 of 9 read by op1").wait_for()

    *old, new = readings(folder)
    assert [{**one, "blind_code": ""} for one in old] == [{**one, "blind_code": ""} for one in before]
    assert (new["reader"], new["blind_code"]) == ("op1", code)
    assert float(new["scar_length [mm]"]) == pytest.approx(length, abs=6e-4)
    assert float(new["scar_width [mm]"]) == pytest.approx(width, abs=6e-4)

    with (folder / "runs.csv").open(encoding="utf-8") as stream:
        runs = list(csv.DictReader(stream))
    assert new["run_id"] in {run["run_id"] for run in runs}
    shown = panel.inner_html() + " ".join(
        tab.locator(".jp-OutputArea input").evaluate_all("all => all.map(one => one.value)")
    )
    assert "op1" in shown
    assert [name for run in runs for name in (run["run_id"], run["lubricant"]) if name in shown] == []


def readings(folder):
    with (folder / "readings.csv").open(encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def drag_lower_end(tab, panel, down):
    """Pull the lower end of the width down; the numbers follow by as much as the picture's scale says."""
    canvas = panel.locator(".jupyter-matplotlib canvas").last
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    wide = 480 * 0.018  # mm: columns of the demo's pictures, and their scale
    px = box["width"] / wide
    angle, before = math.radians(number(panel, "Angle [deg]")), number(panel, "Width [mm]")
    length = number(panel, "Length [mm]")
    x = box["x"] + px * (number(panel, "Middle x [mm]") - before / 2 * math.sin(angle))
    y = box["y"] + px * (number(panel, "Middle y [mm]") + before / 2 * math.cos(angle))
    picture = panel.locator(".jupyter-matplotlib canvas").first.element_handle()
    there = [picture, x - box["x"], y + down - box["y"]]
    assert not tab.evaluate(BLUE, there)
    tab.mouse.move(x, y)
    tab.mouse.down()
    tab.mouse.move(x, y + down / 2)
    tab.mouse.move(x, y + down)
    tab.mouse.up()
    wanted = before + down * math.cos(angle) / px
    field = panel.get_by_label("Width [mm]", exact=True).element_handle()
    tab.wait_for_function("([field, wanted]) => Math.abs(field.value - wanted) < 0.02", arg=[field, wanted])
    assert number(panel, "Length [mm]") == length
    tab.wait_for_function(BLUE, arg=there)


BLUE = """([canvas, x, y]) => {
  const k = canvas.width / canvas.clientWidth;
  const near = canvas.getContext('2d').getImageData((x - 4) * k, (y - 4) * k, 8 * k, 8 * k).data;
  for (let i = 0; i < near.length; i += 4)
    if (near[i] < 60 && near[i + 1] > 190 && near[i + 2] > 215) return true;
  return false;
}"""
"""Whether the outline, #00e6ff, runs through a place of the picture as the browser shows it."""


def test_the_button_makes_the_report_and_the_link_opens_it(tab, lab):
    shutil.copy(ROOT / "notebooks" / "start_here.ipynb", lab.work)
    # what lies there already is kept; the report of a few runs is made sooner than the demo's
    campaign = lab.work / "my_campaigns" / "conveyor_07"
    new_campaign(campaign)
    run_all(tab, lab, "start_here.ipynb")
    button = tab.get_by_role("button", name="Make the report")
    button.wait_for()
    report = campaign / "report"
    assert not report.exists()
    tab.get_by_label("with PDF").uncheck()
    button.click()
    link = tab.get_by_role("link", name="report.html")
    link.wait_for(timeout=2 * PATIENCE)
    tab.get_by_text("The report is made.").wait_for()
    assert sorted(path.name for path in report.iterdir()) == [
        "manifest.json",
        "report.html",
        "report.ipynb",
        "results.json",
        "tables.xlsx",
    ]
    results = json.loads((report / "results.json").read_text(encoding="utf-8"))
    with (campaign / "runs.csv").open(encoding="utf-8-sig") as stream:
        assert [run["run_id"] for run in results["runs"]] == [run["run_id"] for run in csv.DictReader(stream)]
    assert f"Verdict: {results['overall']}" in tab.locator(".jp-OutputArea", has=link).last.inner_text()
    with tab.context.expect_page() as opening:
        link.click()
    page = opening.value
    page.frame_locator("iframe").get_by_text(results["campaign"]["title"]).first.wait_for(timeout=PATIENCE)
    page.close()
