"""A crank pin cut along the crank, drawn: to which cheek each rod's chamfer goes. Not to scale."""

import numpy as np
from matplotlib.patches import Polygon

from enginecalc.views.figures import ROD
from enginecalc.views.schematic import NEIGHBOR, Schematic

# lengths of a pin and of a rod on it, radius of a fillet, size of a chamfer, height of a cheek
_PIN, _ROD, _FILLET, _LEG, _TALL = 4.6, 2.2, 0.3, 0.34, 1.5


class PinCut(Schematic):
    """A crank pin cut along the crank, front at the left: its cheeks, fillets and rods."""

    def __init__(self, ax):
        edge = 1.15
        super().__init__(ax, "", (-edge, _PIN + edge), (-0.75, _TALL + 0.05))
        arc = np.radians(np.linspace(180, 270, 12))
        round_ = _FILLET * (1 + np.array([np.cos(arc), np.sin(arc)]))
        left = np.c_[[(-edge, -0.7), (-edge, _TALL), (0, _TALL)]].T
        half = np.c_[left, round_]
        outline = np.c_[half, np.array([[_PIN], [0]]) + [[-1], [1]] * half[:, ::-1]]
        ax.add_patch(Polygon(outline.T, fc="#EFEFEF", ec="black", lw=1.4))
        style = {"fontsize": 9, "ha": "center", "va": "center"}
        for x, end in ((-edge / 2, "front"), (_PIN + edge / 2, "rear")):
            ax.text(x, 0.62 * _TALL, f"{end}\ncheek", **style)
        self.rods = {name: self._polygon(fc=color, ec="black", lw=1.2)
                     for name, color in (("neighbor", NEIGHBOR), ("own", ROD))}  # fmt: skip
        self.names = {"neighbor": self._text(), "own": self._text(weight="bold")}
        self.pin = self._text()

    def place(self, layout, here):
        """Move the rods to where an `Orientation` has them; return it in words."""
        given = {each.number: each.chamfer for each in layout.cylinder}
        cheek = "" if here.cheek_from == "taken" else here.cheek.partition(" ")[0]
        self._rod("own", here.cylinder, here.sits, cheek)
        for each in (self.rods["neighbor"], self.names["neighbor"]):
            each.set_visible(bool(here.sharing))
        if here.sharing:
            other = {"front": "rear", "rear": "front"}[here.sits]
            self._rod("neighbor", here.sharing[0], other, given[here.sharing[0]] or other)
        self.pin.set_text(f"crank pin {here.pin}, cut along the crank")
        self.pin.set_position((_PIN / 2, -0.38))
        if not cheek:
            return f"Crank pin {here.pin} cut along the crank: this rod alone, its chamfer unknown."
        return f"Crank pin {here.pin} cut along the crank: chamfer to the {here.cheek}."

    def _rod(self, which, number, sits, chamfer):
        """Draw a rod above its journal: a square, one corner cut where the chamfer is."""
        wide = _ROD if sits != "alone" else _PIN - 2.4 * _FILLET
        low = {"rear": _PIN - 0.06 - wide}.get(sits, 0.06 if sits == "front" else 1.2 * _FILLET)
        left, right = (_LEG if chamfer == end else 0.0 for end in ("front", "rear"))
        self.rods[which].set_xy([
            (low + left, 0.04), (low + wide - right, 0.04), (low + wide, 0.04 + right),
            (low + wide, _TALL - 0.1), (low, _TALL - 0.1), (low, 0.04 + left),
        ])  # fmt: skip
        word = {"front": "◀ chamfer", "rear": "chamfer ▶"}.get(chamfer, "look at its mark")
        self.names[which].set_text(f"rod {number}\n{word}")
        self.names[which].set_position((low + wide / 2, 0.5 * _TALL))
