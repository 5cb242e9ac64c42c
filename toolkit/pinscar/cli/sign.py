"""The command that signs a record."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pinscar.cli.options import examples

app = typer.Typer()


@app.command(epilog=examples("sign"))
def sign(
    record: Annotated[Path, typer.Argument(metavar="RECORD.pdf", help="The record's PDF, or its folder.")],
    key: Annotated[Path, typer.Option("--key", metavar="FILE", help="PKCS#12 key (.p12, .pfx).")],
    role: Annotated[
        str, typer.Option("--as", metavar="ROLE", help="Whose line is signed: author or approver.")
    ] = "approver",
    detached: Annotated[
        bool,
        typer.Option(
            "--detached", help="Sign manifest.json in a file of its own; an OpenSSH key will do too."
        ),
    ] = False,
    reason: Annotated[str | None, typer.Option(metavar="TEXT", help="Why it is signed.")] = None,
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE", help="Where to write.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print machine-readable output.")] = False,
) -> int:
    """Sign a record, offline: the PDF on its signature line, or the manifest in a file of its own."""
    from pinscar import terminal
    from pinscar.press import signing
    from pinscar.terminal import command

    place, remark = signing.sign(record, key, detached=detached, role=role, out=out, reason=reason)
    if as_json:
        terminal.say_json({"signed": str(place), "remark": remark or None})
        return 0
    terminal.say(f"{place}: signed{f' ({remark})' if remark else ''}")
    terminal.say(f"check it: {command('pinscar', 'verify', place.parent, '--campaign', 'DIR')}")
    return 0
