"""Chapter 07 driven without a browser: what shakes, the bob-weight card, refusals, its print."""

import base64
import html
import re

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.records import load_engine
from enginecalc.views import balance_words
from enginecalc.views.apps.balance import BalanceChapter
from enginecalc.views.bob_print import bob_sheets
from enginecalc.views.sheets import PAPERS, svg_text
from tests.chapters import FOUR, V8, own_engines, plain, table
from tests.figures import WORKED, printed

FLAT_PLANE = "V8 90°, flat-plane"


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    with pytest.MonkeyPatch.context() as monkeypatch:
        yield own_engines(tmp_path_factory.mktemp("shared"), monkeypatch)


@pytest.fixture(scope="module")
def opened(home):
    return BalanceChapter()


@pytest.fixture
def page(opened):
    """Return the chapter as it opens; what a test does to it is put back after it."""
    yield opened
    for file in (FOUR, V8):
        if opened.file.value != file and not opened._drafts.get((file, None)):
            continue
        opened.file.value = file
        for label, field in opened.fields.items():
            if field.path in opened.drafts():
                opened.type(label, str(opened.base.text_at(field.path) or ""))
    opened.file.value, opened.system.value, opened.turn.value = V8, "inch", 0
    opened.weighted.value, opened.beside.value = True, opened.beside.options[0]


def card(chapter):
    """Return {part: (grams of one, how many count, grams)} of the card on the page."""
    rows = re.findall(r'<th scope="row">(.*?)</th>(.*?)</tr>', html.unescape(chapter.card.value))
    return {name: tuple(re.findall("<td>(.*?)</td>", row)) for name, row in rows}


def spoken(chapter):
    labels = (re.search('aria-label="(.*?)"', each.value)[1] for each in chapter.pictures)
    return [html.unescape(each) for each in labels]


def edited(home, name, file=V8, **changes):
    """Write an engine file with some fields changed; return its name."""
    engine = load_engine(home / f"{file}.toml")
    given = {path.replace("__", "."): value for path, value in changes.items()}
    (home / f"{name}.toml").write_text(engine.altered(given).text(), encoding="utf-8")
    return name


# --- against a source: the worked numbers -------------------------------------------------------


def test_the_v8_shakes_in_fourth_order_only_and_says_so_first(page):
    assert page.answer_line == (
        "Quarry pump V8 at 6,200 rpm: what shakes is fourth order only, 654 N (0.043 m r ω²); as a"
        " couple fourth order only, 7.82 N·m (0.005 m r ω² p), from rods side by side; with"
        " counterweights to a bob weight of 1,720 g per pin; fires every 90°."
    )
    rows = table(page)
    assert WORKED["bal.force_max_over_m_r_w2"] == printed(rows["order 4"][1])
    assert rows["order 4"][::5] == ["654 N", "to and fro"]
    for order in (1, 2, 6):
        assert rows[f"order {order}"] == ["0", "0.0000", "", "0", "0.0000", ""]
    said = plain(page.numbers)
    assert f"m = {WORKED['bal.recip_g']:.0f} g to and fro" in said
    assert "because the rods of a pin sit side by side, 0.942 in apart" in said


def test_the_ferry_four_shakes_in_second_order(page):
    page.file.value = FOUR
    assert (
        "Ferry four at 7,000 rpm: what shakes is second order, 15.7 kN (1.279 m r ω²), fourth"
        in (page.answer_line)
    )
    assert "and no couple" in page.answer_line
    assert "fires every 180°" in page.answer_line
    assert "side by side" not in page.answer_line + plain(page.numbers)
    row = table(page)["order 2"]
    assert WORKED["bal.i4_second_coeff"] == printed(row[1])
    assert WORKED["bal.i4_second_N"] / 1000 == printed(row[0].removesuffix(" kN"))
    assert f"m = {WORKED['bal.i4_recip_g']} g" in plain(page.numbers)


def test_the_card_adds_up_line_by_line(page):
    lines = card(page)
    assert lines["bob weight"] == ("", "", f"{WORKED['bal.bob_g']:,.0f}")
    assert lines["big end"] == ("426", "2 ×", "852")
    assert lines["pair of rod shells"] == ("44", "2 ×", "88")
    assert lines["oil"] == ("5", "1 ×", "5")
    assert lines["small end"] == ("172", "0.5 × 2 ×", "172")
    parts = [float(line[2]) for name, line in lines.items() if name != "bob weight"]
    assert sum(parts) == WORKED["bal.bob_g"]
    assert "Never grind a counterweight by the formula" in plain(page.card)


