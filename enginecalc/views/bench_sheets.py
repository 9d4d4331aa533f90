"""Blank sheets to fill in by hand at the bench, with the boxes where the block has them.

Each box carries its number among the boxes of its measurement, in the order of `places.boxes`.
"""

import functools
import textwrap

import matplotlib
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from enginecalc.records.places import measurements, place_words, places_of
from enginecalc.views.sheets import MARGIN, PAPERS, STYLE, choice_fault, refuse
from enginecalc.views.tiles import text_width

# The sheets there are, and what is measured on each; within inner brackets, side by side.
SHEETS = {
    "bores": [["bore diameter"]],
    "pistons": [["piston diameter"], ["piston compression height"], ["piston crown volume"]],
    "rods and their shells": [["rod length", "rod width"], ["rod housing"], ["rod shell wall"]],
    "rod bolts": [["rod bolt length new"], ["rod bolt length tightened"],
                  ["rod bolt length loosened"]],
    "crank": [["crank pin diameter"], ["crank pin width", "crank stroke"], ["crank end play"]],
    "main bearings": [["main journal diameter"], ["main housing diameter", "main shell wall"]],
    "deck": [["deck height"], ["piston below deck"]],
    "chambers and gasket": [["head chamber volume"], ["gasket thickness"]],
    "rings": [["ring end gap"], ["ring side clearance"]],
    "valve stations": [["intake valve drop", "intake valve lift",
                        "exhaust valve drop", "exhaust valve lift"]],
    "turning torque": [["crank turning torque"]],
}  # fmt: skip
HEAD, FOOT, GAP, LINE, DISC = 38.0, 10.0, 4.0, 3.7, 4.3  # page's ends, between, a line, a number
BOX, AGAIN, SPACE = (16.0, 34.0), (11.5, 24.0), 1.5  # widths of a box and of that for a repeat
HEIGHTS = (12.0, 10.5, 9.2)  # of a box: the tallest that needs no more pages
HOW = """\
Seen from above, front at the top. Left and right bank are named as seen from the flywheel end.
Number at a box: the order to type in, from 1 for each measurement. Dashed box: the same again."""
FEET = """\
Battery disconnected. Nobody turns the crank while a hand is inside. Stop at the first resistance.
Blank is not zero: leave empty what was not measured."""
_ABOUT = {"front": (0, 0), "rear": (0, 1), "major thrust": (1, 0.5), "minor thrust": (-1, 0.5)}
_BOLD, _width = {"weight": "bold"}, functools.cache(text_width)


@matplotlib.rc_context(STYLE)
def bench_sheets(engine, system="inch", paper="A4", kinds=None):
    """Return blank sheets on which to write down what is measured on an engine.

    Parameters
    ----------
    engine : Engine
        Its name and layout say which boxes there are.
    system, paper : str
        "inch" or "metric"; "A4" or "Letter".
    kinds : sequence of str
        Of `SHEETS`; all of them when None.

    Returns
    -------
    list of Figure
        One a page; what does not fit one page goes on, one bank after the other.

    Raises
    ------
    ValueError
        When there is no such system, paper or kind; names those there are.
    """
    chosen = list(SHEETS) if kinds is None else [kinds] if isinstance(kinds, str) else list(kinds)
    choices = [("system", system, ("inch", "metric")), ("paper", paper, PAPERS)]
    choices += [("kinds", each, SHEETS) for each in chosen or [""]]
    refuse("bench_sheets", [choice_fault(*each) for each in choices])
    figures, (width, height) = [], np.array(PAPERS[paper]) - 2 * MARGIN
    known, room = {each.name: each for each in measurements()}, height - HEAD - FOOT
    block_of = functools.partial(_Block, engine.layout, system, width)
    for kind in chosen:
        sets = [[known[name] for name in names] for names in SHEETS[kind]]
        pages = min((_pages(block_of, high, sets, room) for high in HEIGHTS), key=len)
        for number, blocks in enumerate(pages, 1):
            page, top = _page(kind, engine, system, paper, f"page {number} of {len(pages)}")
            for block in blocks:
                block.draw(page, top)
                top -= block.height
            for y in np.arange(top - 8, MARGIN + FOOT + 2, -8):  # to write on
                page.plot([MARGIN, MARGIN + width], [y, y], "k", lw=0.3)
            figures.append(page.figure)
    return figures


