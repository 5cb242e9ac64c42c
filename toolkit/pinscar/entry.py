"""How the command is entered: with an import path on which no stranger's folder lies."""

import sys

from pinscar.import_path import trusted_path


def main() -> None:
    """Run the command with the words it was called with, and end with its status."""
    sys.path[:] = trusted_path()
    try:
        from pinscar.cli.main import run
    except KeyboardInterrupt:  # the command's own handling of signals is not there yet
        sys.stderr.write("interrupted\n")
        sys.exit(130)
    sys.exit(run(sys.argv[1:]))
