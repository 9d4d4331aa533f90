"""The block from above with the places of its readings, and the base of the drawings of a build."""

import numpy as np
from matplotlib.patches import Circle, Rectangle

from enginecalc.records.places import boxes, places_of
from enginecalc.views.figures import BLOCK, CRANK, LIMIT

_ABOUT = {"front": (0, 1), "rear": (0, -1), "major thrust": (1, 0), "minor thrust": (-1, 0)}
BANKS = "Seen from above. Left and right bank are named as seen from the flywheel end."
BOLD = {"weight": "bold"}


class Drawing:
    """Axes without a frame, wiped before everything is drawn again."""

    def __init__(self, ax):
        self.ax = ax

    def _wipe(self, x, y):
        self.ax.clear()
        self.ax.set_axis_off()
        self.ax.set(xlim=x, ylim=y)

    def _write(self, x, y, words, size=9, **style):
        style = {"va": "center", "ha": "center", "parse_math": False, **style}
        self.ax.text(x, y, words, fontsize=size, **style)

    def _box(self, x, y, wide, tall, color="#F2F2F2", **style):
        self.ax.add_patch(Rectangle((x, y), wide, tall, fc=color, ec=BLOCK, **style))


class BlockMap(Drawing):
    """The block from above, front at the top: a dot for each place of one sort of reading.

    Filled: measured; a ring: missing. Made for a figure 6 in wide and 6 in high.
    """

    def place(self, build, what, here=None):
        """Draw the places of a `places.Measurement`; return how many are missing, in words.

        `here` is a `places.Place` to point out, such as the one to be measured next.
        """
        layout, missing = build.engine.layout, []
        asked, banks = boxes(layout, what), layout.by_bank()
        low = -1.5 * max(map(len, banks.values())) - 1.3
        self._wipe((-4.6, 4.6), (low, 2.6))
        self.ax.set_aspect("equal")
        spots = self._block(layout, what.places)
        for box in asked:
            mean = build.mean(box.part, box.feature, box.place)
            read = mean is not None and (box.direction, box.height, box.angle) in mean.spots
            missing += [] if read else [box]
            x, y = spots[box.place] + _beside(layout, what, box)
            self.ax.plot(x, y, "o", ms=4.5 if what.angles else 7, mew=1.3, color="black",
                         mfc="black" if read else "white", gid=box.words)  # fmt: skip
            if box == here:
                self.ax.plot(x, y, "s", ms=14, mew=2, color=LIMIT, fillstyle="none", gid="here")
        said = f"all {len(asked)} places measured" if len(asked) > 1 else "measured"
        if missing:
            said = f"{len(missing)} of {len(asked)} missing" if len(asked) > 1 else "missing"
        self._write(0, 2.35, f"{what.name}: {said}", 11, **BOLD)
        if 0 < len(missing) < len(asked):
            first = f"the first: {missing[0].words.replace(f', {what.name}', '')}"
            self._write(0, 1.95, first)
            said += f", {first}"
        told = "● measured · ○ missing"
        if what.places != "bank" and not {*_ABOUT} & {*what.directions}:
            ways = ("across", what.angles or what.directions), ("down", what.heights)
            told += "".join(f"; {way}: {', '.join(each)}" for way, each in ways if len(each) > 1)
        self._write(0, low + 0.75, told.replace("30 ", "30° "))
        self._write(0, low + 0.25, BANKS if len(banks) > 1 else "Seen from above.")
        return f"{what.name}: {said}"

    def _block(self, layout, kind):
        """Draw bores, banks and what is asked of the crank; return {place: its middle}."""
        banks, spots = layout.by_bank(), {}
        rear = {number for number, end in layout.chamfers().items() if end == "rear"}
        wide, middle = (2.6, 0.0) if len(banks) > 1 else (0.0, 2.2)
        for side, name, numbers in zip((-1, 1), places_of(layout, "bank"), banks.values()):  # noqa: B905
            x, y, tall = side * wide, -0.4 * (numbers[0] in rear), 1.5 * len(numbers) + 0.1
            spots[name] = np.array([x, y + 0.8 - tall / 2])
            self._box(x - 0.85, y + 0.8 - tall, 1.7, tall)
            self._write(x, y + 1.1, name, 10, **BOLD)
            for row, number in enumerate(numbers):
                spots[str(number)] = np.array([x, y - 1.5 * row])
                self.ax.add_patch(Circle(spots[str(number)], 0.68, fc="white", ec=CRANK))
                self._write(x + 1.2 * side, y - 1.5 * row, str(number), 12, **BOLD)
        heights = [spots[str(number)][1] for number in layout.numbers]
        names = [place for place in places_of(layout, kind) if place not in spots]
        part = (np.arange(len(names)) + 0.5) / max(len(names), 1)
        part = np.linspace(0, 1, len(names)) if kind == "main" else part
        for name, y in zip(names, 0.75 - part * (1.5 - min(heights)), strict=True):
            spots[name] = np.array([middle, y])
            self._box(middle - 0.55, y - 0.4, 1.1, 0.8, "white")
            self._write(middle + 0.65, y, name.replace("engine", ""), ha="left")
        self._write(0, 1.5, "▲ front", 10, **BOLD)
        return spots


def _beside(layout, what, box):
    """Return where a dot lies beside the middle of its place."""
    if what.places == "bank":  # at its corners, the valley inside
        out = (1 if box.direction == "outer" else -1) * (-1 if box.place.startswith("left") else 1)
        tall = 0.75 * max(map(len, layout.by_bank().values())) - 0.12
        return np.array([0.7 * out, tall if box.height == "front" else -tall])
    if box.direction in _ABOUT:  # standard rotation: major thrust to the right
        return 0.45 * np.array(_ABOUT[box.direction]) * (layout.turn, 1)
    across, own = (what.angles, box.angle) if what.angles else (what.directions, box.direction)
    x, y = (each.index(at) - (len(each) - 1) / 2 if each else 0.0
            for each, at in ((across, own), (what.heights, box.height)))  # fmt: skip
    return np.array([x * min(0.4, 1.2 / max(len(across) - 1, 1)), -0.4 * y])
