"""Bench sheets: every place has its box once, in entry order, where the block has it."""

import functools
import itertools
import re
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.patches import Circle, Rectangle

from enginecalc.records import load_engine
from enginecalc.records.layout import layout_table
from enginecalc.records.places import boxes, measurements
from enginecalc.views.bench_sheets import SHEETS, bench_sheets
from enginecalc.views.sheets import PAPERS, pdf_bytes

ENGINES = Path(__file__).parent.parent / "data" / "engines"
V8 = load_engine(ENGINES / "quarry-pump-v8.toml")
I4 = load_engine(ENGINES / "ferry-four.toml")
RENDERER = RendererAgg(10, 10, 100)  # to size words; one of its own for each page takes memory
KNOWN = {each.name: each for each in measurements()}
V12 = {
    "kind": "V",
    "bank_angle": "60 deg",
    "crank_pins": [f"{angle} deg" for angle in (0, 240, 120, 120, 240, 0)],
    "firing_order": [1, 12, 5, 8, 3, 10, 6, 7, 2, 11, 4, 9],
    "cylinder": [
        {"number": pin + 6 * (bank == "left"), "bank": bank, "pin": pin}
        for bank, pin in itertools.product(("right", "left"), range(1, 7))
    ],
}
LAYOUTS = {
    "inline 1": layout_table("inline 1"),
    "inline 3": layout_table("inline 3"),
    "inline 6": layout_table("inline 6"),
    "V6": layout_table("V6 60°, split pins", "per bank"),
    "V8L": layout_table("V8 90°, cross-plane", "per bank"),
    "V12": V12,
    "flat 4": layout_table("flat 4"),
}
ENGINE = {"V8": V8, "inline 4": I4}
ENGINE |= {name: I4.altered({"layout": each}) for name, each in LAYOUTS.items()}
BOTH = [("A4", "metric"), ("Letter", "inch")]
TWICE = ["V8", "inline 4", "V6", "V12", "flat 4"]
EVERY = [(name, *each) for name in TWICE for each in BOTH]
EVERY += [(name, "A4", "metric") for name in ENGINE if name not in TWICE]
EVERY += [("V8", "A4", "inch")]
V8_PAGES = [1, 1, 1, 1, 1, 1, 1, 1, 1, 4, 1]  # the valves, two cylinders a page


@functools.cache
def sheets(name, paper="A4", system="metric"):
    """Return {kind: its pages}, each kind asked for alone."""
    return {kind: bench_sheets(ENGINE[name], system, paper, [kind]) for kind in SHEETS}


def frames(figure, kind="box"):
    """Return {(measurement, number): (left, bottom, right, top)} of a page's boxes, in mm."""
    found = {}
    for patch in figure.axes[0].patches:
        if match := re.fullmatch(rf"{kind}_(\d+) (.+)", patch.get_gid() or ""):
            key = match[2], int(match[1])
            assert key not in found, f"{key} twice on a page"
            found[key] = tuple(patch.get_bbox().extents)
    return found


@functools.cache
def written(figure):
    """Return [(text, (left, bottom, right, top))] of all words on a page, in mm."""
    page = figure.axes[0]
    back, shown = page.transData.inverted(), [text for text in page.texts if text.get_text()]
    points = [each.get_window_extent(RENDERER).get_points() for each in shown]
    return [
        (each.get_text(), tuple(back.transform(at).ravel()))
        for each, at in zip(shown, points, strict=True)
    ]


def overlaps(extents):
    """Return the pairs of rows of left, bottom, right, top that overlap by over 0.2 mm."""
    low, high = np.split(np.array(extents), 2, axis=1)
    shared = np.minimum(high[:, None], high) - np.maximum(low[:, None], low)
    return np.argwhere(np.triu((shared > 0.2).all(axis=2), 1)).tolist()


def middle(extent):
    left, low, right, high = extent
    return np.array([(left + right) / 2, (low + high) / 2])


# --- every place once, in entry order ----------------------------------------------------------


def test_the_sheets_ask_for_every_measurement_once():
    asked = [name for sets in SHEETS.values() for names in sets for name in names]
    assert sorted(asked) == sorted(KNOWN)


@pytest.mark.parametrize(("name", "paper", "system"), EVERY)
def test_every_place_has_one_box_and_typing_in_never_turns_back_a_page(name, paper, system):
    layout = ENGINE[name].layout
    for kind, figures in sheets(name, paper, system).items():
        for what in itertools.chain(*SHEETS[kind]):
            pages = [[number for each, number in frames(page) if each == what] for page in figures]
            count = len(boxes(layout, KNOWN[what]))
            assert [*itertools.chain(*map(sorted, pages))] == [*range(1, count + 1)]


