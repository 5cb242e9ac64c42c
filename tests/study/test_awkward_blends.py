"""Awkward but valid campaigns of blends: a page comes of each, or one clear line."""

from __future__ import annotations

import json
import os
import subprocess
import sys

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
from pinscar.stats.blend_choice import MOST
from pinscar.study.formulation import page
from pinscar.study.formulation.results import formulation_results
from pinscar.study.formulation.study import Asked, study_formulation

ONE_CORE = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
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
    # a process of its own: what this one has used already is none of the study's doing
    asked = (
        "import sys, time; from pathlib import Path; from pinscar.campaign.campaign import read_campaign; "
        "from pinscar.study.formulation.study import Asked, study_formulation as study; "
        "study([read_campaign(Path(sys.argv[1]))], Asked(limits=('fling_mass at most 20.5 mg',))); "
        "told = Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0]; "
        "print(time.process_time(), told)"
    )
    done = subprocess.run(
        [sys.executable, "-c", asked, str(folder)], capture_output=True, text=True, check=True, env=ONE_CORE
    )
    seconds, memory = map(float, done.stdout.split())
    assert seconds < 20.0
    assert memory < 1024 * 1024
    study = study_formulation([read_campaign(folder)], Asked(limits=("fling_mass at most 20.5 mg",)))
    assert len(study.proposals.blends) == 3
    assert "were looked at" in study.proposals.remarks[0]
    assert study.proposals.candidates <= MOST
