"""Micrographs of the demo campaign: rendered, not photographed; scars of the size that runs.csv tells."""

from __future__ import annotations

import io
from collections.abc import Mapping

import numpy as np
from PIL import Image
from render_micrograph import Look, coloured, render

SCALE_UM = 18.0
"""Size of one point [um]."""
SEED = 20260417

#: What each picture shows besides its scar: kinds of light and dirt, and one scar that cannot be read.
LOOKS: dict[str, dict[str, float]] = {
    "c07-01": {"contrast": -0.25, "film": 0, "debris": 4},
    "c07-02": {"contrast": -0.3, "film": 2, "debris": 22, "glare": 0},
    "c07-03": {"contrast": 0.25, "glare": 2, "blur": 1.4},
    "c07-05": {"contrast": -0.2, "light": 0.4, "curvature": 0.5},
    "c07-06": {"contrast": 0.3, "grinding": 0.1, "film": 0},
    "c07-07": {"contrast": 0.2, "blur": 2.6, "noise": 0.03},
    "c07-08": {"contrast": -0.3, "debris": 12, "fibres": 2},
    "c07-09": {"contrast": 0.15, "film": 2, "noise": 0.03},
    "c07-10": {"contrast": -0.25, "ragged": 0.012, "rim": 0.1},
    "c07-11": {"contrast": 0.0, "scratches": 0.01, "film": 2, "noise": 0.04, "rim": 0.0},
}


def micrographs(rows: Mapping[str, Mapping[str, str]]) -> dict[str, bytes]:
    """The pictures as JPEG, by run; `rows` are those of runs.csv."""
    made = {}
    for number, (run_id, look) in enumerate(LOOKS.items()):
        axes = [float(rows[run_id][f"scar_{axis} [mm]"]) * 1e3 / SCALE_UM for axis in ("length", "width")]
        rng = np.random.default_rng([SEED, number])
        centre = (240 + rng.uniform(-12, 12), 180 + rng.uniform(-12, 12))
        whole = Look(
            length=axes[0], width=axes[1], angle=np.radians(rng.uniform(-5, 5)), centre=centre, **look
        )
        stream = io.BytesIO()
        picture = Image.fromarray(coloured(render(whole, rng), rng))
        picture.save(stream, "JPEG", quality=85, subsampling=0)
        made[run_id] = stream.getvalue()
    return made