def test_without_counterweights_a_couple_of_first_order_goes_round(page):
    page.weighted.value = False
    assert "as a couple first order, 12.2 kN·m" in page.answer_line
    assert "without counterweights" in page.answer_line
    row = table(page)["order 1"]
    all_masses = 775 + 2 * 470 + 5
    assert WORKED["bal.couple_no_cw"] * all_masses / 775 == pytest.approx(float(row[4]), abs=5e-4)
    assert (row[0], row[5]) == ("0", "round")
    assert table(page)["order 4"][0] == "654 N"
    page.weighted.value = True
    assert "12.2" not in page.answer_line


def test_firing_instants_and_companions(page):
    rows = table(page)
    found = {name: row for name, row in rows.items() if name.startswith("cylinder")}
    assert list(found) == [f"cylinder {each}" for each in (1, 5, 7, 2, 6, 8, 4, 3)]
    assert [float(row[0]) for row in found.values()] == WORKED["phase.firing_instants"]
    assert {row[1] for row in found.values()} == {"90"}
    pairs = {frozenset((int(name.split()[1]), int(row[2]))) for name, row in found.items()}
    assert pairs == {frozenset(pair) for pair in WORKED["phase.companions"]}


# --- against geometry and identities ------------------------------------------------------------


def test_another_layout_stands_beside_it(page):
    page.beside.value = FLAT_PLANE
    assert f"The same parts as {FLAT_PLANE}: what shakes is second order, 26.7 kN" in (
        page.answer_line
    )
    mine, other = (each.get_data() for each in page.traces.lines["force"])
    # flat-plane: the two banks' second orders add up across, 4 √2 of one cylinder's
    assert_allclose(np.max(np.abs(other[0])), 26.7, atol=0.15)
    assert_allclose(np.max(np.abs(mine[1])), 0.654, atol=1e-3)
    _, bars = page.bars[0].bars
    assert bars[1].get_width() == pytest.approx(0.5)
    row = table(page)["beside: order 2"]
    assert float(row[1]) == pytest.approx(4 * np.sqrt(2) * 0.3128, abs=2e-4)
    assert "the same share of what goes to and fro, 0.5," in plain(page.numbers)
    page.beside.value = "V6 90°, shared pins"
    assert "fires unevenly: 150-90-150-90-150-90°" in page.answer_line
    gaps = [text.get_text() for text in page.firing.words[1][1] if text.get_text()]
    assert gaps == ["150°", "90°"] * 3
    page.beside.value = page.beside.options[0]
    assert np.isnan(page.traces.lines["force"][1].get_xdata()).all()
    assert [text.get_text() for text in page.firing.words[1][1] if text.get_text()] == []


def test_the_same_layout_beside_it_says_the_same(page):
    page.beside.value = "V8 90°, cross-plane"
    rows = table(page)
    for order in (1, 2, 4, 6):
        assert rows[f"order {order}"] == rows[f"beside: order {order}"]


def test_a_four_beside_a_v_needs_no_rod_width_and_says_so(page):
    page.file.value, page.beside.value = FOUR, FLAT_PLANE
    assert page.error_line == ""
    assert "with no bank offset, as the rod's width is not known" in plain(page.numbers)


def test_reverse_rotation_shakes_as_much_and_the_layout_beside_it_turns_along(home):
    name = edited(
        home, "turned", layout__rotation="reverse", layout__firing_order=[1, 3, 4, 8, 6, 2, 7, 5],
        layout__crank_pins=["0 deg", "270 deg", "90 deg", "180 deg"],
    )  # fmt: skip
    chapter = BalanceChapter(name)
    assert "what shakes is fourth order only, 654 N (0.043 m r ω²)" in chapter.answer_line
    assert "anticlockwise" in chapter.seen.value
    for beside in chapter.beside.options[1:]:
        chapter.beside.value = beside
        assert chapter.error_line == ""
    chapter.beside.value = "V8 90°, cross-plane"
    rows = table(chapter)
    assert rows["order 4"] == rows["beside: order 4"]
    own, other = (each.fires for each in (chapter.found["shaken"], chapter.found["beside"][1]))
    assert list(own.instants) == list(other.instants)


def test_force_grows_with_the_square_of_the_speed_and_with_the_mass(page):
    page.type("engine speed", "3100 rpm")
    assert "fourth order only, 163 N (0.043 m r ω²)" in page.answer_line
    page.type("engine speed", "6200 rpm")
    page.type("piston mass", "825.5 g")  # 1162.5 g to and fro: half as much again
    assert "981 N (0.043 m r ω²)" in page.answer_line
    page.type("piston mass", "1.81992 lb")
    assert "981 N" in page.answer_line
    assert card(page)["bob weight"][2] == "2,107.5"


