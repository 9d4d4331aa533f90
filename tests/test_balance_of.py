"""An engine's bob-weight card, its firing and what it shakes; layouts by name."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.balance import shaking_couple, shaking_force
from enginecalc.crank import acceleration_harmonics
from enginecalc.records import load_engine
from enginecalc.records.balance_of import (
    bob_card,
    firing,
    shaking,
    shaking_of_layout,
    shaking_orders,
)
from enginecalc.records.layout import layout_names, layout_numberings, layout_table
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, worked

ENGINES = Path(__file__).parent.parent / "data" / "engines"
V8 = load_engine(ENGINES / "quarry-pump-v8.toml")
I4 = load_engine(ENGINES / "ferry-four.toml")
ALL = [(name, each) for name in layout_names() for each in layout_numberings(name)]
TURN = Q(np.arange(360.0), "deg")
RATIO = 1 / 0.60  # rod length over stroke where crank radius over rod length is 0.30
NO_SHARE = {"balance.reciprocating_share": None}
FORCES = ["force ratio", "least force ratio"]
COUPLES = ["couple ratio", "least couple ratio"]


def with_layout(name, **changes):
    """Return the inline four's parts in another layout."""
    return I4.altered({"layout": layout_table(name), **changes})


def grams(card):
    return [mass.m_as("g") for _, mass in card]


# --- against the worked numbers of the invented engines ---------------------------------------


def test_the_card_of_the_v8_line_by_line():
    card = bob_card(V8)
    assert [words for words, _ in card] == [
        "2 × big end",
        "2 × pair of rod shells",
        "oil",
        "0.5 × 2 × piston",
        "0.5 × 2 × piston pin",
        "0.5 × 2 × set of rings",
        "0.5 × 2 × set of locks",
        "0.5 × 2 × small end",
        "bob weight of crank pin 1",
    ]
    assert_allclose(grams(card), [852, 88, 5, 438, 128, 34, 3, 172, 1720], rtol=1e-12)
    assert grams(card)[-1] == worked("bal.bob_g")
    assert bob_card(V8, 3)[-1][0] == "bob weight of crank pin 3"


def test_the_v8_shakes_in_fourth_order_only():
    table = shaking_orders(V8)
    assert list(table.index) == [1, 2, 4, 6]
    shaken = table["force ratio"] > 0
    assert list(table.index[shaken]) == [4]
    found = shaking(V8, TURN)
    one = (Q(775, "g") * V8.crank.stroke / 2 * V8.running.engine_speed**2).m_as("N")
    assert max(np.hypot(*found.force.m)) / one == worked("bal.force_max_over_m_r_w2")
    at_mid_pin = shaking_orders(V8, bank_offset=Q(0.0, "mm"))
    assert_allclose(at_mid_pin[COUPLES], WORKED["bal.couple_max_over_m_r_w2_space"], atol=1e-9)
    rotating = shaking_orders(V8, reciprocating_share=0.0)
    assert rotating["couple ratio"][1] == worked("bal.couple_no_cw")


def test_the_inline_four_shakes_in_second_order():
    row = shaking_orders(I4).loc[2]
    assert row["force ratio"] == worked("bal.i4_second_coeff")
    assert row["force"].m_as("N") == worked("bal.i4_second_N")
    assert row["least force"].m_as("N") == 0
    assert I4.figure("reciprocating_mass").m_as("g") == worked("bal.i4_recip_g")


WELL_KNOWN = {
    "lay.i4": "inline 4",
    "lay.i6": "inline 6",
    "lay.i3": "inline 3",
    "lay.v8cross": "V8 90°, cross-plane",
    "lay.v8flat": "V8 90°, flat-plane",
    "lay.flat4": "flat 4",
}


@pytest.mark.parametrize("rotation", ["standard", "reverse"])
@pytest.mark.parametrize("key", WELL_KNOWN)
def test_well_known_layouts_by_order(key, rotation):
    table = shaking_of_layout(WELL_KNOWN[key], rod_ratio=RATIO, rotation=rotation)
    for order in (1, 2, 4, 6):
        known = WORKED[key].get(str(order), [0.0, 0.0])
        found = table.loc[order, ["force ratio", "couple ratio"]]
        assert_allclose(found, known, atol=0.5000001e-4)


