"""What is said of a build: fits worst first, planned beside measured, the order for the shop."""

import html
import re
import shutil
from pathlib import Path

import pytest

from enginecalc.records.build import load_build
from enginecalc.records.figures import FITS
from enginecalc.records.fit_results import fit_results
from enginecalc.units import Q
from enginecalc.views import build_words, tables
from tests.builds import DEMO, bore, build_of, pistons, reading

HOSTILE = '<script>alert("x")</script>'
V8 = load_build(DEMO)
FOUR = Path(__file__).parent.parent / "data" / "engines" / "ferry-four.toml"


def rows(page):
    """Return the rows of all tables on a page, each a list of the texts of its cells."""
    lines = re.findall(r"<tr>(.*?)</tr>", page)
    return [[html.unescape(each) for each in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", line)]
            for line in lines]  # fmt: skip


def row(page, first, second=None):
    """Return the cells of the one row that begins so."""
    found = [each for each in rows(page) if each[0] == first and second in (None, each[1])]
    (one,) = found
    return one


# --- worked answers -----------------------------------------------------------------------------


def test_ring_gaps_to_file_to(tmp_path):
    # 0.0045 and 0.0050 of a bore of 4.110 in
    rings = [reading("3", "ring end gap", "0.015 in", "", which) for which in ("top", "second")]
    page = build_words.shop_order(build_of(tmp_path, [*bore("3", 4.1100), *rings]), "inch")
    _, top, filed, tolerance, comes = row(page, "cylinder 3, top ring")
    assert (top, filed, tolerance) == ("0.0185", "0.0035", "")
    assert comes == "0.0045 × bore 4.1100; now 0.0150"
    assert row(page, "cylinder 3, second ring")[1] == "0.0206"


def test_ring_gaps_of_the_four_in_millimeters(tmp_path):
    shutil.copy(FOUR, tmp_path / "engine.toml")
    build = load_build(tmp_path)
    build.readings.append_many([{**each, "value": "83.500 mm"} for each in bore("2", 4.1100)])
    page = build_words.shop_order(build, "metric")
    assert row(page, "cylinder 2, top ring")[1] == "0.376"
    assert float(row(page, "cylinder 2, second ring")[1]) == pytest.approx(0.4175, abs=0.00051)


def test_side_play_of_a_pair_of_rods(tmp_path):
    made = [reading(str(at), "rod width", "0.9420 in") for at in range(1, 9)]
    made += [reading(f"pin {at}", "crank pin width", "1.9020 in") for at in range(1, 5)]
    page = build_words.fits_table(fit_results(build_of(tmp_path, made)), "inch")
    _, name, value, word, limits = row(page, "pins 1, 2, 3, 4")
    assert (name, value, word) == ("rod side clearance", "0.0180 in", "within")
    assert limits.startswith("0.0100 to 0.0200 in · common practice")


def test_bores_to_ask_for_are_piston_and_the_middle_of_the_limits(tmp_path):
    page = build_words.shop_order(build_of(tmp_path, pistons([4.1058, 4.1056])), "inch")
    assert row(page, "cylinder 1")[1:] == [
        "4.1103", "± 0.0005", "piston 4.1058 + 0.0045"
    ]  # fmt: skip
    assert "wanted: 0.0045, the middle of 0.0038 to 0.0052 · piston maker" in page
    assert row(page, "cylinder 2")[1] == "4.1101"
    assert row(page, "cylinder 3")[1] == "", "not measured: blank, never a default"
    assert row(page, "cylinder 3")[3] == "piston not measured"


# --- fits ---------------------------------------------------------------------------------------


def test_every_fit_has_digits_of_a_micrometer():
    for name in FITS:
        assert tables.SHOWN[name] == {"inch": ("in", 4), "metric": ("mm", 3)}


def test_what_cannot_be_stands_first_then_the_worst():
    page = build_words.fits_table(fit_results(V8), "inch")
    shown, folded = page.split("<details>")
    made = rows(shown)[1:]
    assert made[0][:4] == ["cylinder 7", "least piston clearance", "", "cannot be"]
    assert made[0][4].endswith("piston 4.1101 in is not less than bore 4.1058 in: swapped?")
    words = [each[3] for each in made[1:]]
    assert words == sorted(words, key=("outside", "close").index)
    assert ["cylinder 8", "rod oil clearance", "0.0021 in", "outside",
            "0.0022 to 0.0027 in · shell maker"] in made  # fmt: skip
    assert ["main 4", "main oil clearance", "0.0029 in", "outside",
            "0.0022 to 0.0028 in · shell maker"] in made  # fmt: skip
    assert ["cylinders 1, 3, 4", "second ring gap", "0.0210 ± 0.0003 in", "close"] in [
        each[:4] for each in made
    ]
    assert {each[3] for each in rows(folded)[1:]} == {"within"}


def test_form_that_rests_on_a_doubtful_reading_is_in_doubt():
    page = build_words.fits_table(fit_results(V8), "inch", V8)
    for name in ("bore taper", "bore out of round"):
        made = row(page, "cylinder 7", name)
        assert made[3] == "in doubt"
        assert made[4].endswith("line 23 of the readings is in doubt")
    assert row(page, "cylinder 8", "rod oil clearance")[3] == "outside"


def test_half_a_figure_is_shown_alike_however_it_was_worked_out():
    ways = [Q(0.01475, "inch"), Q(0.014750000000000001, "inch"), Q(0.01475, "inch").to("m"),
            Q(0.37465, "mm"), float(0.01475 * 0.0254)]  # fmt: skip
    assert {build_words.fine(each, "inch") for each in ways} == {"0.0148"}
    assert {build_words._say(FITS[0], each, "inch") for each in ways[:4]} == {"0.0148 in"}


def test_fits_in_millimeters_have_three_decimals():
    page = build_words.fits_table(fit_results(V8), "metric")
    assert row(page, "cylinder 8", "rod oil clearance")[2:4] == ["0.053 ± 0.001 mm", "outside"]


def test_what_is_not_measured_stands_last(tmp_path):
    build = build_of(tmp_path, [*bore("3", 4.1120), *pistons([4.1058])])
    made = rows(build_words.fits_table(fit_results(build), "inch").split("<details>")[0])
    words = [each[3] for each in made[1:]]
    assert words[-1] == "not measured"
    assert words == sorted(words, key=("outside", "close", "not measured").index)
    assert "needs readings of piston" in made[-1][4] or "needs readings of bore" in made[-1][4]


def test_no_readings_are_said_in_words(tmp_path):
    build = build_of(tmp_path)
    assert "No fit is known yet" in build_words.fits_table(fit_results(build), "inch")
    assert "No piston has been read" in build_words.deck_table(build, "inch")
    assert "No result differs" in build_words.planned_beside_measured(build, "inch")
    assert "Nothing in the readings looks doubtful" in build_words.doubts_list(build)


# --- planned beside measured ----------------------------------------------------------------------


def test_planned_stands_beside_measured_with_the_worst_cylinder():
    page = build_words.planned_beside_measured(V8, "inch")
    _, planned, least, most, worst, limits = row(page, "quench distance [in]")
    assert (planned, worst) == ("0.043 ± 0.002", "cylinder 4, outside")
    assert (least, most) == ("0.0431 (1)", "0.0461 (4)")
    assert limits.startswith("0.035 to 0.045 ·")
    assert row(page, "compression ratio")[1] == "10.30 ± 0.06"
    assert "cylinder 7 as measured: piston.diameter" in page, "the one that cannot be is named"
    assert "(7)" not in page
    assert "intake coil bind" not in [each[0] for each in rows(page)], "as planned"
    assert "intake coil bind" in page


@pytest.mark.parametrize("system", ["inch", "metric"])
def test_decks_name_the_cylinder_that_is_off(system):
    page = build_words.deck_table(V8, system)
    off = {each[0] for each in rows(page) if each[-1].startswith("OFF")}
    assert off == {"4"}
    clearance, slope, rock = row(page, "4")[1:4]
    digits = {"inch": ("0.0015", "-0.0005"), "metric": ("0.038", "-0.013")}[system]
    assert (rock, slope) == digits
    assert float(clearance) == pytest.approx({"inch": 0.01775, "metric": 0.451}[system], abs=1e-4)


# --- the order for the shop -----------------------------------------------------------------------


def limits_of(build, changes):
    """Change the engine of a build as read."""
    build.engine = build.engine.altered(changes)
    return build


def test_without_a_greatest_clearance_the_low_end_is_asked_for(tmp_path):
    least = {"low": "0.0038 in", "source": "piston maker"}
    build = limits_of(build_of(tmp_path, pistons([4.1058])),
                      {"limits": {"least_piston_clearance": least}})  # fmt: skip
    page = build_words.shop_order(build, "inch")
    assert row(page, "cylinder 1")[1:] == ["4.1096", "± 0.0005", "piston 4.1058 + 0.0038"]
    assert "wanted: 0.0038, the low end, at least 0.0038 · piston maker" in page


def test_without_limits_and_tolerance_both_stay_blank(tmp_path):
    build = limits_of(build_of(tmp_path, pistons([4.1058])),
                      {"limits": {}, "block.bore": "4.110 in"})  # fmt: skip
    _, size, tolerance, comes = row(build_words.shop_order(build, "inch"), "cylinder 1")
    assert (size, tolerance) == ("", "")
    assert "least_piston_clearance" in comes


def test_a_reading_in_doubt_orders_nothing():
    page = build_words.shop_order(V8, "inch")
    assert row(page, "cylinder 7") == [
        "cylinder 7", "", "± 0.0005", "piston: line 53 of the readings is in doubt"
    ]  # fmt: skip
    assert row(page, "cylinder 7, top ring")[1:4] == ["", "", ""]
    assert "line 23" in row(page, "cylinder 7, top ring")[4]
    assert row(page, "cylinder 8")[1] == "within already"


@pytest.mark.parametrize(("size", "asked"), [(4.1105, "within already"), (4.1097, "4.1103")])
def test_a_bore_inside_its_tolerance_is_not_ordered(tmp_path, size, asked):
    build = build_of(tmp_path, [*pistons([4.1058]), *bore("1", size)])
    made = row(build_words.shop_order(build, "inch"), "cylinder 1")
    assert made[1] == asked
    assert "4.1103" in " ".join(made)
    limits_of(build, {"block.bore": "4.110 in"})
    made = row(build_words.shop_order(build, "inch"), "cylinder 1")
    assert made[1] == "4.1103", "no tolerance, nothing to be within of"


def test_a_bore_that_is_larger_already_is_named(tmp_path):
    build = build_of(tmp_path, [*pistons([4.1058]), *bore("1", 4.1109)])
    assert "LARGER already" in row(build_words.shop_order(build, "inch"), "cylinder 1")[3]
    assert "LARGER" not in build_words.shop_order(V8, "inch")


@pytest.mark.parametrize(
    ("height", "cut", "said"),
    [
        ("9.1725 in", "0.0025", "now 9.1725"),
        ("9.1680 in", "", "too low"),
        ("9.1690 in", "within already", "now 9.1690"),
        ("9.1714 in", "within already", "now"),
    ],
)
def test_deck_cuts_by_corner(tmp_path, height, cut, said):
    corner = reading("left bank", "deck height", height, "inner", "front")
    page = build_words.shop_order(build_of(tmp_path, [corner]), "inch")
    _, off, down_to, tolerance, comes = row(page, "left bank, inner front")
    assert (off, down_to, tolerance) == (cut, "9.1700", "± 0.0014")
    assert said in comes
    assert row(page, "right bank, outer rear")[1] == ""
    assert row(page, "right bank, outer rear")[4] == "deck height not measured"


def test_the_order_says_temperature_unit_and_place():
    captions = re.findall("<caption>(.*?)</caption>", build_words.shop_order(V8, "metric"))
    assert len(captions) == 3
    assert all(each.split(", ")[1] == "at 20 °C" and "[mm]" in each for each in captions)
    assert "gauge point" in captions[0]
    assert "center line" in captions[1]
    assert "tightest" in captions[2]


# --- doubts and escaping --------------------------------------------------------------------------


def test_both_planted_errors_are_listed():
    items = re.findall("<li>(.*?)</li>", build_words.doubts_list(V8))
    assert any(each.startswith("line 321: ") for each in items)
    assert any(each.startswith("lines 23, 53: ") and "exchanged" in each for each in items)


def test_a_note_cannot_break_out_of_the_page(tmp_path):
    made = pistons([4.1057] * 7 + [4.0957])
    made[7]["note"] = HOSTILE
    page = build_words.doubts_list(build_of(tmp_path, made))
    assert "<script" not in page
    assert html.escape(HOSTILE) in page


def test_an_engine_s_name_and_a_source_cannot_either(tmp_path):
    limits = {"least_piston_clearance": {"low": "0.0038 in", "source": HOSTILE}}
    build = limits_of(build_of(tmp_path, [*pistons([4.1058]), *bore("1", 4.1100)]),
                      {"name": HOSTILE, "limits": limits})  # fmt: skip
    page = build_words.shop_order(build, "inch")
    page += build_words.fits_table(fit_results(build), "inch")
    assert "<script" not in page
    assert page.count(html.escape(HOSTILE)) == 3
