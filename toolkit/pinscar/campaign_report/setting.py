"""Tables of the question and the setting, and where a report comes from: files, versions, methods."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Mapping
from importlib.metadata import version

import numpy as np
import pandas as pd
from markupsafe import Markup

from pinscar import __version__
from pinscar.campaign.model import Lubricant
from pinscar.decision import words
from pinscar.decision.judgements import ClaimResult, Support
from pinscar.decision.record import Analysis
from pinscar.decision.runs import run_days
from pinscar.page.markup import finding, key_value, key_value_halves, table, tag
from pinscar.shown import to_shown
from pinscar.wording import (
    counted,
    date_range,
    listing,
    load_text,
    percentage,
    sentence,
    significant,
)

FITS = 24
"""Most files whose table is kept whole on a printed page."""
PACKAGES = (
    "numpy",
    "scipy",
    "pandas",
    "matplotlib",
    "pint",
    "papermill",
    "nbconvert",
    "weasyprint",
)


def provenance_html(analysis: Analysis) -> Markup:
    """Show the hashes of the inputs and the versions of what made the report."""
    return inputs_html(analysis.campaign.inputs)


def short_provenance_html(inputs: Mapping[str, str]) -> Markup:
    """Show the hash of each input of the folder, one for each folder of evidence, and the versions."""
    rows = [
        [name, Markup('<code class="hash">{}<wbr>{}</code>').format(digest[:32], digest[32:])]
        for name, digest in inputs_by_folder(inputs).items()
    ]
    note = (
        "The digest of a folder is that of its files' digests: sha256sum FOLDER/* | sha256sum. manifest.json "
        "has each file."
    )
    files = table(["File", "SHA-256"], rows, caption="Input files", key="inputs", note=note)
    return Markup("\n").join([_opener(inputs), files, _versions()])


def one_line(analysis: Analysis) -> str:
    """Say in one line what the report rests on."""
    return (
        f"Made by pinscar {__version__} from {counted(len(analysis.campaign.inputs), 'input file')}; "
        "manifest.json has their digests."
    )


def inputs_html(inputs: Mapping[str, str]) -> Markup:
    """Show the hashes of some inputs and the versions of what made the report."""
    rows = [
        # A long file name leaves no room for the whole hash on one line of a printed page.
        [name, Markup('<code class="hash">{}<wbr>{}</code>').format(digest[:32], digest[32:])]
        for name, digest in sorted(inputs.items())
    ]
    files = table(["File", "SHA-256"], rows, caption="Input files", key="inputs", long=len(rows) > FITS)
    return Markup("\n").join([_opener(inputs), files, _versions()])


def _versions() -> Markup:
    versions = {
        "pinscar": __version__,
        "Python": platform.python_version(),
        **{name: version(name) for name in PACKAGES},
    }
    return key_value({"Versions": ", ".join(f"{k} {v}" for k, v in versions.items())})


def _opener(inputs: Mapping[str, str]) -> Markup:
    return finding(
        f"The report rests on {len(inputs)} input files; the same files and versions give the same "
        "report, byte for byte."
    )


def inputs_by_folder(inputs: Mapping[str, str]) -> dict[str, str]:
    """Give the digest of each file of the campaign folder, and one for the files of each folder in it.

    The digest of a folder is the SHA-256 of what the command ``sha256sum`` writes of its files in the order
    of their names, run in the campaign folder: ``sha256sum traces/* | sha256sum``.

    Examples
    --------
    >>> list(inputs_by_folder({"traces/b.csv": "2" * 64, "runs.csv": "1" * 64, "traces/a.csv": "3" * 64}))
    ['runs.csv', 'traces/ (2 files)']
    """
    files = {name: digest for name, digest in sorted(inputs.items()) if "/" not in name}
    lists: dict[str, list[str]] = {}
    for name, digest in sorted(inputs.items()):
        if "/" in name:
            lists.setdefault(name.rsplit("/", 1)[0], []).append(f"{digest}  {name}\n")
    return files | {
        f"{folder}/ ({counted(len(lines), 'file')})": hashlib.sha256("".join(lines).encode()).hexdigest()
        for folder, lines in lists.items()
    }


GRAVEST = ("not met", "undecided", "met")
WHOLE_FINDINGS = 8
"""Findings, two lines each, that stay together on a page; more may break over two."""


def criteria_table(analysis: Analysis, most: int | None = None) -> Markup:
    """Tabulate the release limits with their verdicts, all or the first so many."""
    results = analysis.criteria
    if most is not None and len(results) > most:
        # What is cut must not be what decides.
        results = tuple(sorted(results, key=lambda one: GRAVEST.index(str(one.verdict)))[:most])
    left = len(analysis.criteria) - len(results)
    rows = [
        [
            result.criterion.id,
            tag(str(result.verdict)),
            words.requirement(result),
            sentence(words.because(result)),
            _further(result.further_repeats, undecided=str(result.verdict) == "undecided"),
        ]
        for result in results
    ]
    return table(
        ["Limit", "Verdict", "Required", "Because", "Further runs per lubricant"],
        rows,
        caption="Release limits and verdicts",
        key="criteria",
        note=(
            "Met: the whole interval lies on the right side of the limit. Not met: the whole interval lies "
            "on the wrong side. Undecided: the interval spans the limit, or there is none. Further runs: "
            "additional repeats of each lubricant concerned that would settle the limit with a chance of "
            "about 80 %, if estimate and spread stay as they are."
            + (f" {left} more limits stand in the standard report." if left else "")
        ),
    )


def claims_table(analysis: Analysis) -> Markup:
    """Tabulate the claims with what the data say of them."""
    kinds = {Support.SUPPORTED: "met", Support.NOT_SUPPORTED: "not met", Support.REFUSED: "blocks"}
    rows = [
        [
            sentence(words.claimed(result)),
            tag(kinds[result.support], str(result.support).capitalize()),
            _because(analysis, result),
            "none" if (wording := words.wording(result)) is None else sentence(wording),
        ]
        for result in analysis.claims
    ]
    return table(
        ["Claim", "Support", "Because", "Strongest wording that the data support"],
        rows,
        caption="Claims and what the data support",
        key="claims",
        row_heads=False,
        note=(
            f"{percentage(analysis.confidence)} confidence holds for all claims together (Bonferroni). A "
            "wording holds for "
            "this bench, these loads, durations, batches and oils, and for the day it was measured."
        ),
    )


def _because(analysis: Analysis, result: ClaimResult) -> str:
    beside = words.beside_comparison(result, analysis.comparisons)
    return " ".join(filter(None, (sentence(words.claim_because(result)), beside)))


def lubricants_table(analysis: Analysis) -> Markup:
    """Tabulate the lubricants with their properties and numbers of runs."""
    file, included = analysis.campaign.file, analysis.included
    declared = {one.id: one for one in file.lubricants}
    levels = sorted(included["load_level"].dropna().unique())
    rows = []
    for name in analysis.oils:
        own = included[included["lubricant"] == name]
        counts = [str(int((own["load_level"] == level).sum())) for level in levels]
        rows.append([name, file.role_of(name), *_properties(declared.get(name)), *counts])
    return table(
        [
            "Oil",
            "Role",
            ("Viscosity, 40 °C", "mm²/s"),
            ("Viscosity, 100 °C", "mm²/s"),
            ("Density, 15 °C", "kg/m³"),
            *[f"Runs at {load_text(level)}" for level in levels],
        ],
        rows,
        caption="Lubricants and repeats; excluded runs are not counted",
        key="lubricants",
        number_columns=range(2, 5 + len(levels)),
    )


def conditions(analysis: Analysis) -> Markup:
    """List how the runs were made."""
    return key_value_halves(condition_facts(analysis, analysis.included))


def condition_facts(analysis: Analysis, runs: pd.DataFrame) -> dict[str, str]:
    """Collect how some of the runs were made."""
    rig = analysis.campaign.file.rig
    days, step = run_days(runs), rig.reading_resolution
    return {
        "Contact": _contact_words(analysis),
        "Load": f"{_levels(runs)}, by dead weights",
        "Duration": _spread_of_setting(runs["duration"], "s"),
        "Sliding speed": _spread_of_setting(runs["sliding_speed"], "m/s"),
        "Sliding distance": _spread_of_setting(runs["sliding_distance"], "m"),
        "Days": f"{counted(len(days), 'day')}, {date_range(days)}" if days else "not recorded",
        "Rings": _names(runs["ring_id"]),
        "Pins": _names(runs["pin_state"]),
        "Operators": _names(runs["operator"]),
        "Uncertainty of load": _uncertainty(rig.load_uncertainty, "%"),
        "Uncertainty of a reading": _uncertainty(rig.reading_uncertainty, "mm"),
    } | ({} if step is None else {"Step of a reading": f"{significant(to_shown(step, 'mm'))} mm"})


def findings_table(analysis: Analysis) -> Markup:
    """Tabulate the findings of the fairness audit."""
    rows = [
        [
            tag(str(f.severity), str(f.severity).capitalize()),
            Markup("<strong>{}</strong> {}").format(f.message, f.effect),
            _run_list(f.runs),
        ]
        for f in analysis.audited
    ]
    return table(
        ["Weight", "What was found, and what it does to the conclusion", "Runs"],
        rows,
        caption="Fairness of the comparison",
        key="audit",
        row_heads=False,
        long=len(rows) > WHOLE_FINDINGS,
    )


def problems_table(analysis: Analysis) -> Markup | None:
    """Tabulate the warnings that the check of the folder gave."""
    problems = analysis.campaign.problems
    if not problems:
        return None
    rows = [
        [
            p.file,
            str(p.row) if p.row is not None else "–",
            p.column or "–",
            p.value if p.value else "–",
            f"{sentence(p.message)[:-1]}; {p.mend}.",
        ]
        for p in problems
    ]
    return table(
        ["File", "Row", "Column", "Found", "Warning"],
        rows,
        caption="Warnings of the check",
        key="warnings",
        row_heads=False,
        long=True,
    )


def _properties(lubricant: Lubricant | None) -> list[str]:
    if lubricant is None:
        return ["not stated"] * 3
    values = (
        (lubricant.kinematic_viscosity_40, "mm²/s"),
        (lubricant.kinematic_viscosity_100, "mm²/s"),
        (lubricant.density_15, "kg/m³"),
    )
    return ["not stated" if value is None else f"{to_shown(value, unit):.4g}" for value, unit in values]


def _contact_words(analysis: Analysis) -> str:
    rig = analysis.campaign.file.rig
    parts = [rig.geometry.replace("-", " ")]
    on_disc, on_block = rig.geometry == "ball-on-disc", rig.geometry == "block-on-ring"
    if rig.pin_diameter is not None and not on_block:
        parts.append(f"{'ball' if on_disc else 'pin'} {to_shown(rig.pin_diameter, 'mm'):g} mm")
    parts.append(f"{'track' if on_disc else 'ring'} {to_shown(rig.ring_diameter, 'mm'):g} mm")
    if on_block and rig.ring_width is not None:
        parts.append(f"{to_shown(rig.ring_width, 'mm'):g} mm wide")
    if rig.ring_groove_depth and not on_disc:
        parts.append(f"groove {to_shown(rig.ring_groove_depth, 'µm'):g} µm deep")
    if rig.geometry == "crossed-cylinders":
        parts.append(f"crossed at {np.degrees(rig.crossing_angle):g}°")
    return ", ".join(parts)


def _levels(runs: pd.DataFrame) -> str:
    return listing([load_text(level) for level in sorted(runs["load_level"].dropna().unique())])


def _spread_of_setting(values: pd.Series, unit: str) -> str:
    middle, low, high = values.median(), values.min(), values.max()
    text = f"{significant(float(middle))} {unit}"
    if high - low <= 0.005 * middle:
        return text
    least, most = significant(float(low)), significant(float(high))
    if float((abs(values - middle) <= 0.005 * middle).mean()) <= 0.5:
        return f"{least} to {most} {unit}, median {text}"
    ends = f"down to {least}, others up to {most}"
    if middle - low <= 0.005 * middle:
        ends = f"up to {most}"
    elif high - middle <= 0.005 * middle:
        ends = f"down to {least}"
    return f"{text}, in single runs {ends} {unit}"


def _names(column: pd.Series) -> str:
    names = [str(name) for name in dict.fromkeys(column.fillna("")) if str(name)]
    return listing(sorted(names)) if names else "not recorded"


def _uncertainty(value: float | None, unit: str) -> str:
    return "not stated" if value is None else f"{to_shown(value, unit):g} {unit} (standard uncertainty)"


def _further(repeats: int | None, *, undecided: bool) -> str:
    if not undecided:
        return "none needed"
    return "more than 50, or unknown" if repeats is None else str(repeats)


def _run_list(runs: tuple[str, ...]) -> str:
    if not runs:
        return "all"
    return ", ".join(runs) if len(runs) <= 8 else f"{', '.join(runs[:8])} and {len(runs) - 8} more"
