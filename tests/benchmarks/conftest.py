"""The scripts here import each other, and what the tests of studies stand on, by name; pytest's import mode
does not put these folders on the path."""

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "study")]
