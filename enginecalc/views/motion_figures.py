"""Drawings of one cylinder's motion. Like all drawings here they compute nothing."""

import numpy as np
from matplotlib.patches import Circle, Polygon, Rectangle

from enginecalc.views.figures import BLOCK, CRANK, PISTON, ROD
from enginecalc.views.tables import UNITS

SINE, SECOND = "#8C8C8C", "black"
_NAMES = ("position", "velocity", "acceleration")


class MovingView:
    """Crank, rod and piston of one cylinder from the front, to scale; beside it a sine's piston."""

    def __init__(self, ax):
        self.ax = ax
        ax.set_aspect("equal")
        ax.set_axis_off()
        self.walls = [ax.plot([], [], color=BLOCK, lw=4)[0] for _ in range(2)]
        self.path = ax.add_patch(Circle((0, 0), 1, fill=False, ls=":", ec=CRANK, lw=1))
        self.ghost = ax.add_patch(
            Rectangle((0, 0), 1, 1, fc=SINE, ec=CRANK, lw=1, ls="--", alpha=0.45)
        )
        self.piston = ax.add_patch(Rectangle((0, 0), 1, 1, fc=PISTON, ec="black", lw=1, alpha=0.55))
        (self.level,) = ax.plot([], [], color=PISTON, lw=0.9, ls="--")
        self.rod = ax.add_patch(Polygon([(0, 0)] * 4, fc=ROD, ec=CRANK, lw=1, alpha=0.8))
        looks = ("white", ROD, "white")
        self.pins = [ax.add_patch(Circle((0, 0), 1, fc=look, ec="black", lw=1)) for look in looks]
        (self.throw,) = ax.plot([], [], color=CRANK, lw=5, solid_capstyle="round")
        self.words = [ax.text(0, 0, "", ha="center", va="bottom", fontsize=9) for _ in "12"]

    def place(self, sizes, pins, sine_pin, unit="mm"):
        """Move everything.

        Parameters
        ----------
        sizes : dict
            Quantities: bore, throw, compression_height, piston_height, big_end, pin (radii), top
            (the piston pin's height at its top).
        pins : sequence of quantity
            Crank pin and piston pin now: x, y, x, y.
        sine_pin : quantity
            Height of the sine's piston pin.
        """
        size = {name: value.m_as(unit) for name, value in sizes.items()}
        crank_x, crank_y, pin_x, pin_y = (each.m_as(unit) for each in pins)
        half, height, tall = size["bore"] / 2, size["compression_height"], size["piston_height"]
        beside, throw = 2.12 * half, size["throw"]
        crown, roof = pin_y + height, size["top"] + height
        self.piston.set_bounds(-0.97 * half, crown - tall, 1.94 * half, tall)
        ghost = sine_pin.m_as(unit) + height
        self.ghost.set_bounds(beside - 0.97 * half, ghost - tall, 1.94 * half, tall)
        self.level.set_data([-half, beside + half], [crown, crown])
        foot = roof - 2 * throw - tall
        for wall, x in zip(self.walls, (-half, half), strict=True):
            wall.set_data([x, x], [foot, roof + 0.1 * half])
        self.path.set_radius(throw)
        self.throw.set_data([0, crank_x], [0, crank_y])
        along = np.array([pin_x - crank_x, pin_y - crank_y])
        across = np.array([-along[1], along[0]]) / np.hypot(*along)
        wide, narrow = 0.72 * size["big_end"] * across, 0.9 * size["pin"] * across
        ends = np.array([crank_x, crank_y]), np.array([pin_x, pin_y])
        self.rod.set_xy([ends[0] - wide, ends[0] + wide, ends[1] + narrow, ends[1] - narrow])
        places = (0, 0), *ends
        for circle, place, radius in zip(self.pins, places, (0.6, 0.9, 0.6), strict=True):
            circle.set(center=place, radius=radius * size["pin" if place is ends[1] else "big_end"])
        for words, text, x in zip(
            self.words, ("this piston", "a plain sine's"), (0, beside), strict=True
        ):
            words.set_text(text)
            words.set_position((x, roof + 0.2 * half))
        reach = max(throw + size["big_end"], half)
        self.ax.set_xlim(-1.06 * reach, beside + 1.06 * half)
        self.ax.set_ylim(-1.04 * (throw + size["big_end"]), roof + 0.55 * half)


