"""Table of roller-chain sizes, ISO 606 series B."""

from __future__ import annotations

from dataclasses import dataclass

from pinscar.contact.tables import read_table

BUSH_LENGTH_NOTE = (
    "The bush length is from memory: treat it as an input, measured or from the chain's data sheet."
)


@dataclass(frozen=True)
class ChainSize:
    """Dimensions of one roller chain.

    Attributes
    ----------
    designation : str
        Chain number, such as 08B.
    pitch : float
        Pitch [m].
    roller_diameter : float
        Largest roller diameter d1 [m].
    inner_width : float
        Smallest width between inner plates b1 [m].
    pin_diameter : float
        Largest pin diameter d2 [m]; of 06B from memory.
    bush_length : float
        Bush length b2 [m], from memory: see `BUSH_LENGTH_NOTE`.
    """

    designation: str
    pitch: float
    roller_diameter: float
    inner_width: float
    pin_diameter: float
    bush_length: float


def chain_sizes() -> dict[str, ChainSize]:
    """Return the table of roller chains by designation.

    Returns
    -------
    dict
        Sizes [m] by designation, small to large.

    References
    ----------
    ISO 606, series B, as dealers' tables print it; head of ``data/roller_chain_iso606.csv``.

    Examples
    --------
    >>> list(chain_sizes())
    ['06B', '08B', '10B', '12B', '16B']
    """
    rows = map(dict, read_table("roller_chain_iso606.csv"))
    return {row["designation"]: _size(row) for row in rows}


def chain_size(designation: str) -> ChainSize:
    """Look up one roller chain.

    Parameters
    ----------
    designation : str
        Chain number, such as ``08B``; a strand count (``08B-1``) and lower case are accepted.

    Returns
    -------
    ChainSize
        Its dimensions [m].

    Raises
    ------
    ValueError
        If the chain is not in the table.

    References
    ----------
    ISO 606, series B.

    Examples
    --------
    >>> chain_size("08B").pin_diameter
    0.00445
    """
    sizes = chain_sizes()
    key = designation.strip().upper().split("-")[0]
    if key not in sizes:
        raise ValueError(f"chain designation must be one of {', '.join(sizes)}, found {designation!r}")
    return sizes[key]


def _size(row: dict[str, str]) -> ChainSize:
    # Decimal shift by text keeps 4.45 mm at 0.00445 m exactly, which a product with 1e-3 does not.
    return ChainSize(
        designation=row["designation"],
        pitch=float(f"{row['pitch']}e-3"),
        roller_diameter=float(f"{row['roller_diameter']}e-3"),
        inner_width=float(f"{row['inner_width']}e-3"),
        pin_diameter=float(f"{row['pin_diameter']}e-3"),
        bush_length=float(f"{row['bush_length']}e-3"),
    )
