"""Demo of a product range: three campaigns over half a year that share R-10. Invented data.

Truth: campaigns differ by 5 % of film pressure, which the shared reference oil takes out. C-21 was in two.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from bench_log import Planned, run_row, table
from oils import OILS, SCATTER
from rig_text import CONVEYOR_CHAIN, HOIST_CHAIN, campaign_text, lubricants_text

SEED = 1505
CAMPAIGN_SPREAD = 0.05
DAY_SPREAD = 0.03


@dataclass(frozen=True)
class Campaign:
    """One campaign of the range."""

    folder: str
    identity: str
    title: str
    question: str
    days: tuple[str, ...]
    roles: dict[str, str]
    chain: str
    runs_a_day: tuple[int, ...] = (3, 2)


CAMPAIGNS = (
    Campaign(
        "conveyor_05",
        "conveyor-05",
        "Conveyor-chain oils, campaign 5",
        "Is a change of base oil enough?",
        ("2025-10-21", "2025-10-22"),
        {"R-10": "reference", "C-18": "candidate", "C-19": "candidate", "B-05": "benchmark"},
        CONVEYOR_CHAIN,
    ),
    Campaign(
        "conveyor_06",
        "conveyor-06",
        "Conveyor-chain oils, campaign 6",
        "Which of the two new additive packages carries more?",
        ("2026-02-17", "2026-02-18"),
        {"R-10": "reference", "C-20": "candidate", "C-21": "candidate"},
        CONVEYOR_CHAIN,
    ),
    Campaign(
        "hoist_02",
        "hoist-02",
        "Hoist-chain oils, campaign 2",
        "Does the conveyor candidate serve the hoist too?",
        ("2026-03-24", "2026-03-25"),
        {"R-10": "reference", "H-11": "candidate", "H-12": "candidate", "C-21": "candidate"},
        HOIST_CHAIN,
    ),
)


def _plan(rng: np.random.Generator, campaign: Campaign) -> list[Planned]:
    """The runs of a campaign, in random order within each day."""
    effect = CAMPAIGN_SPREAD * rng.standard_normal()
    plan = []
    for index, day in enumerate(campaign.days):
        oils = [oil for oil in campaign.roles for _ in range(campaign.runs_a_day[index])]
        film = effect + DAY_SPREAD * rng.standard_normal()
        clock = datetime.fromisoformat(f"{day}T08:20")
        rings = rng.permutation(np.tile(["G-22", "G-31"], len(oils))[: len(oils)])
        for oil, ring in zip(rng.permutation(oils), rings, strict=True):
            plan.append(
                Planned(
                    str(oil), 450, clock, str(ring), pin_lot="P-110", ambient=21.2 + index, film_effect=film
                )
            )
            clock += timedelta(minutes=int(rng.integers(12, 16)))
    return plan


def files() -> dict[str, str]:
    """Text of every file of the three campaigns, by its path under data_demo."""
    rng = np.random.default_rng(SEED)
    made = {}
    for campaign in CAMPAIGNS:
        prefix = "".join(word[0].upper() for word in campaign.identity.split("-")[:1]) + campaign.identity[-1]
        rows = [
            run_row(rng, f"{prefix}-{number:02d}", run, OILS[run.lubricant], SCATTER)
            for number, run in enumerate(_plan(rng, campaign), start=1)
        ]
        head = campaign_text(
            campaign.identity,
            campaign.title,
            campaign.question,
            about=(
                "Product range: this campaign and the two beside it share R-10 and are compared through it.",
            ),
        )
        text = "\n".join([head, lubricants_text(campaign.roles), campaign.chain])
        made |= {
            f"range/{campaign.folder}/campaign.toml": text,
            f"range/{campaign.folder}/runs.csv": table(rows),
        }
    return made
