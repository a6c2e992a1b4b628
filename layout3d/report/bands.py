"""Bands as cells of a table or in a line of text, with no more figures than their width bears."""

from __future__ import annotations

from collections.abc import Iterable

from layout3d.band import SETTINGS, Band
from layout3d.report.writing import Line, table
from layout3d.units import show

__all__ = ["band_cells", "band_rows", "likely_cell", "one_line"]

Cells = tuple[str, str, str]
# what is shown of a kind of our own: as which kind, figures, times what, with what behind it
_KINDS = {
    "level": ("length", 4, 1.0, ""),
    "share": ("number", 3, 100.0, "%"),
    "days": ("number", 3, 1.0, " days"),
    "rough speed": ("speed", 2, 1.0, ""),
}


def band_cells(band: Band, kind: str, *, digits: int | None = None) -> Cells:
    """Return a band as three cells, in the units of the scene that is told.

    Parameters
    ----------
    kind : one of ``units.KINDS``; or 'level', a length of four figures, 'share', in per cent,
        'days', or 'rough speed', of two figures

    >>> band_cells(Band(low=1e-4, likely=2e-4, high=3e-4), "flow")
    ('400 L/h', '700 L/h', '1,100 L/h')
    >>> band_cells(Band(low=0.001, likely=0.1034, high=0.2), "share")
    ('0.1%', '10%', '20%')
    """
    shown, figures, scale, unit = _KINDS.get(kind, (kind, 3, 1.0, ""))
    low, likely, high = (
        show(scale * band.at(setting), shown, digits=digits or figures, give=scale * band.half) + unit
        for setting in SETTINGS
    )
    return low, likely, high


def likely_cell(band: Band, kind: str) -> str:
    """Return the likely figure of a band."""
    return band_cells(band, kind)[1]


def one_line(band: Band, kind: str, *, digits: int | None = None) -> str:
    """Return a band in running text, likely first.

    >>> one_line(Band(low=0.5, likely=1.0, high=2.0), "head")
    '1 m (0.5 m to 2 m)'
    """
    low, likely, high = band_cells(band, kind, digits=digits)
    return likely if low == likely == high else f"{likely} ({low} to {high})"


def band_rows(rows: Iterable[tuple[str, Band | None, str]]) -> list[Line]:
    """Return a table of bands by label, band and kind; a band that could not be had (None) has no row."""
    told = [(label, *band_cells(band, kind)) for label, band, kind in rows if band is not None]
    return table([("", *SETTINGS), *told], right=(1, 2, 3), headed=True)
