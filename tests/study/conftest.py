"""A bench of its own for formulation studies: campaign folders written line by line, without pinscar or "
"demo code."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pytest

# The walk through a page's tables stands with the tests of the campaign report.
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "campaign_report"))
sys.path.insert(0, str(Path(__file__).resolve().parent))

TOML = """\
[campaign]
id = "{id}"
reference = "{reference}"

[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"

"""
Shares = Mapping[str, str]


def write_folder(
    folder: Path,
    oils: Mapping[str, Shares | None],
    logs: Mapping[str, Sequence[float]],
    *,
    reference: str = "R-1",
    running: Sequence[str] = (),
    more: str = "",
    extra: Mapping[str, str] | None = None,
    fling: Mapping[str, float] | None = None,
    load: float = 300.0,
) -> Path:
    """Write a campaign whose scars carry given logarithms of film pressure [MPa], to 12 digits.

    The scar is an ellipse twice as long as wide: its area is load over pressure.
    """
    folder.mkdir(parents=True, exist_ok=True)
    text = TOML.format(id=folder.name, reference=reference) + more
    for oil, shares in oils.items():
        text += f'[[lubricants]]\nid = "{oil}"\n' + (extra or {}).get(oil, "")
        if shares is not None:
            text += "[lubricants.composition]\n" + "".join(f'"{n}" = "{s}"\n' for n, s in shares.items())
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    head = (
        "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width "
        "[mm],wear_stopped,fling_mass [mg],run_at"
    )
    lines = [head]
    order = [
        (oil, i) for i in range(max(len(v) for v in logs.values())) for oil in logs if i < len(logs[oil])
    ]
    for number, (oil, i) in enumerate(order):
        area = load / math.exp(logs[oil][i])  # mm^2, since MPa is N/mm^2
        width = math.sqrt(2.0 * area / math.pi)
        stopped = "no" if oil in running else "yes"
        mass = (fling or {}).get(oil, 20.0) * (1.0 + 0.01 * (i % 3))
        minute = f"2026-03-{2 + i // 2:02d}T{8 + number // 12:02d}:{(number * 5) % 60:02d}"
        lines.append(
            f"r{number + 1},{oil},{load:g},60,{2 * width:.12g},{width:.12g},{stopped},{mass:.9g},{minute}"
        )
    (folder / "runs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


@pytest.fixture
def bench(tmp_path: Path) -> Callable[..., Path]:
    """Write a campaign folder of a given name under the test's own folder."""

    def make(name: str, *args: object, **kwargs: object) -> Path:
        return write_folder(tmp_path / name, *args, **kwargs)

    return make
