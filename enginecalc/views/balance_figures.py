"""Drawings of what an engine shakes and when it fires. They compute nothing."""

import numpy as np

from enginecalc.views.figures import BLOCK, CRANK, LIMIT, PISTON

BESIDE = "black"
_DASHED = (0, (4, 3))
_ROOM = 1.12  # of a trace's greatest reach, to the edge of its square


class Traces:
    """Where the tip of the force, and of the couple, runs in the front view over one turn.

    The other layout's traces are dotted, a dot every few degrees (dashes would close up where a
    trace runs to and fro); an arrow shows this engine's vector at a crank angle.
    """

    def __init__(self, axes):
        self.axes = dict(zip(("force", "couple"), axes, strict=True))
        self.lines, self.arrows = {}, {}
        for name, ax in self.axes.items():
            ax.set_aspect("equal")
            ax.axhline(0, color=BLOCK, lw=0.8)
            ax.axvline(0, color=BLOCK, lw=0.8)
            ax.grid(alpha=0.3)
            ax.tick_params(labelsize=8.5)
            ax.locator_params(nbins=5)
            self.lines[name] = [
                ax.plot([], [], color=PISTON, lw=2.4)[0],
                ax.plot([], [], ".", color=BESIDE, ms=2.6, markevery=4, zorder=3)[0],
            ]
            self.arrows[name] = ax.quiver(
                [0], [0], [0], [0], angles="xy", scale_units="xy", scale=1, color=LIMIT,
                width=0.016, zorder=4,
            )  # fmt: skip

    def place(self, name, this, beside, words, unit):
        """Move the traces of "force" or "couple".

        Parameters
        ----------
        name : str
            Which of the two.
        this, beside : quantity or None
            x and y along the first axis; None for no other layout.
        words : str
            What to write below: two lines.
        unit : str
            "N" or "kN", "N*m" or "kN*m".
        """
        ax, found = self.axes[name], [this.m_as(unit)]
        found.append(np.full((2, 1), np.nan) if beside is None else beside.m_as(unit))
        for line, vectors in zip(self.lines[name], found, strict=True):
            line.set_data(*np.c_[vectors, vectors[:, :1]])
        reach = max(np.nanmax(np.hypot(*vectors)) for vectors in found[: 1 + (beside is not None)])
        reach = _ROOM * reach if reach > 1e-6 else 1.0
        ax.set(xlim=(-reach, reach), ylim=(-reach, reach))
        ax.set_title(f"{name} in the front view [{unit.replace('*', '·')}]", fontsize=11)
        ax.set_xlabel(words, fontsize=8.5)

    def turn(self, name, vector, unit):
        """Point this engine's arrow: x and y at the crank angle now."""
        x, y = vector.m_as(unit)
        self.arrows[name].set_UVC([x], [y])


class OrderBars:
    """Force or couple by order, this engine and the other layout, the numbers beside the bars."""

    def __init__(self, ax, title, orders):
        self.ax, self.orders = ax, orders
        ax.set_title(title, fontsize=11)
        places = np.arange(len(orders))
        looks = ({"color": PISTON}, {"fc": "white", "ec": BESIDE, "hatch": "///", "lw": 0.9})
        self.bars = [
            ax.barh(places + shift, [0] * len(orders), height=0.34, **look)
            for shift, look in zip((-0.19, 0.19), looks, strict=True)
        ]
        self.words = [[ax.text(0, 0, "", va="center", fontsize=8.5) for _ in orders] for _ in "AB"]
        ax.axvline(0, color=CRANK, lw=0.9)
        ax.set_yticks(places, [f"order {order}" for order in orders])
        ax.set_xticks([])
        ax.set_ylim(len(orders) - 0.45, -0.55)
        ax.set_xlim(0, 1)
        ax.spines[["top", "right", "bottom"]].set_visible(False)

    def place(self, both, words, note):
        """Move the bars.

        Parameters
        ----------
        both : sequence of array or None
            For this engine and the other layout, sizes in one unit; None for no other layout.
        words : sequence of sequence of str
            What to write at each bar.
        note : str
            What to write below.
        """
        self.ax.set_xlabel(note, fontsize=9)
        most = max(np.max(sizes) for sizes in both if sizes is not None)
        most = most if most > 0 else 1.0
        alone = both[1] is None
        for bars, texts, sizes, said, shift in zip(
            self.bars, self.words, both, words, (0.0 if alone else -0.19, 0.19), strict=True
        ):
            sizes = np.zeros(len(self.orders)) if sizes is None else sizes
            for at, (bar, text) in enumerate(zip(bars, texts, strict=True)):
                bar.set_width(0.5 * sizes[at] / most)  # the other half is for the words
                bar.set_y(at + shift - bar.get_height() / 2)
                text.set_text(said[at] if said else "")
                text.set_position((0.5 * sizes[at] / most + 0.015, at + shift))


class FiringLines:
    """Firing instants over two turns, this engine's above the other layout's."""

    def __init__(self, ax):
        self.ax = ax
        ax.set(xlim=(-25, 745), ylim=(-1.5, 1.15), yticks=[])
        ax.set_xticks(range(0, 721, 90))
        ax.set_xlabel("crank angle after the first cylinder's firing TDC [deg]")
        ax.set_title("firing instants", fontsize=11)
        ax.spines[["top", "right", "left"]].set_visible(False)
        self.stems, self.marks, self.titles, self.words = [], [], [], []
        for level, color, dash in ((0.0, PISTON, "-"), (-1.35, BESIDE, _DASHED)):
            self.stems.append(ax.plot([], [], color=color, ls=dash, lw=1.8)[0])
            self.marks.append(ax.plot([], [], "o", color="white", mec=color, mew=1.5, ms=15)[0])
            self.titles.append(ax.text(-20, level + 0.98, "", fontsize=9, va="center"))
            self.words.append(([], []))

    def place(self, this, beside):
        """Move the instants.

        Parameters
        ----------
        this, beside : (title, instants, gaps) or None
            What stands above; {number: quantity}; what to write after each instant, "" for
            nothing. None for no other layout.
        """
        self.ax.set_ylim(-0.75 if beside is None else -1.5, 1.15)
        for row, (given, level) in enumerate(zip((this, beside), (0.0, -1.35), strict=True)):
            title, instants, gaps = given or ("", {}, [])
            at = np.array([each.m_as("deg") for each in instants.values()])
            again = np.append(at, 720.0) if len(at) else at
            x = np.repeat(again, 3)
            y = np.tile([level, level + 0.45, np.nan], len(again))
            self.stems[row].set_data(x, y)
            self.marks[row].set_data(again, np.full(len(again), level + 0.5))
            self.titles[row].set_text(title)
            names = [str(number) for number in instants]
            names += names[:1]  # the cycle begins anew
            middles = (again[:-1] + again[1:]) / 2 if len(again) else []
            self._write(row, 0, again, level + 0.5, names, 8.5)
            self._write(row, 1, middles, level + 0.14, gaps, 8)

    def _write(self, row, sort, places, level, said, size):
        """Move texts of one row, adding some where there are not enough."""
        texts = self.words[row][sort]
        while len(texts) < len(said):
            texts.append(self.ax.text(0, 0, "", ha="center", va="center", fontsize=size, zorder=4))
        for at, text in enumerate(texts):
            text.set_text(said[at] if at < len(said) else "")
            if at < len(said):
                text.set_position((places[at], level))
