"""Demo of a formulation study: two campaigns, eleven blends of one base oil and two additives. Invented data.

Truth, with the shares of AW-1 (a wear additive) and TK-2 (a tackifier) in percent: the film pressure is
58 MPa exp(0.85 AW / (0.8 + AW) + 0.015 TK), so AW-1 saturates; the fling is 40 mg exp(-0.20 TK); TK-2
thickens. Batches differ by 3 % of film pressure, campaigns by 4 %. Two blends were made again as a second
batch."""

from __future__ import annotations

import csv
import io
from datetime import datetime, timedelta

import numpy as np
from bench_log import Planned, run_row, table
from oils import SCATTER
from rig_text import CONVEYOR_CHAIN, campaign_text

from bench import Oil

SEED = 1616
BATCH_SPREAD = 0.03
CAMPAIGN_SPREAD = 0.04
DAY_SPREAD = 0.01
PRICES = {"ester E-68": 3.2, "AW-1": 14.0, "TK-2": 9.0}

#: Shares of AW-1 and TK-2 [%] of each oil; the ester is the balance. F-03b and F-08b are second batches.
AW_SERIES = {"R-10": (0.6, 1.0), "F-01": (0.0, 2.0), "F-02": (0.5, 2.0), "F-03": (1.0, 2.0),
             "F-04": (2.0, 2.0), "F-05": (3.0, 2.0), "F-06": (4.0, 2.0)}  # fmt: skip
TK_SERIES = {"R-10": (0.6, 1.0), "F-03b": (1.0, 2.0), "F-07": (1.0, 0.0), "F-08": (1.0, 4.0),
             "F-08b": (1.0, 4.0), "F-09": (1.0, 6.0), "F-10": (3.0, 6.0)}  # fmt: skip
BATCHES = {"F-03": "1", "F-03b": "2", "F-08": "1", "F-08b": "2"}
CAMPAIGNS = (
    ("conveyor_11", "conveyor-11", "Formulation study, wear additive", "How much AW-1 is enough for 95 MPa?",
     AW_SERIES, ("2026-05-05", "2026-05-06")),
    ("conveyor_12", "conveyor-12", "Formulation study, tackifier", "What does TK-2 cost in film and drag?",
     TK_SERIES, ("2026-05-19", "2026-05-20")),
)  # fmt: skip
CRITERION = """\
[[criteria]]
id = "film"
response = "film_pressure"
lubricant = "{oil}"
load = "450 N"
rule = "at least"
limit = "95 MPa"
"""
COMPONENTS = """\
[[components]]
id = "ester E-68"
price = "3.2 EUR/kg"

[[components]]
id = "AW-1"
price = "14 EUR/kg"
lowest = "0 %"
highest = "4 %"
step = "0.5 %"

[[components]]
id = "TK-2"
price = "9 EUR/kg"
lowest = "0 %"
highest = "6 %"
step = "1 %"
"""


def truth(aw: float, tk: float) -> Oil:
    """The invented oil of these shares [%]."""
    film = 58e6 * np.exp(0.85 * aw / (0.8 + aw) + 0.015 * tk)
    wear = 4.4e-14 * np.exp(-0.1 * aw)
    return Oil(film, 3.0e-4, wear, 40e-6 * np.exp(-0.20 * tk), 2.0 * np.exp(-0.3 * tk), 0.088 - 0.001 * aw)


def viscosity(tk: float) -> tuple[float, float, float]:
    """Kinematic viscosity at 40 and 100 degC [mm^2/s] and drive loss [W], as the laboratory found them."""
    forty = 62.0 * np.exp(0.06 * tk)
    return round(forty, 1), round(9.0 * np.exp(0.055 * tk), 2), round(196.0 * (forty / 62.0) ** 0.3, 0)


def price(aw: float, tk: float) -> float:
    """Cost of the components [EUR/kg]."""
    shares = {"ester E-68": 100.0 - aw - tk, "AW-1": aw, "TK-2": tk}
    return round(sum(PRICES[name] * share / 100.0 for name, share in shares.items()), 2)


