"""Chapter 05 without a browser: the stroker planner's questions, live outlines, its drawings."""

import html
import itertools
import re
from types import SimpleNamespace

import numpy as np
import pytest

from enginecalc.records import block, block_clearances, load_engine
from enginecalc.records.block_view import Frame
from enginecalc.records.seats import seats_of
from enginecalc.units import Q
from enginecalc.views import block_plan, block_words, figures, gap_words
from enginecalc.views.apps.block_clearance import BlockClearanceChapter
from enginecalc.views.block_plan import BlockPlan
from enginecalc.views.outline_field import OutlineField
from tests.chapters import ENGINES, FOUR, LONG, V8, own_engines, plain, slide, table
from tests.figures import WORKED, printed, worked

OUTER, INNER = "rod to rail, outer side", "rod to rail, inner side"
SKIRT, CHAMFER = "counterweight to skirt", "rod chamfer to fillet"
CIRCLE, PHASE = "rod to cam, nose circle", "rod to cam, true phase"
GRIND = "grind the block {} there, at the pan rail"
SHOP, NEVER = "a balancing shop's work", "never grind a lobe or a bolt seat"
SHOULDER = "1.20 in ; 0.55 in ; 0.260 in"


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    with pytest.MonkeyPatch.context() as monkeypatch:
        yield own_engines(tmp_path_factory.mktemp("shared"), monkeypatch)


@pytest.fixture(scope="module")
def opened(home):
    return BlockClearanceChapter()


def words_only(_, words):
    return f'<svg role="img" aria-label="{html.escape(words, quote=True)}"></svg>'


@pytest.fixture
def page(opened, monkeypatch):
    """Return the chapter as it opens; what a test does to it is put back after it.

    Its artists move, but no SVG is written of them: that is most of the time.
    """
    monkeypatch.setattr(figures, "svg", words_only)
    yield opened
    for file in (FOUR, V8, LONG):
        if opened._drafts.get((file, None)):
            opened.file.value = file
            for field in opened.fields.values():
                if field.path in opened.drafts():
                    field.type(field.stated(opened.base.text_at(field.path)))
            opened.drafts().clear()
    opened._turned.clear()
    opened.file.value, opened.beside.value, opened.system.value = LONG, V8, "inch"
    opened.cylinder.value, opened.pair.value, opened.angle.value = 1, "the worst pair", 46
    opened.refresh()


def rows(chapter):
    """Return (pair, cells) of every row of the table of pairs, in order."""
    part = html.unescape(chapter.numbers.value).partition("</table>")[0]
    return [
        (name, re.findall("<td>(.*?)</td>", cells))
        for name, cells in re.findall(r'<th scope="row">(.*?)</th>(.*?)</tr>', part)
    ]


def cells(chapter, pair, cylinders=""):
    """Return the cells of the one row of a pair, of some cylinders where there are several."""
    (found,) = [each for name, each in rows(chapter) if name == pair and cylinders in each[0]]
    return found


def after(said):
    """Return a crank angle of the table as one that counts on from top dead center."""
    angle, _, side = said.partition("° ")
    return angle if side.startswith("after") else f"{360 - float(angle):.1f}"


def drawn(chapter):
    """Return the pictures, without the names that each drawing makes up anew."""
    return [re.sub(r"\b\w*[0-9a-f]{10}\b", "", each.value) for each in chapter.pictures]


def spoken(chapter):
    """Return what each picture says to those who cannot see it."""
    labels = (
        re.match('<svg role="img" aria-label="(.*?)"', each.value) for each in chapter.pictures
    )
    return [html.unescape(each[1]) for each in labels]


# --- against a source: the questions of a stroker planner ---------------------------------------

ANSWERS = {  # pair: worked number, grind, word
    OUTER: ("env.L.rail+1", GRIND.format("0.050 in"), "outside"),
    INNER: ("env.L.rail-1", "", "within"),
    CIRCLE: ("env.L.cam_circle", "", "within"),
    SKIRT: ("cw_gap", f"take 0.020 in off the weight, or another piston; {SHOP}", "outside"),
    "rod to bore edge": ("env.L.bore+1", "", "within"),
    "rod beam to bore edge": ("env.L.beam+1", "", "within"),
}


@pytest.mark.parametrize("pair", ANSWERS)
def test_questions_six_to_eight_in_both_plans(page, pair):
    key, fix, word = ANSWERS[pair]
    _, one, other, change, _, _, status, grind, should = cells(page, pair)
    assert WORKED[f"v8.{key}"] == printed(one)
    assert WORKED[f"v8s.{key}"] == printed(other)
    difference = WORKED[f"v8s.{key}"] - WORKED[f"v8.{key}"]
    assert float(change) == pytest.approx(difference, abs=6e-4)
    assert (status, grind) == (word, fix)
    assert (
        should
        == f"at least {'0.050' if pair == CIRCLE else '0.060'} in · common practice, no source"
    )


def test_the_answer_says_pair_cylinders_side_gap_limit_angle_and_what_to_grind(page):
    said = (
        "Plan B: cylinders 1, 3, 5, 7 (left bank) and 2, 4, 6, 8 (right bank): rod to rail, outer"
        " side 0.010 in at 46° after TDC (right bank 46° before TDC), outside: at least 0.060 in"
        " (common practice, no source); grind the block 0.050 in there, at the pan rail."
    )
    assert page.answer_line.startswith(said)
    assert "counterweight to skirt 0.040 in (take 0.020 in off the weight, or" in page.answer_line
    assert "rod chamfer to fillet -0.0004 in (0.010 in more chamfer: ask the" in page.answer_line
    assert page.answer_line.endswith(
        "Nose circle 0.133 in: clear of the cam at any phase, if nothing larger than 0.905 in"
        " stands near the rods."
    )


def test_the_right_bank_has_the_same_gaps_at_mirrored_angles(page):
    for pair, side in ((OUTER, ("L.rail+1", "R.rail-1")), (INNER, ("L.rail-1", "R.rail+1")),
                       (CIRCLE, ("L.cam_circle", "R.cam_circle"))):  # fmt: skip
        cylinders, *_, at, _, _, _, _ = cells(page, pair)
        assert cylinders == "left 1, 3, 5, 7; right 2, 4, 6, 8"
        for angle, key in zip(at.split("; "), side, strict=True):
            assert WORKED[f"v8s.env.{key}_at"] == printed(after(angle))
    assert [page.beside.value, cells(page, SKIRT)[0]] == [V8, "all"]


