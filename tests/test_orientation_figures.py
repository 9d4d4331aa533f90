"""Drawings of which way round things go: sides, angles and cheeks where the engine has them."""

import itertools

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from numpy.testing import assert_allclose

from enginecalc.records.orientation import orientation, tang_side_like
from enginecalc.units import Q
from enginecalc.views.figures import new_figure, svg
from enginecalc.views.orientation_figures import OrientationFigure
from tests.test_orientation import ALL, BACK, I4, V8, bank_of, side_named, upright, with_layout

THREE = [("top", Q(15, "deg")), ("second", Q(135, "deg")), ("oil", Q(255, "deg"))]
FIVE = [("top", Q(45, "deg")), ("second", Q(225, "deg")), ("oil expander", Q(135, "deg")),
        ("upper rail", Q(285, "deg")), ("lower rail", Q(300, "deg"))]  # fmt: skip
BESIDE = [("top", Q(315, "deg")), ("second", Q(45, "deg")), ("oil expander", Q(180, "deg")),
          ("upper rail", Q(135, "deg")), ("lower rail", Q(225, "deg"))]  # fmt: skip
AWAY = I4.altered({"piston.pin_offset": "0.6 mm"})


def drawing():
    made = OrientationFigure()
    FigureCanvasAgg(made.figure)
    return made, made.figure


def placed(engine, number, gaps=(), tang_side="", system="metric"):
    made, figure = drawing()
    return made, made.place(engine, orientation(engine, number), gaps, tang_side, system), figure


def written(figure):
    """Return the texts of a figure that are seen."""
    found = [*figure.texts, *(text for ax in figure.axes for text in [ax.title, *ax.texts])]
    return [text for text in found if text.get_visible() and text.get_text()]


# --- against geometry: vectors as in the tests of the record ------------------------------------


