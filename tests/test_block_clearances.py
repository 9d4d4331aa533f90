"""How near parts come in the block: an engine's table, its faults, and its front view."""

import numpy as np
import pytest

from enginecalc.records import block_clearances, load_engine
from enginecalc.records.block_view import Frame
from enginecalc.units import Q
from tests.chapters import ENGINES
from tests.figures import worked

PLANS = {
    "v8": load_engine(ENGINES / "quarry-pump-v8.toml"),
    "v8s": load_engine(ENGINES / "quarry-pump-v8-long-stroke.toml"),
}
LONG, FOUR = PLANS["v8s"], load_engine(ENGINES / "ferry-four.toml")
TABLES = {name: block_clearances(engine) for name, engine in PLANS.items()}


def row(table, pair, cylinder):
    (found,) = table[(table.pair == pair) & (table.cylinder == cylinder)].itertuples()
    return found


def inches(table, pair, cylinder):
    return row(table, pair, cylinder).clearance.m_as("inch")


def degrees(table, pair, cylinder):
    return row(table, pair, cylinder).crank_angle.m_as("deg")


# --- worked numbers ----------------------------------------------------------------------------

OUTER, INNER = "rod to rail, outer side", "rod to rail, inner side"
BANKS = {"L": ((1, 3, 5, 7), "+1", "-1"), "R": ((2, 4, 6, 8), "-1", "+1")}


@pytest.mark.parametrize("plan", PLANS)
@pytest.mark.parametrize("bank", BANKS)
def test_every_cylinder_of_a_bank_keeps_the_worked_gaps_at_the_worked_angles(plan, bank):
    cylinders, outer, inner = BANKS[bank]
    for cylinder in cylinders:
        for pair, key in (
            (OUTER, f"rail{outer}"),
            (INNER, f"rail{inner}"),
            ("rod to cam, nose circle", "cam_circle"),
        ):
            assert inches(TABLES[plan], pair, cylinder) == worked(f"{plan}.env.{bank}.{key}")
            assert degrees(TABLES[plan], pair, cylinder) == worked(f"{plan}.env.{bank}.{key}_at")
        for pair, key in (("rod to bore edge", "bore"), ("rod beam to bore edge", "beam")):
            assert inches(TABLES[plan], pair, cylinder) == worked(f"{plan}.env.{bank}.{key}+1")
            angle = degrees(TABLES[plan], pair, cylinder)
            sides = [worked(f"{plan}.env.{bank}.{key}{side}_at") for side in ("+1", "-1")]
            assert any(angle == side for side in sides)
        assert inches(TABLES[plan], "counterweight to skirt", cylinder) == worked(f"{plan}.cw_gap")
        assert degrees(TABLES[plan], "counterweight to skirt", cylinder) == pytest.approx(180)


@pytest.mark.parametrize(
    ("drive", "cylinder", "key", "lobe"),
    [
        ("with crank", 1, "L.i.chain", "intake"),
        ("with crank", 2, "R.e.chain", "exhaust"),
        ("against crank", 1, "L.e.gear", "exhaust"),
        ("against crank", 2, "R.i.gear", "intake"),
    ],
)
def test_the_nearer_lobe_at_its_true_phase(drive, cylinder, key, lobe):
    table = block_clearances(LONG.altered({"camshaft.drive": drive}))
    found = row(table, "rod to cam, true phase", cylinder)
    assert found.clearance.m_as("inch") == worked(f"v8s.lobe.{key}")
    assert found.crank_angle.m_as("deg") == worked(f"v8s.lobe.{key}_at")
    assert found.feature.endswith(f"{lobe} lobe")
    assert f"{-1.15:g}, {0.55:+g} in" in found.feature


@pytest.mark.parametrize("plan", PLANS)
def test_a_rod_turned_round_reads_the_worked_gap_and_its_square_edge_bites(plan):
    table = block_clearances(PLANS[plan], turned=[1])
    assert inches(table, OUTER, 1) == worked(f"{plan}.env.L.rail+1_backwards_rod")
    assert inches(table, OUTER, 3) == inches(TABLES[plan], OUTER, 3)
    assert inches(table, "rod chamfer to fillet", 1) == worked("fillet.no_chamfer_worst")
    right = block_clearances(PLANS[plan], turned=[2])
    assert inches(right, OUTER, 2) == worked(f"{plan}.env.R.rail-1_if_not_turned")
    assert inches(right, INNER, 2) == worked(f"{plan}.env.R.rail+1_if_not_turned")