def test_banks_differ_at_the_cams_true_phase(page):
    for cylinders, key, lobe in (("left 1, 3, 5, 7", "L.i", "intake"),
                                 ("right 2, 4, 6, 8", "R.e", "exhaust")):  # fmt: skip
        found = cells(page, PHASE, cylinders)
        assert WORKED[f"v8s.lobe.{key}.chain"] == printed(found[2])
        assert found[4].endswith("° after firing TDC")
        assert WORKED[f"v8s.lobe.{key}.chain_at"] == printed(after(found[4]))
        assert found[5].endswith(f"{lobe} lobe")


def test_questions_five_and_ten_ratio_tilt_oil_groove_and_skirt(page):
    found = table(page)
    for row, key in (("pin to oil groove", "plan.pin_to_oil_groove_{}"),
                     ("skirt below bore", "plan.{}.skirt_below_bore"),
                     ("rod ratio", "{}.rod_ratio"),
                     ("greatest rod tilt", "{}.tilt_max_deg")):  # fmt: skip
        for cell, plan in zip(found[row][:2], ("v8", "v8s"), strict=True):
            shown = float(cell.partition(" ± ")[0])
            assert shown == pytest.approx(
                WORKED[key.format(plan)], abs=6e-4 if "deg" not in key else 6e-3
            )
    assert [found["skirt below bore"][3], found["pin to oil groove"][3]] == ["no limit", "within"]


def test_the_worst_stands_first_and_what_is_missing_is_folded_below(page):
    pairs = [name for name, _ in rows(page)]
    assert pairs[:3] == [OUTER, SKIRT, CHAMFER]
    assert "<details>" not in page.numbers.value
    page.type("skirt below pin", "")
    said = plain(page.numbers)
    assert SKIRT not in [name for name, _ in rows(page)]
    assert "Not looked at: counterweight to skirt, which needs piston.skirt_below_pin" in said
    assert "piston.skirt_below_pin: pin axis to lowest point of skirt" in said
    assert "Not worked out: skirt below bore, which needs piston skirt below pin" in said


def test_cautions_stand_on_the_page(page):
    said = plain(page.numbers)
    for words in ("replaces no clay, wire or feeler check", "stop at the water jacket",
                  "Never grind a rod's bolt seat", "Wash everything", "by its side clearance",
                  "main caps and the oil pickup are not looked at", "own lobes",
                  "balancing shop", "part makers' figures win"):  # fmt: skip
        assert words in said
    assert "so the left bank is drawn on the right" in plain(page.captions[0])


# --- what is not looked at ----------------------------------------------------------------------

NOT_LOOKED_AT = [  # figures taken out or changed, what the answer says, how many in the title
    ({"block.rail_offset": None}, "rod to rail (needs rail offset).", 2),
    ({"block.rail_offset": None, "block.rail_top": None},
     "rod to rail (needs rail offset and rail top).", 2),
    ({"camshaft.drive": None}, "rod to cam, true phase (needs camshaft drive).", 1),
    ({"camshaft.follower": "roller"}, "rod to cam, true phase (needs a flat follower).", 1),
    ({"camshaft.largest_radius": "0.900 in", "block.bore_bottom": None},
     "rod to bore edge (needs bore bottom), rod beam to bore edge (needs bore bottom), rod to cam,"
     " nose circle (needs another camshaft largest radius), and 1 more below.", 4),
    ({"block.cam_height": None},
     "rod to cam (needs cam height), counterweight to cam (needs cam height).", 3),
    ({"rod.outline": None, "piston.skirt_below_pin": None},
     "rod to rail (needs rod outline), rod to bore edge (needs rod outline), rod to cam (needs rod"
     " outline), and 1 more below.", 6),
    ({"intake.lobe_lift": None, "intake.duration": None, "camshaft.base_radius": None,
      "camshaft.drive": None},
     "rod to cam, true phase (needs camshaft base radius, camshaft drive and 1 more).", 1),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "said", "count"), NOT_LOOKED_AT)
def test_pairs_that_lack_a_figure_are_named_in_answer_and_title(changes, said, count):
    plan = plan_of(changes)
    answer = block_words.answer(plan, plan, "inch")
    assert answer.endswith(f"Not looked at: {said}")
    assert answer.count("Not looked at") == 1
    assert gap_words.title(plan, 1, "inch").endswith(f", {count} not looked at")
    below = block_words.numbers(plan, plan, "inch").count("Not looked at: ")
    more = re.search(r"and (\d+) more below", said)
    assert not more or below > int(more[1])
    shown = len(re.findall("needs", said))
    assert below >= shown


def plan_of(changes, turned=()):
    return BlockPlan("plan B", load_engine(ENGINES / f"{LONG}.toml").altered(changes), turned)


def test_a_blank_field_is_said_at_once_and_gone_when_it_is_filled(page):
    assert "Not looked at" not in page.answer_line + plain(page.numbers)
    page.type("rail offset", "")
    assert page.answer_line.endswith("Not looked at: rod to rail (needs rail offset).")
    assert page.views[1].title.get_text() == "plan B, stroke 3.840 in\n2 outside, 2 not looked at"
    assert "Not looked at: rod to rail, which needs block.rail_offset" in plain(page.numbers)
    page.type("rail offset", "3.500 in")
    assert "Not looked at" not in page.answer_line + page.views[1].title.get_text()


# --- what to do about it ------------------------------------------------------------------------

WRONG_WAY = "this rod is in the wrong way round: turn it back, its chamfer belongs to the cheek"
REMEDIES = [  # changes, turned, pair, what is said of the missing length
    ({}, (), OUTER, GRIND),
    ({"block.bore_bottom": "2.700 in", "piston.skirt_below_pin": "0.9 in"}, (), "rod to bore edge",
     "grind the block {} there, at the bore's lower edge"),
    ({"rod.beam_width": "2.100 in"}, (), "rod beam to bore edge",
     "grind the block {} there, at the bore's lower edge"),
    ({"block.cam_height": "4.200 in"}, (), PHASE,
     f"{{}} short: another rod, a smaller base circle or another cam phase; {NEVER}"),
    ({"block.cam_height": "4.380 in", "camshaft.drive": None}, (), CIRCLE,
     f"{{}} short: check the lobes with the cam in; {NEVER}"),
    ({"block.cam_height": "4.380 in"}, (), CIRCLE, ""),
    ({}, (), SKIRT, f"take {{}} off the weight, or another piston; {SHOP}"),
    ({"block.cam_height": "3.900 in"}, (), "counterweight to cam",
     f"take {{}} off the weight; {SHOP}"),
    ({"crank.fillet_radius": "0.130 in"}, (), CHAMFER, "{} more chamfer: ask the rod maker"),
    ({}, (1,), CHAMFER, WRONG_WAY),
    ({}, (), INNER, ""),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "turned", "pair", "said"), REMEDIES)
