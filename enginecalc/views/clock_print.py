"""Where the gaps of a piston's rings stand, at true scale for its bore: the ring-gap clock."""

import itertools
import textwrap

import matplotlib
import numpy as np

from enginecalc.records.ring_placement import distances, turned
from enginecalc.views import sheets, tiles

BAND, OPEN = 3.0, 2.5  # a ring's wall and the opening of its gap, as drawn
_LINE, _WORDS, _SMALL = 5.6, 12.0, 8.5  # from line to line below the clock, points of its words
_BANKS = "left and right bank are named as seen from the flywheel end"
MAKER = "The ring maker's word wins: where his sheet says otherwise, do that."


@matplotlib.rc_context(sheets.STYLE)
def ring_gap_clock(engine, cylinder, placement, *, paper="A4", scale=1.0):
    """Return the sheets of the ring-gap clock of a cylinder, seen from above, front up.

    Parameters
    ----------
    engine : Engine
        Its rotation says on which side the major thrust is.
    cylinder : int or str
        Its number in the engine's layout.
    placement : Placement
        For standard rotation; it is mirrored for a reverse engine.
    paper : str
        "A4" or "Letter".
    scale : float
        From `sheets.scale_factor`.

    Returns
    -------
    list of Figure
        One a sheet; a bore larger than the paper comes in tiles.

    Raises
    ------
    ValueError
        When there is no such cylinder, or an argument is impossible.
    """
    title, layout = "ring_gap_clock", engine.layout
    sheets.refuse(title, sheets.paper_faults(layout.rotation, paper, scale))
    if cylinder not in layout.numbers:
        known = ", ".join(map(str, layout.numbers))
        sheets.refuse(title, [f"cylinder must be one of {known}, got {cylinder!r}"])
    bank = layout.cylinder[layout.numbers.index(cylinder)].bank
    whose = f"cylinder {cylinder}" + ("" if bank == "inline" else f", {bank} bank")
    bore = engine.block.bore
    radius = bore.m_as("mm") / 2
    placement = turned(placement, layout.rotation)
    gaps = [*zip(placement.rings, placement.angles.m_as("deg"), strict=True)]
    words = _words(placement, sheets.PAPERS[paper][0] - 2.5 * sheets.MARGIN)

    def draw(ax):
        _clock(ax, radius, gaps)
        for at, (line, size) in enumerate(words):
            ax.text(*_below(radius, at), line, fontsize=size, **sheets.MIDDLE)

    sense = {1: "clockwise", -1: "anticlockwise"}[layout.turn]
    notes = "seen from above, front up; angles run clockwise from the piston's front mark"
    notes += f"; gaps are drawn wider than they are\ncrank turns {sense} seen from the front"
    notes += f": major thrust side on the {'right' if layout.turn > 0 else 'left'}; {{}}"
    notes += f"\n{_BANKS}" if len(layout.by_bank()) > 1 else ""
    size = f"bore {bore.m_as('mm'):.2f} mm ({bore.m_as('inch'):.3f} in)"
    heading, alone = f"Ring-gap clock · {whose} · {size}", "hold the piston over it, front mark up"
    page = heading, engine.name or "", notes, alone, paper, scale
    ink = _ink(radius, words, scale)
    return tiles.sheets_of(*page, draw, [ink] * 3, _labels(radius, gaps, layout.turn))


def _spot(radius, angle):
    """Return x, y at so many degrees clockwise from the front."""
    return radius * np.array([np.sin(np.radians(angle)), np.cos(np.radians(angle))])


def _arc(radius, first, last):
    return np.transpose(_spot(radius, np.linspace(first, last, max(2, int(last - first) * 2))))


def _below(radius, at):
    """Return where the middle of a line of the words below the clock lies."""
    return 0.0, -radius - 16.5 - _LINE * at


def _words(placement, width):
    """Return the lines to write below the clock, each up to `width` mm long, and their points."""
    least, pin, thrust = map(_degrees, distances(placement))
    said = [
        (placement.name[0].upper() + placement.name[1:], _WORDS),
        (f"Least separation {least}", _WORDS),
        (f"Least distance: {pin} from the pin axis, {thrust} from the thrust axis", _WORDS),
        (MAKER, _WORDS),
        (f"Source of this placement: {placement.source or 'none given'}", _SMALL),
    ]
    return [
        (line, size)
        for words, size in said
        for line in textwrap.wrap(words, int(len(words) * width / tiles.text_width(words, size)))
    ]


def _degrees(angle):
    return f"{round(float(angle), 1):g}°"


def _clock(ax, radius, gaps):
    """Draw bore, axes, the band of the rings with its gaps, and the front mark."""
    style = {"color": "black", "solid_capstyle": "butt"}
    ax.plot(*_arc(radius, 0, 360).T, lw=1.0, gid="bore", **style)
    inner, half = radius - BAND, np.degrees(OPEN / radius) / 2
    angles = sorted(angle for _, angle in gaps)
    for first, last in itertools.pairwise([*angles, angles[0] + 360]):
        if last - first > 2 * half:
            ends = first + half, last - half
            band = np.concatenate([_arc(radius - 0.5, *ends), _arc(inner, *ends)[::-1]])
            ax.fill(*band.T, facecolor="0.8", edgecolor="black", lw=0.6, gid="ring")
    for ring, angle in gaps:
        ends = np.array([_spot(inner - 3, angle), _spot(radius + 2, angle)])
        ax.plot(*ends.T, lw=1.6, gid=f"gap of {ring}", **style)
    for name, angle in (("pin_axis", 0), ("thrust_axis", 90)):
        ends = np.array([_spot(radius + 3, angle), _spot(-radius - 3, angle)])
        ax.plot(*ends.T, lw=0.7, ls=(0, (9, 4)), color="black", gid=name)
    mark = np.array([(0, inner - 1), (-3, inner - 7), (3, inner - 7)])
    ax.fill(*mark.T, color="black", gid="front_mark")
    ax.text(*_front(radius), "FRONT", fontsize=13, weight="bold", **sheets.ON_WHITE)


def _front(radius):
    """Return where the middle of the word at the front mark lies."""
    return 0.0, radius - BAND - 11.5


def _ink(radius, words, scale):
    """Return points on all lines, words below included."""
    across = np.array([(-radius - 3, 0), (radius + 3, 0)])
    pieces = [_arc(radius, 0, 360), _arc(radius - BAND, 0, 360), across, across[:, ::-1]]
    pieces += [np.add(_front(radius), [(-10, y), (10, y)]) for y in (-2.5, 0, 2.5)]
    for at, (line, size) in enumerate(words):
        half = np.array([tiles.text_width(line, size) / 2 / scale, 0])
        pieces.append([_below(radius, at) - half, _below(radius, at) + half])
    return np.concatenate([tiles.along(piece) for piece in pieces])


def _labels(radius, gaps, turn):
    """Return what `tiles.placed` is to place: a name for each gap, axis and side."""
    bold = {"fontsize": 14, "weight": "bold"}
    labels = [
        (f"{ring} {_degrees(angle)}", [_spot(radius + 2, angle)], 1, bold) for ring, angle in gaps
    ]
    side = [_spot(radius - BAND, 90 * turn)]
    labels.append(("major thrust side", side, 1, {"fontsize": 10, "weight": "bold"}))
    labels.append(("pin axis", [(0, -radius * part) for part in (0.3, 0.5)], 0, {"fontsize": 9}))
    ends = [(-turn * radius * part, 0) for part in (0.3, 0.5)]
    labels.append(("thrust axis", ends, 0, {"fontsize": 9}))
    return labels
