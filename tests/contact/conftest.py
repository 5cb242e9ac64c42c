"""Let the tests of this folder import the second route to wear arrest that stands in tests/reference."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "reference"))