def test_what_to_do_about_a_gap_that_is_outside(changes, turned, pair, said):
    plan = plan_of(changes, turned)
    row = plan.rows[pair, 1]
    short = (row.limit - row.clearance).m_as("inch")
    if pair == CHAMFER:  # the leg that is missing, not the bite
        short = 0.130 - 0.115
    assert block_words.remedy(plan, row, "inch") == said.format(f"{short:.3f} in")


def test_a_shortage_too_small_for_the_digits_is_not_said_to_be_none():
    offset = 3.5 + 0.050 - 0.0002 + 0.060 - 0.050 - WORKED["v8s.env.L.rail+1"]
    plan = plan_of({"block.rail_offset": f"{offset:.6f} in"})
    assert block_words.remedy(plan, plan.rows[OUTER, 1], "inch") == GRIND.format("0.0002 in")


@pytest.mark.parametrize(("height", "words"), [
    ("4.200 in", "the lobes miss their limit of 0.050 in too: 0.003 in at 688° after firing TDC"),
    ("4.100 in", "the lobes meet the rod too: -0."),
])  # fmt: skip
def test_a_nose_circle_that_fails_with_the_lobes_says_so(page, height, words):
    page.type("cam height", height)
    assert f"in this cam's own phase {words}" in page.answer_line
    assert "condemns no engine" not in page.answer_line
    assert "neighbours' lobes are to be checked" in page.answer_line
    assert page.answer_line.count("another rod, a smaller base circle or another cam phase") == 1
    lobes = [each[7] for name, each in rows(page) if name == PHASE]
    assert all(each.endswith(NEVER) for each in lobes)


def test_a_scratch_of_a_chamfer_ranks_below_what_really_is_outside():
    offset = 3.5 + 0.060 - 0.0002 - WORKED["v8s.env.L.rail+1"]
    around = {"block.rail_offset": f"{offset:.6f} in", "crank.counterweight_radius": "2.9 in"}
    plan = plan_of(around)
    gap, bite = (block_plan.room(plan.rows[pair, 1]) for pair in (OUTER, CHAMFER))
    assert bite < gap < 0
    assert [row.pair for row in plan.ranked(1)][:2] == [OUTER, CHAMFER]
    answer = block_words.answer(plan, plan, "inch")
    assert re.search(f"rod to rail, outer side 0.0598 in .* Also outside: {CHAMFER} ", answer)
    deep = plan_of({**around, "crank.fillet_radius": "0.140 in"})
    assert deep.rows[CHAMFER, 1].clearance.m_as("inch") < -0.001
    assert [row.pair for row in deep.ranked(1)][:2] == [CHAMFER, OUTER]


# --- a piston that meets the head ---------------------------------------------------------------


def test_a_stroke_that_meets_the_head_still_says_what_clears_the_block(page):
    page.type("compression height", "1.175 in")
    page.type("stroke", "4.000 in")
    assert "meets the head" not in page.doubts.value
    gaps = [each for _, each in rows(page)]
    page.type("compression height", "1.275 in")
    assert page.error_line == ""
    assert plain(page.doubts).startswith("Look at this: quench -0.0370: piston meets the head (in")
    assert "; rod.chamfer is less than" in plain(page.doubts)
    assert "worked out all the same" in plain(page.doubts)
    assert [each for _, each in rows(page)] == gaps, "the head has no part in them"
    assert "enginecalc-stale" not in page.numbers._dom_classes
    assert "stroke 4.000 in" in page.views[1].title.get_text()
    page.prints.buttons[1].click()
    assert "swept-envelope.pdf" in page.prints.answer.value
    page.type("stroke", "3.840 in")
    assert "meets the head" not in page.doubts.value


@pytest.mark.parametrize(("label", "text", "said"), [
    ("rail offset", "1.5 in", "block.rail_offset: 1.5 in puts the rail inside"),
    ("skirt below pin", "far", "piston.skirt_below_pin: "),
])  # fmt: skip
def test_any_other_fault_beside_it_stays_a_refusal(page, label, text, said):
    page.type("stroke", "4.000 in")
    page.type(label, text)
    assert said in page.error_line
    assert page.answer_line == page.doubts.value == ""
    assert "enginecalc-stale" in page.numbers._dom_classes


# --- angles -------------------------------------------------------------------------------------

ANGLES = r"\d+(?:\.\d)?° (?:after|before|after firing) TDC"


@pytest.mark.parametrize("cylinder", [1, 2])
@pytest.mark.parametrize("pair", [OUTER, PHASE, SKIRT])
def test_angles_are_said_in_one_way_everywhere(page, cylinder, pair):
    page.cylinder.value, page.pair.value = cylinder, pair
    said = [page.answer_line, *map(plain, (*page.captions, page.crank_place)),
            page.title.get_text(), page.gaps.ax.get_title()]  # fmt: skip
    said += [each[4] for _, each in rows(page)]
    said += [text.get_text() for figure in page.prints._envelope(paper="A4", scale=1)
             for ax in figure.axes for text in ax.texts]  # fmt: skip
    for each in said:
        each = re.sub(r"from \d+° to ", "", each.replace("\n", " "))
        assert each.count("°") == len(re.findall(ANGLES, each)), each
    assert sum("46° after TDC" in each for each in said) >= 2 or cylinder == 2
    if cylinder == 2:
        assert sum("46° before TDC" in each for each in said) >= 2


@pytest.mark.parametrize(("cylinder", "angle", "said"), [
    (1, 46, "cylinder 1: 46° after TDC, 46° after firing TDC"),
    (1, 674, "cylinder 1: 46° before TDC, 674° after firing TDC"),
    (2, 406, "cylinder 2: 46° after TDC, 406° after firing TDC"),
    (2, 360, "cylinder 2: TDC, 360° after firing TDC"),
    (8, 180, "cylinder 8: 180° after TDC, 180° after firing TDC"),
])  # fmt: skip
def test_the_crank_slider_says_its_angle_for_the_cylinder(page, cylinder, angle, said):
    page.cylinder.value = cylinder
    page.angle.value = angle
    assert plain(page.crank_place) == said


STRETCHES = [  # degrees under the limit, what is said
    ([(34, 54)], "from 34° to 54° after TDC"),
    ([(306, 326)], "from 54° to 34° before TDC"),
    ([(170, 190)], "from 170° after TDC to 170° before TDC"),
    ([(0, 10), (350, 360)], "from 10° before TDC to 10° after TDC"),
    ([(0, 10), (100, 110), (350, 360)],
     "from 10° before TDC to 10° after TDC and from 100° to 110° after TDC"),
    ([(0, 0), (355, 360)], "from 5° before TDC to TDC"),
    ([(46, 46)], "at 46° after TDC"),
    ([(0, 360)], "at every crank angle"),
]  # fmt: skip


