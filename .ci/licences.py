"""List the licences of what pinscar needs: python .ci/licences.py > .ci/LICENCES.md."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from importlib import metadata


def needed(name: str, seen: dict[str, metadata.Distribution]) -> None:
    """Collect a package and what it needs, without extras, as far as it is installed here."""
    key = re.sub(r"[-_.]+", "-", name).lower()
    if key in seen:
        return
    try:
        seen[key] = metadata.distribution(name)
    except metadata.PackageNotFoundError:
        return  # needed on another system or version only
    for text in seen[key].requires or []:
        if "extra ==" not in text:
            needed(re.split(r"[ ;<>=!~\[(]", text, maxsplit=1)[0], seen)


def licence_of(found: metadata.Distribution) -> str:
    """Give the licence that a package states of itself: the expression, the classifier, or the first line."""
    head = found.metadata
    classifiers = [
        one.rsplit(" :: ", 1)[-1]
        for one in head.get_all("Classifier") or []
        if one.startswith("License ::") and one.count(" :: ") > 1
    ]
    stated = (head.get("License") or "").strip().splitlines()
    short = stated[0] if stated and len(stated[0]) < 60 else ""
    return head.get("License-Expression") or ", ".join(classifiers) or short or "not stated in its metadata"


def lines() -> Iterator[str]:
    """Write the list."""
    seen: dict[str, metadata.Distribution] = {}
    needed("pinscar", seen)
    yield "# Licences of what pinscar needs"
    yield ""
    yield "As the packages state them. Made by `.ci/licences.py`."
    yield "pinscar itself is under MIT, its font under OFL-1.1."
    yield ""
    yield "| Package | Licence |"
    yield "| --- | --- |"
    for key in sorted(seen.keys() - {"pinscar"}):
        yield f"| {key} | {licence_of(seen[key]).replace('|', '/')} |"


if __name__ == "__main__":
    sys.stdout.write("\n".join(lines()) + "\n")
