"""What commands share: options, the command lines that end their help, what the shell offers at Tab."""

from __future__ import annotations

import os
from pathlib import Path
from types import MappingProxyType
from typing import Annotated

import typer

from pinscar.campaign.folder import ROOT

AsJson = Annotated[bool, typer.Option("--json", help="Print machine-readable output.")]
Folder = Annotated[Path, typer.Argument(metavar="DIR", help="Campaign folder.")]


def name_root(root: Path | None) -> None:
    """Let links and paths of campaigns lead into a folder around them, for this command."""
    if root is not None:
        os.environ[ROOT] = str(root.resolve())


Root = Annotated[
    Path | None,
    typer.Option(
        "--root",
        metavar="DIR",
        help="A folder around the campaign that its links and paths may lead into; else they stay in it.",
    ),
]


EXAMPLES = MappingProxyType(
    {
        "new": (
            "pinscar new my_campaign",
            "pinscar new my_campaign --xlsx",
            'pinscar new spring --candidates C-21,C-22 --load "450 N, 900 N" --yes',
            "pinscar new --demo conveyor_07 practice",
        ),
        "check": (
            "pinscar check my_campaign",
            "pinscar check my_campaign --show",
            "pinscar check my_campaign --all",
        ),
        "report": (
            "pinscar report my_campaign",
            "pinscar report my_campaign --no-pdf --watch",
            "pinscar report spring/* --jobs 2 --out reports",
            "pinscar report my_campaign -p confidence=0.9",
            "pinscar report rig/2025-* -t rig_control",
            "pinscar report lab/* --cluster tcp://10.0.0.1:8786",
        ),
        "index": ("pinscar index lab", "pinscar index spring autumn --out year.html"),
        "plan": (
            "pinscar plan next_campaign --pilot last_campaign",
            "pinscar plan next_campaign --log-sd 0.08 --ratio 0.85 --days 3",
            "pinscar plan next_campaign --log-sd 0.08 --xlsx",
            'pinscar plan next_blends --blends last_campaign --batch-size "500 g"',
        ),
        "sheet": ("pinscar sheet my_campaign", "pinscar sheet my_campaign --blind"),
        "gather": ("pinscar gather my_campaign", "pinscar gather my_campaign --force"),
        "scar": (
            "pinscar scar micrographs/c07-01.jpg --scale 18um/px",
            "pinscar scar scar.png --scale 2.5um/px --overlay outline.png",
            "pinscar scar scar.png --bar 0.5mm",
            "pinscar scar clip.mp4 --at 12.5s --scale 18um/px",
        ),
        "graticule": (
            "pinscar graticule lines.png --pitch 0.1mm",
            "pinscar graticule scar.png --bar 0.5mm",
        ),
        "fling": (
            'pinscar fling fling/c07-01.jpg --card "150mm x 100mm"',
            'pinscar fling card.jpg --card "6in x 4in" --overlay drops.png',
        ),
        "sign": (
            "pinscar sign my_record/report.pdf --key me.p12 --as author",
            "pinscar sign my_record --key ~/.ssh/id_ed25519 --detached",
        ),
        "verify": ("pinscar verify my_campaign/report", "pinscar verify my_campaign/report --rerun"),
        "diff": ("pinscar diff spring/report autumn/report",),
        "doctor": ("pinscar doctor", "pinscar doctor --json"),
    }
)
"""Command lines by command."""


def examples(command: str) -> str:
    """Return the end of a command's help.

    Examples
    --------
    >>> examples("graticule").splitlines()[1:]
    ['Examples:', '  pinscar graticule lines.png --pitch 0.1mm', '  pinscar graticule scar.png --bar 0.5mm']
    """
    return "\n".join(["\b", "Examples:", *(f"  {line}" for line in EXAMPLES[command])])


def templates(incomplete: str) -> list[str]:
    """Offer the templates.

    Examples
    --------
    >>> "campaign_report" in templates("camp")
    True
    """
    from pinscar.shipped import template_names

    return [name for name in template_names() if name.startswith(incomplete)]


def demos(incomplete: str) -> list[str]:
    """Offer the demo campaigns.

    Examples
    --------
    >>> "conveyor_07" in demos("")
    True
    """
    from pinscar.bench.prepare import demo_names

    return [name for name in demo_names() if name.startswith(incomplete)]


def parameters(context: typer.Context, incomplete: str) -> list[str]:
    """Offer the parameters of the template that was typed before, or of the usual one."""
    from pinscar.errors import PinscarError
    from pinscar.press.template import read_template
    from pinscar.shipped import find_template

    try:
        chosen = read_template(find_template(context.params.get("template") or "campaign_report"))
    except PinscarError:
        return []
    return [
        f"{name}="
        for name in chosen.declared
        if name not in ("folder", "folders") and name.startswith(incomplete)
    ]
