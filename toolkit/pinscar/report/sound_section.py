"""The part of the report on recordings: finding, figure, table and method."""

from __future__ import annotations

from collections.abc import Sequence

from pinscar.decision.analysis import Analysis
from pinscar.report import recordings, sound_chart, sound_words
from pinscar.report.markup import finding


def sound_parts(analysis: Analysis, heard: Sequence[recordings.RunHeard]) -> list[str]:
    """Show what the recordings tell: typed against heard quiet times, and each level against time.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    heard : sequence of RunHeard
        The runs with a recording.

    Returns
    -------
    list of str
        HTML; a sentence alone where there are none.
    """
    if not heard:
        return [finding("No recordings: the folder sound holds none of an included run.")]
    roles = {run.lubricant: analysis.campaign.file.role_of(run.lubricant) for run in heard}
    sentence = sound_words.sound_sentence(heard)
    return [
        finding(sentence),
        sound_chart.sound_figure(heard, roles, sentence=sentence),
        sound_words.sound_table(heard, recordings.gains(analysis.campaign, heard)),
        sound_words.sound_method(analysis.confidence),
    ]
