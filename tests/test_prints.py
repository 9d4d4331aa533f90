"""Prints measured as a person would: on the finished page, in pixels, and sheet over sheet."""

import itertools
import math
import re
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
from matplotlib.path import Path
from matplotlib.transforms import Affine2D

from enginecalc.units import Q, UnitError
from enginecalc.views import sheets
from enginecalc.views.prints import degree_wheel, timing_tape
from enginecalc.views.sheets import pdf_bytes, scale_factor
from tests.figures import worked

PX, PT = 10, 25.4 / 72  # pixels to the millimeter, millimeters to the point
V8 = [("IVO", -6.5), ("IVC", 216.5), ("EVO", 132.1), ("EVC", 1.9)]
V8 += [("intake centerline", 105), ("exhaust centerline", -113)]
V8 += [("least intake gap", 7.85), ("least exhaust gap", -7.25)]
EVENTS = [(label, Q(angle, "deg")) for label, angle in V8]
CROWD = [(f"event {at}", Q(at, "deg")) for at in range(20)]
POINTS = {"A4": (595.276, 841.890), "Letter": (612, 792)}
WAY = {1: "clockwise", -1: "anticlockwise"}


def wheel(size=180, unit="mm", events=EVENTS, **more):
    return degree_wheel(events, Q(size, unit), **more)


def tape(diameter=184.15, thickness=0.1, **more):
    return timing_tape(Q(diameter, "mm"), Q(thickness, "mm"), **more)


def pages(figures, paper):
    """Return the pages of the PDF, true where there is ink; each has its paper's exact size."""
    made = [*pypdfium2.PdfDocument(pdf_bytes(figures))]
    assert all(page.get_size() == pytest.approx(POINTS[paper], abs=1e-3) for page in made)
    return [page.render(scale=PX * PT, grayscale=True).to_numpy() < 90 for page in made]


def level_lines(image, least):
    """Return (row, first, last) of each level line at least so many millimeters long."""
    found = []
    for row in np.flatnonzero(image.sum(axis=1) >= least * PX):
        edges = np.flatnonzero(np.diff(image[row].astype(int), prepend=0, append=0))
        for first, end in zip(edges[::2], edges[1::2], strict=True):
            if end - first >= least * PX and not (found and found[-1][0] >= row - 8):
                found.append((row, first, end - 1))
    return found


def bars(image):
    """Return the lengths of the bars at the foot, middle of end tick to middle of end tick."""
    foot, lengths = image[-45 * PX :], []
    for row, first, last in level_lines(foot, 80):
        ticks = foot[row - 12]  # above the line, where only the end ticks stand
        near = [np.flatnonzero(ticks[at - 5 : at + 6]).mean() + at for at in (first, last)]
        lengths.append((near[1] - near[0]) / PX)
    return lengths


def drawing(figure):
    return figure.axes[1]


def texts(figure):
    return [text for axes in figure.axes for text in axes.texts]


def parts(figure, name):
    """Return the named parts of a drawing, {name: artist}."""
    found = [*drawing(figure).patches, *drawing(figure).collections]
    return {each.get_gid(): each for each in found if (each.get_gid() or "").startswith(name)}


def clockwise(x, y):
    return math.degrees(math.atan2(x, y))


# --- against worked numbers -------------------------------------------------------------------


def test_a_bar_that_came_out_short_asks_for_a_larger_print():
    assert scale_factor(Q(98.6, "mm")) == worked("print.scale")
    assert scale_factor(Q(98.6, "mm")) == pytest.approx(1.01420, abs=5e-6)
    assert scale_factor(Q(4.04, "in"), Q(4, "in")) == pytest.approx(0.990099, abs=5e-7)