@pytest.mark.parametrize(("low", "said"), STRETCHES)
def test_a_stretch_of_the_turn_under_the_limit(low, said):
    angles = np.arange(361)
    gaps = np.where(np.any([(angles >= a) & (angles <= b) for a, b in low], axis=0), 1.0, 3.0)
    row = SimpleNamespace(pair="x", limit=Q(2, "mm"))
    assert gap_words.over_turn(row, (Q(angles, "deg"), Q(gaps, "mm"))) == (
        f"x is under its limit {said}"
    )


# --- the rod turned round -----------------------------------------------------------------------


def test_a_rod_turned_round_bites_with_its_square_edge(page):
    page.turned.value = True
    assert page.answer_line.startswith(
        "Plan B: cylinder 1: rod chamfer to fillet -0.052 in all round, outside: at least 0.000 in"
    )
    back = "this rod is in the wrong way round: turn it back, its chamfer belongs to the cheek"
    assert f"; {back}. Also outside: rod to rail, outer side" in page.answer_line
    assert "outer side (cylinders 2, 3, 4, 5, 6, 7, 8) 0.010" in page.answer_line
    found = cells(page, OUTER, "1")
    turned = [each for name, each in rows(page) if name == OUTER and each[0] == "1"]
    assert WORKED["v8s.env.L.rail+1_backwards_rod"] == printed(turned[0][2])
    assert found[1] == "0.112"
    chamfers = {each[0]: each for name, each in rows(page) if name == CHAMFER}
    assert WORKED["fillet.no_chamfer_worst"] == printed(chamfers["1"][2])
    assert chamfers["1"][5:8] == [
        "square edge of a rod turned round",
        "outside",
        back,
    ]
    assert chamfers["2, 3, 4, 5, 6, 7, 8"][2] == "-0.0004"
    page.turned.value = False
    assert len([name for name, _ in rows(page) if name == OUTER]) == 1


def test_each_cylinder_and_file_keeps_whether_its_rod_is_turned_round(page):
    page.turned.value = True
    page.cylinder.value = 2
    assert page.turned.value is False
    page.cylinder.value = 1
    assert page.turned.value is True
    page.file.value = V8
    assert page.turned.value is False
    page.file.value = LONG
    assert page.turned.value is True
    assert "-0.052 in" in page.answer_line


# --- the outline, live --------------------------------------------------------------------------


def test_a_shoulder_ground_away_changes_the_table_at_once(page):
    field, was = page.fields["rod outline"], page.fields["rod outline"].text
    assert was.splitlines()[3] == SHOULDER
    page.type("rod outline", was.replace(SHOULDER, "1.20 in ; 0.55 in ; 0.200 in"))
    assert (page.error_line, cells(page, OUTER)[2]) == ("", "0.070")
    assert page.answer_line.startswith("Plan B: all cylinders: counterweight to skirt 0.040 in at")
    assert f"{OUTER} keeps its limit" not in page.answer_line
    page.type("rod outline", was.replace(SHOULDER, "30,48 mm; 13,97 mm; 5,08 mm"))
    assert cells(page, OUTER)[2] == "0.070"
    assert field.text.splitlines()[3] == "30,48 mm; 13,97 mm; 5,08 mm"


def test_units_switched_twice_leave_every_text_and_the_engine(page, home):
    source = (home / f"{LONG}.toml").read_bytes().decode()
    texts = {label: field.text for label, field in page.fields.items()}
    shown = page.fields["rod outline"].box.value
    for system in ("metric", "inch", "metric", "inch"):
        page.system.value = system
        assert {label: field.text for label, field in page.fields.items()} == texts
        assert page.fields["rod outline"].box.value == shown
        assert page.engine.text() == source
    page.system.value = "metric"
    assert "rod to rail, outer side 0.25 mm" in page.answer_line
    assert cells(page, OUTER)[1:4] == ["2.85", "0.25", "-2.59"]


def test_places_on_the_rod_are_shown_in_the_unit_of_the_page(page):
    page.system.value = "metric"
    seen = [cells(page, OUTER)[5], plain(page.captions[0]), plain(page.captions[1]),
            page.nearest.words[2].get_text().replace("\n", " ")]  # fmt: skip
    assert all("shoulder at +30.48, +13.97 mm" in each for each in seen)
    assert not re.search(r"[+-][\d.]+ in\b", plain(page.numbers) + "".join(seen))
    was = page.fields["rod outline"].text
    page.type("rod outline", was.replace(SHOULDER, "30,48 mm ; 13,97 mm ; 6,60 mm"))
    assert cells(page, OUTER)[5] == "shoulder at +30.48, +13.97 mm"
    page.system.value = "inch"
    assert cells(page, OUTER)[5] == "shoulder at +1.2, +0.55 in"
    assert cells(page, PHASE, "left")[5] == "shoulder at -1.15, +0.55 in, intake lobe"


OUTLINES = [
    ("0 in ; 0 in ; 1.42 in", [("0 in", "0 in", "1.42 in")]),
    (
        "  1 in;2 in;3 in  \n\n4 mm ; 5 mm;6 mm",
        [("1 in", "2 in", "3 in"), ("4 mm", "5 mm", "6 mm")],
    ),
    ("30,5 mm ; −17,8 mm ; 7,1 mm", [("30,5 mm", "−17,8 mm", "7,1 mm")]),
    ("1.20 in, -0.70 in, 0.280 in", [("1.20 in", "-0.70 in", "0.280 in")]),
    ('1.20",-0.70", 0.280"', [('1.20"', '-0.70"', '0.280"')]),
    ("30,5 mm, -17,8 mm, 7,1 mm", [("30,5 mm", "-17,8 mm", "7,1 mm")]),
    ("1 1/4 in ; 1/4 in ; 280 thou", [("1 1/4 in", "1/4 in", "280 thou")]),
    ("", None),
    (" \n ", None),
]


@pytest.mark.parametrize(("text", "discs"), OUTLINES)
def test_what_lines_of_an_outline_mean(text, discs):
    meant = OutlineField("rod outline", "rod.outline").meant(text)
    assert meant == (
        discs and [dict(zip(("x", "y", "radius"), disc, strict=True)) for disc in discs]
    )


