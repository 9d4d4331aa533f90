"""The bob-weight card on paper, for a balancing shop, and the box that makes it."""

import textwrap

import ipywidgets as widgets
import matplotlib
import numpy as np
from matplotlib.figure import Figure

from enginecalc.views import balance_words, tables
from enginecalc.views.saving import link
from enginecalc.views.sheets import MARGIN, PAPERS, STYLE, choice_fault, pdf_bytes, refuse

_LEFT, _NAME = MARGIN + 8, "bob-weight-card.pdf"
_COLUMNS = (0.0, 76.0, 110.0, 136.0, 174.0)  # part, one, counted, counted mass, weighed again
_HEADS = ("part", "one, g", "counted", "g", "weighed again")
_LINE = 8.5


@matplotlib.rc_context(STYLE)
def bob_sheets(engine, cards, share, paper="A4"):
    """Return the cards on paper, a page for each sort of crank pin.

    `cards` holds (crank pins, lines of `records.bob_card.bob_card`) for each sort; `share` of the
    reciprocating mass is counted in them.
    """
    refuse("bob_sheets", [choice_fault("paper", paper, PAPERS)])
    return [_page(engine, pins, card, share, paper) for pins, card in cards]


def _page(engine, pins, card, share, paper):
    size = np.array(PAPERS[paper])
    page = Figure(figsize=size / 25.4).add_axes([0, 0, 1, 1], xlim=(0, size[0]), ylim=(0, size[1]))
    page.set_axis_off()

    def write(x, y, words, points=11.0, **style):
        page.text(x, y, words, fontsize=points, va="baseline", parse_math=False, **style)

    top, right = size[1] - MARGIN - 12, size[0] - _LEFT
    write(_LEFT, top, "Bob-weight card", 20, weight="bold")
    write(_LEFT, top - 9, textwrap.shorten(engine.name or "", 70), 13)
    rods = sum(each.pin == pins[0] for each in engine.layout.cylinder)
    write(_LEFT, top - 17, f"For {balance_words.pins_said(pins)}, rods on each: {rods}. Bob weights"
          f" of this mass: {len(pins)}.")  # fmt: skip
    write(_LEFT, top - 23, f"Of what goes to and fro {share:g} is counted; of what goes round all"
          " is. Masses in grams.")  # fmt: skip
    y, rows = top - 36, balance_words.card_rows(engine, card)
    for at, (head, x) in enumerate(zip(_HEADS, _COLUMNS, strict=True)):
        write(_LEFT + x, y, head, 10, weight="bold", ha="right" if at else "left")
    for row in rows:
        page.plot([_LEFT, right], [y - 2.5, y - 2.5], "k", lw=1.2 if row is rows[-1] else 0.4)
        y -= _LINE
        last = {"weight": "bold"} if row is rows[-1] else {}
        for at, (cell, x) in enumerate(zip(row, _COLUMNS, strict=False)):
            write(_LEFT + x, y, cell, 14 if last else 12, ha="right" if at else "left", **last)
        page.plot([_LEFT + 148, right], [y - 1, y - 1], "k", lw=0.4, ls=":")
    page.plot([_LEFT, right], [y - 3, y - 3], "k", lw=1.2)
    y -= 16
    for at, caution in enumerate(balance_words.CAUTIONS, 1):
        write(_LEFT, y, f"{at}.", weight="bold")
        for line in textwrap.wrap(caution, 75 if at == 1 else 82):
            write(_LEFT + 7, y, line, weight="bold" if at == 1 else "normal")
            y -= 5.6
        y -= 2.4
    for asked, x in (("weighed by", 0.0), ("date", 70.0), ("balancing shop", 110.0)):
        write(_LEFT + x, y - 16, asked, 9)
        page.plot([_LEFT + x, _LEFT + x + (34 if x == 70 else 62)], [y - 12, y - 12], "k", lw=0.6)
    return page.figure


class BobPrintForm(widgets.VBox):
    """Choose paper, get a PDF; `asked()` returns engine, cards and share, or raises ValueError."""

    def __init__(self, asked):
        self._asked = asked
        self.paper = widgets.Dropdown(options=list(PAPERS), description="paper")
        self.button = widgets.Button(description="Print the card")
        self.answer = widgets.HTML()
        self.button.on_click(self._make)
        super().__init__([self.paper, self.button, self.answer])

    def _make(self, _):
        try:
            made = pdf_bytes(bob_sheets(*self._asked(), paper=self.paper.value))
        except ValueError as fault:
            self.answer.value = tables.note(str(fault))
            return
        self.answer.value = link(_NAME, "application/pdf", made)