def test_the_tape_is_as_long_as_the_damper_is_round():
    made = [parts(tape(thickness=each)[0], "strip").values() for each in (0, 0.1)]
    bare, thick = (sum(strip.get_width() for strip in strips) for strips in made)
    assert bare / 360 / 25.4 == worked("print.tape_in_per_deg")
    assert bare / 36 == worked("print.tape_10deg_mm")
    # The middle of the paper is half its thickness out; its outer face grows twice as much.
    assert 2 * (thick - bare) == worked("print.tape_thickness_0.1mm_per_turn_mm")


def test_a_degree_of_an_eight_inch_wheel_and_its_ticks():
    ends = np.array(parts(wheel(8, "in")[0], "ticks")["ticks"].get_segments())
    apart = np.hypot(*np.diff(ends[:, 0], axis=0).T) / 25.4
    np.testing.assert_allclose(apart, apart[0], rtol=1e-9)
    assert apart[0] == worked("plan.wheel_8in_1deg_in")
    sizes = np.round(np.hypot(*(ends[:, 1] - ends[:, 0]).T), 6)
    assert sorted(np.unique(sizes, return_counts=True)[1]) == [36, 36, 288]
    assert sizes[0] == sizes[350] > sizes[5] == sizes[355] > sizes[1]


# --- against geometry: pages, wheel, tiles, tape ----------------------------------------------


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("scale", [1.0, 1.0142, 0.97])
def test_bars_and_wheel_measure_what_they_say(paper, scale):
    (image,) = pages(wheel(175, paper=paper, scale=scale), paper)
    assert bars(image) == pytest.approx([100 * scale, 101.6 * scale], rel=2e-3)
    for axis in (0, 1):
        ink = np.flatnonzero(image[34 * PX : -42 * PX].any(axis=axis))
        across = (ink[-1] - ink[0] + 1) / PX - 0.8 * PT  # less the line's thickness
        assert across == pytest.approx(175 * scale, rel=2e-3)


@pytest.mark.parametrize(("paper", "scale"), [("A4", 1.0142), ("Letter", 1.0)])
def test_the_strips_on_paper_add_up_to_a_turn(paper, scale):
    (image,) = pages(tape(thickness=0, paper=paper, scale=scale), paper)
    edges = level_lines(image[: -45 * PX], 40)
    assert len(edges) == 8  # upper and lower edge of four strips
    total = sum((last - first + 1) / PX - 0.6 * PT for _, first, last in edges) / 2
    assert total == pytest.approx(578.53 * scale, rel=2e-3)  # 22.777 in, by any calculator
    assert bars(image) == pytest.approx([100 * scale, 101.6 * scale], rel=2e-3)


@pytest.mark.parametrize(("paper", "width", "height"), [("A4", 210, 297), ("Letter", 215.9, 279.4)])
def test_an_svg_is_in_millimeters(tmp_path, paper, width, height):
    for scale in (1.0, 1.0142):
        sheets.save_svg(wheel(paper=paper, scale=scale)[0], tmp_path / "wheel.svg")
        root = ElementTree.parse(tmp_path / "wheel.svg").getroot()
        assert (root.get("width"), root.get("height")) == (f"{width}mm", f"{height}mm")
        per_unit = width / float(root.get("viewBox").split()[2])
        for name, length in (("bar_100_mm", 100), ("bar_4_in", 101.6)):
            bar = root.find(f".//*[@id='{name}']//*[@d]").get("d")
            x = [float(each) for each in re.findall(r"[ML] (\S+)", bar)]
            assert (x[1] - x[0]) * per_unit == pytest.approx(length * scale, rel=1e-5)