LINES = [  # what stands in line 2, what is said
    ("1.20 in ; 0.55 in", r'line 2: "1\.20 in ; 0\.55 in" has 2 figures, .* like 1\.20 in ;'),
    ("1.20 in 0.55 in ; 0.2 in", r"line 2: .* has 2 figures"),
    ("1 in ; 2 in ; 3 in ; 4 in", r"line 2: .* has 4 figures"),
    ("1.20 in", r"line 2: .* has 1 figure, a disc has three"),
    ("1.2o in ; 0.55 in ; 0.2 in", r'line 2: x: "1\.2o in": o in is not a unit known here'),
    ("1.20 in ; 0.55 ; 0.2 in", r"line 2: y: 0\.55 has no unit"),
    ("1.20 in ; ; 0.2 in", r"line 2: y: nothing was typed"),
    ("1.20 in ; 0.55 in ; 20 deg", r"line 2: radius: 20 deg is not a length"),
    ("1,200 in ; 0.55 in ; 0.2 in", r"line 2: x: .* can be read as 1\.200 in or as 1200 in"),
    ("1.20, 0.55, 0.26 in", r"line 2: .* may have decimal commas; .* semicolons"),
    ("1,20,0,55,0,26 in", r"line 2: .* has 1 figure"),
    ("1.20 in ,5 in ,3 in", r"line 2: .* may have decimal commas; .* semicolons"),
    ("<b>1 in</b> ; 1 in ; 1 in", r"line 2: x: "),
]


@pytest.mark.parametrize(("line", "said"), LINES)
def test_a_wrong_line_is_named_and_nothing_typed_is_lost(page, line, said):
    field, numbers = page.fields["rod outline"], page.numbers.value
    was = field.text.splitlines()
    text = "\n".join([was[0], line, *was[2:]])
    page.type("stroke", "3.830 in")
    numbers = page.numbers.value
    page.type("rod outline", text)
    assert re.search(f"^rod\\.outline: {said}", page.error_line)
    assert len(page.error_line.splitlines()) == 1
    assert "<b>" not in page.error.value.replace("<b>Not worked out:</b>", "")
    assert (field.text, field.box.value) == (text, text)
    assert "enginecalc-wrong" in field.box._dom_classes
    assert "enginecalc-wrong" not in page.fields["stroke"].box._dom_classes
    assert page.numbers.value == numbers
    for each in (page.numbers, *page.pictures, *page.captions):
        assert "enginecalc-stale" in each._dom_classes
    page.type("rod outline", "\n".join(was))
    assert (page.error_line, page.numbers.value) == ("", numbers)
    assert "enginecalc-stale" not in page.captions[0]._dom_classes


def test_several_wrong_lines_come_at_once(page):
    page.type("stroke", "long")
    page.type("rod outline", "1 in\n\n0 in ; 0 in ; 1.4 in\n2 in ; x ; 3 in")
    lines = page.error_line.splitlines()
    assert [each.split(": ")[:2] for each in lines] == [
        ["rod.outline", "line 1"],
        ["rod.outline", "line 4"],
    ]
    page.type("rod outline", "")
    assert page.error_line.startswith('crank.stroke: "long" is not a number')
    assert page.fields["stroke"].text == "long"


def test_an_empty_outline_is_not_measured(page):
    page.type("rod outline", "  ")
    assert (page.error_line, page.engine.rod.outline) == ("", None)
    assert OUTER not in [name for name, _ in rows(page)]
    assert page.answer_line.startswith("Plan B: all cylinders: counterweight to skirt 0.040 in")
    assert "The big end is not drawn, for rod.outline is not measured" in plain(page.captions[0])
    assert [each.get_visible() for each in page.views[1].rims] == [False] * 5
    assert all(each.get_visible() for each in page.views[0].rims)


def test_what_cannot_be_of_an_outline_is_refused_by_name(page):
    page.type("rod outline", page.fields["rod outline"].text.replace("0.250 in", "-0.250 in"))
    assert page.error_line.startswith("rod.outline")
    page.type("rail offset", "1.5 in")
    assert "block.rail_offset: 1.5 in puts the rail inside" in page.error_line


def test_drafts_of_an_outline_survive_another_file(page):
    page.type("rod outline", "nonsense")
    page.file.value = V8
    assert page.error_line == ""
    page.file.value = LONG
    assert page.fields["rod outline"].text == "nonsense"
    assert page.error_line.startswith("rod.outline: line 1")


# --- what the nose circle says ------------------------------------------------------------------


def test_a_circle_that_fails_does_not_fail_the_engine(page):
    page.type("cam height", "4.380 in")
    assert "Nose circle 0.043 in, less than 0.050 in: that condemns no engine" in page.answer_line
    assert "own lobes 0.180 in at 687° after firing TDC, within" in page.answer_line
    assert "neighbours' lobes are to be checked with the cam in" in page.answer_line
    assert cells(page, CIRCLE)[6:8] == ["outside, phase decides", ""]
    assert rows(page)[-1][0] == CIRCLE, "what decides nothing stands last"
    assert f"Also outside: {CIRCLE}" not in page.answer_line
    assert page.views[1].title.get_text().endswith("\n3 outside")


def test_a_circle_alone_asks_for_the_cam(page, home):
    source = (home / f"{LONG}.toml").read_text(encoding="utf-8")
    (home / "bare.toml").write_text(source.replace('follower = "flat"', ""), encoding="utf-8")
    chapter = BlockClearanceChapter("bare")
    chapter.type("cam height", "4.380 in")
    assert "which cannot be worked out here: check with the cam in" in chapter.answer_line
    assert cells(chapter, CIRCLE)[6] == "outside"
    (home / "bare.toml").unlink()


# --- the pictures -------------------------------------------------------------------------------


def test_the_envelope_is_stroked_to_scale_in_one_window_for_both_plans(page):
    one, other = page.views
    assert [one.ax.get_xlim(), one.ax.get_ylim()] == [other.ax.get_xlim(), other.ax.get_ylim()]
    radii = [1.420, 0.280, 0.280, 0.260, 0.250]
    for view in page.views:
        points = view.ax.get_position().width * view.ax.figure.get_figwidth() * 72
        per_inch = points / np.ptp(view.ax.get_xlim()) * 25.4
        for rim, area, radius in zip(view.rims, view.areas, radii, strict=True):
            assert area.get_linewidth() == pytest.approx(2 * radius * per_inch)
            assert 1 <= rim.get_linewidth() - area.get_linewidth() <= 3
            assert rim.get_zorder() < min(each.get_zorder() for each in view.areas)
            assert area.get_solid_joinstyle() == "round"
    across = np.ptp(other.areas[0].get_xdata()) / 25.4
    assert across == pytest.approx(3.840, abs=1e-3), (
        "the big end's center runs round the pin's circle"
    )


