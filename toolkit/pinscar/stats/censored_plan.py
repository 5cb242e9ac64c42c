"""What can be said of each group where runs are censored: a ratio with limits, a bound, or nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.censored_groups import sign_test_error
from pinscar.stats.intervals import SINGLE_RUN
from pinscar.stats.multiplicity import bonferroni_confidence

FloatArray = NDArray[np.float64]
Masks = Mapping[str, NDArray[np.bool_]]


@dataclass(frozen=True, slots=True)
class Plan:
    """What can be said of one group against the reference where runs are censored.

    Parameters
    ----------
    kind : {"fit", "bound", "none"}
        A ratio with limits, a one-sided bound, or nothing.
    reason : str or None
        Why there is nothing.
    """

    kind: Literal["fit", "bound", "none"]
    reason: str | None = None


def plan_censored(
    logs: Mapping[str, FloatArray], masks: Masks, reference: str, confidence: float
) -> dict[str, Plan]:
    """Decide for each group what can be said of it against the reference.

    Bounds need runs enough: 0.5 to the power of their number must lie below the share of the error that the
    comparison gets when the error is split evenly over all comparisons that yield something.

    Parameters
    ----------
    logs : mapping of str to ndarray
        Natural logarithms of each group; of the limit where censored [-].
    masks : mapping of str to ndarray of bool
        True where the true value is at most the one recorded.
    reference : str
        The group that the others are compared with.
    confidence : float
        Joint confidence [-].

    Returns
    -------
    dict of str to Plan
        One a group other than the reference.

    References
    ----------
    Own derivation: which likelihoods have a maximum, and Bonferroni's inequality.

    Examples
    --------
    >>> logs = {"R": np.array([0.0, 0.1]), "C": np.array([0.2, 0.3])}
    >>> plan_censored(logs, {"R": np.zeros(2, dtype=bool), "C": np.ones(2, dtype=bool)}, "R", 0.95)["C"].kind
    'none'
    """
    plans = {name: _first_look(logs, masks, name, reference) for name in logs if name != reference}
    fit = [name for name, plan in plans.items() if plan.kind == "fit"]
    if not any(_distinct(logs, masks, name) > 1 for name in [reference, *fit]):
        nothing = Plan("none", "no lubricant has two distinct uncensored values, so the spread is unknown")
        plans.update(dict.fromkeys(fit, nothing))
    while True:
        each = bonferroni_confidence(confidence, max(family_size(plans), 1))
        hopeless = [
            name
            for name, plan in plans.items()
            if plan.kind == "bound" and sign_test_error(_hidden(logs, masks, name, reference)) >= 1 - each
        ]
        if not hopeless:
            return plans
        for name in hopeless:
            plans[name] = _too_few(_hidden(logs, masks, name, reference), each)


def family_size(plans: Mapping[str, Plan]) -> int:
    """Count the comparisons that yield something.

    Parameters
    ----------
    plans : mapping of str to Plan
        From :func:`plan_censored`.

    Returns
    -------
    int
        How many are not "none".

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> family_size({"A": Plan("fit"), "B": Plan("none", "single run")})
    1
    """
    return sum(plan.kind != "none" for plan in plans.values())


def _first_look(logs: Mapping[str, FloatArray], masks: Masks, name: str, reference: str) -> Plan:
    for group in (name, reference):
        if logs[group].size == 1:
            return Plan("none", f"{group}: {SINGLE_RUN}")
        if not masks[group].any() and np.ptp(logs[group]) == 0:
            return Plan("none", f"{group}: all runs gave the same value, so its spread is unknown")
    hidden = [group for group in (name, reference) if masks[group].all()]
    if len(hidden) == 2:
        return Plan(
            "none", f"all runs of {name} and of {reference} are censored, so nothing bounds their ratio"
        )
    if not hidden:
        return Plan("fit")
    seen = reference if hidden == [name] else name
    if _distinct(logs, masks, seen) < 2:
        return Plan(
            "none", f"all runs of {hidden[0]} are censored, and {seen} has too few uncensored for a limit"
        )
    return Plan("bound")


def _distinct(logs: Mapping[str, FloatArray], masks: Masks, name: str) -> int:
    return int(np.unique(logs[name][~masks[name]]).size)


def _hidden(logs: Mapping[str, FloatArray], masks: Masks, name: str, reference: str) -> int:
    return int(logs[name if masks[name].all() else reference].size)


def _too_few(n: int, each: float) -> Plan:
    own = 1 - sign_test_error(n)
    reason = f"{n} runs, all censored, bound a median with confidence {own:.4g} only"
    return Plan("none", f"{reason}, and the comparison needs more than {each:.4g}")