@pytest.mark.parametrize(("paper", "scale"), [("A4", 0.9), ("A4", 1.1), ("Letter", 1.0)])
def test_every_sheet_says_how_to_use_it_and_nothing_leaves_the_margins(paper, scale):
    name = "Quarry pump V8, bored and stroked, the second of two short blocks built for $5"
    more = {"paper": paper, "scale": scale, "engine": name}
    for figure in wheel(8, "in", **more) + tape(**more) + wheel(160, **more):
        page, sheet = figure.axes
        words = "\n".join(text.get_text() for text in page.texts)
        for part in (name, "measure the bars before use", "print at 100 %, no fit to page"):
            assert part in words
        assert words.count("bar measures") == 2
        assert {"100 mm", "4 in"} <= {*words.split("\n")}
        assert re.search(r"page \d of \d", words)
        assert ("drawn 1.1000 times" in words) == (scale == 1.1)
        assert min(text.get_fontsize() for text in texts(figure)) >= 6
        edge, (wide, high) = 10 / 25.4 * figure.dpi, figure.get_size_inches() * figure.dpi
        for artist in [*page.texts, *page.patches, *page.collections, sheet]:
            box = artist.get_window_extent()
            assert min(box.x0, box.y0, wide - box.x1, high - box.y1) > edge - 1.5


@pytest.mark.parametrize("turns", [1, -1], ids=["standard", "reverse"])
@pytest.mark.parametrize("mounted", ["crank", "fixed"])
def test_numbers_run_the_right_way_and_both_readings_agree(mounted, turns):
    runs = {("crank", 1): -1, ("crank", -1): 1, ("fixed", 1): 1, ("fixed", -1): -1}[mounted, turns]
    (figure,) = wheel(mounted=mounted, rotation="standard" if turns == 1 else "reverse")
    rings = {}
    for text in sorted(drawing(figure).texts, key=lambda each: -math.hypot(*each.get_position())):
        if re.fullmatch(r"\d+|[AB]?T?B?DC", text.get_text()):
            at = round(clockwise(*text.get_position())) % 360
            rings.setdefault(at, []).append(text.get_text())
    for number in range(0, 360, 10):
        full, half, *word = rings.pop(runs * number % 360)
        assert (full, half) == (f"{number}", f"{number if number <= 180 else 360 - number}")
        side = {0: "TDC", 180: "BDC"}.get(number, "ATDC" if number < 180 else "BTDC")
        assert word == ([side] if number % 30 == 0 else [])
    assert not rings
    lines = [clockwise(*line.get_xydata()[0]) for line in drawing(figure).lines]
    turned = [(runs * angle + 180) % 360 - 180 for _, angle in V8]
    assert sorted(lines) == pytest.approx(sorted(turned), abs=1e-6)
    start, top = parts(figure, "running")["running"].get_path().vertices[:2]
    assert start[0] * turns < -5 < 0 < start[1] < top[1]  # over the top
    labels = {text.get_text() for text in drawing(figure).texts}
    assert {"IVO\n353.5 = 6.5 BTDC", "EVC\n1.9 ATDC", "IVC\n216.5 = 143.5 BTDC"} <= labels
    words = " ".join(text.get_text() for text in texts(figure))
    assert f"numbers run {WAY[runs]}, crank turns {WAY[turns]}, seen from the front" in words
    assert parts(figure, "center")


def corners(text):
    """Return the four corners of a turned label in millimeters of the drawing."""
    turn, place = text.get_rotation(), text.axes.transData
    text.set_rotation(0)
    box = text.get_window_extent().corners()[[0, 1, 3, 2]]
    text.set_rotation(turn)
    turned = Affine2D().rotate_deg_around(*place.transform(text.get_position()), turn)
    return place.inverted().transform(turned.transform(box))


CROWDED = [(130, EVENTS, "crank"), (180, EVENTS, "fixed"), (180, EVENTS * 2, "crank")]
CROWDED += [(190, CROWD, "crank"), (190, CROWD, "fixed")]


