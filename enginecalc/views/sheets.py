"""Sheets of paper in millimeters, saved as PDF or SVG at true scale.

Every sheet carries two bars to measure before use; `scale` puts a printer right that is out.
A sheet is drawn in millimeters from its lower left corner and saved whole: cropping it to its
contents would change its size, and a printer would then shrink it to fit.
"""

import io
import math
import re
import textwrap
from pathlib import Path

import matplotlib
import numpy as np
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from enginecalc.units import Q, UnitError, same_kind, ureg

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
MARGIN, HEAD, FOOT, LARGEST = 10.0, 21.0, 27.0, 1000.0
STYLE = {"font.family": "DejaVu Sans", "svg.fonttype": "path", "svg.hashsalt": "enginecalc"}
TURNS = {"standard": 1, "reverse": -1}
CUT = {"clip_on": True, "parse_math": False}
MIDDLE = {"ha": "center", "va": "center", **CUT}
ON_WHITE = {"bbox": {"facecolor": "white", "edgecolor": "none", "pad": 0.5}, **MIDDLE}
_BARS, _BAR = ((100, "mm"), (4, "in")), Q(100.0, "mm")


def scale_factor(measured, nominal=_BAR):
    """Return the factor that puts a printer right, from what a printed bar measures.

    Parameters
    ----------
    measured, nominal : quantity
        The bar as it came out of the printer, and the length written at it.

    Returns
    -------
    float
        nominal / measured, for the `scale` of a print.

    Raises
    ------
    ValueError
        When the factor is outside 0.9 to 1.1.

    Examples
    --------
    >>> print(f"{scale_factor(Q(98.6, 'mm')):.5f}")
    1.01420
    """
    title = "scale_factor"
    size, written = magnitudes(title, "mm", [("measured", measured), ("nominal", nominal)])
    factor = written / size if size else math.inf
    refuse(title, [_scale_fault(factor)])
    return factor


def pdf_bytes(figures):
    """Return the sheets as one PDF, for a download; the same sheets give the same bytes."""
    out = io.BytesIO()
    with matplotlib.rc_context(STYLE), PdfPages(out, metadata={"CreationDate": None}) as pdf:
        for figure in figures:
            figure.savefig(pdf, format="pdf")
    return out.getvalue()


def save_pdf(figures, path):
    """Write the sheets as one PDF."""
    Path(path).write_bytes(pdf_bytes(figures))


def svg_text(figure):
    """Return one sheet as SVG, its width and height in millimeters."""
    out = io.StringIO()
    with matplotlib.rc_context(STYLE):
        figure.savefig(out, format="svg", metadata={"Date": None})
    size = 'width="{:.6g}mm" height="{:.6g}mm"'.format(*figure.get_size_inches() * 25.4)
    text = re.sub(r'width="\S+pt" height="\S+pt"', size, out.getvalue(), count=1)
    return text


def save_svg(figure, path):
    """Write one sheet as SVG."""
    Path(path).write_text(svg_text(figure), encoding="utf-8")


# --- what is refused --------------------------------------------------------------------------


def magnitudes(title, unit, given):
    """Return the magnitudes in `unit` of (name, quantity) pairs; of an array, an array."""
    faults = []
    for name, value in given:
        single = np.ndim(getattr(value, "magnitude", value)) == 0
        if not hasattr(value, "units"):
            got = f"the bare {value!r}" if single else "bare numbers"
            faults.append(f"{name} needs a unit like {unit}, got {got}")
        elif not same_kind(value.units, ureg.Unit(unit)):
            got = f"{value:.6g~P}" if single else f"{value.units:~P}"
            faults.append(f"{name} needs a unit like {unit}, got {got}")
    if faults:
        raise UnitError(f"{title}: {'; '.join(faults)}. Write Q(number, 'unit').")
    sizes = [(name, np.array(value.m_as(unit), dtype=float)) for name, value in given]
    refuse(
        title, [f"{name} is not a number" for name, size in sizes if not np.isfinite(size).all()]
    )
    return [size if size.ndim else size.item() for _, size in sizes]


def refuse(title, faults):
    if any(faults):
        raise ValueError(f"{title}: {'; '.join(filter(None, faults))}.")


def range_fault(name, size, least, why):
    if not least <= size <= LARGEST:
        return f"{name} must be from {least} to {LARGEST:.0f} mm{why}, got {size:.6g} mm"


def choice_fault(name, value, choices):
    if value not in choices:
        return f'{name} must be {" or ".join(choices)}, got "{value}"'


def _scale_fault(factor):
    if not 0.9 <= factor <= 1.1:
        return f"scale must be from 0.9 to 1.1, got {factor:.5g}: wrong bar, or inches for mm?"


def paper_faults(rotation, paper, scale):
    faults = [choice_fault("rotation", rotation, TURNS), choice_fault("paper", paper, PAPERS)]
    return [*faults, _scale_fault(scale)]


# --- the page ---------------------------------------------------------------------------------


def room_of(paper, scale):
    """Return width and height left for the drawing, as they come out of the printer."""
    width, height = ((side - 2 * MARGIN) / scale for side in PAPERS[paper])
    return width, height - HEAD - FOOT


def lines(pieces, widths, **more):
    return LineCollection(pieces, linewidths=widths, colors="black", capstyle="butt", **more)


def sheet(heading, engine, notes, number, paper, scale, corner):
    """Return the axes of a new sheet and of its drawing, whose lower left is `corner`."""
    size = np.array(PAPERS[paper])
    figure = Figure(figsize=size / 25.4)
    page, room, edge = figure.add_axes([0, 0, 1, 1]), room_of(paper, scale), MARGIN / scale
    drawing = figure.add_axes([*(np.array([edge, edge + FOOT, *room]) * scale / [*size, *size])])
    for axes, (x, y), (width, height) in (page, (0, 0), size / scale), (drawing, corner, room):
        axes.set(xlim=(x, x + width), ylim=(y, y + height))
        axes.set_axis_off()
    right, top = size / scale - edge
    page.text(edge, top, heading, va="top", fontsize=12, weight="bold", parse_math=False)
    page.text(right, top, "page {} of {}".format(*number), ha="right", va="top", fontsize=9)
    name = textwrap.shorten(engine, 90)
    page.text(edge, top - 5.5, name, va="top", fontsize=9, parse_math=False)
    page.text(edge, top - 10, notes, va="top", fontsize=7.5, linespacing=1.25)
    words = "measure the bars before use · print at 100 %, no fit to page"
    drawn = "" if scale == 1 else f" · drawn {scale:.4f} times, for one printer"
    page.text(edge, edge, words + drawn, va="bottom", fontsize=8.5, weight="bold")
    for (length, unit), y in zip(_BARS, (edge + 19, edge + 8), strict=True):
        full, x = length * (25.4 if unit == "in" else 1), edge + 0.5
        bar = [[(x, y), (x + full, y)], *([(end, y - 2), (end, y + 2)] for end in (x, x + full))]
        page.add_collection(lines(bar, [1.0, 0.6, 0.6], gid=f"bar_{length}_{unit}"))
        page.text(x + full / 2, y + 0.7, f"{length} {unit}", ha="center", fontsize=8)
        page.add_patch(Rectangle((edge + 106, y - 3), 43, 7, fill=False, lw=0.6))
        page.text(edge + 107.5, y + 0.3, "bar measures", va="center", fontsize=8)
        page.text(edge + 148, y + 0.3, unit, ha="right", va="center", fontsize=8)
    return page, drawing


# --- a drawing larger than a sheet ------------------------------------------------------------


# --- words on a crowded drawing ---------------------------------------------------------------
