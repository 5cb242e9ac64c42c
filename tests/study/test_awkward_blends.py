"""Awkward but valid campaigns of blends: a page comes of each, or one clear line."""

from __future__ import annotations

import json
import resource
import time

import pytest
from awkward_blends import (
    CASES,
    five_components,
    folders,
    many_components,
    nothing_shared,
    two_blends,
    unequal,
)

from pinscar.campaign.campaign import read_campaign
from pinscar.errors import InputError
from pinscar.stats.augment import MOST
from pinscar.study.formulation import page
from pinscar.study.formulation.results import formulation_results
from pinscar.study.formulation.study import Asked, study_formulation

QUICK = [two_blends, unequal, five_components]
SLOW = [one for one in CASES if one not in (*QUICK, nothing_shared)]
PARTS = ("front", "doses", "components", "viscosity", "tradeoff", "next_blends", "made")


def whole_page(where) -> tuple[page.FormulationReport, str]:
    """The study, and all its sections as markup."""
    report = page.load([str(one) for one in where])
    return report, "".join(getattr(page, part)(report).data for part in PARTS)


@pytest.mark.parametrize(
    "case",
    [*QUICK, *(pytest.param(one, marks=pytest.mark.slow) for one in SLOW)],
    ids=lambda one: one.__name__,
)
def test_a_page_comes_of_it(case, tmp_path):
    report, html = whole_page(folders(case, tmp_path))
    assert "nan" not in html.lower().replace("nano", "")
    assert "infinit" not in html.lower()
    json.dumps(formulation_results(report.study), allow_nan=False)


def test_campaigns_without_a_common_oil_are_refused_in_one_line(tmp_path):
    with pytest.raises(InputError, match="have different references: P-0 and P-4"):
        whole_page(folders(nothing_shared, tmp_path))


def test_thirty_components_in_fine_steps_end_soon_and_in_little_memory(tmp_path):
    (folder,) = folders(many_components, tmp_path)
    started = time.process_time()
    study = study_formulation([read_campaign(folder)], Asked(limits=("fling_mass at most 20.5 mg",)))
    assert time.process_time() - started < 20.0
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss < 1024 * 1024
    assert len(study.proposals.blends) == 3
    assert "were looked at" in study.proposals.remarks[0]
    assert study.proposals.candidates <= MOST