def test_switching_units_changes_no_figure_and_no_byte(page, home):
    files = {path: path.read_bytes() for path in home.iterdir()}
    page.type("stroke", "92,5 mm")
    page.type("piston mass", "0.44 kg")
    was = page.answer_line, page.card.value, page.fields["stroke"].text
    for system in ("metric", "inch", "metric", "inch"):
        page.system.value = system
        now = page.answer_line, page.card.value, page.fields["stroke"].text
        assert now == was
        assert page.fields["piston mass"].box.value == "0.44 kg"
    page.system.value = "metric"
    assert "23.93 mm apart" in plain(page.numbers)
    assert page.fields["rod length"].box.value.startswith("151.3")
    assert {path: path.read_bytes() for path in home.iterdir()} == files


# --- behaviour ----------------------------------------------------------------------------------


def test_the_arrow_turns_and_the_page_says_where_it_points(page):
    assert "654 N, pushes down" in plain(page.now)
    still = page.pictures[1].value
    page.turn.value = 45
    x, y = (
        float(each[0]) for each in (page.traces.arrows["force"].U, page.traces.arrows["force"].V)
    )
    assert (x, y) == pytest.approx((0, 653), abs=2)
    assert "45° after the first cylinder's top the force, 65" in plain(page.now)
    assert "pushes up" in spoken(page)[0]
    assert page.answer_line in spoken(page)[0]
    assert page.pictures[1].value == still
    page.turn.value = 360
    assert "360° after the first cylinder's top the force, 654 N, pushes down" in plain(page.now)


def test_a_missing_mass_is_a_sentence_that_says_where_to_weigh(page):
    page.type("piston mass", "")
    assert re.search(r"^shaking needs piston\.mass: Mass of one piston", page.error_line)
    assert page.answer_line == ""
    assert "enginecalc-wrong" in page.fields["piston mass"].box._dom_classes
    for widget in (*page.pictures, page.numbers, page.card, page.seen):
        assert "enginecalc-stale" in widget._dom_classes
    page.prints.button.click()
    assert "needs piston.mass" in plain(page.prints.answer)
    page.type("piston mass", "438 g")
    assert (page.error_line, "654 N" in page.answer_line) == ("", True)
    assert "enginecalc-stale" not in page.card._dom_classes


def test_all_that_is_missing_is_named_at_once(home):
    name = edited(home, "bare", rod__mass_big_end=None, rod__width=None, bearings__mass_oil=None)
    chapter = BalanceChapter(name)
    assert "shaking needs rod.mass_big_end, bearings.mass_oil, rod.width: " in chapter.error_line


def test_the_share_must_be_typed_unless_it_is_a_right_angle_v(page, home):
    page.type("reciprocating share", "")
    assert "bob weight of 1,720 g per pin" in page.answer_line
    page.file.value = FOUR
    page.type("reciprocating share", "")
    typed = (
        "only a 90° V with two rods on each pin has a rule, 0.5; for this engine type the figure"
    )
    assert f"shaking needs balance.reciprocating_share: {typed}" in page.error_line
    page.weighted.value = False
    assert "second order, 15.7 kN" in page.answer_line
    assert f"No card yet: bob weight needs balance.reciprocating_share: {typed}" in plain(page.card)
    page.type("reciprocating share", "0,4")
    assert page.error_line == ""
    assert "0.4 × 1 ×" in page.card.value


REFUSED = [
    ("reciprocating share", "1.5", r"^balance\.reciprocating_share must lie between 0 and 1, got"),
    ("reciprocating share", "half", r'balance\.reciprocating_share: "half" is not a number'),
    ("piston mass", "438", r"piston\.mass: 438 has no unit"),
    ("piston mass", "<b>", r"piston\.mass: .*is not a number with a unit"),
    ("engine speed", "6200", r"running\.engine_speed: 6200 has no unit"),
    (
        "stroke",
        "13 in",
        r"^rod\.length must be longer than half the stroke .* shorter crank\.stroke",
    ),
]


@pytest.mark.parametrize(("label", "text", "said"), REFUSED)
def test_what_cannot_be_is_a_sentence_and_stays_typed(page, label, text, said):
    page.type(label, text)
    assert re.search(said, page.error_line)
    assert "<b>" not in page.error.value.replace("<b>Not worked out:</b>", "")
    assert (page.fields[label].text, page.answer_line) == (text, "")
    assert "enginecalc-wrong" in page.fields[label].box._dom_classes


