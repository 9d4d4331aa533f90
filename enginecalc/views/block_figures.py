"""Drawings of a big end in its block. Like all drawings here they compute nothing of an engine."""

import numpy as np
from matplotlib.patches import Circle, Patch, Polygon

from enginecalc.units import ureg
from enginecalc.views.figures import BLOCK, CRANK, PISTON, ROD
from enginecalc.views.valve_figures import EXHAUST, INTAKE

MM = ureg.Unit("mm")  # a unit looked up once: its name would be read at every move
SWEPT = "#E3F0F9"
_HAIR = 1.0  # of an outline, in points
_NUMBER, _SPOT = 11.0, 3.0  # radii of a mark's number and of its place, in points
_ROUND = {"solid_joinstyle": "round", "solid_capstyle": "round"}
_ON_WHITE = {"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85}
_DOTS = (0, (1, 1.5))
_LOBES = {"intake": (INTAKE, "-"), "exhaust": (EXHAUST, "--")}


def block_legend(figure):
    """Say under a figure of front views what its areas and lines are."""
    handles = [
        Patch(fc=SWEPT, ec="black", label="swept in a turn"),
        Patch(fc=ROD, ec="black", label="big end and rod"),
        Patch(fc=PISTON, ec="black", alpha=0.55, label="piston"),
        Patch(fc=CRANK, ec=CRANK, alpha=0.35, label="counterweight"),
        Patch(fc="white", ec=BLOCK, hatch="////", label="block"),
        Patch(fc="none", ec=CRANK, ls=_DOTS, label="crank pin's circle"),
        Patch(fc="none", ec=INTAKE, label="intake lobe"),
        Patch(fc="none", ec=EXHAUST, ls="--", label="exhaust lobe"),
        Patch(fc="none", ec="black", ls=_DOTS, label="largest on the camshaft"),
    ]
    figure.legend(handles=handles, loc="lower center", ncols=3, fontsize=9, frameon=False)


class BlockView:
    """A cylinder's crank, big end and surroundings in the front view, to scale.

    What is swept is each disc's path, stroked as wide as the disc: all outlines below all areas.
    Widths are in points, so they follow the scale of the axes, which must not move afterwards.
    """

    def __init__(self, ax):
        self.ax = ax
        ax.set_aspect("equal")
        ax.set(xticks=[], yticks=[])
        self.title = ax.set_title("", fontsize=10)
        self.rims, self.areas, self.bands, self.faces = [], [], [], []
        self.circles, self.now_rims, self.now = [], [], []
        self.words, self.notes = [], []
        self.weight = self._polygon(fc=CRANK, ec=CRANK, alpha=0.35, zorder=2)
        self.lobes = {
            side: self._polygon(fc="none", ec=color, ls=dash, lw=1.4, zorder=2.6)
            for side, (color, dash) in _LOBES.items()
        }
        self.piston = self._polygon(fc=PISTON, ec="black", lw=1, alpha=0.55, zorder=3.4)
        self.beam = self._polygon(fc=ROD, ec="black", lw=1, zorder=3)
        self.path = self._circle(fill=False, ls=_DOTS, ec=CRANK, lw=1.2, zorder=2.2)
        (self.throw,) = ax.plot([], [], color=CRANK, lw=4, solid_capstyle="round", zorder=3.6)
        self.rounds = {
            name: self._circle(fc="white", ec="black", lw=1, zorder=3.5)
            for name in ("main", "crank pin", "pin")
        }
        (self.center,) = ax.plot([0], [0], marker="+", color="black", ms=9, zorder=5)
        (self.sense,) = ax.plot([], [], color="black", lw=1.4, zorder=5)
        self.head = self._polygon(fc="black", lw=0, zorder=5)
        (self.spots,) = ax.plot(
            [], [], ls="", marker="o", mfc="none", color="black", ms=5, zorder=6
        )

    def _polygon(self, **style):
        return self.ax.add_patch(Polygon([(0, 0)] * 3, closed=True, **style))

    def _line(self, **style):
        return self.ax.plot([], [], **style)[0]

    def _circle(self, **style):
        return self.ax.add_patch(Circle((0, 0), 1, **style))

    def _kept(self, pool, count, make):
        """Return the first artists of a pool, which grows as it must; the others are not shown."""
        while len(pool) < count:
            pool.append(make())
        for at, each in enumerate(pool):
            each.set_visible(at < count)
        return pool[:count]

    def look_at(self, left, bottom, right, top):
        """Set the window in mm, widened to the shape of the axes; call it before `place`."""
        box = self.ax.get_position(original=True).size * self.ax.figure.get_size_inches()
        span = np.max(np.array([right - left, top - bottom]) / box) * box
        middle = np.array([left + right, bottom + top]) / 2
        low, high = middle - span / 2, middle + span / 2
        self.ax.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]))
        self.span, self._points = span, 72 * box[0] / span[0]  # of paper in a mm of the engine

    def place(self, scene, rod=True):
        """Move everything to where a scene has it; without the rod what stands behind it shows."""
        swept, pose = scene.swept, scene.pose
        sizes = {name: None if each is None else each.m_as(MM)
                 for name, each in scene.sizes.items()}  # fmt: skip
        self._sweep(swept.paths.m_as(MM), swept.radii.m_as(MM))
        self._walls([ends.m_as(MM) for _, ends in swept.edges])
        rings = self._kept(
            self.circles, len(swept.circles), lambda: self._circle(fill=False, lw=0.9, zorder=2.5)
        )
        for ring, (words, middle, radius) in zip(rings, swept.circles, strict=True):
            ring.set(center=middle.m_as(MM), radius=radius.m_as(MM))
            ring.set_linestyle(_DOTS if "largest" in words else "-")
        self._outline(self.weight, pose.weight)
        self._outline(self.piston, pose.piston)
        for side, lobe in self.lobes.items():
            self._outline(lobe, pose.lobes.get(side))
        foot, top = pose.crank_pin.m_as(MM), pose.piston_pin.m_as(MM)
        self._rod(pose, swept.radii.m_as(MM), foot, top, sizes["beam"])
        self.path.set_radius(sizes["throw"])
        self.throw.set_data([0, foot[0]], [0, foot[1]])
        middles = {"main": (0, 0), "crank pin": foot, "pin": top}
        for name, ring in self.rounds.items():
            ring.set_visible(sizes[name] is not None)
            ring.set(center=middles[name], radius=sizes[name] or 1)
        if not rod:
            for each in (*self.now, *self.now_rims, self.rounds["crank pin"]):
                each.set_visible(False)
        for each in (self.beam, self.throw):
            each.set_visible(rod)

    def _outline(self, polygon, points):
        polygon.set_visible(points is not None)
        if points is not None:
            polygon.set_xy(points.m_as(MM).T)

    def _sweep(self, paths, radii):
        for pool, wider, style in (
            (self.rims, 2 * _HAIR, {"color": "black", "zorder": 1}),
            (self.areas, 0, {"color": SWEPT, "zorder": 1.2}),
        ):
            lines = self._kept(pool, len(radii), lambda style=style: self._line(**style, **_ROUND))
            for line, path, radius in zip(lines, np.moveaxis(paths, 1, 0), radii, strict=True):
                line.set_data(*path)
                line.set_linewidth(2 * radius * self._points + wider)

    def _walls(self, edges):
        """Draw faces, and the metal behind them away from the opposite face."""
        bands = self._kept(
            self.bands, len(edges),
            lambda: self._polygon(fc="none", ec=BLOCK, lw=0, hatch="////", zorder=1.5),
        )  # fmt: skip
        faces = self._kept(
            self.faces, len(edges),
            lambda: self.ax.plot([], [], color="black", lw=1.8, zorder=3.3)[0],
        )  # fmt: skip
        for at, (band, face) in enumerate(zip(bands, faces, strict=True)):
            ends = edges[at]
            back = (ends - edges[at ^ 1]).mean(axis=1)[:, None]
            back = 0.09 * back / np.hypot(*back) * np.hypot(*(edges[-1] - edges[-2]).mean(axis=1))
            band.set_xy(np.concatenate([ends, (ends + 2 * back)[:, ::-1]], axis=1).T)
            face.set_data(*ends)

    def _rod(self, pose, radii, foot, top, width):
        """Draw the beam, as a line where its width is not known, and the discs of the big end."""
        along = (top - foot) / np.hypot(*(top - foot))
        across = np.array([-along[1], along[0]]) * (width or 1.0) / 2
        self.beam.set_xy([foot + across, top + across, top - across, foot - across])
        centers = np.zeros((2, 0)) if pose.discs is None else pose.discs.m_as(MM)
        for pool, wider, level in ((self.now_rims, _HAIR / self._points, 3.1), (self.now, 0, 3.2)):
            color = "black" if wider else ROD
            discs = self._kept(
                pool, len(radii),
                lambda color=color, level=level: self._circle(fc=color, lw=0, zorder=level),
            )  # fmt: skip
            for disc, center, radius in zip(discs, centers.T, radii, strict=True):
                disc.set(center=center, radius=radius + wider)

    def name_parts(self, scene):
        """Write beside rails and camshaft what they are, and show which way the crank runs."""
        leans = 1 if scene.pose.piston_pin.m_as(MM)[0] >= 0 else -1  # to the rail with most room
        labels = []
        for words, ends in scene.swept.edges:
            x, y = ends.m_as(MM)[:, 0]
            if words == "pan rail" and x * leans > 0:
                labels.append((words, x, y - 0.045 * self.span[1], leans))
        for _, middle, radius in scene.swept.circles[-1:]:
            x, y = middle.m_as(MM)
            labels.append(("camshaft", x - 1.15 * leans * radius.m_as(MM), y, -leans))
        texts = self._kept(
            self.words,
            len(labels),
            lambda: self.ax.text(0, 0, "", fontsize=9, va="center", zorder=6, bbox=_ON_WHITE),
        )
        for text, (words, x, y, side) in zip(texts, labels, strict=True):
            text.set(text=words, position=(x, y), ha="left" if side > 0 else "right")
        self._show_sense(scene)

    def _show_sense(self, scene):
        """Draw the running direction as an arrow about the crank's center, opposite the pin."""
        throw, main = (scene.sizes[name] for name in ("throw", "main"))
        radius = throw.m_as(MM) * (0.6 if main is None else 0.5 + 0.5 * float(main / throw))
        opposite = np.arctan2(*-scene.pose.crank_pin.m_as(MM))
        angles = opposite + np.radians(np.linspace(-40, 30, 20)) * scene.turn
        self.sense.set_data(radius * np.sin(angles), radius * np.cos(angles))
        out = np.array([np.sin(angles[-1]), np.cos(angles[-1])])
        way, size = scene.turn * np.array([out[1], -out[0]]), 0.016 * self.span[0]
        tip = radius * out
        self.head.set_xy([tip + 2.4 * size * way, tip + size * out, tip - size * out])

    def mark(self, places):
        """Number places: (number, the place, the direction in which the number stands off)."""
        places = [(number, at.m_as(MM), away) for number, at, away in places]
        texts = self._kept(
            self.notes, len(places),
            lambda: self.ax.annotate(
                "", (0, 0), (0, 0), fontsize=10, weight="bold", ha="center", va="center", zorder=7,
                bbox={"boxstyle": "circle,pad=0.2", "fc": "white", "ec": "black"},
                arrowprops={"arrowstyle": "-", "lw": 1},
            ),
        )  # fmt: skip
        self.spots.set_data(*np.reshape([at for _, at, _ in places], (-1, 2)).T)
        if not places:
            return
        for text, (number, at, _), spot in zip(texts, places, self._apart(places), strict=True):
            text.set_text(str(number))
            text.xy = tuple(at)
            text.set_position(spot)

    def _along(self, text):
        """Return points along a word that is written from its start, or to its end."""
        steps = np.arange(len(text.get_text())) * 0.6 * text.get_fontsize() / self._points
        way = 1 if text.get_ha() == "left" else -1
        return np.array(text.get_position()) + way * steps[:, None] * [1, 0]

    def _apart(self, places):
        """Return where numbers stand: in the window, clear of one another, of places and words."""
        size, small = (each / self._points for each in (_NUMBER, _SPOT))
        here, away = (np.array(each) for each in list(zip(*places, strict=True))[1:])
        written = [text for text in self.words if text.get_visible()]
        taken = np.concatenate([here, *(self._along(text) for text in written)])
        # a hair aside, each elsewhere, so that two on one spot know which way to go
        turned = np.arange(len(places)) * 2.4
        aside = 1e-3 * size * np.column_stack([np.cos(turned), np.sin(turned)])
        spots = here + 0.075 * self.span[0] * away + aside
        low, high = np.array([self.ax.get_xlim(), self.ax.get_ylim()]).T
        for _ in range(100):
            was = spots
            for others, least, part in ((spots, 2 * size, 0.5), (taken, size + small, 1.0)):
                way = spots[:, None] - others
                far = np.hypot(*np.moveaxis(way, -1, 0))
                lack = np.where(far > 0, np.maximum(least - far, 0), 0) / np.where(far > 0, far, 1)
                spots = spots + part * np.sum(lack[..., None] * way, axis=1)
            spots = np.clip(spots, low + size, high - size)
            if np.abs(spots - was).max() < 0.01 * size:
                break
        return spots
