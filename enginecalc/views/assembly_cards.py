"""A card for each cylinder to lay on the bench: how it goes, what it takes, and boxes to tick."""

import textwrap

import matplotlib
import numpy as np
from matplotlib.patches import Rectangle

from enginecalc.records.orientation import orientation
from enginecalc.records.work_order import steps_of
from enginecalc.views.assembly_words import card_facts, due, pocket_side, ring_gaps, tang_side
from enginecalc.views.figures import new_figure
from enginecalc.views.orientation_figures import OrientationFigure
from enginecalc.views.sheets import MARGIN, PAPERS, STYLE, choice_fault, refuse
from enginecalc.views.tables import upper

_LEFT, _HEAD, _LINE, _ROW, _FOOT = 12.0, 13.0, 5.2, 6.9, 10.0  # mm
_TALLEST, _BELOW = 96.0, 187.0  # mm: of the picture, and of what stands below and above it
_PARTS = {"ring end gap": ("top", "second"), "crank turning torque": ("forward", "back")}
_COLUMNS = (0.0, 50.0, 108.0, 164.0)  # step, must be, found, initials
CAUTION = """\
Battery off, starter disabled. Nobody turns the crank while a hand is in a bore; take the bar off.
Stop at the first resistance and back out: never work it free. The part maker's figures go first."""


@matplotlib.rc_context(STYLE)
def cylinder_cards(build, cylinders=None, *, system="inch", paper="A4"):
    """Return a card for each cylinder of a build, one page each, in the order given.

    Parameters
    ----------
    build : Build
        Its engine, what was measured on it, and the ring gaps chosen for it.
    cylinders : sequence
        Numbers of cylinders; all of them when None.
    system, paper : str
        "inch" or "metric"; "A4" or "Letter".

    Returns
    -------
    list of Figure
        One a card.

    Raises
    ------
    ValueError
        When there is no such system, paper or cylinder; names those there are.
    """
    numbers = build.cylinders if cylinders is None else list(cylinders)
    faults = [choice_fault("system", system, ("inch", "metric"))]
    faults.append(choice_fault("paper", paper, PAPERS))
    refuse("cylinder_cards", faults)
    return [_card(build, each, system, np.array(PAPERS[paper])) for each in numbers]


def _card(build, number, system, size):
    here = orientation(build.engine, number)
    figure = new_figure(*size / 25.4)
    figure.set_layout_engine(None)
    top, wide, tall = size[1] - MARGIN - _HEAD, size[0] - 2 * _LEFT, min(size[1] - _BELOW, _TALLEST)
    box = _LEFT / size[0], (top - tall) / size[1], wide / size[0], tall / size[1]
    picture, side = OrientationFigure(figure, box), tang_side(build, number)
    picture.place(build.engine, here, ring_gaps(build), side, system, pocket_side(build))
    picture.name.set_text("")
    page = figure.add_axes([0, 0, 1, 1], xlim=(0, size[0]), ylim=(0, size[1]))
    page.set_axis_off()
    page.patch.set_alpha(0)

    def write(x, y, words, points=11.0, **style):
        style = {"va": "baseline", "parse_math": False, **style}
        page.text(_LEFT + x, y, words, fontsize=points, **style)

    name = textwrap.shorten(build.engine.name or build.name, 36)
    write(0, size[1] - MARGIN - 6, upper(here.name), 20, weight="bold")
    write(wide, size[1] - MARGIN - 6, name, 12, ha="right")
    y = top - tall - 4
    for head, words in card_facts(build, number, system):
        write(0, y, head, 10.5, weight="bold")
        for line in textwrap.wrap(words, 76):
            write(30, y, line, 10.5)
            y -= _LINE
    y -= 3
    for x, head in zip(_COLUMNS, ("step", "must be", "found", "by, on"), strict=True):
        write(x, y, head, 9.5)
    y, steps = y - 2, steps_of("cylinder")
    high = min(_ROW, (y - MARGIN - _FOOT) / len(steps))
    for at, step in enumerate(steps, 1):
        page.plot([_LEFT, _LEFT + wide], [y, y], color="black", lw=0.4)
        middle = {"y": y - high / 2, "va": "center_baseline"}
        write(6, words=f"{at}", ha="right", **middle)
        write(9, words=step.name, weight="bold", **middle)
        wanted = textwrap.shorten(due(build, step, str(number), system), 30)
        write(_COLUMNS[1], words=wanted, points=10, **middle)
        boxes, parts = [(_COLUMNS[3], wide - _COLUMNS[3])], _PARTS.get(step.asks, ("",))
        for which, part in enumerate(parts):  # a box for each figure
            left, long = _COLUMNS[2] + which * 54 / len(parts), 54 / len(parts) - 1
            boxes.append((left, long))
            write(left + 1, words=part, points=7.5, **middle)
        for x, long in boxes:
            page.add_patch(Rectangle((_LEFT + x, y - high + 0.6), long, high - 1.2, fill=False,
                                     lw=0.8))  # fmt: skip
        y -= high
    page.plot([_LEFT, _LEFT + wide], [y, y], color="black", lw=0.4)
    write(0, MARGIN, CAUTION, 9, va="bottom", linespacing=1.25)
    return figure