@pytest.mark.parametrize(("size", "events", "mounted"), CROWDED)
def test_labels_keep_clear_of_one_another_and_of_the_rings(size, events, mounted):
    ax = drawing(wheel(size, events=events, mounted=mounted)[0])
    boxes = [corners(text) for text in ax.texts if re.search(r"\n.*DC$", text.get_text())]
    assert len(boxes) == len(events)
    for one, other in itertools.combinations(map(Path, boxes), 2):
        assert not one.intersects_path(other, filled=True)
    reach = np.hypot(*np.concatenate(boxes).T)
    ring = min(math.hypot(*text.get_position()) for text in ax.texts if text.get_text() == "ATDC")
    assert reach.max() < ring - 2  # so inside the wheel, which lies inside the page
    assert reach.min() > 14  # clear of the center's words and arrow
    assert min(np.hypot(*line.get_xydata().T).min() for line in ax.lines) > reach.max() - 0.5


def crosses(figure):
    """Return {name: where on the page} of the crosses that show on a sheet, in millimeters."""
    ax, found = drawing(figure), {}
    for name, cross in parts(figure, "cross").items():
        x, y = np.mean(cross.get_segments()[0], axis=0)
        if ax.viewLim.contains(x, y):
            found[name] = ax.transData.transform((x, y)) / figure.dpi * 25.4
    return found


@pytest.mark.parametrize(
    ("size", "paper", "count"), [(16, "A4", 6), (16, "Letter", 6), (8, "A4", 2), (24, "A4", 12)]
)
def test_tiles_cover_the_wheel_and_share_their_crosses(size, paper, count):
    figures = wheel(size, "in", paper=paper)
    reach, around = np.meshgrid(np.linspace(0, 12.7, 40), np.radians(np.arange(0, 360, 2)))
    x, y = np.array([np.sin(around), np.cos(around)]) * reach * size
    windows = [drawing(figure).viewLim for figure in figures]
    inside = [(x > w.x0) & (x < w.x1) & (y > w.y0) & (y < w.y1) for w in windows]
    assert np.any(inside, axis=0).all()
    seen = {}
    for number, figure in enumerate(figures, 1):
        for name in crosses(figure):
            seen.setdefault(name, []).append(number)
    for name, numbers in seen.items():  # on two sheets, and named for them
        assert numbers == [int(each) for each in re.findall(r"\d+", name)]
    assert len(seen) == 2 * len({tuple(each) for each in seen.values()})
    assert {*range(1, count + 1)} == set().union(*seen.values())
    maps = [[patch.get_facecolor()[0] for patch in each.axes[0].patches[2:-1]] for each in figures]
    assert np.array_equal(np.array(maps) < 1, np.eye(count)), "one sheet shaded in each overview"


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("other", [1, 3], ids=["to the right", "below"])
def test_sheets_laid_cross_on_cross_show_the_same(paper, other):
    figures = wheel(16, "in", paper=paper)[::other][:2]
    one, two = (crosses(each) for each in figures)
    (a, a2), (b, b2) = ((one[name], two[name]) for name in sorted(one.keys() & two.keys()))
    assert np.hypot(*(b - a)) > 60
    assert b - a == pytest.approx(b2 - a2, abs=1e-6)  # no need to turn the other sheet
    ends, cuts = np.array([np.minimum(a, b) - 5.5, np.maximum(a, b) + 5.5]), []
    for image, spot in zip(pages(figures, paper), (a, a2), strict=True):
        (left, bottom), (right, top) = np.round((ends - a + spot) * PX).astype(int)
        cuts.append(image[len(image) - top : len(image) - bottom, left:right])
    assert cuts[0].sum() > 1000
    for ink, near in (cuts, cuts[::-1]):
        wide = np.lib.stride_tricks.sliding_window_view(np.pad(near, 2), (5, 5)).any(axis=(2, 3))
        assert not (ink & ~wide).any()


