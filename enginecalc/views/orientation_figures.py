"""Which way round a cylinder's parts go, drawn: piston from above, rod from the front, chamfers.

Nothing is to scale, and the drawings compute nothing but where to put things.
"""

import numpy as np
from matplotlib.patches import Polygon

from enginecalc.views import tables
from enginecalc.views.figures import BLOCK, CRANK, ROD, new_figure
from enginecalc.views.pin_cut import PinCut
from enginecalc.views.prints import apart
from enginecalc.views.schematic import NEIGHBOR, Schematic

WIDE, HIGH = 7.0, 4.0  # in, of the figure it is made for
_LENGTH, _BIG, _HALF, _CROWN, _SKIRT = 2.6, 0.45, 0.72, 0.6, -0.4  # in throws
_DECK = 1 + _LENGTH + _CROWN
_ON_WHITE = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
_FIRST = ("outer", "lower", "left")  # sides away from the engine's middle, or left
_SENSE = {1: "clockwise", -1: "anticlockwise"}
BANKS = "Left and right bank are named as seen from the flywheel end."


class OrientationFigure:
    """One cylinder: its piston from above, its rod from the front, the cut along its crank pin.

    Drawn once and then moved. Its places are fixed: `figure` must not be settled.

    Parameters
    ----------
    figure : Figure
        To draw on; when not given its own, `WIDE` by `HIGH` inches.
    box : sequence of float
        Left, bottom, width and height of the part of the figure to draw on, that large or larger.
    """

    def __init__(self, figure=None, box=(0.0, 0.0, 1.0, 1.0)):
        self.figure = figure or new_figure(WIDE, HIGH)
        self.figure.set_layout_engine(None)
        corner, size = np.array(box[:2]), np.array(box[2:])

        def axes(left, bottom, wide, tall):
            low = corner + size * (left, bottom)
            return self.figure.add_axes([*low, *(size * (wide, tall))])

        self.above = Above(axes(0.0, 0.1, 0.5, 0.79))
        self.front = Front(axes(0.5, 0.42, 0.5, 0.52))
        self.cut = PinCut(axes(0.51, 0.09, 0.48, 0.33))
        style = {"va": "center", "parse_math": False}
        name, note = (corner + size * (0.01, y) for y in (0.955, 0.05))
        self.name = self.figure.text(*name, "", fontsize=13, weight="bold", **style)
        self.note = self.figure.text(*note, "", fontsize=9, **style)

    def place(self, engine, here, gaps=(), tang_side="", system="metric", pockets=""):
        """Move everything to where a cylinder has it; return in words what is shown.

        Parameters
        ----------
        engine : Engine
            With a whole layout.
        here : Orientation
            Of the cylinder.
        gaps : sequence of (str, quantity)
            The rings' names, and their gaps clockwise from the front mark seen from above.
        tang_side : str
            As `records.orientation.tang_side_like` returns it; "" where none was seen.
        system : str
            "inch" or "metric".
        pockets : str
            The side on which the valve pockets lie; "" where not known, or there are none.
        """
        self.name.set_text(here.name)
        note = f"Not to scale. Crank angles count from cylinder {here.first} at its top."
        self.note.set_text(f"{note}\n{BANKS}" if here.kind != "inline" else note)
        said = [self.above.place(here, gaps, system, pockets)]
        said.append(self.front.place(engine.layout, here, tang_side))
        said.append(self.cut.place(engine.layout, here))
        return f"{here.name}. {' '.join(said)}"


