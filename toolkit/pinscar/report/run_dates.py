"""On which days runs were made, in words."""

from __future__ import annotations

import pandas as pd

from pinscar.decision.wording import date_range


def run_days(runs: pd.DataFrame) -> list[str]:
    """List the days that runs were made on.

    Parameters
    ----------
    runs : DataFrame
        Runs with ``run_day``, ISO 8601; blank where nobody noted it.

    Returns
    -------
    list of str
        Each day once, in order.

    Examples
    --------
    >>> run_days(pd.DataFrame({"run_day": ["2026-04-16", "", "2026-04-14", None]}))
    ['2026-04-14', '2026-04-16']
    """
    return sorted({day for day in runs["run_day"].dropna() if day})


def when_run(runs: pd.DataFrame) -> str:
    """Say when runs were made.

    Parameters
    ----------
    runs : DataFrame
        Runs with ``run_day``.

    Returns
    -------
    str
        A few words.

    Examples
    --------
    >>> when_run(pd.DataFrame({"run_day": [""]}))
    'dates of the runs not recorded'
    """
    days = run_days(runs)
    return f"runs of {date_range(days)}" if days else "dates of the runs not recorded"
