"""Plans: another cam, rod or quench, the one missing dimension, two plans side by side."""

import math
from pathlib import Path

import pandas as pd
import pytest
from numpy.testing import assert_allclose

from enginecalc.records import compare, find_dimension, load_engine, results
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, worked

ENGINES = Path(__file__).parent.parent / "data" / "engines"
FILES = {"v8": "quarry-pump-v8", "v8s": "quarry-pump-v8-long-stroke", "i4": "ferry-four"}
DEMO = {key: load_engine(ENGINES / f"{name}.toml") for key, name in FILES.items()}
V8, V8S, I4 = DEMO.values()


# --- against a source: the worked numbers of the invented engines ------------------------------


# Seats at lash / rocker ratio; without lash, or by a card, at 0.006 in or 0.15 mm at the follower.
@pytest.mark.parametrize("key", DEMO)
@pytest.mark.parametrize(("suffix", "advance"), [("", 0), ("_adv4", 4)])
@pytest.mark.parametrize("seat", ["", "_card"])
def test_effective_ratio_with_another_cam_timing_or_seat(key, suffix, advance, seat):
    lash = {"": {}, "_card": {"intake.lash": "0.15 mm" if key == "i4" else "0 in"}}[seat]
    center = DEMO[key].intake.centerline.m_as("deg") - advance
    engine = DEMO[key].altered({"intake.centerline": f"{center} deg", **lash})
    assert engine.effective_compression_ratio.m == worked(f"{key}.dcr{seat}{suffix}")
    if not advance:
        assert math.degrees(engine.values["intake_closing"]) == worked(f"{key}.ivc_abdc{seat}")


@pytest.mark.parametrize(("lift", "lash"), [("0.004", "0.0062 in"), ("0.010", "0.0155 in")])
def test_effective_ratio_by_another_closing_lift(lift, lash):
    ratio = V8.altered({"intake.lash": lash}).effective_compression_ratio.m
    assert ratio == worked(f"v8.dcr_at_{lift}")


def test_a_stated_closing_angle_stands_in_for_a_lobe():
    closing = {"angle": "57.23 deg", "at_lift": "0.006 in"}
    engine = V8.altered({"intake.lobe_lift": None, "intake.duration": None})
    engine = engine.altered({"intake.closing": closing})
    assert engine.effective_compression_ratio.m == worked("v8.dcr_card")


ALUMINIUM_ROD = {"rod.material": "aluminium", "rod.beam_area": "0.75 in²"}
COLD_004 = {"gasket.thickness": "0.010 in", "block.deck_height": "9.149 in"}  # parts as they were


@pytest.mark.parametrize(
    ("key", "changes"),
    [
        ("quench.steel_running_measured_deck", {}),
        ("quench.steel_running_drawing_deck", {"running.deck_from": "drawing"}),
        ("quench.aluminium_running_measured_deck", ALUMINIUM_ROD),
        (
            "quench.aluminium_running_drawing_deck",
            {**ALUMINIUM_ROD, "running.deck_from": "drawing"},
        ),
        ("quench.steel_running_10_percent_over", {"running.engine_speed": "6820 rpm"}),
        ("quench.static_0.004", COLD_004),
    ],
)
def test_running_quench(key, changes):
    assert V8.altered(changes, fitting=False).running_quench.m_as("inch") == worked(key)


def test_an_aluminium_block_opens_the_quench():
    opened = V8.altered({"block.material": "aluminium"}).running_quench - V8.running_quench
    assert opened.m_as("inch") == worked("quench.alu_block_opens")


@pytest.mark.parametrize("rod", ["5.6", "5.8", "5.96", "6.1"])
def test_compression_height_of_the_long_stroke_with_another_rod(rod):
    plan = V8S.altered({"rod.length": f"{rod} in"}, fitting=False)
    found = find_dimension(plan, "compression_height", deck_clearance=Q(0.015, "inch"))
    assert found.m_as("inch") == worked(f"plan.rod_{rod}_ch")


def test_compression_height_to_order_when_the_stroke_grows():
    plan = V8.altered({"crank.stroke": "3.840 in"}, fitting=False)
    found = find_dimension(plan, "compression_height", deck_clearance=Q(0.015, "inch"))
    assert found.m_as("inch") == worked("plan.ch_for_deck_0.015")


