"""How the command is entered: with an import path on which no stranger's folder lies, and help at once."""

import gc
import os
import sys

from pinscar.import_path import collect_seldom, keep_pyarrow_out, trusted_path

WIDTH = 80
"""The shipped help is laid out for that many columns; on a narrower screen it is laid out anew."""


def main() -> None:
    """Run the command with the words it was called with, and end with its status."""
    sys.path[:] = trusted_path()
    # A plug-in of any installed package would run on each start; looking for them takes longer than a check.
    os.environ["PYDANTIC_DISABLE_PLUGINS"] = "__all__"
    keep_pyarrow_out()
    collect_seldom()
    if sys.argv[1:] in ([], ["--help"]) and _help_said():
        sys.exit(0)
    try:
        from pinscar.cli.main import run
    except KeyboardInterrupt:  # the command's own handling of signals is not there yet
        sys.stderr.write("interrupted\n")
        sys.exit(130)
    status = run(sys.argv[1:])
    # All that is alive goes with the process: looking through it for cycles takes a seventh of a check.
    gc.freeze()
    sys.exit(status)


def _help_said() -> bool:
    """Print the help that ships, which a test holds to the commands; False where it has to be made anew."""
    if "_PINSCAR_COMPLETE" in os.environ or _columns() < WIDTH:
        return False
    place = os.path.join(os.path.dirname(os.path.realpath(__file__)), "cli", "help.txt")  # noqa: PTH118, PTH120 - pathlib takes longer to import than all of this
    try:
        with open(place, encoding="ascii") as stream:  # noqa: PTH123 - as above
            text = stream.read()
        sys.stdout.write(text)
        sys.stdout.flush()
    except (OSError, AttributeError):  # no such file, a stream that is closed or cut off: told as elsewhere
        return False
    return True


def _columns() -> int:
    """Return the width of the screen, that of the shipped help where there is none."""
    named = os.environ.get("COLUMNS", "")
    try:
        return int(named) if named.isdigit() else os.get_terminal_size(1).columns or WIDTH
    except OSError:
        return WIDTH
