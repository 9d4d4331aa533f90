"""The ring-gap clock measured on the finished page: circle, gaps, sides, and what is written."""

import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from enginecalc.records import load_engine
from enginecalc.records.ring_placement import Placement, placements
from enginecalc.units import Q
from enginecalc.views.clock_print import MAKER, ring_gap_clock
from tests.test_prints import bars, clockwise, crosses, drawing, pages, texts

ENGINES = Path(__file__).parent.parent / "data" / "engines"
V8 = load_engine(ENGINES / "quarry-pump-v8.toml")
I4 = load_engine(ENGINES / "ferry-four.toml")
REVERSE = V8.altered({
    "layout.rotation": "reverse",
    "layout.crank_pins": ["0 deg", "270 deg", "90 deg", "180 deg"],
    "layout.firing_order": [1, 3, 4, 8, 6, 2, 7, 5],
})  # fmt: skip
LARGE = I4.altered({"block.bore": "6.5 in", "gasket.bore": "6.6 in", "block.bore_spacing": None})
SMALL = I4.altered({"block.bore": "2.0 in"})
THIRDS, *_, BESIDE = placements()


def line(figure, name):
    """Return the points of a named line of the drawing, in millimeters."""
    (one,) = (each for each in drawing(figure).lines if each.get_gid() == name)
    return one.get_xydata()


def gaps(figure):
    """Return {ring: angle} of the gaps as drawn, clockwise from the top."""
    found = {}
    for each in drawing(figure).lines:
        if (each.get_gid() or "").startswith("gap of "):
            (inner, outer) = each.get_xydata()
            assert clockwise(*inner) == pytest.approx(clockwise(*outer))  # straight out
            found[each.get_gid().removeprefix("gap of ")] = clockwise(*outer) % 360
    return found


def said(figure):
    return "\n".join(text.get_text() for text in texts(figure)).replace("\n", " ")


def label(figure, words):
    (one,) = (each for each in drawing(figure).texts if each.get_text() == words)
    return np.array(one.get_position())


# --- against geometry -------------------------------------------------------------------------


@pytest.mark.parametrize(("engine", "bore"), [(V8, 4.110 * 25.4), (I4, 83.5), (SMALL, 50.8)])
@pytest.mark.parametrize(("paper", "scale"), [("A4", 1.0), ("Letter", 1.0142)])
def test_the_circle_is_the_bore_at_true_scale(engine, bore, paper, scale):
    (figure,) = ring_gap_clock(engine, 1, THIRDS, paper=paper, scale=scale)
    circle = line(figure, "bore")
    assert np.hypot(*circle.T) == pytest.approx(bore / 2)
    low, high = drawing(figure).transData.transform([(0, 0), (bore, bore)]) / figure.dpi * 25.4
    assert high - low == pytest.approx([bore * scale] * 2)  # on paper, across and up
    assert bars(*pages([figure], paper)) == pytest.approx([100 * scale, 101.6 * scale], rel=2e-3)


def test_the_ink_of_the_circle_spans_the_bore():
    figures = ring_gap_clock(V8, 1, THIRDS)
    for each in itertools.chain(*(axes.get_children() for axes in figures[0].axes)):
        each.set_visible(each.get_gid() == "bore")
    (image,) = pages(figures, "A4")
    for axis in (0, 1):
        ink = np.flatnonzero(image.any(axis=axis))
        wide = 25.4 / 72  # the line is a point wide, half of it outside
        assert (ink[-1] - ink[0] + 1) / 10 - wide == pytest.approx(104.394, abs=0.15)


@pytest.mark.parametrize("placement", placements(), ids=lambda each: each.name)
def test_gaps_stand_at_their_angles_and_the_ring_is_open_there(placement):
    (figure,) = ring_gap_clock(I4, 2, placement)
    wanted = dict(zip(placement.rings, placement.angles.m_as("deg"), strict=True))
    assert gaps(figure) == pytest.approx(wanted)
    bands = [each.get_path() for each in drawing(figure).patches if each.get_gid() == "ring"]
    assert len(bands) == len(placement.rings)
    for angle in wanted.values():
        for off, inside in ((-2, True), (-1, False), (0, False), (1, False), (2, True)):
            at = math.radians(angle + off)
            spot = (83.5 / 2 - 2) * np.array([math.sin(at), math.cos(at)])
            assert any(band.contains_point(spot) for band in bands) == inside
    for ring, angle in wanted.items():
        x, y = label(figure, f"{ring} {angle:g}°")
        assert abs((clockwise(x, y) - angle + 180) % 360 - 180) < 25


