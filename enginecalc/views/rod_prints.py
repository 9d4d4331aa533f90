"""True-scale drawings of a rod's big end, to lay on the rod, and of all it sweeps in its block."""

import textwrap

import matplotlib
import numpy as np
from matplotlib.patches import Circle, PathPatch
from matplotlib.path import Path

from enginecalc.views import sheets, tiles

HAIR, AREA = 0.25, "0.9"  # an outline's thickness, its middle on the true edge; what it holds
RING = 3.0  # about parts that nearly touch
BANKS = "left and right bank are named as seen from the flywheel end"
CAUTION = "caution: a computed gap replaces no clay, wire or feeler check; "
CAUTION += "stop at the water jacket; never grind a rod's bolt seat"


@matplotlib.rc_context(sheets.STYLE)
def rod_outline(discs, *, engine="", paper="A4", scale=1.0):
    """Return the sheets of a big end's outline, to cut out and lay over the rod.

    Parameters
    ----------
    discs : sequence of quantity
        x, y and radius of the discs, an array each: about the crank pin, seen from the front with
        the bore upright and the chamfer to the front cheek, x to the right.
    engine, paper, scale
        As of `prints.degree_wheel`.

    Returns
    -------
    list of Figure
        One a sheet; an outline larger than the paper comes in tiles.

    Raises
    ------
    UnitError
        When x, y or radius are not lengths.
    ValueError
        When there are fewer than 3 discs, or an argument is impossible.

    Notes
    -----
    The union of the discs; the middle of the line is its edge.
    """
    title = "rod_outline"
    if len(discs) != 3:
        sheets.refuse(title, [f"discs must be x, y and radius, got {len(discs)} of them"])
    given = [(f"{name} of discs", discs[at]) for at, name in enumerate(("x", "y", "radius"))]
    x, y, radii = map(np.atleast_1d, sheets.magnitudes(title, "mm", given))
    if not x.size == y.size == radii.size:
        counts = f"{x.size}, {y.size} and {radii.size}"
        sheets.refuse(title, [f"discs must have as many x as y and as many radii, got {counts}"])
    drawing = _Drawing(title, "discs", np.array([x, y])[..., None], radii, paper, scale)
    top = np.max(y + radii) + 14
    drawing.line(_cross((0, 0), 8), gid="center")
    drawing.line([(0, -12), (0, top)], lw=0.5, ls=(0, (14, 3, 2, 3)), gid="axis")
    drawing.line([(-1.5, top - 4), (0, top), (1.5, top - 4)])
    drawing.say("to the piston pin", [(0, top)], fontsize=9, weight="bold")
    words = f"chamfer side\nfaces you\n{textwrap.shorten(engine, 40)}"
    drawing.say(words, [(0, -12)], weight="bold")
    for center, radius in zip(np.array([x, y]).T, radii, strict=True):
        drawing.line(_round(center, radius), lw=0.4, ls=":", color="0.5")
        drawing.line(_cross(center, 1.5))
        drawing.say(f"r {radius:.2f} mm\n{radius / 25.4:.3f} in", [center], fontsize=7)
    notes = "chamfer side faces you, seen from the front; turn the sheet over for a rod with its "
    notes += f"chamfer to the rear\n{{}}; {BANKS}\n{CAUTION}"
    alone = "cut it out and lay it over the rod, cross on the crank pin's center"
    return drawing.sheets("Rod outline", engine, notes, alone)


@matplotlib.rc_context(sheets.STYLE)
def swept_envelope(swept, *, engine="", what="", paper="A4", scale=1.0):
    """Return the sheets of all a big end sweeps in a turn, and of what stands around it.

    Parameters
    ----------
    swept : object
        In the front view about the crank's center: `paths` of the discs' centers over a turn, an
        array of (2, discs, angles), and their `radii`; `edges`, words and [[x, x], [y, y]] of
        straight features; `circles`, words, center and radius; `least`, words, the point on the
        feature and the one on the rod where they come nearest.
    what : str
        Which bank and cylinders it is for, for the heading; a long one stands beside the name.
    engine, paper, scale
        As of `rod_outline`.

    Returns
    -------
    list of Figure
        One a sheet; a drawing larger than the paper comes in tiles. Where that saves a sheet, a
        feature is cut off away from its nearest part.

    Raises
    ------
    UnitError
        When anything in `swept` is not a length.
    ValueError
        When there are fewer than 3 discs, or an argument is impossible.

    Notes
    -----
    Each path is stroked as wide as its disc, all edges below all areas: their union.
    """
    title = "swept_envelope"
    given = [("paths of swept", swept.paths), ("radii of swept", swept.radii)]
    paths, radii = map(np.asarray, sheets.magnitudes(title, "mm", given))
    if paths.ndim != 3 or paths.shape[:2] != (2, radii.size):
        shape = f"(2, {radii.size}, angles) for {radii.size} radii, got {paths.shape}"
        sheets.refuse(title, [f"paths of swept must have the shape {shape}"])
    drawing = _Drawing(title, "swept", paths, radii, paper, scale)
    drawing.line(_cross((0, 0), 10), gid="center")
    for at, (words, *points) in enumerate(swept.least, 1):
        pair = np.array(sheets.magnitudes(title, "mm", [(words, point) for point in points]))
        middle, near = pair.mean(axis=0), np.hypot(*(pair[1] - pair[0])) < 1.6 * RING
        drawing.line(pair, lw=0.8, marker=".", ms=4, gid=f"least_{at}")
        if near:
            drawing.line(_round(middle, RING), lw=1.0)
        drawing.say(words, [middle], RING if near else 0, weight="bold")
    for at, (words, ends) in enumerate(swept.edges, 1):
        (ends,) = sheets.magnitudes(title, "mm", [(words, ends)])
        style = {"lw": 0.9, "marker": "s", "ms": 3, "gid": f"edge_{at}"}
        drawing.say(words, drawing.line(ends.T, whole=6, least=1, **style))
    for at, (words, center, radius) in enumerate(swept.circles, 1):
        center, radius = sheets.magnitudes(title, "mm", [(words, center), (words, radius)])
        style = {"lw": 0.8, "ls": "--", "gid": f"circle_{at}"}
        near = drawing.line(_round(center, radius), least=6, **style)
        drawing.line(_cross(center, 4), least=-1)
        drawing.say(words, [center, *near])
    drawing.say("center of crank", [(0, 0)])
    if len(what) > 45:
        engine, what = f"{what} · {engine}", ""
    heading = "Swept envelope" + (f" · {what}" if what else "")
    notes = f"all the big end sweeps in a turn, seen from the front; {BANKS}\n"
    notes += f"from dot to dot: a least gap, each at its own crank angle; {{}}\n{CAUTION}"
    return drawing.sheets(heading, engine, notes, "cross: the crank's center")


