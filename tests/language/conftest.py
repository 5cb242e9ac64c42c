"""Let the tests of this folder run a template's cells in their own process, as those of the report do."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "campaign_report"))
