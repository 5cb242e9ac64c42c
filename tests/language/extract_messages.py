"""List the messages of reports as a template for a new catalogue, or what a catalogue still lacks.

    python tests/language/extract_messages.py fr CAMPAIGN... > fr.pot

Put a file ``fr.po`` with a header alone into toolkit/pinscar/language/catalogues first: then every message is
missing, and is listed. Names and numbers of the campaigns are holes already; give the holes their kinds (see
DEVELOPERS.md), and make one message of those that differ in a hole only. Run it on several campaigns: each
has other sentences.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import write_po

REPORTS = (
    *(("campaign_report", f"detail={detail}") for detail in ("brief", "standard", "full")),
    ("comparison_sheet", ""),
    ("release_record", ""),
)


def untranslated(language: str, campaign: Path) -> Iterator[tuple[str, str]]:
    """Give each message that has no translation, with the template that it came from."""
    for template, given in REPORTS:
        with tempfile.TemporaryDirectory() as place:
            words = [sys.executable, "-m", "pinscar.cli.main", "report", str(campaign), "--no-pdf", "--json"]
            words += ["-t", template, "-o", f"{place}/report", "-p", f"language={language}"]
            words += ["-p", given] if given else []
            done = subprocess.run(words, capture_output=True, text=True, check=False)
        (told,) = json.loads(done.stdout)["reports"]
        if told["status"]:
            raise SystemExit(f"{campaign}, {template}: {'; '.join(told['errors'])}")
        yield from ((message, template) for message in told["untranslated"])


def main(language: str, campaigns: list[str]) -> None:
    """Write the messages of all campaigns, each once."""
    catalogue = Catalog(locale=language, project="pinscar")
    for campaign in campaigns:
        for message, template in untranslated(language, Path(campaign)):
            catalogue.add(message, auto_comments=[template] if message not in catalogue else [])
    write_po(sys.stdout.buffer, catalogue, width=0, omit_header=False)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
