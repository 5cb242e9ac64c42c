"""Mend the tags that the PDF writer leaves: scopes of heads, one annotation a link, artifacts in margins.

The writer lays out and tags; its last step hands its objects over before they are written. They are changed
in place. Nothing here knows the page: it follows ISO 14289-1 from the tags that stand there.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

_SCOPES = {"/THead": "/Column", "/TBody": "/Row", "/TFoot": "/Row"}


def mend_tags(pdf: Any) -> None:
    """Mend the tag tree of a PDF before it is written.

    A head cell gets its scope. A link inside a link, which the writer makes of every styled part of one, goes
    with its annotation. What no tag leads to, the running texts in the margins, becomes an artifact.

    Parameters
    ----------
    pdf : pydyf.PDF
        All objects of the file, changed in place; nothing happens where it has no tags.

    References
    ----------
    ISO 14289-1: 7.1 (artifacts), 7.5 (scope of heads), 7.18.5 (links); ISO 32000-1: 14.7.4.4 (parent tree),
    14.8.2.2 (artifacts). Clause numbers from memory.
    """
    if "StructTreeRoot" not in pdf.catalog:
        return
    root = _object(pdf, pdf.catalog["StructTreeRoot"])
    parents = _object(pdf, root["ParentTree"])["Nums"]
    reached = list(_tree(pdf, root["K"]))
    for element, above in reached:
        if element["S"] == "/TH":
            element["A"]["Scope"] = _scope(above)
    dropped = [
        annotation
        for element, above in reached
        if any(higher["S"] == "/Link" for higher in above)
        for annotation in _drop_annotations(pdf, element)
    ]
    _forget_annotations(pdf, parents, dropped)
    known = {element.reference for element, _ in reached}
    _margins_to_artifacts(pdf, parents, known)


def _object(pdf: Any, reference: bytes) -> Any:
    return pdf.objects[int(reference.split()[0])]


def _tree(pdf: Any, kids: list[Any], above: tuple[Any, ...] = ()) -> Iterator[tuple[Any, tuple[Any, ...]]]:
    """Give every element that the root leads to, with the elements above it, the nearest last."""
    for kid in kids:
        if isinstance(kid, bytes) and "S" in (element := _object(pdf, kid)):
            yield element, above
            yield from _tree(pdf, element["K"], (*above, element))


def _scope(above: tuple[Any, ...]) -> str:
    """Say what a head cell is the head of: heads of columns stand in the table's head."""
    return next((_SCOPES[higher["S"]] for higher in reversed(above) if higher["S"] in _SCOPES), "/Column")


def _drop_annotations(pdf: Any, element: Any) -> list[bytes]:
    """Take the annotations out of an element, and if it was a link make it a plain part of the one above."""
    objects = {kid: _object(pdf, kid) for kid in element["K"] if isinstance(kid, bytes)}
    own = {kid for kid, found in objects.items() if found.get("Type") == "/OBJR"}
    element["K"][:] = [kid for kid in element["K"] if kid not in own]
    if element["S"] == "/Link":
        element["S"] = "/Span"
    return [objects[kid]["Obj"] for kid in sorted(own)]


def _forget_annotations(pdf: Any, parents: list[Any], dropped: list[bytes]) -> None:
    numbers = {_object(pdf, annotation)["StructParent"] for annotation in dropped}
    parents[:] = [
        entry
        for number, element in zip(parents[::2], parents[1::2], strict=True)
        if number not in numbers
        for entry in (number, element)
    ]
    for reference in pdf.page_references:
        page = _object(pdf, reference)
        if "Annots" in page:
            page["Annots"][:] = [kept for kept in page["Annots"] if kept not in dropped]
    for annotation in dropped:
        _object(pdf, annotation).clear()


def _margins_to_artifacts(pdf: Any, parents: list[Any], known: set[bytes]) -> None:
    """Mark as artifact what belongs to an element that the root does not lead to."""
    elements = dict(zip(parents[::2], parents[1::2], strict=True))
    for reference in pdf.page_references:
        page = _object(pdf, reference)
        owners = elements[page["StructParents"]]
        outside = {number for number, owner in enumerate(owners) if owner not in known}
        operators = _object(pdf, page["Contents"]).stream
        for place, operand in enumerate(operators):
            if isinstance(operand, dict) and operand.get("MCID") in outside:
                operators[place - 1] = "/Artifact"
                operators[place] = type(operand)({"Type": "/Pagination"})
        for number in outside:
            _object(pdf, owners[number]).clear()
            owners[number] = "null"
