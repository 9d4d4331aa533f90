"""Drawings. They compute nothing: they get quantities and put lines where those say.

A drawing is made once on a kept figure and then only moved, so a slider costs no new artists.
Colours mean parts, never good or bad; limits are dashed and named in words.
"""

import html
import io
import re

import matplotlib
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon, Rectangle

PISTON, ROD, CRANK, BLOCK, GASKET, LIMIT = (
    "#0072B2",
    "#56B4E9",
    "#595959",
    "#BFBFBF",
    "#E69F00",
    "#D55E00",
)
_STYLE = {
    "svg.fonttype": "none",
    "font.family": ["DejaVu Sans", "sans-serif"],
    "font.size": 10,
    "hatch.linewidth": 0.5,
}


def new_figure(width, height):
    """Return a figure of so many inches, kept out of pyplot's hands."""
    with matplotlib.rc_context(_STYLE):
        return Figure(figsize=(width, height), layout="constrained")


def settle(figure):
    """Solve the layout once and keep it, so that redrawing does not move the axes."""
    figure.set_layout_engine("constrained")
    with matplotlib.rc_context(_STYLE):
        figure.draw_without_rendering()
    figure.set_layout_engine(None)  # "none" would still draw everything twice


def svg(figure, words):
    """Return a figure as SVG text for a page, with `words` for those who cannot see it."""
    out = io.StringIO()
    with matplotlib.rc_context(_STYLE):
        figure.savefig(out, format="svg", metadata={"Date": None})
    drawing = re.sub(r"^.*?<svg ", "<svg ", out.getvalue(), count=1, flags=re.S)
    drawing = re.sub(r' width="\S+" height="\S+"', "", drawing, count=1)
    label = html.escape(words, quote=True)
    return drawing.replace("<svg ", f'<svg role="img" aria-label="{label}" width="100%" ', 1)