@pytest.mark.parametrize("paper", PAPERS)
def test_how_many_pages_the_v8_takes(paper):
    figures = sheets("V8", paper, "inch")
    assert [len(each) for each in figures.values()] == V8_PAGES
    for pages in figures.values():
        for number, page in enumerate(pages, 1):
            assert f"page {number} of {len(pages)}" in [text for text, _ in written(page)]
            assert frames(page), "an empty page"
    assert len(bench_sheets(V8, "inch", paper)) == sum(V8_PAGES)


# --- against geometry: room to write, and the block seen from above ----------------------------


@pytest.mark.parametrize(("name", "paper", "system"), EVERY)
def test_boxes_are_large_enough_and_keep_apart_and_inside_the_margins(name, paper, system):
    width, height = PAPERS[paper]
    for figures in sheets(name, paper, system).values():
        for page in figures:
            main, again = frames(page), frames(page, "again")
            for left, low, right, high in main.values():
                assert right - left >= 16 - 1e-9
                assert high - low >= 9
            for key, extent in again.items():  # a smaller box joined to its first one
                assert 11 < extent[2] - extent[0] < main[key][2] - main[key][0]
                assert extent[:2] == pytest.approx((main[key][2], main[key][1]))
            circles = [each for each in page.axes[0].patches if isinstance(each, Circle)]
            round_ = [(*(np.array(c.center) - c.radius), *(np.array(c.center) + c.radius))
                      for c in circles]  # fmt: skip
            extents = [*main.values(), *again.values(), *round_]
            assert not overlaps(extents)
            left, low, right, high = np.array(extents).T
            assert min(left.min(), low.min(), width - right.max(), height - high.max()) >= 10


@pytest.mark.parametrize(("paper", "system"), BOTH)
@pytest.mark.parametrize("name", TWICE)
def test_words_can_be_read_and_lie_on_nothing(name, paper, system):
    width, height = PAPERS[paper]
    for figures in sheets(name, paper, system).values():
        for page in figures:
            fonts = sorted(text.get_fontsize() for text in page.axes[0].texts)
            assert fonts[0] >= 8
            assert fonts[-1] >= 12
            extents = [extent for _, extent in written(page)]
            drawn = [*frames(page).values(), *frames(page, "again").values()]
            hits = overlaps(extents + drawn)
            assert not [(written(page)[one][0], other) for one, other in hits if one < len(extents)]
            left, low, right, high = np.array(extents).T
            assert min(left.min(), low.min(), width - right.max(), height - high.max()) > 9.5
            colors = {each.get_edgecolor()[:3] for each in page.axes[0].patches}
            assert colors == {(0, 0, 0)}


def around(page, extent):
    """Return the lines of words left of a box on its height, over its column, and its bank's."""
    left, _, _, high = extent
    y = middle(extent)[1]
    beside, over, heads = set(), set(), []
    for text, (x, low, end, top) in written(page):
        if end < left and low < y < top:
            beside |= {*text.split("\n")}
        if abs(x - left) < 1 and low > high - 0.5:
            over |= {*text.split("\n")}
        if "▲ front" in text and low > y and x < left + 1:
            heads.append((-round(low), x, text))
    return beside, over, max(heads, default=(0, 0, ""))[2]


@pytest.mark.parametrize("name", ["V8", "inline 4", "V6", "V12"])
def test_a_box_stands_by_its_number_and_by_what_it_asks(name):
    layout = ENGINE[name].layout
    bank_of = {str(each.number): f"{each.bank} bank" for each in layout.cylinder}
    for page in itertools.chain(*sheets(name).values()):
        for (what, number), extent in frames(page).items():
            y = middle(extent)[1]
            near = (text for text, (_, low, end, top) in written(page)
                    if 0 < extent[0] - end < 1.5 and low < y < top)  # fmt: skip
            assert [*near] == [f"{number}"]
            asked = boxes(layout, KNOWN[what])
            place = asked[number - 1]
            beside, over, head = around(page, extent)
            if place.angle:
                far, way = place.angle.strip("-"), "before" if "-" in place.angle else "after"
                assert (f"{far}° {way} TDC" if far != "0" else "overlap TDC") in beside
            elif what == "piston below deck":
                end = {"front": "front above,", "rear": "rear below"}.get(place.direction)
                assert (end or place.direction) in over
            else:
                said = {re.sub(r"^(\d+)", r"\1°", place.direction), place.height} - {""}
                assert said <= beside | over
            if place.place.startswith(("pin", "main")) and len(KNOWN[what].heights) < 2:
                assert place.place in beside
            bank = bank_of.get(place.place, place.place)
            if KNOWN[what].places == "engine;cylinder":  # in lines, whatever the bank
                line = f"after cylinder {place.place}, fitted as no. ____"
                assert (line if place.place != "engine" else "crank alone") in beside
            elif bank in ("left bank", "right bank"):
                assert head.endswith(bank)


