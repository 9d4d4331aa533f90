"""Drawings larger than a sheet, in tiles to lay together, and words kept clear of what is drawn."""

import itertools
import math
import textwrap

import numpy as np
from matplotlib.patches import Circle, Rectangle
from matplotlib.textpath import TextPath

from enginecalc.views.sheets import MARGIN, MIDDLE, ON_WHITE, lines, room_of, sheet

OVERLAP = 12.0  # of tiles


CROSS = (15.0, 11.0)  # half of what a cross and its name take


TILED = "cut one of two sheets along the dashed line and lay it cross on cross"


def tiles(low, high, room, touches):
    """Return the lower left corners of the tiles by column and row, in reading order.

    `low` and `high` are the drawing's own corners; a tile without any of it, by `touches(low,
    high)` of the tile's corners, is left out.
    """
    counts = [
        1
        if last - first <= side + 1e-6
        else math.ceil((last - first + 2 - OVERLAP) / (side - OVERLAP))
        for first, last, side in zip(low, high, room, strict=True)
    ]
    corners = {}
    for row in reversed(range(counts[1])):
        for column in range(counts[0]):
            corner = tuple(
                first - 1 + at * (side - OVERLAP) if count > 1 else (first + last - side) / 2
                for at, count, first, last, side in zip(
                    (column, row), counts, low, high, room, strict=True
                )
            )
            if touches(corner, (corner[0] + room[0], corner[1] + room[1])):
                corners[column, row] = corner
    return corners


def crosses(ax, corners, room, free):
    """Draw crosses and cutting lines of all tiles where `free(x, y)`; return where crosses are."""
    numbers, drawn = {place: at for at, place in enumerate(corners, 1)}, []
    for (column, row), corner in corners.items():
        for side, other in enumerate([(column + 1, row), (column, row - 1)]):
            if other not in corners:
                continue
            seam = corner[0] + room[0] - OVERLAP / 2 if side == 0 else corner[1] + OVERLAP / 2
            low, long = corner[1 - side], room[1 - side]
            across = slice(None, None, -1 if side else 1)  # y and x of a level seam change places
            dashes = [(seam, seam), (low, low + long)][across]
            ax.plot(*dashes, color="0.4", lw=0.5, ls=(0, (8, 6)))
            spots = [(seam, low + long * part)[across] for part in np.linspace(0.1, 0.9, 33)]
            clear = [at for at in spots if free(*at)]
            ends = clear if len(clear) > 1 else spots
            for letter, (x, y) in zip("ab", (ends[0], ends[-1]), strict=True):
                arms = [[(x - 5, y), (x + 5, y)], [(x, y - 5), (x, y + 5)]]
                name = f"{numbers[column, row]}-{numbers[other]}{letter}"
                ax.add_collection(lines(arms, 0.8, gid=f"cross_{name}", zorder=4))
                ax.add_patch(Circle((x, y), 2, fill=False, lw=0.8, zorder=4))
                inward = 9.5 if letter == "a" else -9.5  # so that no name shows on a third sheet
                spot = (x + inward, y) if side else (x, y + 7)
                ax.text(*spot, name, fontsize=6.5, **ON_WHITE)
                drawn.append((x, y))
    return drawn


def overview(page, corners, at, room, edge):
    """Draw all tiles small in the lower right corner, this one shaded.

    Returns where the drawing's own zero lies there, and how much it shrinks.
    """
    places = np.array([*corners.values()])
    low, high = places.min(axis=0), places.max(axis=0) + room
    shrink = 22 / max(high - low)
    right = page.get_xlim()[1] - edge
    origin = np.array([right - 22, edge + 3]) - low * shrink
    for number, place in enumerate(places, 1):
        fill = {"facecolor": "0.75" if number == at else "white", "edgecolor": "black", "lw": 0.6}
        x, y = origin + place * shrink
        page.add_patch(Rectangle((x, y), *np.array(room) * shrink, **fill))
        middle = (x, y) + np.array(room) * shrink / 2
        page.text(*middle, f"{number}", fontsize=6.5, **MIDDLE)
    return origin, shrink