class MotionCurves:
    """Position, velocity and acceleration over one turn: this rod, a sine, and another rod."""

    def __init__(self, axes):
        self.axes = dict(zip(_NAMES, axes, strict=True))
        self.lines, self.now, self.cursors = {}, {}, {}
        for name, ax in self.axes.items():
            self.cursors[name] = ax.axvline(0, color=CRANK, lw=0.8)
            ax.axhline(0, color=BLOCK, lw=0.8)
            self.lines[name] = [
                ax.plot([], [], color=SINE, lw=1.6)[0],
                ax.plot([], [], color=PISTON, lw=2.4)[0],
                ax.plot([], [], color=SECOND, lw=1.1, ls=(0, (4, 3)))[0],
            ]
            (self.now[name],) = ax.plot([], [], "o", color=PISTON, mec="black", ms=7)
            ax.grid(alpha=0.3)
            ax.set_xlim(0, 360)
            ax.set_xticks(range(0, 361, 90))
            if name != _NAMES[-1]:
                ax.tick_params(labelbottom=False)
        self.axes["position"].invert_yaxis()
        self.axes["acceleration"].set_xlabel("crank angle after TDC [deg]")
        self.names = self.axes["position"].legend(
            self.lines["position"], ["sine", "rod A", "rod B"], loc="upper center", fontsize=8.5
        )

    def place(self, angle, sine, first, second, labels, unit):
        """Move the curves.

        Parameters
        ----------
        angle : quantity
            Crank angles, an array.
        sine, first, second : sequence of quantity
            Position, velocity and acceleration, arrays; None for what is not known.
        labels : sequence of str
            What the sine and the two rods are called.
        unit : str
            "in" or "mm".
        """
        units = (unit, "m/s", "1000 m/s²")
        scales = (UNITS[unit], "m/s", "km/s**2")
        x = angle.m_as("deg")
        for at, (name, ax) in enumerate(self.axes.items()):
            ys = [
                np.full_like(x, np.nan) if each[at] is None else each[at].m_as(scales[at])
                for each in (sine, first, second)
            ]
            for line, y in zip(self.lines[name], ys, strict=True):
                line.set_data(x, y)
            ax.set_ylabel(f"{name} [{units[at]}]")
            if np.isfinite(ys).any():
                low, high = np.nanmin(ys), np.nanmax(ys)
                ends = low - 0.07 * (high - low), high + 0.07 * (high - low)
                ax.set_ylim(*(ends[::-1] if name == "position" else ends))
        for words, label in zip(self.names.get_texts(), labels, strict=True):
            words.set_text(label)

    def turn(self, angle):
        """Move the marks on this rod's curves to a crank angle."""
        at = angle.m_as("deg")
        for name in _NAMES:
            x, y = self.lines[name][1].get_data()
            self.cursors[name].set_xdata([at, at])
            self.now[name].set_data([at], [np.interp(at, x, y)])


class HarmonicBars:
    """How strong each order of the acceleration is, for two rods, the numbers beside the bars."""

    def __init__(self, ax, orders):
        self.ax, self.orders = ax, orders
        ax.set_title("orders of acceleration, in parts of r ω²", fontsize=10)
        ax.axvline(0, color=CRANK, lw=0.8)
        places = np.arange(len(orders))
        looks = ({"color": PISTON}, {"fc": "white", "ec": SECOND, "hatch": "///", "lw": 0.9})
        self.bars = [
            ax.barh(places + shift, [0] * len(orders), height=0.34, **look)
            for shift, look in zip((-0.19, 0.19), looks, strict=True)
        ]
        self.words = [[ax.text(0, 0, "", va="center", fontsize=9) for _ in orders] for _ in "AB"]
        ax.set_yticks(places, [f"A{order}" for order in orders])
        ax.set_ylim(len(orders) - 0.5, -0.5)
        ax.set_xlim(-0.06, 1.2)
        ax.grid(alpha=0.3, axis="x")
        self.names = ax.legend(self.bars, ["A", "B"], loc="lower right", fontsize=9)

    def place(self, both, labels):
        """Move the bars: for each rod the amplitudes, plain numbers in the orders' order."""
        for bars, words, amplitudes in zip(self.bars, self.words, both, strict=True):
            for bar, word, size, order in zip(bars, words, amplitudes, self.orders, strict=True):
                bar.set_width(size)
                word.set_text(f"{size:.{4 if order < 4 else 5}f}".replace("-", "−"))
                word.set_position((max(size, 0) + 0.012, bar.get_y() + bar.get_height() / 2))
        for words, label in zip(self.names.get_texts(), labels, strict=True):
            words.set_text(label)


class SideLoad:
    """How hard the piston presses on which wall, over the two turns of the cycle."""

    def __init__(self, ax):
        self.ax = ax
        ax.set_title("side load through the four strokes", fontsize=11)
        ax.set(xlabel="crank angle after firing TDC [deg]", xlim=(0, 720))
        ax.set_xticks(range(0, 721, 90))
        ax.set_ylabel("side load [kN]")
        ax.axhline(0, color=CRANK, lw=0.9)
        ax.grid(alpha=0.3)
        (self.second,) = ax.plot([], [], color=SECOND, lw=1.1, ls=(0, (4, 3)), zorder=3)
        (self.first,) = ax.plot([], [], color=PISTON, lw=2.4)
        (self.most,) = ax.plot([], [], "o", color=PISTON, mec="black", ms=7, zorder=4)
        look = {"fontsize": 9, "ha": "right", "transform": ax.transAxes}
        ax.text(0.99, 0.96, "+ on the major thrust wall", va="top", **look)
        ax.text(0.99, 0.04, "− on the minor thrust wall", va="bottom", **look)
        self.word = ax.text(0, 0, "", fontsize=9)
        self.lacking = ax.text(0.5, 0.6, "", transform=ax.transAxes, ha="center", fontsize=10)

    def place(self, angle, first, second, most, word):
        """Move the curves; `most` is (angle, load). Without loads `word` says what is missing."""
        x, empty = angle.m_as("deg"), np.full(angle.shape, np.nan)
        known = first is not None
        ys = [each.m_as("kN") if known else empty for each in (first, second)]
        self.first.set_data(x, ys[0])
        self.second.set_data(x, ys[1])
        at, size = (most[0].m_as("deg"), most[1].m_as("kN")) if known else (np.nan, np.nan)
        self.most.set_data([at], [size])
        self.word.set_text(word if known else "")
        early = at < 330
        self.word.set_position((at + (14 if early else -14), size) if known else (0, 0))
        self.word.set_ha("left" if early else "right")
        self.word.set_va("bottom" if size > 0 else "top")
        self.lacking.set_text("" if known else word)
        if known:
            low, high = np.min(ys), np.max(ys)
            self.ax.set_ylim(low - 0.2 * (high - low), high + 0.22 * (high - low))
