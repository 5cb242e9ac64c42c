"""Checks of ``[report]`` against the folder and the runs: the logo, and dates that contradict each other."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from pinscar.campaign.codes import Place, error
from pinscar.campaign.folder import is_absolute, is_outside, root_of
from pinscar.campaign.logo import LogoError, read_logo
from pinscar.campaign.model import CampaignFile
from pinscar.problems import Problem

FILE = "campaign.toml"


def check_report(folder: Path, file: CampaignFile, runs: pd.DataFrame | None) -> list[Problem]:
    """Check what a report's head says."""
    return [*_logo(folder, file), *_dates(file, runs), *_revision(file)]


def _logo(folder: Path, file: CampaignFile) -> Iterator[Problem]:
    name = None if file.report is None else file.report.logo
    if name is None:
        return
    place: Place = {"column": "report.logo", "value": name}
    if is_absolute(name) or is_outside(folder / name, root_of(folder)):
        message = "the logo lies outside the campaign folder, and is not read"
        mend = "copy it into the folder, or name a folder around both: --root"
        yield error("logo-outside", FILE, message, mend, **place)
        return
    try:
        read_logo(folder / name)
    except LogoError as wrong:
        yield error("logo-unusable", FILE, f"the logo can't be used: {wrong.message}", wrong.mend, **place)


def days_of(runs: pd.DataFrame) -> list[dt.date]:
    """List the days of the included runs."""
    there = runs.loc[runs["excluded"] == "", "run_day"]
    return sorted({dt.date.fromisoformat(one) for one in there if one})


def _dates(file: CampaignFile, runs: pd.DataFrame | None) -> Iterator[Problem]:
    days = [] if runs is None else days_of(runs)
    issued = None if file.report is None else file.report.issued
    if issued and days and issued < days[-1]:
        message = f"the report is dated before the last run, {days[-1].isoformat()}"
        place: Place = {"column": "report.issued", "value": issued.isoformat()}
        yield error("report-date", FILE, message, "correct the one or the other", **place)
    for number, oil in enumerate(file.lubricants, start=1):
        sample = oil.sample
        if sample is None:
            continue
        column = f"lubricants[{number}].sample"
        if sample.taken and sample.received and sample.received < sample.taken:
            message = f"the sample was received before it was taken, {sample.taken.isoformat()}"
            yield _of_sample(f"{column}.received", sample.received, message)
        own = [] if runs is None else days_of(runs[runs["lubricant"] == oil.id])
        if sample.received and own and own[0] < sample.received:
            message = f"the sample was received after the first run of {oil.id}, {own[0].isoformat()}"
            yield _of_sample(f"{column}.received", sample.received, message)


def _of_sample(column: str, day: dt.date, message: str) -> Problem:
    return error(
        "report-date", FILE, message, "correct the one or the other", column=column, value=day.isoformat()
    )


def _revision(file: CampaignFile) -> Iterator[Problem]:
    """Ask for what tells a report from the one that it replaces."""
    report = file.report
    if report is None or report.replaces is None:
        return
    if report.replaces == report.number and report.revision is None:
        message = "the report replaces one of the same number, and has no revision to be told from it"
        place: Place = {"column": "report.replaces", "value": report.replaces}
        yield error("report-replaces", FILE, message, "add a line such as revision = 2", **place)
