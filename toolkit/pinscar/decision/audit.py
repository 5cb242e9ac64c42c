"""The fairness audit: every check, before any comparison is printed."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from pinscar.decision import (
    audit_conditions,
    audit_design,
    audit_factors,
)
from pinscar.decision.finding import Finding, Weight

CHECKS = (
    audit_conditions.unlike_conditions,
    audit_conditions.load_not_shared,
    audit_conditions.stepped_loads,
    audit_conditions.pin_preparation,
    audit_conditions.shaking,
    audit_conditions.timer_gaps,
    audit_design.confounded_with,
    audit_factors.factors,
    audit_factors.room,
    audit_factors.run_order,
    audit_design.reference_drift,
    audit_conditions.odd_settings,
    audit_conditions.doses,
    audit_conditions.notes,
    audit_design.strays,
    audit_design.outliers,
    audit_design.off_geometry,
    audit_design.wear_running,
    audit_design.few_repeats,
    audit_design.blind_reading,
)
"""The checks; each takes the included runs and the reference and yields findings."""


def audit(runs: pd.DataFrame, reference: str, elsewhere: Sequence[Finding] = ()) -> tuple[Finding, ...]:
    """Look for everything that makes a comparison less than fair."""
    included, excluded = runs[runs["excluded"] == ""], runs[runs["excluded"] != ""]
    found = [finding for check in CHECKS for finding in check(included, reference)]
    found.extend([*elsewhere, *audit_design.exclusions(included, excluded)])
    order = [Weight.BLOCKS, Weight.CAUTION, Weight.NOTE]
    return tuple(sorted(found, key=lambda finding: order.index(finding.severity)))