@pytest.mark.parametrize("name", ["V8", "V8L", "V6", "flat 4", "inline 6", "V12"])
@pytest.mark.parametrize("kind", ["bores", "pistons", "deck", "rings", "valve stations"])
def test_the_circle_at_a_box_holds_its_cylinder(name, kind):
    for page in sheets(name)[kind]:
        circles = [each for each in page.axes[0].patches if isinstance(each, Circle)]
        centers = np.array([each.center for each in circles]).reshape(-1, 2)
        for (what, number), extent in frames(page).items():
            if KNOWN[what].places != "cylinder":
                continue
            left = centers[:, 0] < extent[0]
            column = centers[left, 0].max()
            x, y = min(
                centers[centers[:, 0] == column], key=lambda at: abs(at[1] - middle(extent)[1])
            )
            (shown,) = (text for text, at in written(page)
                        if np.hypot(*(middle(at) - [x, y])) < 1)  # fmt: skip
            assert shown == boxes(ENGINE[name].layout, KNOWN[what])[number - 1].place


@pytest.mark.parametrize("name", ["V8", "V8L", "V6", "flat 4", "inline 6"])
def test_front_is_at_the_top_and_the_left_bank_at_the_left(name):
    layout = ENGINE[name].layout
    for what, kind in (("bore diameter", "bores"), ("ring end gap", "rings")):
        at = {}
        for leaf, page in enumerate(sheets(name)[kind]):
            for (each, number), extent in frames(page).items():
                if each == what:
                    place = boxes(layout, KNOWN[what])[number - 1].place
                    at.setdefault(place, (leaf, -extent[3], extent[0]))
        columns = [[at[str(number)] for number in bank] for bank in layout.by_bank().values()]
        for column in columns:
            assert column == sorted(column)
            assert len({x for _, _, x in column}) == 1
        if len(columns) == 2:
            (_, left_top, left), (_, right_top, right) = (column[0] for column in columns)
            assert left_top == right_top
            assert left + 50 < right


def spots(engine, kind, what, first):
    """Return where the boxes of one place lie, by direction and height."""
    (page,) = bench_sheets(engine, kinds=[kind])
    asked = boxes(engine.layout, KNOWN[what])
    place = asked[first - 1].place
    return {
        (each.direction, each.height): middle(frames(page)[what, number])
        for number, each in enumerate(asked, 1)
        if each.place == place
    }


def test_deck_corners_lie_as_on_the_block_with_the_valley_between_the_banks():
    left, right = (spots(V8, "deck", "deck height", first) for first in (1, 5))
    order = [left["outer", "front"], left["inner", "front"], right["inner", "front"],
             right["outer", "front"]]  # fmt: skip
    assert np.diff([x for x, _ in order]).min() > 20
    for corners in (left, right):
        for side in ("inner", "outer"):
            assert corners[side, "front"][1] > corners[side, "rear"][1]
            assert corners[side, "front"][0] == corners[side, "rear"][0]


@pytest.mark.parametrize(("rotation", "side"), [("standard", 1), ("reverse", -1)])
@pytest.mark.parametrize("first", [1, 17], ids=["left bank", "right bank"])
def test_points_about_a_piston_lie_as_seen_from_above(rotation, side, first):
    # Standard rotation: the valley side on the left bank, the outer side on the right bank.
    order = [1, 5, 7, 2, 6, 8, 4, 3]
    changes = {
        "layout.rotation": rotation,
        "layout.firing_order": order if side > 0 else [1, *order[:0:-1]],
        "layout.crank_pins": [f"{side * lead % 360} deg" for lead in (0, 90, 270, 180)],
    }
    found = spots(V8.altered(changes), "deck", "piston below deck", first)
    at = {way: spot for (way, _), spot in found.items()}
    assert (at["major thrust"] - at["minor thrust"])[0] * side > 40
    assert at["major thrust"][1] == at["minor thrust"][1]
    assert at["front"][1] > at["major thrust"][1] > at["rear"][1]
    between = (at["major thrust"][0] + at["minor thrust"][0]) / 2
    assert at["front"][0] == at["rear"][0] == pytest.approx(between)


