"""Let the tests of this folder import the maker of hostile campaigns that stands beside them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fuzz"))