def test_what_to_grind():
    assert row(TABLES["v8s"], OUTER, 1).grind.m_as("inch") == worked("v8s.grind_rail")
    # trade.md section 6, question 8: 0.020 short of 0.060
    short = row(TABLES["v8s"], "counterweight to skirt", 1).grind
    assert short.m_as("inch") == pytest.approx(0.020, abs=1e-9)
    assert row(TABLES["v8"], OUTER, 1).grind.m_as("inch") == 0
    chamfer = row(TABLES["v8"], "rod chamfer to fillet", 1)
    wanted = worked("fillet.needed_worst")
    assert chamfer.grind.m_as("inch") + PLANS["v8"].rod.chamfer.m_as("inch") == wanted
    assert np.isnan(chamfer.crank_angle.m_as("deg"))


@pytest.mark.parametrize("plan", PLANS)
def test_pin_to_oil_groove_and_skirt_below_the_bore(plan):
    named = {"v8": "v8", "v8s": "v8s"}[plan]
    engine = PLANS[plan]
    assert engine.figure("pin_to_oil_groove").m_as("inch") == worked(
        f"plan.pin_to_oil_groove_{named}"
    )
    assert engine.figure("skirt_below_bore").m_as("inch") == worked(
        f"plan.{named}.skirt_below_bore"
    )


# --- geometry ----------------------------------------------------------------------------------


def reversed_engine(engine):
    """Return the same crank and rods turned the other way; trade.md C16: leads change sign."""
    return engine.altered(
        {
            "layout.rotation": "reverse",
            "layout.crank_pins": ["0 deg", "270 deg", "90 deg", "180 deg"],
            "layout.firing_order": [1, 3, 4, 8, 6, 2, 7, 5],
        }
    )


def test_turned_the_other_way_gaps_stay_and_angles_change_sign():
    one, other = TABLES["v8s"], block_clearances(reversed_engine(LONG))
    for pair in (OUTER, INNER, "rod to cam, nose circle"):
        for cylinder in (1, 2):
            assert inches(other, pair, cylinder) == pytest.approx(inches(one, pair, cylinder))
            angles = degrees(one, pair, cylinder) + degrees(other, pair, cylinder)
            assert angles == pytest.approx(360, abs=1e-3)


def test_angles_count_after_true_top_dead_center():
    offset = LONG.altered({"piston.pin_offset": "0.060 in"})
    found = row(block_clearances(offset), "counterweight to skirt", 1)
    # with the weight opposite the pin and the skirt across the bore, nearest at the lowest point
    half_turn = (offset.values["rod.length"] + offset.values["crank.stroke"] / 2,
                 offset.values["rod.length"] - offset.values["crank.stroke"] / 2)  # fmt: skip
    at = 180 + np.degrees(np.arcsin(0.060 * 0.0254 / half_turn[1]))
    at -= np.degrees(np.arcsin(0.060 * 0.0254 / half_turn[0]))
    assert found.crank_angle.m_as("deg") == pytest.approx(at, abs=0.01)


@pytest.mark.parametrize("plan", PLANS)
@pytest.mark.parametrize("turned", [(), (1, 2)])
def test_the_drawing_finds_the_same_gaps_between_its_own_points(plan, turned):
    table = block_clearances(PLANS[plan], turned)
    for cylinder in (1, 2):
        rows = table[table.cylinder == cylinder]
        marked = Frame(PLANS[plan], cylinder, turned).sweep(rows).least
        assert len(marked) == 7
        for words, here, there in marked:
            pair, said = words.split("\n")
            assert said.startswith(f"{inches(table, pair, cylinder):.3f} in at ")
            apart = np.hypot(*(here - there).m_as("inch"))
            assert apart == pytest.approx(inches(table, pair, cylinder), abs=5e-4)


def test_a_drawing_moves_its_parts_where_the_crank_stands():
    frame = Frame(LONG, 1)
    pose = frame.pose(Q(0, "deg"))
    throw, rod = LONG.crank.stroke.m_as("inch") / 2, LONG.rod.length.m_as("inch")
    along = np.array([1, 1]) / np.sqrt(2)  # the left bank leans to the right of a front view
    np.testing.assert_allclose(pose.crank_pin.m_as("inch"), along * throw, rtol=1e-12)
    np.testing.assert_allclose(pose.piston_pin.m_as("inch"), along * (throw + rod), rtol=1e-12)
    for valve, points in frame.pose(Q(360 + 105, "deg")).lobes.items():
        reach = np.max(np.hypot(*(points.m_as("inch") - np.array([[0], [4.470]]))))
        lift = {"intake": 0.340, "exhaust": 0.345}[valve]
        assert reach == pytest.approx(0.560 + lift, abs=1e-3)


