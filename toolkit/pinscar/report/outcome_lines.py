"""What the command prints of a report that was made, or was not."""

from __future__ import annotations

import os
import sys

from pinscar.report import terminal
from pinscar.report.checking import counted
from pinscar.report.request import Outcome


def tell(outcome: Outcome, *, errors_only: bool) -> None:
    """Print what came of a request.

    Parameters
    ----------
    outcome : Outcome
        What came of it.
    errors_only : bool
        Whether a report that was made is passed over in silence.
    """
    for line in outcome.errors:
        # What is wrong with the folder itself names it already.
        named = line.startswith(f"{outcome.folder}: ")
        terminal.complain(line if named else f"{outcome.folder}: {line}")
    if outcome.debug and os.environ.get("PINSCAR_DEBUG"):
        sys.stderr.write(outcome.debug)
    if outcome.status or errors_only:
        return
    terminal.say(f"{outcome.report}: {', '.join(outcome.files)}")
    if outcome.problems:
        terminal.say(f"{counted(len(outcome.problems), 'warning')}: pinscar check {outcome.to_check}")
    if outcome.limits:
        terminal.say(f"release limits: {outcome.limits}")