class Stack:
    """One cylinder cut open along its bore, to scale, from crank center to head.

    Parameters
    ----------
    ax : matplotlib axes
        Gets equal scales and no frame.
    title : str
        Stands above.
    """

    def __init__(self, ax, title):
        self.ax = ax
        ax.set_aspect("equal")
        ax.set_axis_off()
        ax.set_title(title, fontsize=11)
        wall = {"facecolor": "white", "edgecolor": BLOCK, "hatch": "////", "linewidth": 1}
        self.walls = [ax.add_patch(Rectangle((0, 0), 1, 1, **wall)) for _ in range(2)]
        self.gaskets = [ax.add_patch(Rectangle((0, 0), 1, 1, color=GASKET, lw=0)) for _ in range(2)]
        self.head = ax.add_patch(Polygon([(0, 0)] * 8, **wall | {"hatch": "\\\\\\\\"}))
        self.path = ax.add_patch(Circle((0, 0), 1, fill=False, ls=":", ec=CRANK, lw=1))
        self.rod = ax.add_patch(Polygon([(0, 0)] * 4, fc=ROD, ec=CRANK, lw=1, alpha=0.8))
        self.big_end = ax.add_patch(Circle((0, 0), 1, fc=ROD, ec=CRANK, lw=1))
        self.piston = ax.add_patch(Rectangle((0, 0), 1, 1, fc=PISTON, ec="black", lw=1, alpha=0.55))
        (self.throw,) = ax.plot([], [], color=CRANK, lw=5, solid_capstyle="round")
        self.pins = [ax.add_patch(Circle((0, 0), 1, fc="white", ec="black", lw=1)) for _ in "123"]
        (self.marks,) = ax.plot([], [], color="black", lw=0.8, marker="_", ms=8)
        (self.deck,) = ax.plot([], [], color=LIMIT, lw=1, ls="--")
        self.labels = [ax.text(0, 0, "", va="center", fontsize=9) for _ in range(4)]

    def place(self, parts, heights, pins, labels, unit="mm"):
        """Move everything.

        Parameters
        ----------
        parts : dict
            Quantities: bore, gasket_bore, gasket_thickness, chamber_depth, piston_height,
            bore_bottom, deck_height, throw, compression_height, big_end, pin, main, crank_pin
            (the last four are radii).
        heights : sequence of quantity
            The four lengths of the stack, from the crank's center up to the deck.
        pins : sequence of quantity
            Crank pin and piston pin now: x, y, x, y.
        labels : sequence of str
            What to write beside the four lengths.
        """
        size = {name: value.m_as(unit) for name, value in parts.items()}
        crank_x, crank_y, pin_x, pin_y = (each.m_as(unit) for each in pins)
        half, deck, thick = size["bore"] / 2, size["deck_height"], size["bore"] * 0.14
        face = deck + size["gasket_thickness"]
        for side, wall, gasket in zip((-1, 1), self.walls, self.gaskets, strict=True):
            left = half if side > 0 else -half - thick
            wall.set_bounds(left, size["bore_bottom"], thick, deck - size["bore_bottom"])
            inner = size["gasket_bore"] / 2
            left = inner if side > 0 else -half - thick
            gasket.set_bounds(left, deck, half + thick - inner, size["gasket_thickness"])
        roof, outer = face + size["chamber_depth"], half + thick
        top = roof + thick
        self.head.set_xy(
            list(
                zip(
                    [-outer, -half, -half, half, half, outer, outer, -outer],
                    [face, face, roof, roof, face, face, top, top],
                    strict=True,
                )
            )
        )
        crown = pin_y + size["compression_height"]
        self.piston.set_bounds(
            -half * 0.985, crown - size["piston_height"], half * 1.97, size["piston_height"]
        )
        self.rod.set_xy(_bar((crank_x, crank_y), (pin_x, pin_y), size["big_end"], size["pin"]))
        self.big_end.set(center=(crank_x, crank_y), radius=size["big_end"])
        self.path.set_radius(size["throw"])
        self.throw.set_data([0, crank_x], [0, crank_y])
        for circle, center, name in zip(
            self.pins,
            ((0, 0), (crank_x, crank_y), (pin_x, pin_y)),
            ("main", "crank_pin", "pin"),
            strict=True,
        ):
            circle.set(center=center, radius=size[name])
        ruler = outer + thick
        levels = np.concatenate([[0], np.cumsum([each.m_as(unit) for each in heights])])
        self.marks.set_data([ruler] * len(levels), levels)
        self.deck.set_data([-outer, ruler], [deck, deck])
        room = 0.085 * (top + size["throw"] + size["big_end"])  # two lines of text
        at = -np.inf
        for text, low, high, label in zip(
            self.labels, levels[:-1], levels[1:], labels, strict=True
        ):
            at = max((low + high) / 2, at + room)
            text.set_text(label)
            text.set_position((ruler + thick / 2, at))
        bottom = -size["throw"] - size["big_end"]
        self.ax.set_xlim(-outer - thick / 2, ruler + size["bore"] * 1.15)
        self.ax.set_ylim(bottom * 1.04, top + thick / 2)


def _bar(start, end, wide, narrow):
    """Return the corners of a rod's beam from its big end to its pin."""
    start, end = np.array(start), np.array(end)
    along = (end - start) / np.hypot(*(end - start))
    across = np.array([-along[1], along[0]])
    return [
        start + across * wide * 0.45,
        end + across * narrow * 1.3,
        end - across * narrow * 1.3,
        start - across * wide * 0.45,
    ]