def test_chamber_for_a_wanted_ratio():
    wanted = WORKED["inputs"]["volumes"]["target_ratio"]
    chamber = find_dimension(V8, "chamber_volume", compression_ratio=wanted)
    assert chamber.m_as("cm**3") == worked("v8.chamber_for_10.8")
    assert (70 - chamber.m_as("cm**3")) / 150 == worked("v8.mill_in_for_10.8_at_0.15cc_per_thou")


def test_the_ratio_by_two_slips_a_dish_for_a_dome_and_the_bore_for_the_gaskets():
    dome, narrow = ({"piston.dish_volume": "-5.5 cc"}, {"gasket.bore": "4.110 in"})
    assert V8.altered(dome).compression_ratio.m == worked("v8.cr_if_dish_sign_wrong")
    assert V8.altered(narrow).compression_ratio.m == worked("v8.cr_if_bore_used_for_gasket")


# --- against geometry and identities -----------------------------------------------------------


def test_running_quench_by_plain_arithmetic():
    warm = 5.960 * 12e-6 * 90 + 1.820 * 12e-6 * 90 + 1.375 * 21e-6 * 120 - 9.170 * 11e-6 * 90
    pull = 0.775 * 0.046228 * (6200 * 2 * math.pi / 60) ** 2 * (1 + 1.820 / 5.960)  # N
    stretch = pull * 5.960 / (0.42 * 25.4e-3**2 * 205e9)
    slack = (2.3250 - 2 * 0.0613 - 2.2000) + (2.7935 - 2 * 0.0955 - 2.6000)
    assert_allclose(V8.running_quench.m_as("inch"), 0.043 - warm - stretch - slack, rtol=1e-9)


CC = 16.387064  # in a cubic inch
DISC, OPENING = math.pi / 4 * 4.110**2, math.pi / 4 * 4.180**2
DECK, QUENCH, RATIO = 0.012, 0.040, 10.5
CLEARANCE = DISC * 3.640 / (RATIO - 1)  # in cubic inches, as are the next two
ALL_BUT_DECK = (70.0 + 5.5) / CC + OPENING * 0.028
DECK_FOR_RATIO = (CLEARANCE - ALL_BUT_DECK) / DISC
PLAIN = {
    ("compression_height", "deck_clearance"): 9.170 - 1.820 - 5.960 - DECK,
    ("rod_length", "deck_clearance"): 9.170 - 1.820 - 1.375 - DECK,
    ("block_deck_height", "deck_clearance"): 1.820 + 5.960 + 1.375 + DECK,
    ("compression_height", "quench_distance"): 9.170 - 1.820 - 5.960 - (QUENCH - 0.028),
    ("rod_length", "quench_distance"): 9.170 - 1.820 - 1.375 - (QUENCH - 0.028),
    ("block_deck_height", "quench_distance"): 1.820 + 5.960 + 1.375 + (QUENCH - 0.028),
    ("gasket_thickness", "quench_distance"): QUENCH - 0.015,
    ("compression_height", "compression_ratio"): 9.170 - 1.820 - 5.960 - DECK_FOR_RATIO,
    ("rod_length", "compression_ratio"): 9.170 - 1.820 - 1.375 - DECK_FOR_RATIO,
    ("block_deck_height", "compression_ratio"): 1.820 + 5.960 + 1.375 + DECK_FOR_RATIO,
    ("gasket_thickness", "compression_ratio"):
        (CLEARANCE - (70.0 + 5.5) / CC - DISC * 0.015) / OPENING,
    ("chamber_volume", "compression_ratio"):
        (CLEARANCE - OPENING * 0.028 - DISC * 0.015) * CC - 5.5,
    ("dish_volume", "compression_ratio"):
        (CLEARANCE - OPENING * 0.028 - DISC * 0.015) * CC - 70.0,
}  # fmt: skip
PATHS = {
    "compression_height": "piston.compression_height",
    "rod_length": "rod.length",
    "block_deck_height": "block.deck_height",
    "gasket_thickness": "gasket.thickness",
    "chamber_volume": "head.chamber_volume",
    "dish_volume": "piston.dish_volume",
}
TARGETS = {
    "deck_clearance": Q(DECK, "inch"),
    "quench_distance": Q(QUENCH, "inch"),
    "compression_ratio": RATIO,
}


@pytest.mark.parametrize(("unknown", "target"), PLAIN)
def test_the_missing_dimension_by_plain_arithmetic(unknown, target):
    found = find_dimension(V8, unknown, **{target: TARGETS[target]})
    assert f"{found.units}" == ("centimeter ** 3" if "volume" in unknown else "inch")
    assert_allclose(found.m, PLAIN[unknown, target], rtol=1e-9)
    assert find_dimension(V8, PATHS[unknown], **{target: TARGETS[target]}) == found