class Above(Schematic):
    """A piston seen from above with the front up: mark, pin axis, thrust side, ring gaps."""

    def __init__(self, ax):
        super().__init__(ax, "piston from above, front up", (-1.75, 1.75), (-1.72, 1.72))
        self._circle(1.0, fc="white", ec="black", lw=2.2)
        ax.add_patch(Polygon([(0, 0.94), (-0.1, 0.74), (0.1, 0.74)], fc="black"))
        front = {"fontsize": 12, "weight": "bold", "ha": "center", "va": "center"}
        ax.text(0, 0.6, "FRONT", bbox=_ON_WHITE, zorder=4, **front)
        ax.plot([0, 0], [-0.94, 0.45], color=BLOCK, lw=1)
        self.axis = self._line(color="black", lw=1.4, ls=(0, (9, 3, 2, 3)))
        self.axis_name = self._text(bbox=_ON_WHITE, zorder=4)
        self.axis_name.set_text("pin axis")
        self.thrust = self._arrow(20, lw=3)
        self.thrust_name, self.offset = self._text(), self._text()
        self.pockets = self._text()
        self.gaps = []

    def place(self, here, gaps, system, pockets=""):
        """Move everything to an `Orientation`; return it in words.

        `pockets` names the side of the valve pockets as `here.thrust_side` names that of thrust.
        """
        way = 1 if here.thrust == "right" else -1
        self.thrust.set_positions((0.28 * way, 0.32), (0.82 * way, 0.32))
        with_thrust = pockets == here.thrust_side
        what = "thrust and\npockets:" if with_thrust else "major\nthrust:"
        self.thrust_name.set_text(f"{what}\n{here.thrust_side} side")
        self.thrust_name.set_position((0.51 * way, -0.01))
        shift = {"major": way, "minor": -way}.get(here.offset_side, 0)
        self.axis.set_data([0.07 * shift] * 2, [-0.94, 0.45])
        self.axis_name.set_position((0.07 * shift, -0.66))
        told = "" if not shift else tables.length(abs(here.pin_offset), system)
        self.offset.set_text(f"pin offset\n{told}\nto {here.thrust}" if shift == way else
                             f"pin offset\n{told}\naway from\nthrust" if shift else "")  # fmt: skip
        self.offset.set_position((-0.5 * way, -0.06))
        across = f"pockets:\n{pockets} side"
        self.pockets.set_text(across if pockets and not with_thrust else "")
        self.pockets.set_position((-0.5 * way, 0.3 if shift else -0.06))
        self._place_gaps(gaps)
        said = (
            "Piston from above: front mark up, to the front; major thrust side"
            f" {here.thrust}, the {here.thrust_side} side."
        )
        if told:
            said += f" Pin offset {told} to the {here.offset_side} thrust side."
        if pockets:
            said += f" Valve pockets on the {pockets} side."
        if gaps:
            named = ", ".join(f"{name} {at.m_as('deg'):g}°" for name, at in gaps)
            said += f" Ring gaps clockwise from the mark: {named}."
        return said

    def _place_gaps(self, gaps):
        """Move gaps and their names; names stand apart, with a line to their gap."""
        while len(self.gaps) < len(gaps):
            white = self._line(color="white", lw=4, solid_capstyle="butt", zorder=3)
            self.gaps.append((white, self._line(color="black", lw=2.2, zorder=3.1),
                              self._line(color="black", lw=0.8), self._text()))  # fmt: skip
        ordered = sorted(gaps, key=lambda each: each[1].m_as("deg") % 360)
        angles = [float(at.m_as("deg")) % 360 for _, at in ordered]
        beside = apart(angles, 30) if len(angles) > 1 else angles
        for at, artists in enumerate(self.gaps):
            for each in artists:
                each.set_visible(at < len(gaps))
        for (name, _), angle, aside, artists in zip(ordered, angles, beside, self.gaps,
                                                    strict=False):  # fmt: skip
            white, ends, leader, text = artists
            white.set_data(*_around(1.0, np.linspace(angle - 4, angle + 4, 9)))
            low, high = (np.array(_around(np.array([0.92, 1.08]), angle + 4 * side))
                         for side in (-1, 1))  # fmt: skip
            ends.set_data(*np.c_[low, [np.nan, np.nan], high])
            x, y = _around(1.22, aside)
            leader.set_data(*np.c_[_around(1.06, angle), (x, y)])
            side = 0 if abs(x) < 0.35 else np.sign(x)
            text.set_text(f"{name.replace(' ', chr(10)) if side else name}\n{angle:g}°")
            spot = x + 0.04 * side, y + (0 if side else 0.26 * np.sign(y))
            text.set(position=spot, ha=_from(side))


