"""Commands printed for a person to copy: whole in the shell, whatever a folder is called."""

from __future__ import annotations

import shlex
import subprocess
import sys
from pathlib import Path


def command(*words: str | Path) -> str:
    """Write a command line that can be copied into the shell.

    Examples
    --------
    >>> command("pinscar", "check", "my_campaign")
    'pinscar check my_campaign'
    >>> "oils 8" in command("pinscar", "check", Path("oils 8"))
    True
    """
    texts = [str(word) for word in words]
    return subprocess.list2cmdline(texts) if sys.platform == "win32" else shlex.join(texts)