def test_widths_follow_when_the_window_changes(page):
    view = page.views[1]
    width, window = view.areas[0].get_linewidth(), np.ptp(view.ax.get_xlim())
    page.type("rod length", "6.100 in")
    page.type("compression height", "1.135 in")
    page.type("cam height", "6.9 in")
    page.type("counterweight radius", "4 in")
    assert np.ptp(view.ax.get_xlim()) != window
    scaled = width * window / np.ptp(view.ax.get_xlim())
    assert view.areas[0].get_linewidth() == pytest.approx(scaled)


def test_the_left_bank_is_drawn_on_the_right(page):
    for cylinder, side in ((1, 1), (2, -1), (7, 1), (8, -1)):
        page.cylinder.value = cylinder
        for view in page.views:
            assert np.sign(view.piston.get_xy()[:, 0].mean()) == side
        assert page.angle.value == (46 if side > 0 else 314)
        assert f"cylinder {cylinder}" in spoken(page)[0]
    assert cells(page, OUTER)[4] == "46.1° after TDC; 46.1° before TDC"


def test_marks_stand_at_the_nearest_places_and_are_listed(page):
    notes = [each for each in page.views[1].notes if each.get_visible()]
    assert [each.get_text() for each in notes] == ["1", "2"]
    assert notes[0].xy[0] == pytest.approx(3.5 * 25.4), "at the rail's face"
    gap = np.hypot(*notes[1].xy) / 25.4 - 3.000
    assert gap == worked("v8s.cw_gap"), "on the skirt, off the counterweight's rim"
    assert not any(each.get_visible() for each in page.views[0].notes)
    items = re.findall("<li>(.*?)</li>", page.captions[0].value)
    assert items[0].startswith(
        "rod to rail, outer side: plan B 0.010 in, outside, at 46° after TDC"
    )
    assert "plan A 0.112 in, within" in items[0]
    assert "along the crank, not in this view" in items[2]


@pytest.mark.parametrize("seed", range(8))
def test_numbers_stay_in_their_window_and_off_one_another(page, seed):
    view, draw = page.views[1], np.random.default_rng(seed)
    low, high = np.array([view.ax.get_xlim(), view.ax.get_ylim()]).T
    corner = draw.uniform(0.02, 0.98, 2)  # all of them near one place, often near an edge
    spots = low + (high - low) * np.clip(corner + draw.uniform(-0.02, 0.02, (7, 2)), 0, 1)
    away = np.exp(1j * draw.uniform(0, 2 * np.pi, 7))
    places = [(at, Q(spot, "mm"), np.array([way.real, way.imag]))
              for at, (spot, way) in enumerate(zip(spots, away, strict=True), 1)]  # fmt: skip
    view.mark(places)
    view.ax.figure.draw_without_rendering()
    window = view.ax.get_window_extent()
    boxes = [text.get_bbox_patch().get_window_extent() for text in view.notes
             if text.get_visible()]  # fmt: skip
    assert len(boxes) == 7
    for box in boxes:
        assert window.x0 <= box.x0 < box.x1 <= window.x1
        assert window.y0 <= box.y0 < box.y1 <= window.y1
    for one, other in itertools.combinations(boxes, 2):
        apart = np.hypot(*(np.mean(one, axis=0) - np.mean(other, axis=0)))
        assert apart >= (one.width + other.width) / 2, "circles do not overlap"


DEEP = [{"block.rail_offset": "2.9 in"}, {"block.cam_height": "3.1 in"},
        {"block.bore_bottom": "2.2 in", "piston.skirt_below_pin": "0.3 in"}]  # fmt: skip


@pytest.mark.parametrize("changes", DEEP)
def test_a_big_end_deep_in_something_is_drawn_as_deep_as_it_is(changes):
    engine = load_engine(ENGINES / f"{LONG}.toml").altered(changes)
    deep = 0
    for row in block_clearances(engine).itertuples():
        places = Frame(engine, row.cylinder).nearest(row.pair, row.crank_angle)
        if places is not None:
            apart, gap = np.hypot(*(places[0] - places[1]).m_as("inch")), row.clearance.m_as("inch")
            assert apart == pytest.approx(abs(gap), abs=5e-4)
            deep += gap < -0.3
    assert deep >= 8


def test_the_crank_turns_the_parts_and_leaves_the_numbers(page, monkeypatch):
    monkeypatch.undo()  # the pictures themselves are looked at
    page.refresh()
    numbers, still = page.numbers.value, drawn(page)
    assert len(still[0]) > 20_000
    page.angle.value = 0
    along = np.array([1, 1]) / np.sqrt(2)
    for view, stroke in zip(page.views, (3.640, 3.840), strict=True):
        foot = np.array([each[1] for each in view.throw.get_data()])
        np.testing.assert_allclose(foot / 25.4, along * stroke / 2, atol=1e-9)
    assert page.gaps.now.get_xdata()[0] == 0
    assert (page.numbers.value, drawn(page)[0] == still[0]) == (numbers, False)
    page.angle.value = 46
    assert (page.numbers.value, drawn(page)) == (numbers, still)


def test_the_arrow_shows_the_running_direction(page):
    def turns():
        x, y = (np.array(each) for each in page.views[1].sense.get_data())
        return np.sign(x[0] * y[-1] - y[0] * x[-1])

    assert turns() == -1, "clockwise from the front"
    engine = load_engine(ENGINES / f"{LONG}.toml").altered(
        {
            "layout.rotation": "reverse",
            "layout.crank_pins": ["0 deg", "270 deg", "90 deg", "180 deg"],
            "layout.firing_order": [1, 3, 4, 8, 6, 2, 7, 5],
        }
    )
    view, plan = page.views[1], BlockPlan("plan B", engine)
    scene = plan.scene(1, Q(46, "deg"))
    view.place(scene)
    view.name_parts(scene)
    assert turns() == 1


@pytest.mark.parametrize("pair", [OUTER, INNER, CIRCLE, SKIRT, "rod to bore edge",
                                  "rod beam to bore edge", "counterweight to cam"])  # fmt: skip
