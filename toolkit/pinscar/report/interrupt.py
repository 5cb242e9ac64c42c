"""Ctrl-C and SIGTERM as one exception, which ends a command with the status that the signal has."""

from __future__ import annotations

import signal
from types import FrameType


class Interrupted(BaseException):  # no error: somebody wants it to stop
    """A signal asked the command to end.

    Parameters
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