@pytest.mark.parametrize(("rotation", "before"), [("standard", 1), ("reverse", -1)])
@pytest.mark.parametrize("diameter", [184.15, 400])
def test_a_tape_reads_once_round_and_before_lies_ahead(rotation, before, diameter):
    read, places, done = [], [], 0.0
    figures = tape(diameter, rotation=rotation)
    for figure in figures:
        marks = [(text.get_position(), text.get_text()) for text in drawing(figure).texts]
        for strip in parts(figure, "strip").values():
            box = strip.get_bbox()
            here = sorted((x, text) for (x, y), text in marks if box.y0 < y < box.y1 and x < box.x1)
            words = {round(x, 6): text for x, text in here if text.endswith("DC")}
            numbers = [(x, text) for x, text in here if text.isdigit()]
            read += [f"{text} {words[round(x, 6)]}" for x, text in numbers]
            places += [done + x - box.x0 for x, _ in numbers]
            done += box.width
    ahead = [f"{at} BTDC" for at in range(10, 180, 10)]
    after = [f"{at} ATDC" for at in range(170, 0, -10)]
    start = read.index("0 TDC")
    to_the_right = (read[start:] + read[:start])[1:]
    assert to_the_right[::before] == [*ahead, "180 BDC", *after]
    assert np.diff(places) == pytest.approx(done / 36, rel=1e-9)  # across the joints as well
    words = " ".join(text.get_text() for text in texts(figures[0])).replace("\n", " ")
    side = "right" if before > 0 else "left"
    assert f"before TDC lies ahead of the zero mark, {WAY[before]}: {side} of it" in words
    assert diameter == 400 or "578.84 mm a turn, 0.06330 in a degree" in words
    (zero,) = (mark for each in figures for mark in parts(each, "zero").values())
    assert np.ptp(zero.get_segments()[0], axis=0) == pytest.approx([0, 18])


# --- behaviour ----------------------------------------------------------------------------------


def test_the_same_input_gives_the_same_bytes(tmp_path):
    figures = wheel()
    sheets.save_pdf(figures, tmp_path / "wheel.pdf")
    once = (tmp_path / "wheel.pdf").read_bytes()
    assert once == pdf_bytes(figures) == pdf_bytes(wheel())
    assert b"Date" not in once
    for name in "ab":
        sheets.save_svg(tape()[0], tmp_path / name)
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()
    assert b"dc:date" not in (tmp_path / "a").read_bytes()


BAR = "wrong bar, or inches for mm[?]"
ALL = {"mounted": "rim", "rotation": "left", "paper": "A3", "scale": 25.4}
TWO = [("IVO", 6), ("EVC", Q(2, "mm"))]
REFUSED = [
    (lambda: scale_factor(Q(3.94, "mm")), f"scale must be from 0.9 to 1.1, got 25.381: {BAR}"),
    (lambda: scale_factor(Q(0, "mm")), f"scale_factor: scale must be .*, got inf: {BAR}"),
    (lambda: wheel(100), "degree_wheel: diameter must be from 130 to 1000 mm to hold its labels"),
    (lambda: wheel(180, "in", **ALL), 'got 4572 mm; mounted must be crank or fixed, got "rim"; '
     'rotation must be standard or reverse, got "left"; paper must be A4 or Letter, got "A3"; '
     f"scale must be from 0.9 to 1.1, got 25.4: {BAR}"),
    (lambda: wheel(events=[("IVO", Q(math.nan, "deg"))]), "degree_wheel: IVO is not a number"),
    (lambda: tape(7.25, -0.1), "timing_tape: diameter must be from 90 to 1000 mm to hold its "
     "numbers, got 7.25 mm; tape_thickness must be from 0 to 3 mm, got -0.1 mm"),
    (lambda: degree_wheel(EVENTS, 180), "diameter needs a unit like mm, got the bare 180. Write Q"),
    (lambda: wheel(events=TWO), "IVO needs a unit like deg, got the bare 6; EVC .*, got 2 mm"),
    (lambda: scale_factor(Q(98, "deg")), "scale_factor: measured needs a unit like mm, got 98 deg"),
]  # fmt: skip


@pytest.mark.parametrize(("asked", "message"), REFUSED)
def test_what_cannot_be_printed_is_refused(asked, message):
    with pytest.raises(UnitError if "unit like" in message else ValueError, match=message):
        asked()
