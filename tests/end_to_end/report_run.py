"""Run the command as a user does."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path


def run_report(folder: Path) -> dict:
    """Run `pinscar report --no-pdf` on a folder and read what it wrote."""
    code = "import sys; from pinscar.cli.main import main; sys.exit(main())"
    done = subprocess.run(
        [sys.executable, "-c", code, "report", str(folder), "--no-pdf"],
        check=False,
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONIOENCODING": "utf-8"},
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    return json.loads((folder / "report" / "results.json").read_text(encoding="utf-8"))