class Front(Schematic):
    """A cylinder seen from the front, its crank pin at the bottom of its bore."""

    def __init__(self, ax):
        super().__init__(ax, "", (-1, 1), (-1, 1))
        self._circle(1.0, fill=False, ec=CRANK, ls=(0, (1, 1.5)), lw=1.2)
        self.parts = {
            name: {
                "bore": self._line(color=BLOCK if name == "neighbor" else "black", lw=1.4),
                "beam": self._polygon(fc=color, ec=edge, lw=1, zorder=level),
                "piston": self._polygon(fc=color, ec=edge, lw=1.2, zorder=level),
                "name": self._text(11, weight="bold", zorder=level + 0.1),
            }
            for name, color, edge, level in (
                ("neighbor", NEIGHBOR, CRANK, 2),
                ("own", ROD, "black", 3),
            )
        }
        self.parts["own"]["piston"].set(fc="white", hatch="...")
        self.parts["own"]["name"].set_bbox(_ON_WHITE)
        self.big = self._circle(_BIG, fc=ROD, ec="black", lw=1.2, zorder=3.2)
        self.throw = self._line(color=CRANK, lw=4, solid_capstyle="round", zorder=3.3)
        self.split = self._line(color="black", lw=1.2, zorder=3.3)
        self.pin = self._circle(0.24, fc="white", ec="black", zorder=3.4)
        self.tang = self._polygon(fc="black", zorder=3.5)
        self.tang_name = self._text(zorder=3.6)
        ax.plot(0, 0, "k+", ms=10, zorder=4)
        self.sense, self.bank = self._arrow(16, lw=2), self._text(10)

    def place(self, layout, here, tang_side):
        """Move everything to an `Orientation`; return it in words."""
        angles = dict(zip(layout.numbers, layout.bank_angles().m_as("rad"), strict=True))
        angle = angles[here.cylinder]
        along, across = _axes(angle)
        pin = -along
        self._cylinder("own", here.cylinder, angle, pin)
        for each in self.parts["neighbor"].values():
            each.set_visible(bool(here.sharing))
        for number in here.sharing:
            self._cylinder("neighbor", number, angles[number], pin)
        for each in (self.big, self.pin):
            each.set_center(pin)
        self.throw.set_data([0, pin[0]], [0, pin[1]])
        self.split.set_data(*(pin[:, None] + np.outer(across, [-_BIG, _BIG])))
        out = -1 if here.bank == "right" else 1
        self._tangs(pin, along, across * out * (1 if tang_side in _FIRST else -1), tang_side)
        middle = np.degrees(angle) + 85 * out
        ends = (_around(1.32, middle + 32 * layout.turn * side) for side in (-1, 1))
        self.sense.set_positions(*ends)
        self.sense.set_connectionstyle("arc3", rad=-0.3 * layout.turn)
        bank = f"{here.bank} bank" if here.kind != "inline" else ""
        self.bank.set_text(bank)
        self._window(here, along, across * out)
        set_to = f"{here.bottom.m_as('deg'):g}°"
        runs = _SENSE[layout.turn]
        self.title.set_text(f"from the front: crank at {set_to}, runs {runs}")
        said = (
            f"From the front: the crank at {set_to}, this pin at the bottom of its bore; the"
            f" crank runs {runs}."
        )
        said += f" Tangs on the {tang_side} side." if tang_side else " The tang side is not known."
        for number in here.sharing:
            said += f" In gray cylinder {number}, on the same pin."
        return said

    def _cylinder(self, which, number, angle, pin):
        """Move bore, piston and rod of a cylinder whose rod is on this crank pin."""
        parts, (along, across) = self.parts[which], _axes(angle)
        swing = pin @ across
        height = pin @ along + np.sqrt(_LENGTH**2 - swing**2)

        def at(*points):
            return np.array([x * across + y * along for x, y in points])

        low, nan = height + _SKIRT - 0.3, (np.nan, np.nan)
        walls = [at((side * _HALF, low), (side * _HALF, _DECK)) for side in (-1, 1)]
        parts["bore"].set_data(*np.vstack([walls[0], [nan], walls[1]]).T)
        ends = [(side * 0.94 * _HALF, height + y) for side, y in
                ((-1, _SKIRT), (-1, _CROWN), (1, _CROWN), (1, _SKIRT))]  # fmt: skip
        parts["piston"].set_xy(at(*ends))
        top = height * along
        lean = (top - pin) / _LENGTH
        aside = np.array([lean[1], -lean[0]])
        parts["beam"].set_xy([pin - 0.3 * aside, top - 0.16 * aside,
                              top + 0.16 * aside, pin + 0.3 * aside])  # fmt: skip
        parts["name"].set_text(str(number))
        parts["name"].set_position((height + 0.28) * along)

    def _tangs(self, pin, along, way, tang_side):
        for each in (self.tang, self.tang_name):
            each.set_visible(bool(tang_side))
        spot = pin + 0.36 * way
        corners = ((-0.1, -0.1), (0.1, -0.1), (0.1, 0.1), (-0.1, 0.1))
        self.tang.set_xy([spot + x * way + y * along for x, y in corners])
        self.tang_name.set_text("tangs")
        self.tang_name.set(position=pin + 0.65 * way - 0.5 * along, ha=_from(way[0]))

    def _window(self, here, along, out):
        """Show all of the layout's kind, and write the bank's name where there is room."""
        if here.kind == "inline":
            self.ax.set(xlim=(-2.6, 2.6), ylim=(-1.75, 3.4))
        elif here.kind == "flat":
            low, high = sorted((-1.9 * along[0], (_DECK + 0.1) * along[0]))
            self.ax.set(xlim=(low, high), ylim=(-1.7, 1.6))
        else:
            self.ax.set(xlim=(-3.7, 3.7), ylim=(-1.85, 3.5))
        beside = {"flat": (2.9, -1.05), "V": (2.4, 1.0)}.get(here.kind, (0, 0))
        spot = beside[0] * along + beside[1] * out
        self.bank.set(position=spot, ha=_from(out[0]))


def _around(radius, degrees):
    """Return x and y so far clockwise from straight up."""
    angle = np.radians(degrees)
    return radius * np.sin(angle), radius * np.cos(angle)


def _from(side):
    """Return how words stand that go out to a side: + to the right, near 0 to both."""
    return "center" if abs(side) < 0.3 else "left" if side > 0 else "right"


def _axes(angle):
    """Return the directions up a bore and across it, to the right with the bore upright."""
    along = np.array([np.sin(angle), np.cos(angle)])
    return along, np.array([along[1], -along[0]])