def test_axes_front_and_the_side_of_the_thrust():
    for engine, turn in ((V8, 1), (REVERSE, -1)):
        (figure,) = ring_gap_clock(engine, 1, THIRDS)
        assert line(figure, "pin_axis")[:, 0] == pytest.approx(0, abs=1e-9)
        assert line(figure, "thrust_axis")[:, 1] == pytest.approx(0, abs=1e-9)
        assert label(figure, "FRONT")[1] > 30
        assert label(figure, "major thrust side")[0] * turn > 15
        assert abs(label(figure, "major thrust side")[1]) < 10


def test_reverse_rotation_mirrors_the_gaps():
    plain, mirrored = (gaps(*ring_gap_clock(each, 1, THIRDS)) for each in (V8, REVERSE))
    assert plain == pytest.approx({"top": 15, "second": 135, "oil ring": 255})
    assert mirrored == pytest.approx({"top": 345, "second": 225, "oil ring": 105})


def test_a_clock_larger_than_the_paper_comes_in_tiles_that_share_their_crosses():
    assert len(ring_gap_clock(LARGE, 1, THIRDS, paper="Letter")) == 1
    figures = ring_gap_clock(LARGE, 1, BESIDE, paper="Letter", scale=1.1)
    assert len(figures) == 2
    first, second = map(crosses, figures)
    assert first.keys() == second.keys()
    assert len(first) == 2
    for figure in figures:
        assert "lay it cross on cross" in said(figure)
        assert np.hypot(*line(figure, "bore").T) == pytest.approx(3.25 * 25.4)


# --- behaviour ----------------------------------------------------------------------------------


def test_what_the_sheet_says():
    (figure,) = ring_gap_clock(V8, 6, THIRDS)
    for words in (
        "Ring-gap clock · cylinder 6, right bank · bore 104.39 mm (4.110 in)",
        "Quarry pump V8",
        "seen from above, front up",
        "crank turns clockwise seen from the front: major thrust side on the right",
        "left and right bank are named as seen from the flywheel end",
        "top 15°",
        "Three gaps, a third of a turn apart",
        "Least separation 120°",
        "Least distance: 15° from the pin axis, 15° from the thrust axis",
        MAKER,
        "[tm_10_3930]",
        "pin axis",
        "thrust axis",
        "measure the bars before use",
    ):
        assert words in said(figure)
    (figure,) = ring_gap_clock(REVERSE, 6, THIRDS)
    assert "anticlockwise seen from the front: major thrust side on the left" in said(figure)
    (figure,) = ring_gap_clock(I4, 3, BESIDE)
    assert "cylinder 3 · bore 83.50 mm (3.287 in)" in said(figure)
    assert "Least distance: 0° from the pin axis, 45° from the thrust axis" in said(figure)
    assert "flywheel" not in said(figure)


@pytest.mark.parametrize("engine", [V8, SMALL, LARGE], ids=["V8", "small", "large"])
@pytest.mark.parametrize(("paper", "scale"), [("A4", 0.9), ("A4", 1.05), ("Letter", 1.0)])
@pytest.mark.parametrize("placement", [THIRDS, placements()[5], BESIDE])
def test_words_fit_the_page_and_do_not_meet(engine, paper, scale, placement):
    (figure,) = ring_gap_clock(engine, 1, placement, paper=paper, scale=scale)
    boxes = [text.get_window_extent() for text in drawing(figure).texts]
    window = drawing(figure).get_window_extent()
    for box in boxes:
        assert window.x0 <= box.x0 < box.x1 <= window.x1
        assert window.y0 - 1 <= box.y0 < box.y1 <= window.y1
    assert not [1 for one, other in itertools.combinations(boxes, 2) if one.overlaps(other)]
    edge = (figure.get_size_inches()[0] - 9.5 / 25.4) * figure.dpi
    assert max(text.get_window_extent().x1 for text in figure.axes[0].texts) < edge
    assert min(text.get_fontsize() for text in texts(figure)) >= 7


def test_two_gaps_in_line_are_drawn_in_line():
    own = Placement("in line", ("top", "second"), Q(np.array([20.0, 20.0]), "deg"), "", "")
    (figure,) = ring_gap_clock(V8, 1, own)
    assert gaps(figure) == pytest.approx({"top": 20, "second": 20})
    assert "Least separation 0°" in said(figure)
    assert "Source of this placement: none given" in said(figure)


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"cylinder": 9}, r"^ring_gap_clock: cylinder must be one of 1, 2, .*, 8, got 9\.$"),
        ({"cylinder": "1"}, r"cylinder must be one of .*, got '1'\.$"),
        ({"paper": "A3"}, r'^ring_gap_clock: paper must be A4 or Letter, got "A3"\.$'),
        ({"scale": 25.4}, r"^ring_gap_clock: scale must be from 0\.9 to 1\.1, got 25\.4"),
    ],
)  # fmt: skip
def test_what_cannot_be_printed_is_refused(asked, message):
    asked = {"cylinder": 1, **asked}
    with pytest.raises(ValueError, match=message):
        ring_gap_clock(V8, placement=THIRDS, **asked)