@pytest.mark.parametrize(("unknown", "target"), PLAIN)
@pytest.mark.parametrize("engine", [V8, I4], ids=["v8", "i4"])
def test_the_dimension_found_gives_the_figure_wanted(engine, unknown, target):
    found = find_dimension(engine, unknown, **{target: TARGETS[target]})
    plan = engine.altered({PATHS[unknown]: f"{found.m!r} {found.units:~P}"})
    wanted = Q(TARGETS[target], "") if target == "compression_ratio" else TARGETS[target]
    assert_allclose(getattr(plan, target).m_as(wanted.units), wanted.m, rtol=1e-9)


def test_what_an_engine_has_is_what_is_found_for_it():
    for unknown, path in PATHS.items():
        found = find_dimension(I4, unknown, compression_ratio=I4.compression_ratio)
        table, key = path.split(".")
        assert_allclose(found.m, getattr(getattr(I4, table), key).m, rtol=1e-9)


# --- behaviour ---------------------------------------------------------------------------------

UNABLE = [
    ("compression_height", {"deck_clearance": Q(5, "inch")},
     r"^no real piston compression height gives a deck clearance of 5 in with the rest as it is:"
     r" none between 0\.59\d+ in and 3\.15 in does; change another dimension$"),
    ("chamber_volume", {"compression_ratio": 60}, "^no real head chamber volume gives a compressi"),
    ("gasket_thickness", {"deck_clearance": Q(1, "mm")},
     "^the deck clearance does not depend on gasket thickness; look for another$"),
    ("chamber_volume", {"deck_clearance": Q(1, "mm")}, "deck clearance does not depend on head c"),
    ("dish_volume", {"deck_clearance": Q(1, "mm")}, "deck clearance does not depend on piston di"),
    ("chamber_volume", {"quench_distance": Q(1, "mm")}, "quench distance does not depend on head"),
    ("dish_volume", {"quench_distance": Q(1, "mm")}, "quench distance does not depend on piston"),
    ("compression_height", {"deck_clearance": Q(-0.030, "inch")},
     r"^piston compression height 1\.4200 in gives a deck clearance of -0\.03 in, but then: quench"
     r" -0\.0020: piston meets the head"),
    ("rod_length", {"quench_distance": Q(0.008, "inch")},
     r"^rod length 5\.9950 in gives .*, but then: quench 0\.008 cold, -0\.002 running: pist"),
    ("compression_height", {"compression_ratio": 1}, "^compression_ratio must be greater than one"),
    ("compression_height", {"compression_ratio": math.nan}, "must be greater than one, got nan$"),
    ("stroke", {"deck_clearance": Q(1, "mm")}, "^cannot look for 'stroke'; look for one of compr"),
    ("rod_length", {}, "^name one figure to reach: deck_clearance, quench_distance, compression_"),
    ("rod_length", {"rod_ratio": 1.6}, r"^name one figure .*; got \['rod_ratio'\]$"),
    ("rod_length", {"compression_ratio": 10, "deck_clearance": Q(1, "mm")}, "^name one figure to"),
]  # fmt: skip


@pytest.mark.parametrize(("unknown", "target", "match"), UNABLE)
def test_when_nothing_is_found_a_sentence_says_why(unknown, target, match):
    with pytest.raises(ValueError, match=match):
        find_dimension(V8, unknown, **target)


@pytest.mark.parametrize("wanted", [0.015, "0.015 in", Q(3, "deg"), Q(0.015, ""), Q(1, "cm**3")])
def test_a_wanted_length_needs_its_unit(wanted):
    with pytest.raises(UnitError, match=r"^deck_clearance needs a unit like mm, got "):
        find_dimension(V8, "compression_height", deck_clearance=wanted)


def test_a_wanted_ratio_may_carry_its_lack_of_a_unit():
    expected = find_dimension(V8, "chamber_volume", compression_ratio=10.8)
    assert find_dimension(V8, "chamber_volume", compression_ratio=Q(10.8, "")) == expected


@pytest.mark.parametrize("wanted", [Q(10.8, "inch"), "10.8", "ten", None])
def test_a_wanted_ratio_is_a_plain_number(wanted):
    with pytest.raises((UnitError, ValueError), match=r"^compression_ratio "):
        find_dimension(V8, "chamber_volume", compression_ratio=wanted)