def test_a_flat_engine_has_its_thrust_points_in_a_row():
    at = spots(ENGINE["flat 4"], "deck", "piston below deck", 1)
    assert len({y for _, y in at.values()}) == 1  # one lies above the bore and one below it


# --- behaviour ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "system"), [("V8", "inch"), ("inline 4", "metric")])
def test_a_sheet_says_what_to_measure_how_finely_and_with_care(name, system):
    for kind, figures in sheets(name, "A4", system).items():
        for page in figures:
            said = " ".join(text for text, _ in written(page)).replace("\n", " ")
            assert kind.capitalize() in said
            assert ENGINE[name].name in said
            assert "Seen from above, front at the top." in said
            assert "Left and right bank are named as seen from the flywheel end." in said
            assert "Battery disconnected. Nobody turns the crank while a hand is inside." in said
            assert "Blank is not zero: leave empty what was not measured." in said
            degrees = {"inch": "°F", "metric": "°C"}[system]
            for line in ("date", "who", "instrument", f"shop temperature, {degrees}",
                         f"part temperature, {degrees}"):  # fmt: skip
                assert line in said
            for what in {what for what, _ in frames(page)}:
                unit = {"in": "inch"}.get(KNOWN[what].units[system], KNOWN[what].units[system])
                assert what in said
                assert f": {unit}, read to {KNOWN[what].resolutions[system]}, " in said
                assert KNOWN[what].instrument in said
                assert KNOWN[what].how in said


def test_a_torque_line_follows_each_piston():
    (page,) = sheets("V8", "A4", "metric")["turning torque"]
    names = [text for text, _ in written(page)]
    assert "crank turning torque: N·m, read to 0.5, beam or dial wrench" in names
    assert [each for each in names if "crank alone" in each or "fitted" in each] == [
        "crank alone",
        *(f"after cylinder {each}, fitted as no. ____" for each in (1, 3, 5, 7, 2, 4, 6, 8)),
    ]
    for forward in range(1, 19, 2):
        one, two = (frames(page)["crank turning torque", forward + at] for at in (0, 1))
        assert one[1] == two[1]
        assert one[0] < two[0]


def test_long_names_stay_inside_and_are_no_formulas():
    name = "Pump V8 built for $5 and $6, bored and stroked, the second of two short blocks of 1958"
    engine = V8.altered({"name": name})
    for page in bench_sheets(engine, kinds="bores"):
        assert any("$5 and" in text for text, _ in written(page))
        assert max(at[2] for _, at in written(page)) < 200.5
    numbers = {number: f"cylinder {number}" for number in range(1, 5)}
    layout = {**layout_table("inline 4"), "firing_order": [numbers[each] for each in (1, 3, 4, 2)]}
    layout["cylinder"] = [
        {**each, "number": numbers[each["number"]]} for each in layout["cylinder"]
    ]
    (page,) = bench_sheets(I4.altered({"layout": layout}), kinds=["bores"])
    assert not overlaps([*frames(page).values(), *(at for _, at in written(page))])


def test_pages_are_of_their_paper_and_the_same_each_time():
    for paper, points in (("A4", (595.276, 841.890)), ("Letter", (612, 792))):
        data = pdf_bytes(bench_sheets(I4, "metric", paper, ["deck", "rings"]))
        assert data == pdf_bytes(bench_sheets(I4, "metric", paper, ["deck", "rings"]))
        assert [page.get_size() for page in pypdfium2.PdfDocument(data)] == [
            pytest.approx(points, abs=1e-3)
        ] * 2
    assert not any(each.get_fill() for each in sheets("V8")["bores"][0].axes[0].patches
                   if isinstance(each, Rectangle))  # fmt: skip


ALL = " or ".join(SHEETS)
REFUSED = [
    ({"system": "cgs"}, '^bench_sheets: system must be inch or metric, got "cgs"\\.$'),
    ({"paper": "A3"}, '^bench_sheets: paper must be A4 or Letter, got "A3"\\.$'),
    ({"kinds": ["bores", "bore"]}, f'^bench_sheets: kinds must be {ALL}, got "bore"\\.$'),
    ({"kinds": "forks"}, f'^bench_sheets: kinds must be {ALL}, got "forks"\\.$'),
    ({"kinds": []}, f'^bench_sheets: kinds must be {ALL}, got ""\\.$'),
    ({"system": "SI", "paper": "a4"}, 'metric, got "SI"; paper must be A4 or Letter, got "a4"'),
]


@pytest.mark.parametrize(("given", "message"), REFUSED)
def test_what_there_is_no_sheet_for_is_refused(given, message):
    with pytest.raises(ValueError, match=message):
        bench_sheets(V8, **given)