class _Drawing:
    """A union of discs along closed paths, in millimeters, with lines and words on it."""

    def __init__(self, title, name, paths, radii, paper, scale):
        faults = []
        if radii.size < 3:
            faults.append(f"{name} must have at least 3 discs, got {radii.size}")
        elif radii.min() <= HAIR:
            faults.append(f"{name} must have radii over {HAIR} mm, got {radii.min():.6g} mm")
        elif (size := np.ptp(paths, axis=(1, 2)).max() + 2 * radii.max()) > sheets.LARGEST:
            faults.append(f"{name} must be up to {sheets.LARGEST:g} mm across, got {size:.6g} mm")
        sheets.refuse(title, faults + sheets.paper_faults("standard", paper, scale))
        self.paths, self.radii, self.rim = paths, radii, _rim(paths, radii)
        self.paper, self.scale = paper, scale
        self.lines, self.words = [], []
        self.ink, self.whole, self.least = ([self.rim] for _ in range(3))

    def line(self, points, whole=np.inf, least=np.inf, **style):
        """Add a line; return points of it near the rim.

        A sheet should hold the `whole`, and must the `least`, of it: so far beyond its nearest.
        """
        self.lines.append((points, {"color": "black", "lw": 0.6, "zorder": 2, **style}))
        dense = tiles.along(points)
        away = np.array([np.hypot(*(self.rim - point).T).min() for point in dense])
        self.ink.append(dense)
        for held, reach in (self.whole, whole), (self.least, least):
            held.append(dense[away <= away.min() + reach])
        return dense[away <= away.min() + 12][::4]

    def say(self, words, anchors, clear=0, **style):
        self.words.append((words, anchors, clear, {"fontsize": 8, **style}))

    def sheets(self, heading, engine, notes, alone):
        def draw(ax):
            _union(ax, self.paths, self.radii, self.scale)
            for line, style in self.lines:
                ax.plot(*np.transpose(line), **style)

        page = heading, engine, notes, alone, self.paper, self.scale
        points = [np.concatenate(each) for each in (self.ink, self.whole, self.least)]
        return tiles.sheets_of(*page, draw, points, self.words)


def _union(ax, paths, radii, scale):
    """Draw all discs along their paths a hair larger in black, then all a hair smaller in gray."""
    for side, color, name in ((1, "black", "rim"), (-1, AREA, "area")):
        for at, (path, radius) in enumerate(zip(np.moveaxis(paths, 1, 0), radii, strict=True), 1):
            style = {"color": color, "zorder": 1 - side / 2, "gid": f"{name}_{at}"}
            if path.shape[1] == 1:
                ax.add_patch(Circle(path[:, 0], radius + side * HAIR / 2, lw=0, **style))
                continue
            # As curves: of straight pieces those off the page are dropped, however wide the stroke.
            ends = np.roll(path, -1, axis=1)
            way = np.stack([(path + ends) / 2, ends], axis=2).reshape(2, -1).T
            codes = [Path.MOVETO, *[Path.CURVE3] * len(way), Path.CLOSEPOLY]
            way = Path([way[-1], *way, way[-1]], codes)
            style |= {"lw": (2 * radius + side * HAIR) * scale * 72 / 25.4, "joinstyle": "round"}
            ax.add_patch(PathPatch(way, fill=False, **style))


def _rim(paths, radii):
    """Return points on the edge of a union of discs along closed paths."""
    paths, radii = paths[..., :: max(1, paths.shape[2] // 180)], radii[:, None]
    if paths.shape[2] == 1:
        points = paths + radii * _round((0, 0), 1).T[:, None]
    else:
        along = np.roll(paths, -1, axis=2) - np.roll(paths, 1, axis=2)
        out = radii * np.array([-along[1], along[0]]) / np.maximum(np.hypot(*along), 1e-9)
        points = np.concatenate([paths - out, paths + out], axis=2)
    points, centers = points.reshape(2, -1, 1), paths.reshape(2, 1, -1)
    beyond = np.hypot(*(points - centers)) - np.repeat(radii, paths.shape[2])
    return points[:, (beyond > -0.2).all(axis=1), 0].T


def _round(center, radius):
    turned = np.linspace(0, 2 * np.pi, 181)
    return np.array(center) + radius * np.column_stack([np.cos(turned), np.sin(turned)])


def _cross(center, arm):
    return np.array(center) + arm * np.array([(-1, 0), (1, 0), (np.nan,) * 2, (0, -1), (0, 1)])