def test_two_plans_side_by_side():
    table = compare(V8, V8S)
    assert isinstance(table, pd.DataFrame)
    assert list(table.columns) == ["plan A", "plan B", "difference"]
    assert (list(table.index), table.index.name) == ([each.name for each in results(V8)], "result")
    assert table.loc["true_stroke", "plan A"].m_as("inch") == pytest.approx(3.640, rel=1e-12)
    assert table.loc["true_stroke", "difference"].m_as("inch") == pytest.approx(0.200, rel=1e-9)
    assert table.loc["compression_ratio", "difference"].m == pytest.approx(
        10.815 - 10.304, abs=1e-3
    )
    assert table.loc["deck_clearance", "difference"].m_as("inch") == pytest.approx(0, abs=1e-12)


def test_a_plan_without_a_figure_has_no_difference():
    row = compare(V8, I4).loc["running_quench"]
    assert row["plan A"].m_as("inch") == worked("quench.steel_running_measured_deck")
    assert (row["plan B"], row["difference"]) == (None, None)
    assert compare(I4, V8).loc["running_quench", "plan A"] is None


NO_LOBE = {"intake.lobe_lift": None, "intake.duration": None}
FREE = {"intake.lash": None, "piston.pin_offset": None, "piston.crevice_volume": None}
DOUBTED = [
    ({"block.bore": "9 in", "gasket.bore": "9 in"}, "block.bore = 9 in is outside 2.0..6.5 in", 3),
    ({"block.deck_height": "16.31 in", "rod.length": "13.1 in"}, "rod.length = 13.1 in is outs", 2),
    ({"piston.compression_height": "1.390 in"}, "running quench 0.018 is under 0.020 in", 1),
    ({"running.engine_speed": None}, "running quench is not known: no running.engine_speed is", 1),
    ({"head.chamber_volume": "300 cc"}, "compression ratio 3.5: look at the dish / dome sign", 1),
    ({"head.chamber_volume": "36 cc"}, "compression ratio 16.5: look at the dish / dome sign", 1),
    ({"rod.length": "5.0 in", "block.deck_height": "8.210 in"}, "rod ratio 1.37 is under 1.4", 1),
    ({"gasket.bore": "4.0 in"}, "gasket.bore is smaller than block.bore: the gasket hangs ", 1),
    ({**NO_LOBE, "intake.closing": {"angle": "54 deg", "at_lift": "0.004 in"}},
     "intake.closing is stated at 0.004 in, but the valve is shut below 0.0103 in", 1),
    ({"intake.lash": "0 in"}, "effective ratio: with no lash the intake counts as shut at ", 1),
    (FREE, "not given and taken as 0: piston.pin_offset, piston.crevice_volume, intake.lash", 2),
    ({"intake.centerline": "94 deg"}, "intake.centerline 94 deg is outside 95..125: crank or", 1),
    ({"exhaust.centerline": "126 deg"}, "exhaust.centerline 126 deg is outside 95..125: crank", 1),
    ({"intake.centerline": "96 deg", "exhaust.centerline": "98 deg"}, "lobe separation 97 deg", 1),
    ({"rod.chamfer": "0.1249 in"}, "rod.chamfer is less than crank.fillet_radius", 1),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "said", "count"), DOUBTED)
def test_what_makes_one_doubt_a_plan_is_said_and_nothing_more(changes, said, count):
    told = V8.altered({"rod.chamfer": "0.125 in", **changes}).remarks
    assert [each for each in told if each.startswith(said)], told
    assert len(told) == count


@pytest.mark.parametrize(
    ("changes", "name", "match"),
    [
        (
            {"running": None},
            "mean_piston_speed",
            r"needs running\.engine_speed: Turns of the crank",
        ),
        ({"running.deck_from": None}, "running_quench", r"needs running\.deck_from: \w+"),
        ({"rod.material": None}, "running_quench", r"needs rod\.material: What a part is made of"),
        ({"bearings.rod_shell": None}, "running_quench", r"bearings\.rod_shell: .*at the crown"),
        (
            {"intake.centerline": None},
            "effective_compression_ratio",
            "needs intake.centerline: over",
        ),
        (
            {"intake.lobe_lift": None},
            "effective_compression_ratio",
            r"needs intake\.closing or a lobe: \w+",
        ),
    ],
)
def test_a_figure_without_its_inputs_names_them_and_where_to_measure(changes, name, match):
    engine = V8.altered(changes)
    with pytest.raises(ValueError, match=f"^{name} .*{match}"):
        getattr(engine, name)
    assert compare(engine, V8).loc[name, "plan A"] is None