def sheets_of(heading, engine, notes, alone, paper, scale, draw, points, labels):
    """Return the sheets of a drawing with its labels placed, in tiles when it is too large for one.

    Parameters
    ----------
    heading, engine, notes, paper, scale
        As of `sheet`; in `notes` a {} holds the place of `alone`, or of how to join tiles.
    draw : callable
        Draws all but the labels on the axes it is given.
    points : sequence of array
        Points of all lines; of what should be on paper; of what must be, when that saves a sheet.
    labels
        As of `placed`.
    """
    (ink, whole, least), room = points, np.array(room_of(paper, scale))
    (low, high), (inner, outer) = (
        np.array([each.min(axis=0) - 1, each.max(axis=0) + 1]) for each in (whole, least)
    )
    spare = room - (outer - inner)
    above = np.minimum(spare, high - outer)
    cut = (high - low > room) & (spare >= 0)  # the room that is left goes to what is above first
    low = np.where(cut, inner - np.minimum(spare - above, inner - low), low)
    high = np.where(cut, outer + above, high)

    def touches(first, last):
        return ((whole > first) & (whole < last)).all(axis=1).any()

    def free(x, y):
        return (np.abs(ink - (x, y)) > CROSS).any(axis=1).all()

    corners, words, figures = tiles(low, high, room, touches), None, []
    notes = notes.format(TILED if len(corners) > 1 else alone)
    for at, corner in enumerate(corners.values(), 1):
        page, ax = sheet(heading, engine, notes, (at, len(corners)), paper, scale, corner)
        draw(ax)
        taken = [(spot, CROSS) for spot in crosses(ax, corners, room, free)]
        words = words or placed(labels, ink, taken, [*corners.values()], room, scale)
        for middle, rows, style, leader in words:
            ax.text(*middle, rows, linespacing=1.15, zorder=3, **style, **MIDDLE)
            ax.plot(*leader.T, color="black", lw=0.4, zorder=3)
        if len(corners) > 1:
            origin, shrink = overview(page, corners, at, room, MARGIN / scale)
            page.plot(*(origin + whole * shrink).T, ".", color="black", ms=0.8, mew=0)
        figures.append(page.figure)
    return figures


def text_width(line, size):
    """Return the width in millimeters of one line of text of so many points."""
    return TextPath((0, 0), line, size=size).get_extents().width * 25.4 / 72


def along(points):
    """Return points about a millimeter apart on a line through `points`, which nan interrupts."""
    pieces = [
        np.linspace(one, other, 2 + int(math.dist(one, other)))
        for one, other in itertools.pairwise(np.asarray(points, dtype=float))
        if np.isfinite([one, other]).all()
    ]
    return np.concatenate(pieces)


def placed(labels, ink, boxes, corners, room, scale):
    """Return where words stand clear of lines and of one another: middle, rows, style, leader.

    `labels` hold words, the points they may lead to, how far about these to keep clear, and the
    text's style; `ink` the points of all lines, `boxes` middle and half size of what else is taken.
    """
    bearing, away = np.meshgrid(np.radians(np.arange(0, 360, 15)), [2, 4, 7, 11, 16, 22, 30, 40])
    corners, edge = np.array(corners), 2 if len(corners) == 1 else OVERLAP / 2 + 2
    found, boxes = [], [(at, np.array(size)) for at, size in boxes]
    for words, anchors, clear, style in labels:
        rows = [row for line in words.split("\n") for row in _even(line, 28)]
        if not rows:
            continue
        size = style["fontsize"] * (1.2 if style.get("weight") == "bold" else 1.05)
        long, high = max(text_width(row, size) for row in rows), len(rows) * size * 25.4 / 72 * 1.25
        half = np.array([long, high]) / 2 / scale
        toward = np.array([np.cos(bearing), np.sin(bearing)])
        steps = half[:, None, None] * np.clip(1.5 * toward, -1, 1) + (away + clear) * toward
        seen = [spot for spot in np.array(anchors)
                if ((corners < spot) & (spot < corners + room)).all(axis=1).any()]  # fmt: skip
        best, nearest = math.inf, None
        for start, step in itertools.product(seen or anchors, steps.reshape(2, -1).T):
            middle = start + step
            end = np.clip(start, middle - half, middle + half)
            far = math.dist(start, end)
            cost = far + abs(step[0]) / 25  # of equals the one straight above or below
            if cost >= best:
                continue
            way = np.linspace(start + (end - start) * min(clear / far, 1), end, 15)
            inside = (corners + edge < middle - half) & (middle + half < corners + room - edge)
            cost += 1000 * (not inside.all(axis=1).any())
            cost += 20 * (np.abs(ink - middle) < half + 1).all(axis=1).sum()
            cost += 500 * sum(
                (np.abs(middle - at) < half + size + 0.5).all()
                or (np.abs(way - at) < size + 0.5).all(axis=1).any()
                for at, size in boxes
            )
            if cost < best:
                best, nearest = cost, (middle, way)
        middle, way = nearest
        boxes.append((middle, half))
        ink = np.concatenate([ink, way])
        leader = way[:: len(way) - 1] if math.dist(way[0], way[-1]) > 2.5 else way[:0]
        found.append((middle, "\n".join(rows), style, leader))
    return found


def _even(line, most):
    """Return a line broken into rows of about one length."""
    rows = math.ceil(len(line) / most)
    return next(
        broken
        for wide in itertools.count(math.ceil(len(line) / max(rows, 1)))
        if len(broken := textwrap.wrap(line, max(wide, 1))) <= rows
    )
