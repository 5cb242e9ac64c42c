"""The scripts here import each other by name; pytest's import mode does not put their folder on the path."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