# --- what is missing, doubtful or impossible ---------------------------------------------------


def test_an_engine_without_an_outline_says_pair_by_pair_what_is_missing():
    table = block_clearances(FOUR)
    assert len(table) == 0
    absent = table.attrs["not_measured"]
    assert "rod.outline" in absent["rod to rail, left side"]
    assert "crank.counterweight_radius" in absent["counterweight to skirt"]


@pytest.mark.parametrize(
    ("changes", "pair", "said"),
    [
        ({"camshaft.drive": None}, "rod to cam, true phase", "camshaft.drive"),
        ({"camshaft.follower_angle": None}, "rod to cam, true phase", "camshaft.follower_angle"),
        ({"camshaft.follower": "roller"}, "rod to cam, true phase", "only the nose circle"),
        ({"camshaft.follower_angle": {"left": "45 deg"}}, "rod to cam, true phase", "follower_an"),
        ({"camshaft.largest_radius": "0.900 in"}, "rod to cam, nose circle", "0.905 in"),
        ({"block.rail_top": None}, OUTER, "block.rail_top"),
    ],
)
def test_a_pair_that_cannot_be_worked_out_is_left_out_with_its_reason(changes, pair, said):
    table = block_clearances(LONG.altered(changes))
    assert pair not in set(table.pair)
    assert said in table.attrs["not_measured"][pair]
    assert len(set(table.pair)) in (7, 8)  # the others stay


def test_the_engine_files_own_limit_wins_and_its_source_is_named():
    limits = {"low": "0.080 in", "source": "the builder"}
    table = block_clearances(LONG.altered({"limits.rod_to_block": limits}))
    found = row(table, OUTER, 1)
    assert found.limit == Q(0.080, "inch")
    assert found.grind.m_as("inch") == pytest.approx(0.080 - inches(table, OUTER, 1))
    assert table.attrs["sources"][OUTER] == "the builder"
    assert "common practice" in TABLES["v8s"].attrs["sources"][OUTER]


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"block.rail_offset": "1.5 in"}, r"block\.rail_offset: 1\.5 in puts the rail inside .*\."),
        ({"block.rail_top": "-0.9 in"}, r"block\.rail_top: -0\.9 in is not above .*swapped"),
        ({"crank.counterweight_angle": "400 deg"}, r"counterweight_angle: 400 deg is not between"),
        ({"rod.outline": [{"x": "1 in", "y": "1 in"}]}, r"rod\.outline\.row 1: radius missing"),
        ({"intake.lobe_lift": "0.352 in"}, r"intake\.lobe_lift: .* concave for a flat follower"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_name(changes, sentence):
    with pytest.raises(ValueError, match=sentence):
        LONG.altered(changes)


@pytest.mark.parametrize("offset", [3.2, 3.1, 2.9])
def test_a_shoulder_deep_in_the_rail_stands_as_deep_as_the_rail_came_in(offset):
    table = block_clearances(LONG.altered({"block.rail_offset": f"{offset} in"}))
    deeper = 3.5 - offset  # the face moved in square to itself
    for cylinder in (1, 2):
        gap = worked("v8s.env.L.rail+1")
        assert inches(table, OUTER, cylinder) + deeper == gap
        assert row(table, OUTER, cylinder).grind.m_as("inch") - deeper == worked("v8s.grind_rail")


def outline(*discs):
    return [{key: f"{size} in" for key, size in zip(("x", "y", "radius"), disc, strict=True)}
            for disc in discs]  # fmt: skip


@pytest.mark.parametrize(
    ("discs", "doubt"),
    [
        ([(0, 0, 1.4), (1.2, -0.7, 0.28)], "has 2 of the 3 discs"),
        ([(0, 0, 1.4), (1.2, 0.5, 0.26), (-1.2, 0.5, 0.26)], "bolt heads missing?"),
        ([(0, 0, 1.0), (0.9, -0.5, 0.26), (-0.9, 0.5, 0.26)], "holds the crank pin"),
        ([(0, 0, 1.4), (12, -0.5, 0.26), (-0.9, 0.5, 0.26)], "row 2 touches no other disc"),
        ([(0, 0, 1.4), (1.2, -0.5, 0.26), (-0.9, 0.5, 26)], "row 3 reaches far beyond"),
    ],
)
def test_a_doubtful_outline_is_remarked(discs, doubt):
    engine = LONG.altered({"rod.outline": outline(*discs)})
    assert any(doubt in each for each in engine.remarks)
    assert not any("outline" in each for each in LONG.remarks)