@pytest.mark.parametrize(("name", "numbering", "turn"), ALL)
def test_everything_stands_where_the_engine_has_it(name, numbering, turn):
    engine = with_layout(name, numbering, turn)
    layout, (made, _) = engine.layout, drawing()
    banks = {each.number: bank_of(layout, each) for each in layout.cylinder}
    for each in layout.cylinder:
        here = orientation(engine, each.number)
        side = tang_side_like(engine, *first_side(layout), each.number)
        made.place(engine, here, THREE, side)
        axis = upright(banks[each.number])[:2]
        pin = np.array(made.front.big.get_center())
        assert_allclose(pin, -axis, atol=1e-12)  # below the crank's center on its own bore
        for which, number in [("own", each.number), *(("neighbor", one) for one in here.sharing)]:
            parts = made.front.parts[which]
            assert parts["name"].get_text() == str(number)
            corners = parts["beam"].get_xy()
            top = (corners[1] + corners[2]) / 2
            assert_allclose(np.hypot(*(top - pin)), 2.6)  # rods are alike
            along = upright(banks[number])[:2]
            assert_allclose(top - (top @ along) * along, 0, atol=1e-12)  # on its own bore's axis
            assert top @ along > 0
        assert made.front.parts["neighbor"]["piston"].get_visible() == bool(here.sharing)
        tang = made.front.tang.get_xy()[:-1].mean(axis=0) - pin
        assert side_named(layout, each, tang) == side
        arc = made.front.sense.get_path().vertices
        swept = np.cross([*arc[0], 0], [*arc[len(arc) // 2], 0])[2]
        assert (swept < 0) == (turn > 0)  # clockwise in the front view
        thrust = np.mean(made.above.thrust.get_path().vertices[:, 0])
        assert (thrust > 0) == (here.thrust == "right")


def first_side(layout):
    """Return the first cylinder and a side of it."""
    side = {"V": "outer", "flat": "upper", "inline": "left"}[layout.kind]
    return layout.cylinder[0].number, side


@pytest.mark.parametrize("gaps", [THREE, FIVE, []], ids=len)
def test_gaps_lie_clockwise_from_the_mark(gaps):
    made, said, _ = placed(V8, 3, gaps)
    shown = [artists for artists in made.above.gaps if artists[0].get_visible()]
    found = {}
    for white, ends, leader, text in shown:
        x, y = white.get_xydata().mean(axis=0)
        at = np.degrees(np.arctan2(x, y)) % 360
        found[text.get_text()] = at
        assert len(ends.get_xydata()) == 5  # two short lines with nothing between
        x, y = np.delete(ends.get_xydata(), 2, axis=0).T
        beside = (np.degrees(np.arctan2(x, y)) - at + 180) % 360 - 180
        assert_allclose(np.sort(beside), [-4, -4, 4, 4], atol=1e-9)  # at the ends of the white one
        x, y = leader.get_xydata()[0]
        assert (np.degrees(np.arctan2(x, y)) - at + 180) % 360 - 180 == pytest.approx(0, abs=1e-9)
    wanted = {
        f"{name}\n{at.m_as('deg'):g}°".replace(" ", "\n"): at.m_as("deg") for name, at in gaps
    }
    assert found == pytest.approx(wanted)
    for name, at in gaps:
        assert f"{name} {at.m_as('deg'):g}°" in said


@pytest.mark.parametrize(("engine", "right"), [(I4, True), (AWAY, False)])
def test_the_pin_axis_moves_to_the_offsets_side(engine, right):
    made, said, _ = placed(engine, 2)
    assert (made.above.axis.get_xdata()[0] > 0) == right  # major thrust is to the right
    assert made.above.offset.get_text().startswith("pin offset\n0.60 mm\n")
    assert f"0.60 mm to the {'major' if right else 'minor'} thrust side" in said
    made, said, _ = placed(V8, 2)
    assert made.above.axis.get_xdata()[0] == 0
    assert "offset" not in made.above.offset.get_text() + said


# --- behaviour ----------------------------------------------------------------------------------


def test_the_words_say_what_is_drawn():
    _, said, figure = placed(V8, 2, THREE, "outer")
    assert said == (
        "Cylinder 2, right bank. Piston from above: front mark up, to the front; major thrust side"
        " right, the outer side. Ring gaps clockwise from the mark: top 15°, second 135°, oil 255°."
        " From the front: the crank at 90°, this pin at the bottom of its bore; the crank runs"
        " clockwise. Tangs on the outer side. In gray cylinder 1, on the same pin. Crank pin 1 cut"
        " along the crank: chamfer to the rear cheek."
    )
    shown = " ".join(text.get_text() for text in written(figure))
    for words in ("Not to scale", "as seen from the flywheel end", "FRONT", "crank at 90°", "tangs",
                  "right bank", "Crank angles count from cylinder 1 at its top"):  # fmt: skip
        assert words in shown
    _, said, figure = placed(I4, 2)
    shown = " ".join(text.get_text() for text in written(figure))
    assert "bank" not in shown + said
    assert "tangs" not in shown
    assert "The tang side is not known" in said
    assert "the crank runs anticlockwise" in placed(BACK, 1)[1]


def test_it_is_drawn_once_and_then_moved():
    made, figure = drawing()
    made.place(V8, orientation(V8, 1), FIVE, "outer")
    artists = [each for ax in figure.axes for each in ax.get_children()]
    for engine, number, gaps in ((V8, 6, THREE), (I4, 3, []), (V8, 1, FIVE)):
        made.place(engine, orientation(engine, number), gaps)
    assert [each for ax in figure.axes for each in ax.get_children()] == artists
    alone, again = placed(V8, 1, FIVE)[2], figure
    for one, other in zip(written(alone), written(again), strict=True):
        assert one.get_text() == other.get_text()
        assert_allclose(one.get_position(), other.get_position(), atol=1e-12)


FLAT, SPLIT = with_layout("flat 4"), with_layout("V6 60°, split pins", "per bank", -1)


@pytest.mark.parametrize(
    ("engine", "number", "gaps", "tang_side"),
    [
        *((V8, number, gaps, "outer") for number in (1, 2, 5, 6) for gaps in (THREE, FIVE)),
        (V8, 2, THREE, "valley"),
        (V8, 1, BESIDE, "outer"),
        (BACK, 2, BESIDE, "valley"),
        (I4, 2, FIVE, "left"),
        (AWAY, 3, THREE, "right"),
        (FLAT, 1, THREE, "upper"),
        (FLAT, 2, FIVE, "lower"),
        (BACK, 1, THREE, "valley"),
        (BACK, 2, FIVE, "outer"),
        (SPLIT, "2L", FIVE, "outer"),
    ],
)
def test_words_are_large_whole_and_apart(engine, number, gaps, tang_side):
    *_, figure = placed(engine, number, gaps, tang_side, "inch")
    figure.canvas.draw()
    texts = written(figure)
    boxes = [text.get_window_extent() for text in texts]
    assert min(text.get_fontsize() for text in texts) >= 9
    for text, box in zip(texts, boxes, strict=True):
        assert figure.bbox.contains(*box.min), text
        assert figure.bbox.contains(*box.max), text
    for (one, here), (other, there) in itertools.combinations(zip(texts, boxes, strict=True), 2):
        assert not here.overlaps(there), (one, other)


def test_it_fits_on_a_part_of_a_sheet():
    page, box = new_figure(8.27, 11.69), (0.05, 0.1, 0.85, 0.35)
    made = OrientationFigure(page, box)
    made.place(V8, orientation(V8, 1), FIVE, "outer")
    FigureCanvasAgg(page).draw()
    left, bottom, wide, tall = box
    for text in written(page):
        (x0, y0), (x1, y1) = page.transFigure.inverted().transform(text.get_window_extent())
        assert left <= x0 < x1 <= left + wide, text
        assert bottom <= y0 < y1 <= bottom + tall, text


def test_the_page_gets_the_words_as_well():
    made, said, figure = placed(V8, 6, THREE)
    shown = svg(figure, said)
    assert f'aria-label="{said}"' in shown
    assert made.figure is figure