def _pages(block_of, high, sets, room):
    """Return the blocks of each page; what is too large goes on, one bank after the other."""
    pages, left = [], 0.0
    for whats in sets:
        whole = block_of(high, whats)
        banks = [{bank: cards} for bank, cards in whole.columns.items()]
        waiting = banks if whole.box < BOX[0] or whole.height > room else [whole.columns]
        while waiting:
            block = block_of(high, whats, waiting.pop(0))
            if block.height > left and (block.height <= room or block.least > left):
                pages, left = [*pages, []], room
            if block.height > left:
                ((bank, cards),) = block.columns.items()
                count = 1 + max(0, int((left - block.least) // block.card))
                waiting.insert(0, {bank: cards[count:]})
                block = block_of(high, whats, {bank: cards[:count]})
            pages[-1].append(block)
            left -= block.height
    return pages


def _page(kind, engine, system, paper, number):
    """Return the axes of a new page in millimeters, and where its blocks begin."""
    size, degrees = np.array(PAPERS[paper]), {"inch": "°F", "metric": "°C"}[system]
    page = Figure(figsize=size / 25.4).add_axes([0, 0, 1, 1], xlim=(0, size[0]), ylim=(0, size[1]))
    page.set_axis_off()
    left, (right, top) = MARGIN, size - MARGIN
    _write(page, left, top, kind.capitalize(), 14, va="top", **_BOLD)
    _write(page, right, top, number, 9, ha="right", va="top")
    _write(page, left, top - 6.5, textwrap.shorten(engine.name or "", 80), 10, va="top")
    _write(page, left, top - 11.5, HOW, va="top")
    shop, part = (f"{whose} temperature, {degrees}" for whose in ("shop", "part"))
    asked = [(27, "date", 0, 0.22), (27, "who", 0.22, 0.45), (27, "instrument", 0.45, 1)]
    asked += [(35, shop, 0, 0.3), (35, part, 0.3, 0.6), (35, "remarks", 0.6, 1)]
    for down, words, *ends in asked:
        start, end = left + np.array(ends) * (right - left)
        _write(page, start, top - down, words, va="baseline")
        ends = [start + _width(words, 8) + 1.5, end - 2 * (end < right)]
        page.plot(ends, [top - down] * 2, "k", lw=0.6)
    _write(page, left, MARGIN, FEET, va="bottom", **_BOLD)
    return page, top - HEAD


def _write(page, x, y, words, size=8.0, **style):
    page.text(x, y, words, fontsize=size, **{"va": "center", "parse_math": False, **style})


def _columns(layout, what):
    """Return {bank: [(index among the places, words)]}, the places of each bank front to rear."""
    banks, places = layout.by_bank(), places_of(layout, what.places)
    if what.places == "bank":
        return {bank: [(at, "")] for at, bank in enumerate(banks)}
    if what.places == "engine;cylinder":  # the torque: a line for the crank, one for each piston
        fitted = (f"after {place_words(each)}, fitted as no. ____" for each in places[1:])
        places = ["crank alone", *fitted]
    named = enumerate("" if each == "engine" else each for each in places)
    columns = banks if what.places == "cylinder" else {"": places}
    return {bank: [next(named) for _ in each] for bank, each in columns.items()}


class _Block:
    """Boxes of what is measured together, a card for each place, as the block has them."""

    def __init__(self, layout, system, width, high, whats, columns=None):
        self.whats, self.high, places = whats, high, whats[0].places
        self.columns = columns or _columns(layout, whats[0])
        self.grids = {bank: self._grid(layout, bank) for bank in self.columns}
        spots, names, self.rows = next(iter(self.grids.values()))
        cards = [card for each in self.columns.values() for card in each]
        wide = 1.15 / 8 * max((_width(words, 8) for _, words in cards if words), default=0)
        self.bores, self.ahead = places == "cylinder", not places.startswith("engine")
        self.size = min(12, 1.7 * DISC / wide) if self.bores else 9  # of a place's name
        self.place = 2 * DISC + 2 if self.bores else wide * self.size + 2 * (wide > 0)
        self.lead = self.place + max((_width(row, 8) + 1.5 for row in self.rows if row), default=0)
        last = (max(index for index, _ in cards) + 1) * max(map(len, spots))
        self.number = 1.15 * _width("0" * len(str(last)), 8) + 1.4
        self.titles, self.wide = list(self._titles(system)), (width + GAP) / len(self.columns)
        free = (self.wide - GAP - self.lead) / len(names) - self.number - SPACE
        self.again = min(0.42 * free, AGAIN[1]) if free >= BOX[0] + AGAIN[0] else 0
        self.box = min(free - self.again, BOX[1])
        self.pitch = self.number + self.box + self.again + SPACE
        lines = len(self.titles) + any(names) + any("\n" in each for each in names)
        self.head, self.card = LINE * lines + 5 * self.ahead + 1, len(self.rows) * high + 2
        self.least = self.head + self.card + GAP
        self.height = self.least + self.card * (max(map(len, self.columns.values())) - 1)

    def _grid(self, layout, bank):
        """Return where a place's boxes lie, (column, row), and the names of columns and rows."""
        found, names, rows = [], [], []
        for what in self.whats:
            across, down = list(what.directions), list(what.heights)
            if what.angles:
                ways = {-1: "{:.0f}° before TDC", 0: "overlap TDC", 1: "{:.0f}° after TDC"}
                down = [ways[np.sign(at)].format(abs(at)) for at in map(float, what.angles)]
            elif not across:
                across, down = down, across
            side = -1 if bank == "left" and "outer" in across else 1  # the valley is inside
            columns = range(max(len(across), 1))[::side]
            spots = [(column, row) for row in range(max(len(down), 1)) for column in columns]
            if {*across} == {*_ABOUT} and layout.kind != "flat":
                side = layout.turn  # standard rotation, seen from above: major thrust to the right
                spots = [(1 + side * x, y) for x, y in map(_ABOUT.get, across)]
                across = ["minor thrust", "front above,\nrear below", "major thrust"]
                down = ["", ""]
            found.append([(column + len(names), row) for column, row in spots])
            across = [f"{each[:2]}°{each[2:]}" if each[0].isdigit() else each for each in across]
            whose = "" if len(self.whats) == 1 else what.part if across else what.name
            names += [f"{whose}\n{each}".strip() for each in across[::side] or [""]]
            rows = max(rows, down or [""], key=len)
        return found, names, rows

    def _titles(self, system):
        """Yield what is measured, how finely, with what and how: lines and their style."""
        alike = {}
        for each in self.whats:
            unit = each.units[system].replace("in", "inch")
            finely = f"{unit}, read to {each.resolutions[system]}, {each.instrument}"
            alike.setdefault((finely, each.how), []).append(each.name)
        for (finely, how), names in alike.items():
            yield f"{' and '.join(names)}: {finely}", {"size": 9, **_BOLD}
            yield how, {}

    def draw(self, page, top):
        """Draw the block on a page, its upper edge at `top`."""
        for at, (line, style) in enumerate(self.titles):
            _write(page, MARGIN, top - LINE * (at + 0.5), line, **style)
        for at, (bank, cards) in enumerate(self.columns.items()):
            left, y = MARGIN + at * self.wide, top - self.head
            start = left + self.lead + self.number
            words = "▲ front" * self.ahead + f"   {bank} bank" * (bank in ("left", "right"))
            _write(page, start, top - LINE * len(self.titles) - 3, words, 9, **_BOLD)
            for column, name in enumerate(self.grids[bank][1]):
                _write(page, start + column * self.pitch, y + 1, name, va="baseline")
            for card in cards:
                self._card(page, left, start, y, self.grids[bank][0], *card)
                y -= self.card

    def _card(self, page, left, start, top, found, index, words):
        frame = functools.partial(Rectangle, height=self.high, fill=False)
        x, y = left + DISC * self.bores, top - len(self.rows) * self.high / 2
        _write(page, x, y, words, self.size, ha="center" if self.bores else "left", **_BOLD)
        if self.bores:
            page.add_artist(Circle((x, y), DISC, fill=False, lw=0.8))
        for row, name in enumerate(self.rows):
            _write(page, left + self.place, top - (row + 0.5) * self.high, name)
        for what, spots in zip(self.whats, found, strict=True):
            for number, (column, row) in enumerate(spots, index * len(spots) + 1):
                x, y = start + column * self.pitch, top - (row + 1) * self.high
                _write(page, x - 0.8, y + self.high / 2, f"{number}", ha="right", **_BOLD)
                page.add_artist(frame((x, y), self.box, lw=0.9, gid=f"box_{number} {what.name}"))
                if self.again:
                    dashed = {"lw": 0.5, "ls": "--", "gid": f"again_{number} {what.name}"}
                    page.add_artist(frame((x + self.box, y), self.again, **dashed))