class DeckZone:
    """The last hundredths at top dead center, enlarged: piston flat, deck, gasket, head face."""

    def __init__(self, ax, names):
        self.ax = ax
        ax.set_title("at the deck, enlarged", fontsize=11)
        ax.set_xticks(range(len(names)), names)
        ax.set_xlim(-0.6, len(names) - 0.4)
        ax.axhline(0, color=LIMIT, lw=1, ls="--")
        ax.spines[["top", "right", "bottom"]].set_visible(False)
        ax.set_ylabel(" ")
        ax.set_xlabel(" \n \n ", fontsize=8)  # keeps room for the words below
        self.heads, self.gaskets, self.pistons, self.labels, self.bands = [], [], [], [], []
        for at in range(len(names)):
            box = {"xy": (at - 0.4, 0), "width": 0.8, "height": 0, "ec": "black"}
            self.heads.append(
                ax.add_patch(Rectangle(**box | {"ec": BLOCK}, fc="white", hatch="////"))
            )
            self.gaskets.append(ax.add_patch(Rectangle(**box, fc=GASKET, alpha=0.6)))
            self.pistons.append(ax.add_patch(Rectangle(**box, fc=PISTON, alpha=0.55)))
            self.labels.append(ax.text(at, 0, "", ha="center", va="center", fontsize=9))
            self.bands.append(ax.plot([], [], color=LIMIT, lw=1.4, ls=":")[0])

    def place(self, plans, unit, note):
        """Move the levels.

        Parameters
        ----------
        plans : sequence of (deck_clearance, gasket_thickness, low, high, label)
            Quantities for each column, and what to write in the gap; `low` and `high` limit the
            quench distance and may be None.
        unit : str
            "in" or "mm".
        note : str
            What the dotted lines say.
        """
        to = "inch" if unit == "in" else unit
        sizes = [[each if each is None else each.m_as(to) for each in plan[:4]] for plan in plans]
        top = 1.25 * max(max(gasket, -deck) for deck, gasket, *_ in sizes)
        floor = -1.3 * max(top, *(deck for deck, *_ in sizes))
        for at, ((deck, gasket, *limits), plan) in enumerate(zip(sizes, plans, strict=True)):
            self.heads[at].set_bounds(at - 0.4, gasket, 0.8, 2 * top)
            self.gaskets[at].set_height(gasket)
            self.pistons[at].set_bounds(at - 0.4, 2 * floor, 0.8, -deck - 2 * floor)
            self.labels[at].set_text(plan[4])
            self.labels[at].set_y((gasket - deck) / 2)
            edges = [gasket - each for each in limits if each is not None]
            ends = [end for _ in edges for end in (at - 0.45, at + 0.45, np.nan)]
            self.bands[at].set_data(ends, np.repeat(edges, 3))
        self.ax.set_ylim(floor, 1.4 * top)
        self.ax.set_ylabel(f"above the deck [{unit}]")
        self.ax.set_xlabel(note, fontsize=8)


