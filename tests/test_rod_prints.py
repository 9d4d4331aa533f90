"""Rod prints measured on the finished page: in pixels, in the SVG, and word by word."""

import itertools
import re
from types import SimpleNamespace
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from enginecalc.units import Q, UnitError
from enginecalc.views.rod_prints import HAIR, rod_outline, swept_envelope
from enginecalc.views.sheets import pdf_bytes, svg_text
from tests.test_prints import bars, crosses, drawing, pages, parts, texts

PX = 20  # pixels to the millimeter
DISCS = np.array([(0, 0, 1.42), (1.2, -0.7, 0.28), (-1.18, -0.7, 0.28), (1.2, 0.55, 0.26),
                  (-1.15, 0.55, 0.25)]).T  # fmt: skip
NAMED = Q(DISCS, "in")
NAME = "Quarry pump V8, bored and stroked for $5"
ALWAYS = ["left and right bank are named as seen from the flywheel end", NAME,
          "a computed gap replaces no clay, wire or feeler check; stop at the water jacket; never"
          " grind a rod's bolt seat"]  # fmt: skip


def turned(point):
    """Return X, Y in the front view of a point given as up the left bore + 1j * to its right."""
    point = point * np.exp(1j * np.radians(45))
    return np.array([point.imag, point.real])


def big_end(stroke=3.84, rod=5.96):
    """Return the discs' centers over a turn: the crank pin, and what leans with the rod."""
    pin = stroke / 2 * np.exp(1j * np.radians(np.arange(360)))
    lean = (np.sqrt(rod**2 - pin.imag**2) - 1j * pin.imag) / rod
    return turned(pin + lean * (DISCS[1] + 1j * DISCS[0])[:, None])


def swept(bare=False, **more):
    both = [("outer side", 1), ("inner side", -1)]
    rails = [(f"pan rail, {words}", np.array([[3.5 * at] * 2, [-0.3, 0.9]])) for words, at in both]
    bores = [(f"bore edge, {words}", turned(3.3 + 2.055j * at * np.ones(2))) for words, at in both]
    least = [("rail, outer side: 0.0100 in at 46°", (3.5, -0.15), (3.49, -0.15)),
             ("bore edge, outer side: 0.548 in at 32°", (3.787, 0.88), (3.25, 0.76))]  # fmt: skip
    block = {
        "edges": [(words, Q(ends, "in")) for words, ends in rails + bores],
        "circles": [("camshaft", Q(np.array([0, 4.47]), "in"), Q(0.905, "in"))],
        "least": [(words, *Q(np.array(pair), "in")) for words, *pair in least],
    }
    block = dict.fromkeys(block, ()) if bare else block
    return SimpleNamespace(**{"paths": Q(big_end(), "in"), "radii": NAMED[2]} | block | more)


def outline(grow=1.0, **more):
    return rod_outline(NAMED * grow, **more)


SIZE = [25.4 * np.ptp([each + side * DISCS[2][:, None] for side in (1, -1)]) for each in big_end()]
BOTH = [(outline, [74.676, 72.136])]  # 1.48 + 1.46 and twice 1.42 in, by any calculator
BOTH += [(lambda **more: swept_envelope(swept(bare=True), **more), SIZE)]


def light(figure):
    """Return the drawing on its page without words and lines, in shades of gray."""
    for artist in itertools.chain(*(axes.get_children() for axes in figure.axes)):
        artist.set_visible(bool(re.match("rim|area", artist.get_gid() or "")))
    (page,) = pypdfium2.PdfDocument(pdf_bytes([figure]))
    return page.render(scale=PX * 25.4 / 72, grayscale=True).to_numpy()


# --- against geometry -------------------------------------------------------------------------


