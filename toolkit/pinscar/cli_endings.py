"""How the command ends where it cannot go on: one line, and an exit status."""

from __future__ import annotations

import os
import sys


def wrong_usage(error: Exception) -> int:
    """Tell of words that the command does not take."""
    from pinscar.report import terminal

    said = error.format_message()  # type: ignore[attr-defined]  # typer carries its own copy of click's errors
    terminal.complain(f"{said.strip().rstrip('.') or 'no command given'}; pinscar --help lists what there is")
    return 2


def internal(error: Exception) -> int:
    """Tell of a fault of our own in one line; the traceback is shown where PINSCAR_DEBUG is set."""
    import traceback

    from pinscar.report import terminal

    terminal.complain(f"internal error: {type(error).__name__}: {error}; please report it")
    if os.environ.get("PINSCAR_DEBUG"):
        sys.stderr.write("".join(traceback.format_exception(error)))
    return 4
