"""What is stated of the batches, modelled as a response: the drive loss, so that it can be foreseen."""

from __future__ import annotations

import numpy as np

from pinscar.decision.responses import Response
from pinscar.study.formulation.blends import Blends, StudyRuns
from pinscar.study.formulation.model import BlendModel, model_of

DRIVE_LOSS = Response(name="drive_loss", label="Drive loss", unit="W", shown_unit="W", better="lower")


def drive_loss_model(blends: Blends, load_level: float, confidence: float) -> BlendModel | None:
    """Model the drive loss stated of the batches, one value a batch; None where too few state one."""
    places = [i for i, one in enumerate(blends.batches) if one.drive_loss is not None]
    values = np.array([blends.batches[i].drive_loss for i in places], dtype=np.float64)
    if values.size <= len(blends.components) or np.unique(values).size < 2:
        return None
    none = np.zeros(values.size, dtype=np.int64)
    runs = StudyRuns(
        response=DRIVE_LOSS,
        load_level=load_level,
        values=values,
        left_censored=np.zeros(values.size, dtype=bool),
        batches=np.array(places, dtype=np.int64),
        campaigns=none,
        run_ids=tuple((0, blends.batches[i].name) for i in places),
        names=("stated",),
        left_out=(),
    )
    made = model_of(runs, blends, confidence, whole=False)
    return made if made.fits else None
