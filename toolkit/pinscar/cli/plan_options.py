"""Options of ``pinscar plan``, and what those about blends do before the plan is made."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

Censored = Annotated[
    float | None, typer.Option(help="Share of the reference's runs still wearing at their end.")
]
Duration = Annotated[
    str | None, typer.Option(metavar='"60 s"', help="Duration of a run, instead of the pilot's.")
]
Blends = Annotated[
    list[Path] | None,
    typer.Option(
        metavar="DIR", help="Campaign whose formulation study proposes the oils of this one; repeatable."
    ),
]
Count = Annotated[int, typer.Option(min=1, help="With --blends: how many blends.")]
Aim = Annotated[str, typer.Option(metavar="improvement|D|I", help="With --blends: what they are chosen for.")]
Limits = Annotated[
    list[str] | None,
    typer.Option(metavar='"price at most 4 EUR/kg"', help="With --blends: a limit to keep; repeatable."),
]
BatchSize = Annotated[str, typer.Option(metavar='"500 g"', help="With --blends: mass of a batch.")]
Balance = Annotated[str, typer.Option(metavar='"0.01 g"', help="With --blends: step of the balance.")]


def write_blends(
    folder: Path,
    blends: Sequence[Path] | None,
    aim: str,
    count: int,
    limits: Sequence[str] | None,
    batch_size: str,
    balance: str,
    *,
    quiet: bool,
) -> None:
    """Write the blends to make next as a campaign, and tell what was written.

    Nothing without ``--blends``.
    """
    if not blends:
        return
    from pinscar import terminal
    from pinscar.study.formulation import next_campaign

    told = next_campaign.write_campaign(folder, blends, aim, count, limits or [], batch_size, balance)
    for line in () if quiet else told:
        terminal.say(line)