def test_a_longer_stroke_may_meet_the_head_here(page):
    page.type("stroke", "3.840 in")
    assert (page.error_line, "fourth order only" in page.answer_line) == ("", True)


def test_pins_with_different_numbers_of_rods_have_a_card_each(home):
    three = {
        "kind": "V", "bank_angle": "90 deg", "crank_pins": ["0 deg", "180 deg"],
        "firing_order": [1, 2, 3], "rotation": "standard",
        "cylinder": [{"number": 1, "bank": "left", "pin": 1},
                     {"number": 2, "bank": "right", "pin": 1},
                     {"number": 3, "bank": "left", "pin": 2}],
    }  # fmt: skip
    chapter = BalanceChapter(edited(home, "three", layout=three))
    assert "1,720 g on crank pin 1 and 862.5 g on crank pin 2" in chapter.answer_line
    assert len(bob_sheets(*chapter._to_print())) == 2


@pytest.mark.parametrize("beside", ["inline 2, pins opposed", "V6 90°, split pins", FLAT_PLANE])
@pytest.mark.parametrize("held", [True, False])
@pytest.mark.parametrize("file", [V8, FOUR])
def test_words_of_a_picture_stay_inside_it(page, file, held, beside):
    page.file.value, page.weighted.value, page.beside.value = file, held, beside
    for figure in page.figures:
        figure.draw_without_rendering()
        width, height = figure.bbox.size
        for ax in figure.axes:
            for text in [*ax.texts, ax.title, ax.xaxis.label]:
                box = text.get_window_extent()
                inside = box.x0 > 0, box.x1 < width, box.y0 > 0, box.y1 < height
                assert all(inside) or not text.get_text().strip(), text.get_text()
            assert (
                min((each.get_window_extent().x0 for each in ax.get_yticklabels()), default=1) > 0
            )


def test_moves_leave_no_artists(page):
    def counts():
        return [[len(ax.get_children()) for ax in figure.axes] for figure in page.figures]

    page.beside.value = "inline 8"
    was = counts()
    for beside in ("inline 1", FLAT_PLANE, "flat 4", "inline 8"):
        page.beside.value = beside
        page.turn.value += 30
    assert counts() == was


# --- the card on paper --------------------------------------------------------------------------


def texts_of(sheet):
    (ax,) = sheet.axes
    return ax.texts


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("file", [V8, FOUR])
def test_the_card_is_one_page_of_its_paper_with_all_words_on_it(page, paper, file):
    page.file.value = file
    (sheet,) = bob_sheets(*page._to_print(), paper=paper)
    assert_allclose(sheet.get_size_inches() * 25.4, PAPERS[paper])
    width, height = PAPERS[paper]
    assert f'width="{width:.6g}mm" height="{height:.6g}mm"' in svg_text(sheet)
    sheet.draw_without_rendering()
    boxes = []
    for text in texts_of(sheet):
        box = text.get_window_extent().transformed(sheet.dpi_scale_trans.inverted())
        if text.get_text():
            boxes.append(np.array(box.extents) * 25.4)
    boxes = np.array(boxes)
    assert boxes[:, :2].min() > 10
    assert boxes[:, 2].max() < width - 10
    assert boxes[:, 3].max() < height - 10
    for at, one in enumerate(boxes):
        over = (one[:2] + 0.1 < boxes[:, 2:]).all(axis=1) & (boxes[:, :2] + 0.1 < one[2:]).all(
            axis=1
        )
        assert over.sum() == 1, texts_of(sheet)[at].get_text()


def test_the_card_on_paper_says_sum_and_cautions(page):
    (sheet,) = bob_sheets(*page._to_print())
    said = [text.get_text() for text in texts_of(sheet)]
    assert "1,720" in said
    assert "Quarry pump V8" in said
    assert "For crank pins 1, 2, 3, 4, rods on each: 2. Bob weights of this mass: 4." in said
    whole = " ".join(said)
    for caution in balance_words.CAUTIONS:
        assert caution in whole
    for word in ("balancing shop", "1–2 g", "common practice, no source", "flywheel and damper"):
        assert word in whole
    with pytest.raises(ValueError, match=r'^bob_sheets: paper must be A4 or Letter, got "A3"'):
        bob_sheets(*page._to_print(), paper="A3")


def test_the_button_offers_a_pdf(page):
    page.prints.paper.value = "Letter"
    page.prints.button.click()
    link = re.search(r'download="(.*?)" href="data:application/pdf;base64,(.*?)"',
                     page.prints.answer.value)  # fmt: skip
    assert link[1] == "bob-weight-card.pdf"
    assert base64.b64decode(link[2]).startswith(b"%PDF")