@pytest.mark.parametrize("cylinder", [1, 2])
def test_a_gap_enlarged_keeps_gap_and_limit_to_scale(page, pair, cylinder):
    page.cylinder.value, page.pair.value = cylinder, pair
    gap, limit = float(cells(page, pair)[2]), float(cells(page, pair)[8].split()[2])
    here, there = (np.array(arrow.xy) / 25.4 for arrow in page.nearest.arrows)
    assert np.hypot(*(here - there)) == pytest.approx(gap, abs=6e-4)
    line = np.array(page.nearest.limit.get_data()) / 25.4
    if "beam" not in pair:  # that limit is a straight line, given by its ends
        off = np.hypot(*(line - there[:, None])).min()
        assert off == pytest.approx(limit, abs=2e-3)
    x, y = page.nearest.ax.get_xlim(), page.nearest.ax.get_ylim()
    for spot in (here, there):
        assert x[0] < spot[0] * 25.4 < x[1]
        assert y[0] < spot[1] * 25.4 < y[1]
    assert pair in page.title.get_text()
    assert page.nearest.words[0].get_text() == f"{gap:.3f} in"


@pytest.mark.parametrize("plan", [V8, LONG])
@pytest.mark.parametrize("turned", [(), (1, 2)])
def test_a_gap_by_angle_is_least_where_the_table_says(plan, turned):
    engine = load_engine(ENGINES / f"{plan}.toml").altered({"piston.pin_offset": "0.040 in"})
    apart, places = seats_of(engine, turned)
    pairs = block.pairs(engine)
    zero = np.arcsin(0.040 / (engine.rod.length + engine.crank.stroke / 2).m_as("inch"))
    for row in block_clearances(engine, turned).itertuples():
        if row.cylinder > 2 or "to fillet" in row.pair or row.pair == "counterweight to cam":
            continue
        at, gap = row.crank_angle.m_as("rad"), row.clearance.m_as("m")
        around = zero + at + np.radians(np.arange(-3, 4))
        found = pairs[row.pair].gap_by_angle(apart, around)[places[row.cylinder]]
        assert found[3] == pytest.approx(gap, abs=1e-9)
        assert np.all(found >= gap - 1e-9)


def test_gap_by_angle_shows_limit_least_now_and_both_plans(page):
    one, other = page.gaps.lines
    assert np.min(one.get_ydata()) == pytest.approx(WORKED["v8.env.L.rail+1"], abs=1e-4)
    assert np.min(other.get_ydata()) == pytest.approx(WORKED["v8s.env.L.rail+1"], abs=1e-4)
    assert page.gaps.limit.get_ydata()[0] == pytest.approx(0.060)
    assert page.gaps.least.get_xdata() == [worked("v8s.env.L.rail+1_at")]
    title = page.gaps.ax.get_title()
    first, last = map(int, re.search(r"under its limit from (\d+)° to (\d+)°", title).groups())
    low = np.flatnonzero(np.array(other.get_ydata()) < 0.060)
    assert (first, last) == (low[0], low[-1])
    assert title in plain(page.captions[1])
    page.pair.value = PHASE
    assert page.gaps.ax.get_xlim() == (0, 720)
    assert (page.angle.value, page.gaps.now.get_xdata()[0]) == (687, 687)
    page.angle.value = 180
    page.turn_there.click()
    assert page.angle.value == 687


def test_the_chamfer_is_drawn_in_its_fillet(page):
    page.pair.value = CHAMFER
    assert [each.ax.get_visible() for each in page.sections] == [True, True]
    assert not page.nearest.ax.get_visible()
    assert not page.gaps.ax.get_visible()
    assert page.sections[0].rod.get_xy()[0, 0] == pytest.approx(0.115 * 25.4)
    assert "plan B: rod, chamfer 0.115 in; gap -0.0004 in" in page.sections[0].words[1].get_text()
    page.turned.value = True
    assert page.sections[0].rod.get_xy()[0, 0] == 0
    assert "square edge; gap -0.052 in" in page.sections[0].words[1].get_text()
    page.turned.value = False
    page.pair.value = OUTER
    assert [each.ax.get_visible() for each in page.sections] == [False, False]


def test_pictures_say_their_words(page):
    assert page.answer_line in spoken(page)[0]
    assert "46 degrees after firing top dead center" in spoken(page)[0]
    assert spoken(page)[1] == plain(page.captions[1])


def test_thirty_moves_and_longer_outlines_leave_no_artists(page):
    def counts():
        return [[len(ax.get_children()) for ax in figure.axes] for figure in page.figures]

    was = page.fields["rod outline"].text
    page.type("rod outline", was + "\n0 in ; -1.2 in ; 0.300 in")
    most = counts()
    page.type("rod outline", was)
    for pair in page.pair.options:
        page.pair.value = pair
    for at in range(30):
        page.angle.value = at * 23 % 720
        slide(page.fields["stroke"], 0.5 + at % 3 * 0.03)
    page.type("rod outline", was + "\n0 in ; -1.2 in ; 0.300 in")
    assert counts() == most


# --- nothing is worked out twice ----------------------------------------------------------------


def test_moves_work_out_no_plan_that_stays(page, monkeypatch):
    calls = []

    def counted(engine, turned=()):
        calls.append(engine.crank.stroke.m_as("inch"))
        return block_clearances(engine, turned)

    monkeypatch.setattr(block_plan, "block_clearances", counted)
    for at in (10, 20, 30):
        page.angle.value = at
    page.cylinder.value = 3
    page.pair.value = INNER
    page.system.value = "metric"
    assert calls == []
    page.type("stroke", "3.800 in")
    page.type("stroke", "3.700 in")
    assert calls == [3.800, 3.700]
    page.beside.value = "the same file"
    assert calls[2:] == [3.840]
    assert cells(page, OUTER)[1:3] != ["", ""]


# --- other engines ------------------------------------------------------------------------------


def test_an_engine_without_an_outline_says_what_to_measure_where(page):
    page.file.value, page.beside.value, page.system.value = FOUR, "the same file", "metric"
    assert page.error_line == ""
    assert page.answer_line.startswith(
        "Plan B: no gap can be worked out yet. Not looked at: rod to bore edge (needs rod outline"
        " and bore bottom), rod beam to bore edge (needs rod beam width and bore bottom), rod"
        " chamfer to fillet (needs rod chamfer and fillet radius), and 5 more below. Fewest"
    )
    assert "goes into the engine file under the keys that stand below, such as block.rail_top" in (
        page.answer_line
    )
    assert "crank-pin center to disc center" in plain(page.captions[0])
    said = plain(page.numbers)
    assert 'block.rail_top is a line rail_top = "… mm" below [block]' in said
    needs = re.findall(r"Not looked at: (.*?), which needs (.*?)</summary>", page.numbers.value)
    counts = [len(keys.split(", ")) for _, keys in needs]
    assert (counts, len(counts)) == (sorted(counts), 8)
    assert ("rod to rail", "rod.outline, block.rail_offset, block.rail_top, block.rail_bottom") in (
        needs
    )
    assert "crank.counterweight_radius: crank center line to rim of the weight" in said
    assert table(page)["rod ratio"][0] == "1.603"
    assert page.views[1].piston.get_visible()
    assert page.pictures[1].layout.display == "none"
    assert "bank" not in plain(page.captions[0])
    page.type("rod outline", "0 mm ; 0 mm ; 34 mm\n28 mm ; -15 mm ; 7 mm\n-28 mm ; -15 mm ; 7 mm")
    assert page.error_line == ""
    assert sum(each.get_visible() for each in page.views[1].rims) == 3
    assert "not drawn" not in plain(page.captions[0])
    page.file.value = LONG
    assert page.pictures[1].layout.display is None


