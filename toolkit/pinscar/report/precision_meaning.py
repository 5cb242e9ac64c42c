"""What the limits of a precision study mean for whoever compares results, and how far they reach."""

from __future__ import annotations

from pinscar.decision.precision_study import FEW_GROUPS, PrecisionStudy
from pinscar.decision.wording import counted, listing
from pinscar.report.precision_words import amount, lowered, place
from pinscar.stats.precision_intervals import critical_difference


def meaning_sentence(study: PrecisionStudy) -> str:
    """Say what r and R mean in one sentence.

    Parameters
    ----------
    study : PrecisionStudy
        The study.

    Returns
    -------
    str
        One sentence.
    """
    noun, plural = study.grouping.noun, study.grouping.plural
    return (
        f"Two runs of one {noun} on one oil differ by more than r in 1 case of 20, two runs of different "
        f"{plural} by more than R."
    )


def meanings(study: PrecisionStudy) -> list[str]:
    """Say with numbers what follows for whoever compares results.

    Parameters
    ----------
    study : PrecisionStudy
        The study.

    Returns
    -------
    list of str
        Plain sentences, for the first response on its first material.
    """
    response, noun, plural = study.responses[0], study.grouping.noun, study.grouping.plural
    first = study.of(response)[0]
    where, label = place(study, first), lowered(response.label)

    def difference(repeats: int, one: bool) -> str:
        return amount(first, critical_difference(first.precision, repeats, one_laboratory=one))

    return [
        f"Single runs, one {noun}, {where}: repeat both where the {label} differs by more than "
        f"{difference(1, True)}; scatter alone does that in 1 case of 20.",
        f"Means of six runs each, one {noun}: scatter alone explains a difference of {difference(6, True)}. "
        "More repeats make this number ever smaller.",
        f"Means of six runs each, two {plural}: {difference(6, False)}. More repeats do not take the "
        f"difference between {plural} away; one {noun} should test both oils.",
    ]


def notes(study: PrecisionStudy) -> list[str]:
    """Say where the estimates rest on little.

    Parameters
    ----------
    study : PrecisionStudy
        The study.

    Returns
    -------
    list of str
        Plain sentences; empty where there is nothing to say.
    """
    noun, plural = study.grouping.noun, study.grouping.plural
    said = []
    if not study.grouping.between_laboratories:
        said.append(
            f"The groups are {plural}, not laboratories: what is called reproducibility here is the "
            f"precision between {plural} (intermediate precision in ISO 5725-3). Another laboratory may "
            "differ by more."
        )
    fewest = min(len(material.values) for material in study.materials)
    if fewest < FEW_GROUPS:
        said.append(
            f"Only {counted(fewest, noun, plural)}: the spread between them is a rough estimate; ASTM E691 "
            "asks for six at least."
        )
    floored = [f"{m.response.label.lower()} of {m.name}" for m in study.materials if m.floored]
    if floored:
        said.append(
            f"The means of the {plural} scatter no more than the repeats explain, so R is set equal to r: "
            f"{listing(floored)}."
        )
    return said
