"""How the command ends: what it prints of a report, or one line and an exit status where it cannot go on.

Ctrl-C and SIGTERM become one exception, which ends a command with the status that the signal has.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path
from types import FrameType

from pinscar import terminal
from pinscar.press.request import Outcome
from pinscar.terminal import command
from pinscar.wording import counted


def open_streams() -> None:
    """Give the command its three streams where it was started without; else the next file would be one."""
    for number, name, mode in ((0, "stdin", "r"), (1, "stdout", "w"), (2, "stderr", "w")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number, which is this one
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(number, mode, encoding="utf-8", closefd=False))


def wrong_usage(error: Exception) -> int:
    """Tell of words that the command does not take."""
    from pinscar import terminal

    said = error.format_message()  # type: ignore[attr-defined]  # typer carries its own copy of click's errors
    terminal.complain(f"{said.strip().rstrip('.') or 'no command given'}; pinscar --help lists what there is")
    return 2


def internal(error: Exception) -> int:
    """Tell of a fault of our own in one line; the traceback is shown where PINSCAR_DEBUG is set."""
    import traceback

    from pinscar import terminal

    terminal.complain(f"internal error: {type(error).__name__}: {error}; please report it")
    if os.environ.get("PINSCAR_DEBUG"):
        sys.stderr.write("".join(traceback.format_exception(error)))
    return 4


class Interrupted(BaseException):  # no error: the person wants it to stop
    """A signal asked the command to end.

    Attributes
    ----------
    number : int
        The signal.
    """

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.exit_status = 128 + number


def raise_on_signals() -> None:
    """Raise `Interrupted` on the first SIGINT or SIGTERM from now on; later ones disturb nothing."""
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _raise)


def _raise(number: int, frame: FrameType | None) -> None:
    del frame
    for each in (signal.SIGINT, signal.SIGTERM):
        signal.signal(each, signal.SIG_IGN)
    raise Interrupted(number)


def tell(outcome: Outcome, *, errors_only: bool) -> None:
    """Print what came of a request."""
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
        terminal.say(f"{counted(len(outcome.problems), 'warning')}: {_check(outcome)}")
    if outcome.untranslated:
        messages = counted(len(outcome.untranslated), "message")
        terminal.say(
            f"{messages} of the report have no translation yet and stand in English; --json lists them"
        )
    if outcome.limits:
        terminal.say(f"release limits: {outcome.limits}")


def _check(outcome: Outcome) -> str:
    return "; ".join(command("pinscar", "check", folder) for folder in outcome.to_check)


def put_in_archive(outcome: Outcome, template: str) -> Path:
    """Write a report that was made as one archive to mail."""
    from pinscar.press.files import file_stem, zip_report
    from pinscar.press.verify import read_manifest

    report = Path(outcome.report)
    return zip_report(report, file_stem(str(read_manifest(report)["campaign"]), template))