def test_firing_of_the_v8():
    fires = firing(V8)
    assert [each.m_as("deg") for each in fires.instants.values()] == WORKED["phase.firing_instants"]
    assert list(fires.instants) == [1, 5, 7, 2, 6, 8, 4, 3]
    assert [*fires.gaps][-1] == (3, 1)
    assert_allclose([each.m_as("deg") for each in fires.gaps.values()], 90)
    assert fires.uneven == {}
    groups = {frozenset(group) for group in fires.companions}
    assert groups == {frozenset(pair) for pair in WORKED["phase.companions"]}


def test_a_right_angle_v6_fires_unevenly_and_says_where():
    fires = firing(with_layout("V6 90°, shared pins"))
    assert_allclose([each.m_as("deg") for each in fires.gaps.values()], WORKED["phase.v6_gaps"])
    assert list(fires.uneven) == [(1, 6), (6, 5), (5, 4), (4, 3), (3, 2), (2, 1)]
    opposed = firing(with_layout("inline 2, pins opposed"))
    assert {pair: gap.m_as("deg") for pair, gap in opposed.uneven.items()} == {
        (1, 2): 180,
        (2, 1): 540,
    }
    single = firing(with_layout("inline 1"))
    assert {pair: gap.m_as("deg") for pair, gap in single.gaps.items()} == {(1, 1): 720}
    assert single.uneven == {}


# --- against geometry and identities ----------------------------------------------------------


def added_up(name, numbering):
    """Return {order: greatest and least of force, then of couple}, adding a vector per cylinder.

    From the layout's table as text and the closed series: each order of a cylinder is a complex
    number along its bore. Rods of a pair stand at one place, a boxer's pins evenly spaced.
    """
    made = layout_table(name, numbering)
    half = float(made.get("bank_angle", "180 deg").split()[0]) / 2
    lean = {"left": half, "right": -half, "inline": 0.0}
    leads = [float(text.split()[0]) for text in made["crank_pins"]]
    banks = np.radians([lean[each["bank"]] for each in made["cylinder"]])
    ahead = np.radians([leads[each["pin"] - 1] for each in made["cylinder"]])
    own = ahead - (banks - banks[0])  # how far past its own top, when the first is at its top
    places = np.array([float(each["pin"]) for each in made["cylinder"]])
    if made["kind"] == "V" and len(leads) == len(banks):
        places = (places - 1) // 2
    places -= (min(places) + max(places)) / 2
    series = acceleration_harmonics(Q(2, "m"), Q(2 * RATIO, "m")).m
    axes = {}
    for order, size in zip((1, 2, 4, 6), series, strict=True):
        each = size * np.exp(1j * order * own) * np.array([np.sin(banks), np.cos(banks)])
        axes[order] = [*_half_axes(each.sum(axis=1)), *_half_axes((each * places).sum(axis=1))]
    return axes


def _half_axes(vector):
    """Return the greatest and least size of the real part of a complex vector turned round."""
    turned = np.real(np.outer(vector, np.exp(1j * np.linspace(0, np.pi, 1441))))
    size = np.hypot(*turned)
    return max(size), min(size)


@pytest.mark.parametrize("rotation", ["standard", "reverse"])
@pytest.mark.parametrize(("name", "numbering"), ALL)
def test_every_layout_equals_its_vectors_added_up(name, numbering, rotation):
    table = shaking_of_layout(name, numbering, RATIO, rotation=rotation)
    for order, axes in added_up(name, numbering).items():
        assert_allclose(table.loc[order, FORCES + COUPLES], axes, atol=4e-3 * max(axes) + 1e-9)


def test_rods_side_by_side_tip_the_v8_by_half_a_rod_width():
    # all four cylinders of a bank pull together in fourth order: left and right, a rod apart
    table = shaking_orders(V8)
    tipping = (table["couple"][4] / table["force"][4]).m_as("inch")
    assert_allclose(tipping, V8.rod.width.m_as("inch") / 2, rtol=1e-9)
    wider = shaking_orders(V8, bank_offset=Q(1.2, "inch"))
    assert_allclose((wider["couple"][4] / wider["force"][4]).m_as("inch"), 0.6, rtol=1e-9)
    pulled = shaking_force_by_hand(V8, [-1, 1] * 4)
    assert_allclose(shaking(V8, TURN).couple.m, pulled, atol=1e-6)


