"""Sign a record's PDF: a PAdES signature in a visible field on its signature line, added behind its bytes."""

from __future__ import annotations

import io
import tempfile
from pathlib import Path
from typing import Any

from pinscar.errors import UsageError
from pinscar.page.fonts import STYLES
from pinscar.press.sign_place import signature_place

SUFFIX = ".signed.pdf"
"""How the name of a signed record ends; the record itself stays as its manifest has it."""


def signed_name(record: Path) -> Path:
    """Give the usual name of a signed record."""
    if record.name.endswith(SUFFIX):
        return record
    return record.with_name(record.name.removesuffix(".pdf") + SUFFIX)


def sign_pdf(pdf: bytes, signer: Any, role: str, reason: str | None = None) -> tuple[bytes, bool]:
    """Sign a PDF; its own bytes stay, the signature follows behind them.

    Nothing is fetched from anywhere: no time stamp of others, no list of revoked certificates.
    """
    from pyhanko.pdf_utils.font.opentype import GlyphAccumulatorFactory
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.pdf_utils.layout import AxisAlignment, Margins, SimpleBoxLayoutRule
    from pyhanko.pdf_utils.text import TextBoxStyle
    from pyhanko.sign import fields, signers
    from pyhanko.stamp import TextStampStyle

    try:
        writer = IncrementalPdfFileWriter(io.BytesIO(pdf))
        place = signature_place(pdf, role)
    except Exception:  # both libraries raise many kinds of error on a file that is no PDF
        raise UsageError("this file cannot be read as a PDF; give the record's PDF") from None
    name = f"signature-{role}"
    if name in {field for field, _, _ in fields.enumerate_sig_fields(writer)}:
        raise UsageError(f"the {role} has signed this record already; sign as another: --as")
    spec = fields.SigFieldSpec(
        name, on_page=place.page, box=place.box, readable_field_name=f"Signature of the {role}"
    )
    about = signers.PdfSignatureMetadata(
        field_name=name, md_algorithm="sha256", subfilter=fields.SigSeedSubFilter.PADES, reason=reason
    )
    out = io.BytesIO()
    with tempfile.TemporaryDirectory(prefix="pinscar-") as folder:
        face = Path(folder) / "face.ttf"
        write_face(face)
        look = TextStampStyle(
            border_width=0,
            background=None,
            inner_content_layout=SimpleBoxLayoutRule(
                AxisAlignment.ALIGN_MIN, AxisAlignment.ALIGN_MID, Margins(2, 2, 1, 1)
            ),
            stamp_text="Signed digitally: %(signer)s\n%(ts)s",
            text_box_style=TextBoxStyle(font=GlyphAccumulatorFactory(str(face)), font_size=7),
        )
        signers.PdfSigner(about, signer, stamp_style=look, new_field_spec=spec).sign_pdf(writer, output=out)
    return out.getvalue(), place.on_line


def write_face(path: Path) -> None:
    """Write the report's face with a thousand units to the em, as the signing library takes widths to be."""
    from fontTools.ttLib import TTFont
    from fontTools.ttLib.scaleUpem import scale_upem

    face = TTFont(STYLES[0].file("ttf"))
    scale_upem(face, 1000)
    face.save(path)
