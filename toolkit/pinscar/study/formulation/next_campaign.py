"""The next blends as a campaign folder: campaign.toml and the table to weigh them out by."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from pathlib import Path

from pinscar.campaign.model import Campaign
from pinscar.campaign.toml_file import toml_string
from pinscar.decision.check import check_all
from pinscar.errors import InputError, UsageError
from pinscar.press.files import cannot_write, put_file
from pinscar.study.formulation.blends import percent, weigh_out
from pinscar.study.formulation.proposals import AIMS, Proposal, blend_text, foreseen_text
from pinscar.study.formulation.study import Asked, FormulationStudy, study_formulation
from pinscar.units import UnitError, parse_quantity

KEPT = ("rig", "rig.pin", "rig.ring", "components", "service")
"""Sections of campaign.toml that the next campaign takes over as they stand."""
CAUTION = (
    "# The tool knows nothing of solubility, reactions, hazards or compatibility: read the safety data "
    "sheets\n"
    "# and ask a qualified chemist before anything is mixed.\n"
)
TOML, SHEET = "campaign.toml", "weigh_out.csv"


def write_campaign(
    folder: Path,
    sources: Sequence[Path],
    aim: str,
    count: int,
    limits: Sequence[str],
    batch_size: str,
    balance: str,
) -> list[str]:
    """Study campaigns and write the blends to make next as a campaign of their own."""
    if (folder / TOML).exists():
        raise UsageError(f"{folder} already has a campaign.toml; plan the blends in a new folder")
    if aim not in AIMS:
        raise UsageError(f"the aim must be improvement, D or I, not {aim!r}")
    masses = [_mass(batch_size, "--batch-size"), _mass(balance, "--balance")]
    campaigns = _read(sources)
    asked = Asked(limits=tuple(limits), aim=aim, count=count)  # type: ignore[arg-type]
    study = study_formulation(campaigns, asked)
    if study.proposals is None:
        raise UsageError(f"no blend can be proposed: {study.no_proposals}")
    names = _new_names(study, len(study.proposals.blends))
    try:
        sheet = weigh_out_text(study, names, masses[0], masses[1])
    except ValueError as failure:
        raise UsageError(f"--batch-size and --balance: {failure}") from failure
    text = campaign_text(study, names, folder.name, (campaigns[-1].folder / TOML).read_text("utf-8-sig"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        put_file(folder / TOML, text.encode("utf-8"))
        put_file(folder / SHEET, sheet.encode("utf-8"))
    except OSError as error:
        raise cannot_write(folder, error) from error
    told = [
        f"{name}: {_plain(blend_text(study.blends.components, one.shares.tolist()))}; "
        f"{_plain(foreseen_text(one))}"
        for name, one in zip(names, study.proposals.blends, strict=True)
    ]
    return [*told, f"weigh out by {folder / SHEET}; first the safety data sheets and a qualified chemist"]


def _read(sources: Sequence[Path]) -> list[Campaign]:
    found, wrong = [], []
    for one in sources:
        campaign, problems = check_all(one)
        if campaign is None:
            wrong += problems
        else:
            found.append(campaign)
    if wrong:
        raise InputError(wrong)
    return found


def _mass(text: str, name: str) -> float:
    try:
        return parse_quantity(text, "mass")
    except UnitError as wrong:
        raise UsageError(f"{name}: {wrong.message}; {wrong.mend}") from wrong


def _plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def _new_names(study: FormulationStudy, count: int) -> list[str]:
    """Name the new blends N-01 and on, past any that are there."""
    taken = {oil.id for one in study.campaigns for oil in one.file.lubricants}
    free = (f"N-{number:02d}" for number in range(1, 1000))
    return [name for name in free if name not in taken][:count]


def campaign_text(study: FormulationStudy, names: Sequence[str], campaign_id: str, last: str) -> str:
    """Write campaign.toml of the next campaign."""
    proposals = study.proposals.blends if study.proposals else ()
    mark = " (invented demo data)" if "invented" in last.partition("\n")[0].lower() else ""
    head = "# Invented data: no such oils, rig or line exist.\n" if mark else ""
    head += f"# Blends proposed by the formulation study of {', '.join(_ids(study))}.\n{CAUTION}"
    section = "\n".join(
        [
            "[campaign]",
            f"id = {toml_string(campaign_id)}",
            f"title = {toml_string('Next blends' + mark)}",
            f"question = {toml_string('Do the blends carry what was foreseen?')}",
            f"reference = {toml_string(study.reference)}",
            f"confidence = {study.confidence:g}",
            'block = "run_day"',
        ]
    )
    parts = [head + "\n" + section, *_kept_blocks(last), _reference_block(study)]
    parts += [_oil_block(study, name, one) for name, one in zip(names, proposals, strict=True)]
    parts += _criteria_blocks(study, names)
    return "\n\n".join(part.strip() for part in parts if part.strip()) + "\n"


def _ids(study: FormulationStudy) -> list[str]:
    return [one.file.campaign.id for one in study.campaigns]


def _kept_blocks(text: str) -> list[str]:
    """Take the blocks of a TOML text that begin with one of the sections kept."""
    blocks = re.split(r"(?m)^(?=\s*\[\[?[\w.]+\]\]?\s*(?:#.*)?$)", text)
    found = []
    for block in blocks:
        header = re.match(r"\s*\[\[?([\w.]+)\]", block)
        if header and header.group(1) in KEPT:
            found.append(block)
    return found


def _reference_block(study: FormulationStudy) -> str:
    own = [one for one in study.blends.batches if one.lubricant == study.reference]
    lines = ["[[lubricants]]", f"id = {toml_string(study.reference)}", 'role = "reference"']
    if own:
        lines += [f'batch = "{own[0].batch}"'] if own[0].batch else []
        lines += ["[lubricants.composition]", *_shares(study, own[0].shares.tolist())]
    return "\n".join(lines)


def _oil_block(study: FormulationStudy, name: str, proposal: Proposal) -> str:
    lines = [
        f"# {_plain(foreseen_text(proposal))}; {_plain(proposal.reason)}",
        "[[lubricants]]",
        f"id = {toml_string(name)}",
        'role = "candidate"',
    ]
    if proposal.price is not None:
        lines.append(f'price = "{proposal.price:.4g} {study.blends.currency}/kg"')
    return "\n".join([*lines, "[lubricants.composition]", *_shares(study, proposal.shares.tolist())])


def _shares(study: FormulationStudy, shares: Sequence[float]) -> list[str]:
    lines = [f'{toml_string(study.blends.components[0])} = "balance"']
    for name, share in zip(study.blends.components[1:], shares[1:], strict=True):
        lines.append(f'{toml_string(name)} = "{percent(share)} %"')
    return lines


def _criteria_blocks(study: FormulationStudy, names: Sequence[str]) -> list[str]:
    """Ask the campaigns' own limit on the response of each new blend too."""
    found = []
    limit = study.limit
    for name in names if limit is not None else ():
        amount = (limit.text if limit else "").removeprefix("at least ").removeprefix("at most ")
        found.append(
            "\n".join(
                [
                    "[[criteria]]",
                    f"id = {toml_string(f'{study.response.name}-{name}')}",
                    f"response = {toml_string(study.response.name)}",
                    f"lubricant = {toml_string(name)}",
                    f'load = "{study.runs.load_level:.4g} N"',
                    f"rule = {toml_string(limit.side if limit else '')}",
                    f"limit = {toml_string(amount)}",
                ]
            )
        )
    return found


def weigh_out_text(study: FormulationStudy, names: Sequence[str], batch: float, resolution: float) -> str:
    """Write the table to weigh the blends out by."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["lubricant", "component", "mass [g]", "share [%]", "note"])
    for name, one in zip(names, study.proposals.blends if study.proposals else (), strict=True):
        sheet = weigh_out(study.blends.components, one.shares, batch, resolution)
        for component, mass, share in zip(sheet.names, sheet.masses, sheet.shares, strict=True):
            if mass == 0.0:
                continue
            note = "coarse on this balance: make a premix" if component in sheet.coarse else ""
            writer.writerow([name, component, f"{1e3 * mass:.6g}", percent(share), note])
    return out.getvalue()