@pytest.mark.parametrize(("make", "size"), BOTH, ids=["rod", "swept"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("scale", [1.0, 1.0142])
def test_an_outline_is_as_large_as_the_thing(make, size, paper, scale):
    figures = make(paper=paper, scale=scale)
    assert bars(*pages(figures, paper)) == pytest.approx([100 * scale, 101.6 * scale], rel=2e-3)
    ink = [np.flatnonzero((light(figures[0]) < 240).any(axis=axis)) for axis in (0, 1)]
    across = [(each[-1] - each[0] + 1) / PX / scale - HAIR for each in ink]
    assert across == pytest.approx(size, abs=0.15)
    root = ElementTree.fromstring(svg_text(make(paper=paper, scale=scale)[0]))
    unit = float(root.get("width")[:-2]) / float(root.get("viewBox").split()[2])
    spans = []
    for at in range(1, DISCS.shape[1] + 1):
        path = root.find(f".//*[@id='rim_{at}']//*[@d]")
        steps = re.findall(r"[MLCQ] ([^MLCQz]+)", path.get("d"))
        ends = np.array([each.split()[-2:] for each in steps], dtype=float)
        width = re.search(r"stroke-width: ([\d.]+)", path.get("style") or "stroke-width: 0")
        spans += [ends - float(width[1]) / 2, ends + float(width[1]) / 2]
    across = np.ptp(np.concatenate(spans), axis=0)
    assert across * unit / scale - HAIR == pytest.approx(size, abs=0.02)


@pytest.mark.parametrize(("grow", "scale"), [(1.0, 0.9), (1.7, 1.0)], ids=["sheet", "tiles"])
def test_what_is_swept_is_gray_and_nothing_else(grow, scale):
    paths = grow * big_end()
    spots = np.random.default_rng(3).uniform(-90 * grow, 90 * grow, (2, 2000))
    away = np.hypot(*(spots[:, None, None] - 25.4 * paths[..., None]))
    deep = (away - 25.4 * DISCS[2][:, None, None]).min(axis=(0, 1))
    for figure in swept_envelope(swept(bare=True, paths=Q(paths, "in")), scale=scale):
        window, place = drawing(figure).viewLim.padded(-1), drawing(figure).transData
        here = np.array([window.contains(*spot) for spot in spots.T])
        column, row = (place.transform(spots.T[here]) / figure.dpi * 25.4 * PX).astype(int).T
        shade = light(figure)[::-1][row, column]
        assert (shade[deep[here] < -0.3] == 230).all()
        assert (shade[deep[here] > 0.3] == 255).all()


def test_everything_stands_where_it_is():
    (figure,) = swept_envelope(swept())
    lines = {line.get_gid(): line.get_xydata() for line in drawing(figure).lines}
    assert all(lines[f"edge_{at}"] == pytest.approx(ends.m_as("mm").T)
               for at, (_, ends) in enumerate(swept().edges, 1))  # fmt: skip
    assert np.hypot(*(lines["circle_1"] - [0, 4.47 * 25.4]).T) == pytest.approx(0.905 * 25.4)
    assert lines["least_1"] == pytest.approx(np.array([(3.5, -0.15), (3.49, -0.15)]) * 25.4)
    (figure,), (again,) = outline(), outline()
    assert pdf_bytes([figure]) == pdf_bytes([again])
    assert parts(figure, "rim")["rim_2"].center == pytest.approx((30.48, -17.78))
    low, high = drawing(figure).transData.transform([(0, 0), (25.4, 50.8)]) / figure.dpi
    assert high - low == pytest.approx([1, 2])  # inches to the right and up


def test_a_wall_that_runs_off_costs_no_sheet():
    more = {"edges": [(words, ends * [1, 2]) for words, ends in swept().edges]}
    for paper in ("A4", "Letter"):
        (figure,) = swept_envelope(swept(**more), paper=paper)
        starts = [line.get_xydata()[0] for line in drawing(figure).lines if line.get_gid()]
        assert all(drawing(figure).viewLim.contains(*each) for each in starts)


@pytest.mark.parametrize("kind", ["swept", "rod"])
def test_tiles_share_their_crosses_and_cut_no_word(kind):
    long = swept(paths=Q(1.7 * big_end(), "in"))
    figures = outline(grow=4) if kind == "rod" else swept_envelope(long, paper="Letter")
    seen = [name for figure in figures for name in crosses(figure)]
    assert (len(figures), len(seen)) == (4, 16)
    assert {seen.count(name) for name in seen} == {2}
    assert all("lay it cross on cross" in each.axes[0].texts[3].get_text() for each in figures)
    for same in zip(*(drawing(figure).texts for figure in figures), strict=True):
        assert any(map(whole, same)), same[0].get_text()


def whole(text):
    box, window = text.get_window_extent(), text.axes.get_window_extent()
    return window.x0 <= box.x0 and box.x1 <= window.x1 and window.y0 <= box.y0 < box.y1 < window.y1


# --- behaviour ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("paper", "scale"), [("A4", 0.9), ("A4", 1.1), ("Letter", 1.0)])
def test_words_are_there_and_clear_of_lines_and_of_one_another(paper, scale):
    more = {"engine": NAME, "paper": paper, "scale": scale}
    wanted = [f"r {radius * 25.4:.2f} mm\n{radius:.3f} in" for radius in DISCS[2]]
    wanted += ["chamfer side\nfaces you", "to the piston pin", "turn the sheet over", "seen from"]
    sides = ["bank 1", "pan rail, inner side", "camshaft", "center of crank", "0.0100 in at 46°"]
    around = swept_envelope(swept(), what="bank 1", **more)
    for made, words in ((outline(**more), wanted), (around, sides)):
        for figure in made:
            said = "\n".join(text.get_text() for text in texts(figure))
            assert not [each for each in [*words, *ALWAYS] if each not in said]
            figure.set_dpi(200)
            loose = [text for text in drawing(figure).texts if text.get_bbox_patch() is None]
            assert len(made) > 1 or all(map(whole, loose))
            boxes = [text.get_window_extent().padded(1) for text in loose if whole(text)]
            assert not [1 for one, other in itertools.combinations(boxes, 2) if one.overlaps(other)]
            assert min(text.get_fontsize() for text in texts(figure)) >= 6
            _ = [text.set_visible(False) for text in loose]
            (canvas := FigureCanvasAgg(figure)).draw()
            image = np.asarray(canvas.buffer_rgba())[::-1, :, 0]
            for box in boxes:
                left, low, right, high = map(round, box.extents)
                assert image[low:high, left:right].min() > 150
            ends = [text.get_window_extent().x1 for text in figure.axes[0].texts]
            assert max(ends) < (figure.get_size_inches()[0] - 9.5 / 25.4) * 200


def test_no_cylinder_is_cut_off_the_heading_of_many():
    many = "left bank: cylinders 1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23"
    for what in (many[:45], many):
        (figure,) = swept_envelope(swept(), what=what, engine=NAME)
        heading, _, name = (text.get_text() for text in figure.axes[0].texts[:3])
        assert what in (heading if len(what) <= 45 else name)
        assert heading.startswith("Swept envelope")
        assert "Quarry pump V8" in name
        ends = [text.get_window_extent().x1 for text in figure.axes[0].texts]
        assert max(ends) < (figure.get_size_inches()[0] - 9.5 / 25.4) * figure.dpi


REFUSED = [
    (lambda: rod_outline(NAMED[:, :0]), "rod_outline: discs must have at least 3 discs, got 0"),
    (lambda: rod_outline(NAMED[:2]), "discs must be x, y and radius, got 2 of them"),
    (lambda: rod_outline([NAMED[0], NAMED[1], NAMED[2][:4]]), "as many radii, got 5, 5 and 4"),
    (lambda: rod_outline([1, NAMED[1], Q(NAMED[2].m, "deg")]), "unit like .* bare 1; .*, got deg"),
    (lambda: rod_outline(-NAMED), "discs must have radii over 0.25 mm, got -36.068 mm"),
    (lambda: outline(grow=40, paper="A3", scale=2), "discs must be up to 1000 mm across, got .*; "
     'paper must be A4 or Letter, got "A3"; scale must be from'),
    (lambda: swept_envelope(swept(paths=big_end())), "paths of swept needs a unit like mm, got"),
    (lambda: swept_envelope(swept(radii=NAMED[2][:4])), r"the shape \(2, 4, angles\) for 4 radii"),
    (lambda: swept_envelope(swept(), scale=25.4), "swept_envelope: scale must be from 0.9 to 1.1"),
]  # fmt: skip


@pytest.mark.parametrize(("asked", "message"), REFUSED)
def test_what_cannot_be_printed_is_refused(asked, message):
    with pytest.raises(UnitError if "unit like" in message else ValueError, match=message):
        asked()
