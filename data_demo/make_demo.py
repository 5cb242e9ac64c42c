"""Make the demo campaigns, or check that the committed files are what this makes.

    python data_demo/make_demo.py            write every file
    python data_demo/make_demo.py --check    compare, write nothing; exit status 1 if a file differs

All data are invented. The truth about each oil stands in oils.py, the bench in bench.py and bench_log.py, and
what was planned, what happened and the seed in the demo_*.py module of each campaign.
"""

from __future__ import annotations

import argparse
import io
import sys
from pathlib import Path

import numpy as np
from PIL import Image, UnidentifiedImageError

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

# The folder must be on the path before its modules can be imported.
import demo_conveyor_07  # noqa: E402
import demo_formulation  # noqa: E402
import demo_precision_02  # noqa: E402
import demo_range  # noqa: E402
import demo_reading_03  # noqa: E402
import demo_rig_control  # noqa: E402

MAKERS = (
    demo_conveyor_07.files,
    demo_precision_02.files,
    demo_reading_03.files,
    demo_rig_control.files,
    demo_range.files,
    demo_formulation.files,
)


def wanted_files() -> dict[str, bytes]:
    """Content of every demo file by its path under data_demo."""
    made = {name: content for make in MAKERS for name, content in make().items()}
    return {name: one.encode() if isinstance(one, str) else one for name, one in made.items()}


def differing(folder: Path) -> list[str]:
    """Names of the files in the folder that are missing or not what this script makes."""
    return [
        name
        for name, content in wanted_files().items()
        if not (folder / name).is_file() or not same_content(name, (folder / name).read_bytes(), content)
    ]


def same_content(name: str, found: bytes, made: bytes) -> bool:
    """Compare bytes; pictures by their points, since another JPEG library may round them otherwise."""
    if found == made or not name.endswith(".jpg"):
        return found == made
    try:
        points = [np.asarray(Image.open(io.BytesIO(one)), dtype=float) for one in (found, made)]
    except UnidentifiedImageError:
        return False
    return points[0].shape == points[1].shape and bool(np.abs(points[0] - points[1]).mean() < 1.0)


def write(folder: Path) -> None:
    """Write every demo file."""
    for name, content in wanted_files().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def main() -> int:
    """Read the command line; write or check."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--check", action="store_true", help="compare with the committed files, write nothing"
    )
    if not parser.parse_args().check:
        write(HERE)
        return 0
    found = differing(HERE)
    for name in found:
        print(f"data_demo/{name}: not what make_demo.py makes")
    return 1 if found else 0


if __name__ == "__main__":
    raise SystemExit(main())
