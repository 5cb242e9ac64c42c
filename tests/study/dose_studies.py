"""Invented dose series of known truth: one campaign, some runs stopped before wear had."""

from __future__ import annotations

import numpy as np

from pinscar.stats.dose import deviance_of_point, dose_runs
from pinscar.stats.dose_likelihood import DoseRuns, Form, form_shape

BATCH_SD, RUN_SD, CAMPAIGN_SD = 0.04, 0.085, 0.06
LEVELS: dict[Form, list[float]] = {
    "straight": [0.0, 0.5, 1.0, 2.0, 3.0],
    "saturating": [0.0, 0.25, 0.5, 1.0, 2.0, 3.0, 4.0],
    "threshold": [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0],
}
TRUTH: dict[Form, tuple[float, float, float]] = {
    "straight": (4.2, 0.15, 0.0),
    "saturating": (4.2, 0.7, 0.8),
    "threshold": (4.2, 0.3, 0.7),
}
DOSE = 1.3


def one_study(form: Form, seed: int, batch_sd: float, censored: float) -> tuple[DoseRuns, float]:
    """One series of batches of four runs, and the logarithm that its true curve has at the dose looked for.

    A share of the runs is stopped before wear had: what they show lies above what the film carries.
    """
    rng = np.random.default_rng([16, seed])
    levels = np.array(LEVELS[form])
    start, rise, bend = TRUTH[form]
    batch = np.repeat(np.arange(levels.size), 4)
    curve = start + rise * form_shape(form, levels, bend)
    logs = (curve + batch_sd * rng.standard_normal(levels.size))[batch]
    logs = logs + RUN_SD * rng.standard_normal(batch.size)
    stopped = np.zeros(batch.size, bool)
    if censored:
        stopped = rng.random(batch.size) < censored
        logs = np.where(stopped, logs + np.abs(0.12 * rng.standard_normal(batch.size)), logs)
    runs = dose_runs(np.exp(logs), stopped, levels[batch], [str(one) for one in batch])
    return runs, start + rise * float(form_shape(form, np.array([DOSE]), bend)[0])


def covered(form: Form, seed: int, batch_sd: float = BATCH_SD, censored: float = 0.0) -> bool:
    """Whether the interval of one study holds the true least dose: the data do not speak against it."""
    runs, wanted = one_study(form, seed, batch_sd, censored)
    return deviance_of_point(runs, form, 0.95)[0](DOSE, wanted) <= 0.0


def study_over_campaigns(form: Form, seed: int, censored: float) -> tuple[DoseRuns, float]:
    """The same over three campaigns: batches in turns, and an oil beside the series that ran in each."""
    rng = np.random.default_rng([17, seed])
    runs, wanted = one_study(form, seed, BATCH_SD, censored)
    count = runs.doses.size
    heights = CAMPAIGN_SD * rng.standard_normal(3)
    own = np.tile(np.arange(3), 4)
    reference = 4.5 + BATCH_SD * rng.standard_normal() + RUN_SD * rng.standard_normal(own.size)
    campaigns = np.append(runs.batches % 3, own)
    beside = np.append(np.zeros(count), 1.0)
    whole = DoseRuns(
        logs=np.append(runs.logs, reference) + heights[campaigns],
        left_censored=np.append(runs.left_censored, np.zeros(own.size, bool)),
        doses=np.append(runs.doses, 0.0),
        batches=np.append(runs.batches, np.full(own.size, count)),
        beside=beside[:, None],
        member=beside == 0.0,
        campaigns=campaigns,
    )
    return whole, wanted


def covered_over_campaigns(form: Form, seed: int, censored: float = 0.0) -> bool:
    """Whether the interval of one study over three campaigns holds the true least dose."""
    runs, wanted = study_over_campaigns(form, seed, censored)
    return deviance_of_point(runs, form, 0.95)[0](DOSE, wanted) <= 0.0