def shaking_force_by_hand(engine, sides):
    """Return the V8's couple with its counterweights, cylinder by cylinder."""
    total = 0.0
    leads, banks = [0, 0, 90, 90, 270, 270, 180, 180], [45, -45] * 4
    for at in range(8):
        place = (at // 2 - 1.5) * 4.520 + sides[at] * 0.942 / 2
        top = (banks[at] - 45) - leads[at]
        pulled = shaking_force(
            TURN,
            engine.crank.stroke,
            engine.rod.length,
            Q(6200, "rpm"),
            Q(775, "g"),
            bank_angles=Q([float(banks[at])], "deg"),
            tdc_angles=Q([float(top)], "deg"),
            rotating_mass=Q(470 + 2.5, "g"),
            counterweight_mass=Q(860, "g"),
        )
        total = total + (pulled * Q(place, "inch")).m_as("N*m")
    return total


def test_half_a_share_stills_the_first_order_and_nothing_else_does():
    first = [shaking_orders(V8, reciprocating_share=share).loc[1, "couple ratio"]
             for share in (0.0, 0.25, 0.5, 1.0)]  # fmt: skip
    assert_allclose(first, np.sqrt(10) * np.array([1.0, 0.5, 0.0, 1.0]), atol=1e-9)
    bare = shaking_orders(V8, counterweights=False).loc[1]
    assert_allclose(bare["couple ratio"], np.sqrt(10) * (775 + 2 * 470 + 5) / 775, rtol=1e-9)
    assert_allclose(bare["least couple ratio"], bare["couple ratio"], rtol=1e-9)
    unit = (Q(775, "g") * V8.crank.stroke / 2 * V8.running.engine_speed**2).m_as("N")
    moment = bare["couple ratio"] * unit * V8.block.bore_spacing.m_as("m")
    assert_allclose(bare["couple"].m_as("N*m"), moment, rtol=1e-12)


def test_a_share_of_a_layout():
    stilled = shaking_of_layout("V8 90°, cross-plane", reciprocating_share=0.5)
    assert (stilled.loc[[1, 2, 6]] == 0).all(axis=None)
    one = shaking_of_layout("inline 1", reciprocating_share=0.5).loc[1, FORCES]
    assert_allclose(one, [0.5, 0.5], rtol=1e-12)


def test_force_and_couple_by_angle_have_the_orders_of_the_table():
    engine = with_layout("V6 60°, shared pins", **{"rod.width": "22 mm"})
    table, found = shaking_orders(engine, orders=(1, 3)), shaking(engine, TURN)
    assert found.crank_angle is TURN
    for vectors, column in ((found.force, "force"), (found.couple, "couple")):
        for order in (1, 3):
            axis = np.exp(-1j * order * TURN.m_as("rad"))
            greatest, least = _half_axes(vectors.m @ axis * 2 / 360)
            assert_allclose(greatest, table[column][order].m, rtol=1e-5, atol=1e-6)
            assert_allclose(least, table[f"least {column}"][order].m, rtol=1e-2, atol=1e-6)


def test_the_same_crank_turned_the_other_way_shakes_as_much():
    turned = V8.altered({
        "layout.rotation": "reverse",
        "layout.crank_pins": ["0 deg", "270 deg", "90 deg", "180 deg"],
        "layout.firing_order": [1, 3, 4, 8, 6, 2, 7, 5],
    })  # fmt: skip
    columns = FORCES + COUPLES
    for counterweights in (True, False):
        one, other = (shaking_orders(each, counterweights) for each in (V8, turned))
        assert_allclose(one[columns], other[columns], atol=1e-9)
    seen, back = shaking(V8, TURN), shaking(turned, Q(-TURN.m, "deg"))
    assert_allclose(back.force.m, seen.force.m, atol=1e-6)
    assert_allclose(back.couple.m, seen.couple.m, atol=1e-6)


def test_the_order_in_which_cylinders_are_listed_changes_nothing():
    listed = layout_table("V8 90°, cross-plane")
    listed["cylinder"] = [listed["cylinder"][at] for at in (0, 4, 6, 1, 5, 7, 3, 2)]
    columns = FORCES + COUPLES
    again = shaking_orders(V8.altered({"layout": listed}), False)
    assert_allclose(again[columns], shaking_orders(V8, False)[columns], atol=1e-9)


def test_the_front_bank_is_that_of_the_first_rod_on_the_first_pin():
    listed = layout_table("V8 90°, cross-plane")
    listed["cylinder"] = [listed["cylinder"][at] for at in (3, 0, 1, 2, 4, 5, 6, 7)]
    again = shaking(V8.altered({"layout": listed}), TURN)
    seen = shaking(V8, TURN + Q(180, "deg"))  # cylinder 4, now the first, is then at its top
    assert np.ptp(seen.couple.m) > 10
    assert_allclose(again.couple.m, seen.couple.m, atol=1e-6)
    assert_allclose(again.force.m, seen.force.m, atol=1e-6)


def test_pins_may_carry_different_numbers_of_rods():
    three = {
        "kind": "V",
        "bank_angle": "90 deg",
        "crank_pins": ["0 deg", "180 deg"],
        "firing_order": [1, 2, 3],
        "cylinder": [
            {"number": 1, "bank": "left", "pin": 1},
            {"number": 2, "bank": "right", "pin": 1},
            {"number": 3, "bank": "left", "pin": 2},
        ],
    }
    engine = V8.altered({"layout": three})
    assert [grams(bob_card(engine, pin))[-1] for pin in (1, 2)] == pytest.approx([1720, 862.5])
    left = shaking(engine, TURN, reciprocating_share=1.0)
    held = 1.0 * 775  # of each cylinder, opposite its own pin; the oil of a pin is shared out
    known = sum(
        shaking_force(
            TURN, engine.crank.stroke, engine.rod.length, Q(6200, "rpm"), Q(775, "g"),
            bank_angles=Q([bank], "deg"), tdc_angles=Q([top], "deg"),
            counterweight_mass=Q(held, "g"),
        ).m
        for bank, top in ((45.0, 0.0), (-45.0, 270.0), (45.0, 180.0))
    )  # fmt: skip
    assert_allclose(left.force.m, known, atol=1e-6)
    with pytest.raises(ValueError, match=r"^bob weight needs balance\.reciprocating_share"):
        bob_card(engine.altered(NO_SHARE))


def test_a_boxer_s_crank_pins_are_evenly_spaced_unless_said_otherwise():
    boxer = with_layout("flat 4")
    table = shaking_orders(boxer)
    layout = shaking_of_layout("flat 4", rod_ratio=float(boxer.rod_ratio))
    assert_allclose(table["couple ratio"], layout["couple ratio"], atol=1e-4)  # a pin offset
    near = shaking_orders(boxer, bank_offset=Q(91.0 / 4, "mm"))
    assert_allclose(near["couple"][2].m, table["couple"][2].m / 2, rtol=1e-9)
    pair = shaking_of_layout("flat 2", bank_offset=0.3)["couple ratio"][1]
    assert_allclose(pair, 0.3, rtol=1e-12)


def test_split_pins_stand_in_pairs():
    six = {name: with_layout(name, **{"rod.width": "22 mm"}) for name in
           ("V6 90°, split pins", "V6 90°, shared pins")}  # fmt: skip
    for name, engine in six.items():
        flush = shaking_orders(engine, bank_offset=Q(0.0, "mm"), reciprocating_share=0.0)
        known = shaking_of_layout(name, rod_ratio=float(engine.rod_ratio))
        assert_allclose(flush[COUPLES], known[COUPLES], atol=1e-4)  # a pin offset
        apart = shaking_orders(engine, reciprocating_share=0.0)
        measured = shaking_orders(engine, bank_offset=Q(22, "mm"), reciprocating_share=0.0)
        assert_allclose(apart[COUPLES], measured[COUPLES], rtol=1e-12)


def test_both_ways_to_number_and_to_weigh_agree():
    for name in ("V8 90°, cross-plane", "flat 6"):
        tables = [shaking_of_layout(name, each) for each in layout_numberings(name)]
        assert tables[0].equals(tables[1])
    pounds = V8.altered({"rod.mass_big_end": "0.93917 lb"})
    assert f"{bob_card(pounds)[-1][1].units}" == "pound"
    assert_allclose(grams(bob_card(pounds)), grams(bob_card(V8)), rtol=1e-5)


def test_positions_reach_the_formula():
    engine = with_layout("inline 3")
    found = shaking(engine, TURN, counterweights=False).couple
    known = shaking_couple(
        TURN, engine.crank.stroke, engine.rod.length, Q(7000, "rpm"), Q(512.6, "g"),
        positions=Q([-91.0, 0.0, 91.0], "mm"), bank_angles=Q([0.0] * 3, "deg"),
        tdc_angles=Q([0.0, 120.0, 240.0], "deg"), rotating_mass=Q(370 + 22 + 3, "g"),
        pin_offset=Q(-0.6, "mm"),
    )  # fmt: skip
    assert_allclose(found.m, known.m, atol=1e-6)


# --- behaviour --------------------------------------------------------------------------------

MISSING = [
    ("rod.mass_big_end", "Mass found at the crank-pin end of the rod"),
    ("piston.mass_locks", "Mass of the parts that keep the piston pin in place"),
    ("bearings.mass_oil", "oil counted into the bob weight"),
]


@pytest.mark.parametrize(("field", "where"), MISSING)
def test_a_card_without_a_mass_says_which_and_where_to_weigh_it(field, where):
    with pytest.raises(ValueError, match=rf"^bob weight needs {field}: .*{where}"):
        bob_card(V8.altered({field: None}))


def test_everything_missing_is_named_at_once():
    less = V8.altered({"rod.width": None, "block.bore_spacing": None, "piston.mass_pin": None})
    match = r"^shaking needs piston\.mass_pin, block\.bore_spacing, rod\.width: Mass of one .*; "
    for ask in (shaking_orders, lambda engine: shaking(engine, TURN)):
        with pytest.raises(ValueError, match=match):
            ask(less)
    with pytest.raises(ValueError, match=r"^shaking needs running\.engine_speed: Turns of the cr"):
        shaking_orders(I4.altered({"running.engine_speed": None}))


def test_the_share_has_a_rule_for_a_right_angle_v_only():
    assert_allclose(grams(bob_card(V8.altered(NO_SHARE))), grams(bob_card(V8)), rtol=1e-12)
    assert shaking_orders(V8.altered(NO_SHARE)).equals(shaking_orders(V8))
    typed = r"needs balance\.reciprocating_share: only a 90° V with two rods on each pin has a rule"
    for name in ("inline 4", "V6 60°, shared pins", "V6 90°, split pins", "flat 4"):
        engine = with_layout(name, **NO_SHARE, **{"rod.width": "22 mm"})
        with pytest.raises(ValueError, match=f"^bob weight {typed}"):
            bob_card(engine)
        with pytest.raises(ValueError, match=f"^shaking {typed}"):
            shaking_orders(engine)
        assert len(shaking_orders(engine, counterweights=False)) == 4
        assert len(shaking_orders(engine, reciprocating_share=0.3)) == 4
    assert bob_card(with_layout("V6 90°, shared pins", **NO_SHARE))[3][0] == "0.5 × 2 × piston"


def test_an_inline_engine_needs_no_rod_width_and_a_measured_offset_replaces_it():
    assert I4.rod.width is None
    assert len(shaking_orders(I4)) == 4
    without = V8.altered({"rod.width": None})
    assert len(shaking_orders(without, bank_offset=Q(24, "mm"))) == 4


def test_a_pin_without_rods_is_refused():
    with pytest.raises(ValueError, match=r"no rod sits on crank pin 5; take one of 1, 2, 3, 4$"):
        bob_card(V8, 5)


def test_arguments_are_refused_in_words():
    with pytest.raises(ValueError, match=r"^bob_weight: reciprocating_share must lie between 0 an"):
        shaking_orders(V8, reciprocating_share=1.5)
    with pytest.raises(UnitError, match=r"^cylinder_positions: bank_offset needs a unit like m"):
        shaking_orders(V8, bank_offset=24.0)
    with pytest.raises(UnitError, match=r"^shaking_force: crank_angle needs a unit like rad"):
        shaking(V8, 20.0)
    with pytest.raises(ValueError, match=r"^order_axes: orders must be from 1"):
        shaking_orders(V8, orders=(0, 1))


def test_layouts_are_refused_in_words():
    with pytest.raises(ValueError, match=r"^layout 'W12' is not known; take one of inline 1"):
        shaking_of_layout("W12")
    with pytest.raises(ValueError, match=r"^numbering 'per bank' is not known for inline 4"):
        shaking_of_layout("inline 4", "per bank")
    with pytest.raises(ValueError, match=r"^rotation 'left' is not known; take standard or rever"):
        shaking_of_layout("inline 4", rotation="left")
    for ratio in (0.5, -1.6, float("nan"), float("inf")):
        with pytest.raises(ValueError, match=r"^rod_ratio must be finite and greater than 0\.5"):
            shaking_of_layout("inline 4", rod_ratio=ratio)
