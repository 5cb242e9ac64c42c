"""The rules by which a method of comparison is chosen, as text that a report can print."""

from __future__ import annotations

RULES = (
    "Positive responses are compared on the log scale, as ratios to the reference; others as differences.",
    "A lubricant with a single run gives its ratio, but no interval and no p, and does not count in the "
    "family. The same holds where all its runs gave the same value, since its spread is then unknown.",
    "Where a compared value is censored: log-normal regression with one spread and one median a "
    "lubricant, ratios of medians with likelihood limits calibrated to Student's t and by simulation, limits "
    "and p adjusted by Bonferroni; declared blocks are modelled as in rule 4, with a random effect in the "
    "likelihood. Where all runs of one side "
    "are censored: a one-sided bound from the sign test and the other side's limit, joined by "
    "Bonferroni's inequality, if there are runs enough for the confidence, else nothing. Where the "
    "censored lubricants give bounds only, the others go by rules 4 and 5 with their share of the "
    "error.",
    "Where blocks are declared, there is more than one, they are not confounded with the lubricants, "
    "and the block variance is not estimated at zero: mixed model with the block random (REML), "
    "Kenward-Roger standard errors and degrees of freedom, limits and p from the joint t distribution "
    "of the contrasts. Else rule 5, and the note says why.",
    "Else each lubricant keeps its own spread: Welch's t, with Cochran's critical value where the numbers of "
    "runs differ; with several comparisons limits and p adjusted by Šidák's inequality. No test of the "
    'spreads chooses the method. Only where campaign.toml says spread = "pooled" is one spread taken for '
    "all: pooled t for one lubricant, Dunnett's simultaneous intervals for several.",
)


def rules_text() -> str:
    """Give the rules by which the method of comparison is chosen.

    Returns
    -------
    str
        Numbered rules, one a line.

    References
    ----------
    Own derivation: the order in which :func:`pinscar.stats.choose.compare_with_reference` decides.

    Examples
    --------
    >>> len(rules_text().splitlines())
    5
    """
    return "\n".join(f"{number}. {rule}" for number, rule in enumerate(RULES, start=1))
