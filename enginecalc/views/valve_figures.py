"""Drawings of valves against pistons. Like all drawings here they compute nothing."""

import numpy as np

from enginecalc.views.figures import CRANK, LIMIT, PISTON

INTAKE, EXHAUST = "#009E73", "#CC79A7"
SIDES = {"intake": (INTAKE, "-", "o"), "exhaust": (EXHAUST, "--", "s")}


class ValvePaths:
    """How far each valve comes down and how far the piston leaves it room, along the valve."""

    def __init__(self, axes):
        self.axes = dict(zip(SIDES, axes, strict=True))
        self.parts = {}
        for side, ax in self.axes.items():
            color, dash, marker = SIDES[side]
            ax.set_title(f"{side}: valve and piston, along the valve", fontsize=11)
            ax.set_xlabel("crank angle after overlap TDC [deg]")
            ax.grid(alpha=0.3)
            ax.axvline(0, color=CRANK, lw=0.8)
            self.parts[side] = {
                "valve": ax.plot([], [], color=color, ls=dash, label="valve")[0],
                "piston": ax.plot([], [], color=PISTON, label="piston's pocket")[0],
                "least": ax.plot([], [], color=LIMIT, marker=marker, ms=6, lw=2)[0],
                "label": ax.text(0, 0, "", fontsize=9, va="center"),
                "shade": ax.fill_between([0, 1], [0, 0], [0, 0], color=PISTON, alpha=0.12, lw=0),
                "drops": ax.plot([], [], lw=0.8, marker="x", color="black", ms=6)[0],
                "lifts": ax.plot([], [], lw=0.8, marker="+", color="black", ms=7)[0],
            }
            ax.legend(loc="lower center", fontsize=9, ncols=2)

    def place(self, side, angle, lift, room, least, label, unit):
        """Move one side's curves.

        Parameters
        ----------
        side : str
            "intake" or "exhaust".
        angle, lift, room : quantity
            Arrays: crank angle, net valve lift, room down to the pocket's floor.
        least : (crank angle, lift, room)
            Where they come closest, quantities.
        label : str
            What to write there.
        unit : str
            "in" or "mm".
        """
        to = "inch" if unit == "in" else unit
        ax, parts = self.axes[side], self.parts[side]
        x, down, floor = angle.m_as("deg"), lift.m_as(to), room.m_as(to)
        parts["valve"].set_data(x, down)
        parts["piston"].set_data(x, floor)
        parts["shade"].set_data(x, down, floor)
        at, low, high = least[0].m_as("deg"), least[1].m_as(to), least[2].m_as(to)
        parts["least"].set_data([at, at], [low, high])
        parts["label"].set_text(label)
        parts["label"].set_position((0, 0.6 * np.max(floor)))
        parts["label"].set_ha("center")
        ax.set_xlim(x[0], x[-1])
        ax.set_ylim(1.02 * np.max(floor), min(0.0, np.min(floor)) - 0.02 * np.max(floor))
        ax.set_ylabel(f"down from the closed valve [{unit}]")

    def stations(self, side, angle, drop, lift):
        """Draw readings taken by hand, plain numbers: x the drops, + the lifts; empty for none."""
        self.parts[side]["drops"].set_data(angle, drop)
        self.parts[side]["lifts"].set_data(angle, lift)


class GapByAdvance:
    """Least gap of both valves against the cam's advance, with their limits."""

    def __init__(self, ax):
        self.ax = ax
        ax.set_title("least gap by cam phase", fontsize=11)
        ax.set_xlabel("cam advance from the file's [deg, crank]")
        ax.grid(alpha=0.3)
        self.lines, self.limits, self.points, self.words = {}, {}, {}, {}
        for side, (color, dash, marker) in SIDES.items():
            self.lines[side] = ax.plot([], [], color=color, ls=dash, label=side)[0]
            self.limits[side] = ax.axhline(np.nan, color=color, ls=":", lw=1.4)
            self.points[side] = ax.plot([], [], color=color, marker=marker, ms=8)[0]
            self.words[side] = ax.text(0, 0, "", fontsize=8, va="bottom", color="black")
        ax.legend(loc="upper center", fontsize=9)

    def place(self, advance, gaps, limits, now, unit):
        """Move the lines: arrays of quantities, {side: limit or None}, and where the cam is."""
        to = "inch" if unit == "in" else unit
        x = advance.m_as("deg")
        top = 0.0
        for side, gap in gaps.items():
            y = gap.m_as(to)
            top = max(top, y.max())
            self.lines[side].set_data(x, y)
            self.points[side].set_data([now], [np.interp(now, x, y)])
            limit = np.nan if limits[side] is None else limits[side].m_as(to)
            self.limits[side].set_ydata([limit, limit])
            self.words[side].set_text("" if np.isnan(limit) else f" {side} limit")
            self.words[side].set_position((x[0], 0.0 if np.isnan(limit) else limit))
        self.ax.set_xlim(x[0], x[-1])
        self.ax.set_ylim(0, 1.1 * top)
        self.ax.set_ylabel(f"least gap [{unit}]")


class PhasePicture:
    """Room left over the limits, by advance and lobe separation; the safe region outlined."""

    def __init__(self, ax):
        self.ax = ax
        ax.set_title("safe phases", fontsize=11)
        ax.set(xlabel="installed advance [deg, crank]", ylabel="lobe separation [deg, cam]")
        self.image, self.edge = None, None
        (self.point,) = ax.plot([], [], "o", color="black", ms=8, fillstyle="none", mew=2)
        self.words = ax.text(0.5, 0.03, "", transform=ax.transAxes, ha="center", fontsize=8)

    def place(self, advance, separation, room, now, unit):
        """Draw the map: arrays of quantities, rows by advance; `now` is advance and separation."""
        to = "inch" if unit == "in" else unit
        x, y, z = advance.m_as("deg"), separation.m_as("deg"), room.m_as(to).T
        ends = [x[0], x[-1], y[0], y[-1]]
        most = float(np.max(np.abs(z)))
        if self.image is None:
            self.image = self.ax.imshow(
                z, extent=ends, origin="lower", aspect="auto", cmap="cividis", alpha=0.85
            )
        self.image.set(data=z, extent=ends, clim=(-most, most))
        if self.edge is not None:
            self.edge.remove()
        self.edge = None
        if z.min() < 0 < z.max():
            self.edge = self.ax.contour(x, y, z, levels=[0], colors="white", linewidths=2.5)
        self.point.set_data([now[0].m_as("deg")], [now[1].m_as("deg")])
        self.words.set_text(
            "every phase here keeps both limits" if z.min() >= 0
            else "no phase here keeps both limits" if z.max() <= 0
            else "yellow side: both limits kept"
        )  # fmt: skip
        self.words.set_bbox({"fc": "white", "ec": "none", "alpha": 0.8, "pad": 1.5})