def _rows(rng: np.random.Generator, oils: dict[str, tuple[float, float]], days: tuple[str, ...], letter: str,
          batches: dict[str, float]) -> list[dict[str, str]]:  # fmt: skip
    """The runs of a campaign: two of each oil a day, in random order."""
    campaign = CAMPAIGN_SPREAD * rng.standard_normal()
    rows = []
    for day in days:
        film = campaign + DAY_SPREAD * rng.standard_normal()
        clock = datetime.fromisoformat(f"{day}T08:10")
        plan = rng.permutation([oil for oil in oils for _ in range(2)])
        rings = rng.permutation(np.tile(["G-22", "G-31"], len(plan))[: len(plan)])
        for oil, ring in zip(plan, rings, strict=True):
            run = Planned(str(oil), 450, clock, str(ring), pin_lot="P-121", ambient=21.5,
                          film_effect=film + batches[str(oil)])  # fmt: skip
            rows.append(run_row(rng, f"{letter}-{len(rows) + 1:02d}", run, truth(*oils[str(oil)]), SCATTER))
            clock += timedelta(minutes=int(rng.integers(12, 16)))
    return rows


def _toml_oils(oils: dict[str, tuple[float, float]]) -> str:
    parts = []
    for oil, (aw, tk) in oils.items():
        forty, hundred, loss = viscosity(tk)
        role = "reference" if oil == "R-10" else "candidate"
        batch = f'batch = "{BATCHES[oil]}"\n' if oil in BATCHES else ""
        parts.append(
            f'[[lubricants]]\nid = "{oil}"\nrole = "{role}"\n{batch}'
            f'kinematic_viscosity_40 = "{forty} mm^2/s"\nkinematic_viscosity_100 = "{hundred} mm^2/s"\n'
            f'drive_loss = "{loss:.0f} W"\nprice = "{price(aw, tk):.2f} EUR/kg"\n'
            f'[lubricants.composition]\n"ester E-68" = "balance"\n"AW-1" = "{aw:g} %"\n"TK-2" = "{tk:g} %"\n'
        )
    return "\n".join(parts)


def _table_of_oils(oils: dict[str, tuple[float, float]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["lubricant", "role", "batch", "ester E-68 [%]", "AW-1 [%]", "TK-2 [%]",
                     "kinematic_viscosity_40 [mm^2/s]", "kinematic_viscosity_100 [mm^2/s]", "drive_loss [W]",
                     "price [EUR/kg]"])  # fmt: skip
    for oil, (aw, tk) in oils.items():
        role = "reference" if oil == "R-10" else "candidate"
        forty, hundred, loss = viscosity(tk)
        writer.writerow([oil, role, BATCHES.get(oil, ""), "balance", f"{aw:g}", f"{tk:g}", forty, hundred,
                         f"{loss:.0f}", f"{price(aw, tk):.2f}"])  # fmt: skip
    return out.getvalue()


def files() -> dict[str, str]:
    """Text of every file of the two campaigns, by its path under data_demo."""
    rng = np.random.default_rng(SEED)
    batches = {oil: BATCH_SPREAD * rng.standard_normal() for oil in {**AW_SERIES, **TK_SERIES}}
    made = {}
    for folder, identity, title, question, oils, days in CAMPAIGNS:
        letter = "A" if oils is AW_SERIES else "T"
        head = campaign_text(
            identity, title, question, about=("Formulation study: the oils of both campaigns have one base.",)
        )
        criterion = CRITERION.format(oil="F-04" if oils is AW_SERIES else "F-08")
        own = [_toml_oils(oils)] if oils is AW_SERIES else []
        made[f"formulation/{folder}/campaign.toml"] = "\n".join(
            [head, *own, COMPONENTS, criterion, CONVEYOR_CHAIN]
        )
        made[f"formulation/{folder}/runs.csv"] = table(_rows(rng, oils, days, letter, batches))
        if oils is TK_SERIES:
            made[f"formulation/{folder}/lubricants.csv"] = _table_of_oils(oils)
    return made