class RatioLines:
    """Compression ratio against chamber volume, a line for each gasket thickness."""

    def __init__(self, ax, count, names):
        self.ax = ax
        ax.set(xlabel="chamber volume [cc]", ylabel="compression ratio")
        ax.set_title("plan B by chamber and gasket", fontsize=11)
        ax.grid(alpha=0.3)
        shades = matplotlib.colormaps["viridis"](np.linspace(0.1, 0.8, count))
        dashes = ["-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1))]
        self.lines = [
            ax.plot([], [], color=shade, ls=dashes[at % 5])[0] for at, shade in enumerate(shades)
        ]
        self.labels = [ax.text(0, 0, "", fontsize=8, va="center", ha="right") for _ in self.lines]
        self.points = [
            ax.plot([], [], marker=marker, ls="", color="black", ms=9, label=name, fillstyle=fill)[
                0
            ]
            for marker, name, fill in zip("os", names, ("none", "full"), strict=False)
        ]
        ax.legend(loc="upper right", fontsize=9)

    def place(self, chamber, ratios, thicknesses, points):
        """Move the lines.

        Parameters
        ----------
        chamber : quantity
            Chamber volumes, an array.
        ratios : sequence of array
            A line for each gasket.
        thicknesses : sequence of str
            What to write at each line's start.
        points : sequence of (chamber volume, ratio)
            Where the plans stand.
        """
        volumes = chamber.m_as("cm**3")
        for line, label, ratio, text in zip(
            self.lines, self.labels, ratios, thicknesses, strict=True
        ):
            line.set_data(volumes, ratio)
            label.set_position((volumes[0], ratio[0]))
            label.set_text(f"{text} ")
        for point, (volume, ratio) in zip(self.points, points, strict=True):
            point.set_data([volume.m_as("cm**3")], [ratio])
        width = volumes[-1] - volumes[0]
        self.ax.set_xlim(volumes[0] - 0.2 * width, volumes[-1])
        shown = np.concatenate([np.ravel(ratios), [ratio for _, ratio in points]])
        low, high = np.nanmin(shown), np.nanmax(shown)
        self.ax.set_ylim(low - 0.05 * (high - low), high + 0.05 * (high - low))


class FrontView:
    """Banks and crank pins from the front, the first cylinder at its top."""

    def __init__(self, ax):
        self.ax = ax
        self._frame()

    def _frame(self):
        self.ax.clear()
        self.ax.set_aspect("equal")
        self.ax.set_axis_off()
        self.ax.set_title("front view, the first cylinder at its top", fontsize=11)

    def show(self, layout):
        """Draw a `Layout` anew; it only changes with the engine."""
        self._frame()
        ax = self.ax
        angles = layout.bank_angles().m_as("rad")
        for angle in sorted(set(angles)):
            along = np.array([np.sin(angle), np.cos(angle)])
            across = np.array([along[1], -along[0]])
            corners = [along * 1.5 - across * 0.42, along * 2.7 - across * 0.42]
            corners += [along * 2.7 + across * 0.42, along * 1.5 + across * 0.42]
            ax.add_patch(Polygon(corners, fc="white", ec=BLOCK, hatch="//", lw=1.2))
            ax.plot(*zip((0, 0), along * 1.5, strict=True), color=BLOCK, lw=1, ls=":")
            here = [each for each, one in zip(layout.cylinder, angles, strict=True) if one == angle]
            bank = "" if layout.kind == "inline" else f"{here[0].bank} bank\n"
            numbers = ", ".join(str(each.number) for each in here)
            x, y = np.mean(corners, axis=0)[0], np.max(corners, axis=0)[1] + 0.33
            ax.text(x, y, f"{bank}cylinders {numbers}", ha="center", va="center", fontsize=10)
        pins = layout.pin_angles()
        groups = {}
        for at, angle in enumerate(pins.m_as("rad"), 1):
            groups.setdefault(round(float(angle) % (2 * np.pi), 6), []).append(at)
        ax.add_patch(Circle((0, 0), 0.75, fill=False, ec=CRANK, ls=":"))
        for angle, together in groups.items():
            x, y = 0.75 * np.sin(angle), 0.75 * np.cos(angle)
            ax.plot([0, x], [0, y], color=CRANK, lw=4, solid_capstyle="round")
            ax.add_patch(Circle((x, y), 0.17, fc="white", ec="black", zorder=3))
            ax.text(
                x, y, "+".join(map(str, together)), ha="center", va="center", fontsize=8, zorder=4
            )
        ax.add_patch(Circle((0, 0), 0.22, fc=CRANK, ec="black"))
        sweep = np.radians(np.linspace(200, 320, 30)) * layout.turn
        ax.plot(1.15 * np.sin(sweep), 1.15 * np.cos(sweep), color="black", lw=1.4)
        ax.annotate(
            "",
            xy=(1.15 * np.sin(sweep[-1]), 1.15 * np.cos(sweep[-1])),
            xytext=(1.15 * np.sin(sweep[-3]), 1.15 * np.cos(sweep[-3])),
            arrowprops={"arrowstyle": "-|>", "color": "black"},
        )
        ax.text(0, -1.5, f"runs {'clockwise' if layout.turn > 0 else 'anticlockwise'} from here;"
                " numbers in circles are crank pins", ha="center", fontsize=9)  # fmt: skip
        ax.set_xlim(-3.2, 3.2)
        ax.set_ylim(-1.7, 1.6 if layout.kind == "flat" else 3.3)
