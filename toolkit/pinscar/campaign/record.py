"""A campaign as it was read: what stands in its files, checked, in SI units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from pinscar.campaign.model import CampaignFile
from pinscar.problems import Problem


@dataclass(frozen=True, kw_only=True)
class Campaign:
    """A campaign that was read and has no errors.

    Attributes
    ----------
    folder : Path
        Where it lies.
    file : CampaignFile
        campaign.toml, quantities in SI.
    runs : DataFrame
        One row per run, excluded ones too, in the order of the file; SI numbers. Beside the file's columns:
        ``row`` (as a spreadsheet shows it), ``scar_from`` and ``width_from`` ("runs", "readings" or "") and
        ``read_by_code`` (whether the length is from readings that all have a blind code).
    load_steps : DataFrame
        ``run_id``, ``start`` [s], ``load`` [N]; every stepped run from start 0 on.
    readings : DataFrame
        ``run_id``, ``reader``, ``reading``, ``scar_length`` [m], ``scar_width`` [m], ``blind_code``.
    units : dict of str to str
        Unit of each numeric column of the runs, as its header has it.
    problems : tuple of Problem
        Warnings.
    inputs : dict of str to str
        SHA-256 of each file, by path relative to the folder.
    headers : dict of str to str
        Header of each column of the runs that the file has, as written there.
    control : tuple of Campaign
        The campaigns of reference-oil checks that campaign.toml names, without their own.
    traces : mapping of str to DataFrame
        By run_id, of the included runs that have one; of very many, all but the first are read from their
        files when they are asked for (`pinscar.campaign.kept_traces.Traces`). ``time`` [s],
        ``friction_force`` [N], ``motor_power`` [W], ``temperature`` [K]; NaN where a reading is missing.
    history : tuple of Campaign
        The earlier campaigns that campaign.toml names, without their own.
    reference_history : tuple of Campaign
        Those whose reference oil and other oils are shown beside this campaign's, without their own.
    """

    folder: Path
    file: CampaignFile
    runs: pd.DataFrame
    load_steps: pd.DataFrame
    readings: pd.DataFrame
    units: dict[str, str]
    problems: tuple[Problem, ...]
    inputs: dict[str, str]
    headers: dict[str, str] = field(default_factory=dict)
    control: tuple[Campaign, ...] = ()
    traces: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    history: tuple[Campaign, ...] = ()
    reference_history: tuple[Campaign, ...] = ()
