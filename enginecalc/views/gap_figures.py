"""Drawings of one gap in the block: enlarged, in section, and by crank angle. Nothing computed."""

import numpy as np
from matplotlib.patches import Polygon

from enginecalc.views.block_figures import MM, BlockView
from enginecalc.views.figures import CRANK, LIMIT, ROD

_QUARTER = np.linspace(np.pi, 1.5 * np.pi, 40)
_BOX = {"bbox": {"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.9}}


class NearestPlace:
    """The place where a pair comes nearest, enlarged: its gap dimensioned, its limit dashed."""

    def __init__(self, ax):
        self.ax, self.view = ax, BlockView(ax)
        self.view.center.set_visible(False)
        (self.limit,) = ax.plot([], [], color=LIMIT, lw=1.6, ls="--", zorder=2.9)
        (self.between,) = ax.plot([], [], color="black", lw=0.8, zorder=8)
        style = {"arrowstyle": "-|>", "lw": 1.2, "shrinkA": 0, "shrinkB": 0, "color": "black"}
        self.arrows = [ax.annotate("", (0, 0), (0, 0), arrowprops=style, zorder=8) for _ in "ab"]
        self.words = [
            ax.text(0, 0, "", zorder=9, fontsize=10, clip_on=True, **_BOX) for _ in "gbrl"
        ]

    def place(self, scene, spot, words, rod):
        """Move everything.

        Parameters
        ----------
        scene : Scene
            At the crank angle of the nearest place.
        spot : Spot
            Where that is.
        words : sequence of str
            At the gap, on the block, on the rod, and at the limit's line.
        rod : bool
            Whether the rod is drawn, which hides the counterweight.
        """
        here, there, line = (each.m_as(MM) for each in (spot.here, spot.there, spot.limit))
        middle, toward = (here + there) / 2, spot.toward
        reach = np.abs([here - there, spot.reach.m_as(MM) * np.ones(2)]).max()
        self.view.look_at(*(middle - 2.2 * reach), *(middle + 2.2 * reach))
        self.view.place(scene, rod)
        self.limit.set_data(*line)
        self.limit.set_zorder(2.9 if rod else 6)
        self.between.set_data(*np.transpose([here, there]))
        high, wide = self.view.span[1], self.view.span.min()
        apart = 1 if (here - there) @ toward >= 0 else -1  # or one in the other
        for arrow, tip, side in zip(self.arrows, (here, there), (1, -1), strict=True):
            arrow.xy = tuple(tip)
            arrow.set_position(tip + side * apart * 0.14 * wide * toward)
        level = abs(toward[0]) > 0.8  # then words stand over one another, else side by side
        beside = np.array([0, 1]) if level else np.array([1, 0])
        off = (0.32 if level else 0.1) * high * beside
        end = middle - (0.36 if level else 0.6) * high * beside
        on_line = line[:, np.argmin(np.hypot(*(line - end[:, None])))]
        aside = (0.1 if level else 0.28) * wide * toward
        spots = (
            (here if apart > 0 else there) + 0.17 * wide * toward,
            here + aside + off,
            there - aside + off,
            on_line,
        )
        right = (toward[0] > 0, toward[0] > 0, toward[0] < 0, toward[0] > 0) if level else (1,) * 4
        for text, said, at, left in zip(self.words, words, spots, right, strict=True):
            text.set(text=said, position=at, va="center", ha="left" if left else "right")


class ChamferSection:
    """A rod's chamfer in the crank's fillet, cut along the crank: cheek left, journal below."""

    def __init__(self, ax):
        self.ax = ax
        ax.set_aspect("equal")
        ax.set(xticks=[], yticks=[])
        self.rod = ax.add_patch(Polygon([(0, 0)] * 3, fc=ROD, ec="black", lw=1.2))
        self.crank = ax.add_patch(
            Polygon([(0, 0)] * 3, fc=CRANK, ec="black", lw=1.4, alpha=0.6, hatch="\\\\\\\\")
        )
        style = {"fontsize": 10, "ha": "center", "va": "center", **_BOX}
        self.words = [ax.text(0, 0, "", **style) for _ in range(3)]

    def place(self, fillet, chamfer, words):
        """Move everything: sizes as quantities, and words on cheek, rod and journal."""
        radius, leg = fillet.m_as(MM), chamfer.m_as(MM)
        far, back = 3.2 * radius, -1.1 * radius
        box = self.ax.get_position(original=True).size * self.ax.figure.get_size_inches()
        wide = (far - back) * box[0] / box[1]
        arc = radius + radius * np.array([np.cos(_QUARTER), np.sin(_QUARTER)])
        corner = [(wide, 0), (wide, back), (back, back), (back, far), (0, far)]
        self.crank.set_xy([*corner, *arc.T])
        self.rod.set_xy([(leg, 0), (wide, 0), (wide, far), (0, far), (0, leg)])
        self.ax.set(xlim=(back, back + wide), ylim=(back, far))
        spots = ((back / 2, 0.7 * far), (0.5 * wide, 0.6 * far), (0.5 * wide, back / 2))
        for text, said, at in zip(self.words, words, spots, strict=True):
            text.set(text=said, position=at)


class GapByAngle:
    """A pair's gap against the crank angle, in both plans, with its limit and its least."""

    def __init__(self, ax, names):
        self.ax = ax
        ax.grid(alpha=0.3)
        styles = ({"color": CRANK, "ls": "--", "lw": 1.2}, {"color": "black", "lw": 1.8})
        self.lines = [
            ax.plot([], [], label=name, **style)[0]
            for name, style in zip(names, styles, strict=True)
        ]
        self.limit = ax.axhline(np.nan, color=LIMIT, lw=1.4, ls=(0, (5, 2)), label="limit")
        self.now = ax.axvline(np.nan, color=CRANK, lw=1, ls=":", label="crank now")
        (self.least,) = ax.plot([], [], ls="", marker="o", color="black", ms=6)
        self.words = ax.annotate(
            "", (0, 0), (0, 0), xycoords="data", textcoords="offset points", fontsize=9, **_BOX
        )
        ax.legend(loc="upper center", ncols=4, fontsize=9, frameon=True, framealpha=0.9)
        ax.set_title("", fontsize=11)

    def place(self, curves, limit, least, now, title, words, unit):
        """Move everything.

        Parameters
        ----------
        curves : sequence of (angles, gaps)
            Quantities for each plan; None for the first where it has none.
        limit : quantity
            What the gap must be.
        least : (angle, gap)
            Of the second plan, quantities.
        now : quantity
            Where the crank stands.
        title : str
            Stands above.
        words : str
            At the least gap.
        unit : str
            "in" or "mm".
        """
        to = "inch" if unit == "in" else unit
        known = [each for each in curves if each is not None]
        end = max((each[0].m_as("deg")[-1] for each in known), default=360)
        for line, each in zip(self.lines, curves, strict=True):
            angles, gaps = ([], []) if each is None else (each[0].m_as("deg"), each[1].m_as(to))
            line.set_data(angles, gaps)
        low = limit.m_as(to)
        at, gap = least[0].m_as("deg"), least[1].m_as(to)
        self.limit.set_ydata([low, low])
        self.now.set_xdata([now.m_as("deg") % end] * 2)
        self.least.set_data([at], [gap])
        self.words.set_text(words)
        top = max([6 * low, *(3 * np.nanmin(each[1].m_as(to)) for each in known)])
        self.ax.set(xlim=(0, end), ylim=(min(0.0, 1.3 * gap), 1.15 * top or 1.0))
        ticks = np.arange(0, end + 1, end / 12)
        firing = end > 360
        self.ax.set_xticks(ticks, [f"{each if firing else min(each, 360 - each):.0f}"
                                   for each in ticks])  # fmt: skip
        self.words.xy, right = (at, gap), at > 0.6 * end
        self.words.set(position=(-12 if right else 12, 12), ha="right" if right else "left")
        after = "after firing TDC" if firing else "after TDC, from 180 on before TDC"
        self.ax.set(xlabel=f"crank angle {after} [deg]", ylabel=f"gap [{unit}]")
        self.ax.set_title(title, fontsize=11)