def test_a_plan_beside_with_other_cylinders_shows_its_first(page):
    page.beside.value, page.cylinder.value = FOUR, 7
    assert page.views[0].title.get_text() == "plan A, cylinder 1, stroke 3.512 in\nno gap known"
    assert cells(page, OUTER)[1:4] == ["not measured", "0.010", ""]
    page.system.value = "metric"
    assert page.error_line == ""


def test_a_file_beside_that_cannot_be_read_is_said(page, home):
    (home / "broken.toml").write_text('name = "x"\n[block]\nbore = "83 deg"\n', encoding="utf-8")
    chapter = BlockClearanceChapter(LONG, "broken")
    assert "broken.toml: block.bore: 83 deg is not a length" in chapter.error_line
    chapter.beside.value = V8
    assert (chapter.error_line, "0.010 in" in chapter.answer_line) == ("", True)
    (home / "broken.toml").unlink()


def test_names_and_sources_of_an_engine_file_are_text_not_html(home):
    source = (home / f"{LONG}.toml").read_text(encoding="utf-8")
    source += '\n[limits]\nrod_to_block = { low = "0.080 in", source = "<i>mine</i>" }\n'
    (home / "own.toml").write_text(source, encoding="utf-8")
    chapter = BlockClearanceChapter("own")
    assert "at least 0.080 in (<i>mine</i>); grind the block 0.070 in" in chapter.answer_line
    for each in (chapter.answer, chapter.numbers, *chapter.captions, *chapter.pictures):
        assert "<i>mine" not in each.value
    assert cells(chapter, INNER)[6:8] == ["outside", GRIND.format("0.003 in")]
    (home / "own.toml").unlink()


# --- prints -------------------------------------------------------------------------------------


def test_outline_and_envelope_are_offered_at_true_scale(page):
    for button, name in zip(page.prints.buttons, ("rod-outline", "swept-envelope"), strict=True):
        button.click()
        assert (
            f'<a download="{name}.pdf" href="data:application/pdf;base64,'
            in page.prints.answer.value
        )
        assert f'download="{name}.svg"' in page.prints.answer.value
        assert "1 sheet of A4. Print at 100 %" in page.prints.answer.value
    page.prints.bar.value = "50 mm"
    page.prints.buttons[0].click()
    assert "scale must be from 0.9 to 1.1" in plain(page.prints.answer)
    page.prints.bar.value = "100.0 mm"
    page.type("rod outline", "nonsense")
    page.prints.buttons[0].click()
    assert "rod.outline: line 1" in plain(page.prints.answer)
    page.type("rod outline", "")
    page.prints.buttons[1].click()
    assert "rod.outline is not measured: crank-pin center" in plain(page.prints.answer)


def words_of_print(page):
    figures_made = page.prints._envelope(paper="A4", scale=1.0)
    texts = [text.get_text() for figure in figures_made for ax in figure.axes for text in ax.texts]
    return [re.sub(r"\s+", " ", each) for each in texts]


def test_the_envelope_says_whose_it_is_and_what_to_grind(page):
    said = words_of_print(page)
    assert "Swept envelope · left bank: cylinders 1, 3, 5, 7" in said
    assert (
        "rod to rail, outer side 0.010 in at 46° after TDC outside, limit 0.060 in"
        " grind the block 0.050 in there, at the pan rail"
    ) in said
    assert f"outside, limit 0.060 in take 0.020 in off the weight, or another piston; {SHOP}" in (
        next(each for each in said if each.startswith(SKIRT))
    )
    assert "rod to rail, inner side 0.077 in at 140° before TDC" in said
    page.cylinder.value, page.system.value = 2, "metric"
    said = words_of_print(page)
    assert "Swept envelope · right bank: cylinders 2, 4, 6, 8" in said
    assert any(each.startswith(f"{OUTER} 0.25 mm at 46° before TDC") for each in said)
    page.turned.value = True
    assert "Swept envelope · right bank, rod turned round: cylinder 2" in words_of_print(page)
    page.turned.value = False


def test_the_envelope_of_an_engine_in_line_is_for_all_its_cylinders(page):
    page.file.value = FOUR
    page.type("rod outline", "0 mm ; 0 mm ; 34 mm\n28 mm ; -15 mm ; 7 mm\n-28 mm ; -15 mm ; 7 mm")
    assert "Swept envelope · cylinders 1, 2, 3, 4" in words_of_print(page)


# --- what stands where --------------------------------------------------------------------------


def test_stroke_rod_and_compression_height_stand_under_the_answer(page):
    def within(widget):
        return {widget, *itertools.chain(*map(within, getattr(widget, "children", ())))}

    order = list(page.children)
    at = order.index(page.answer)
    labels = ("stroke", "rod length", "compression height")
    for label, field in page.fields.items():
        holders = [place for place, each in enumerate(order) if field in within(each)]
        assert len(holders) == 1
        assert (holders[0] == at + 1) == (label in labels)
    assert at + 1 < next(place for place, each in enumerate(order) if page.angle in within(each))
    page.type("stroke", "3.640 in")
    assert "stroke 3.640 in" in page.views[1].title.get_text()


# --- a person in a hurry ------------------------------------------------------------------------


def test_a_random_walk_over_the_controls_never_raises(page):
    draw = np.random.default_rng(11)
    fields = [field for field in page.fields.values() if hasattr(field, "slider")]
    for step in range(24):
        slide(fields[draw.integers(len(fields))], draw.uniform(0.3, 0.7))
        page.cylinder.value = page.cylinder.options[draw.integers(len(page.cylinder.options))]
        page.pair.value = page.pair.options[draw.integers(len(page.pair.options))]
        if step % 6 == 0:
            page.turned.value = not page.turned.value
            page.system.value = draw.choice(["inch", "metric"])
            page.file.value = draw.choice([LONG, V8, FOUR])
        assert bool(page.error_line) != bool(page.answer_line)
        assert page.error_line or "nan" not in page.numbers.value + page.captions[1].value
