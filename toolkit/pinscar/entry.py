"""How the command is entered: with an import path on which no stranger's folder lies."""

import sys

from pinscar.import_path import trusted_path


def main() -> None:
    """Run the command with the words it was called with, and end with its status."""
    sys.path[:] = trusted_path()
    from pinscar.cli.main import run

    sys.exit(run(sys.argv[1:]))
