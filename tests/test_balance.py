"""When each cylinder stands at its top and fires, and what the moving parts shake."""

import math
from itertools import permutations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.balance import (
    cylinder_positions,
    firing_angles,
    order_axes,
    shaking_couple,
    shaking_force,
    tdc_angles,
)
from enginecalc.crank import acceleration_harmonics, rod_tilt
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, printed, worked

# Odd cylinders on the left bank, +45 deg clockwise from vertical in the front view; a pin carries
# the cylinders 1 and 2, the next 3 and 4, and so on.
BANKS = Q([45, -45] * 4, "deg")
ORDER = [1, 5, 7, 2, 6, 8, 4, 3]


def tops(leads, rotation=1, banks=BANKS):
    """Return the top of each cylinder in degrees, two rods on each pin."""
    return tdc_angles(banks, Q(np.repeat(leads, 2), "deg"), rotation).m_as("deg")


def firings(top, order):
    """Return when the cylinders of an order fire, in degrees."""
    return firing_angles(Q(top[np.array(order) - 1], "deg")).m_as("deg")


def by_cylinder(key):
    """Return a worked table of degrees in the order of its cylinders."""
    return [WORKED[key][str(cylinder)] for cylinder in range(1, 9)]


CROSS = tops([0, 90, 270, 180])

# What shakes is worked out here with a mass, a crank radius, a speed and a spacing of one unless
# said otherwise, and 0.30 for crank radius over rod length.
TURN = Q(np.arange(720) / 2, "deg")
UNIT = {
    "stroke": Q(2.0, "m"),
    "rod_length": Q(1 / 0.30, "m"),
    "engine_speed": Q(1.0, "rad/s"),
    "reciprocating_mass": Q(1.0, "kg"),
}


def phasing(leads, banks, rotation=1):
    """Return the arguments that say where each cylinder stands, from degrees."""
    leads, banks = np.broadcast_arrays(np.array(leads, float), np.array(banks, float))
    angles = Q(banks, "deg"), Q(leads, "deg")
    return {
        "bank_angles": angles[0],
        "tdc_angles": tdc_angles(*angles, rotation),
        "rotation": rotation,
    }


def force(leads, banks=0.0, angle=TURN, rotation=1, **changes):
    """Return the shaking force by angle, in N."""
    return shaking_force(angle, **{**UNIT, **phasing(leads, banks, rotation), **changes}).m


def couple(leads, places, banks=0.0, angle=TURN, rotation=1, **changes):
    """Return the shaking couple by angle, in N m, with the cylinders' places in m."""
    given = {**UNIT, **phasing(leads, banks, rotation), "positions": Q(np.array(places), "m")}
    return shaking_couple(angle, **{**given, **changes}).m


def greatest(vectors, order):
    """Return the greatest amplitude of an order."""
    return order_axes(vectors, (order,))[0, 0]


# --- against the worked numbers of the invented engines ---------------------------------------


def test_tops_of_the_cross_plane_v8():
    assert_allclose(CROSS, by_cylinder("phase.tdc"), atol=1e-6)
    for one, other in WORKED["phase.companions"]:
        assert_allclose(CROSS[one - 1], CROSS[other - 1], atol=1e-6)


def test_it_fires_every_quarter_turn():
    assert_allclose(firings(CROSS, ORDER), WORKED["phase.firing_instants"], atol=1e-6)


def test_reverse_with_the_same_leads_is_a_mirrored_crank_that_the_order_does_not_fit():
    mirrored = tops([0, 90, 270, 180], rotation=-1)
    assert_allclose(mirrored, by_cylinder("phase.tdc_reverse_same_leads"), atol=1e-6)
    fires = dict(zip(ORDER, firings(mirrored, ORDER), strict=True))
    assert_allclose(fires[4], 720, atol=1e-6)  # "cylinder 4 would fire at 720"


def test_the_same_crank_turned_the_other_way_fires_evenly_backwards():
    turned = tops([0, 270, 90, 180], rotation=-1)
    assert_allclose(turned, by_cylinder("phase.tdc_same_crank_reversed"), atol=1e-6)
    backwards = ORDER[:1] + ORDER[:0:-1]
    assert backwards == [1, 3, 4, 8, 6, 2, 7, 5]
    assert_allclose(firings(turned, backwards), WORKED["phase.firing_instants"], atol=1e-6)


def test_a_right_angle_v6_on_three_pins_fires_unevenly():
    v6 = tops([0, 240, 120], banks=Q([45, -45] * 3, "deg"))
    gaps = np.diff(np.append(firings(v6, [1, 6, 5, 4, 3, 2]), 720))
    assert_allclose(gaps, WORKED["phase.v6_gaps"], atol=1e-6)


def test_the_cross_plane_crank_allows_eight_even_orders():
    instants = WORKED["phase.firing_instants"]
    orders = [(1, *rest) for rest in permutations(range(2, 9))]
    kernel = firing_angles.kernel
    even = [
        o
        for o in orders
        if np.allclose(kernel(np.radians(CROSS[np.array(o) - 1])), np.radians(instants), atol=1e-6)
    ]
    assert len(even) == WORKED["phase.possible_orders"]
    assert tuple(ORDER) in even


RIGHT_ANGLE = [45, -45] * 4
PAIRS = np.repeat([-1.5, -0.5, 0.5, 1.5], 2)
LAYOUTS = {
    "lay.i4": ([0, 180, 180, 0], 0.0, [-1.5, -0.5, 0.5, 1.5]),
    "lay.i6": ([0, 120, 240, 240, 120, 0], 0.0, np.arange(6) - 2.5),
    "lay.i3": ([0, 240, 120], 0.0, [-1.0, 0.0, 1.0]),
    "lay.v8cross": (np.repeat([0, 90, 270, 180], 2), RIGHT_ANGLE, PAIRS),
    "lay.v8flat": (np.repeat([0, 180, 180, 0], 2), RIGHT_ANGLE, PAIRS),
    "lay.flat4": ([0, 180, 180, 0], [90, -90, 90, -90], [-1.5, -0.5, 0.5, 1.5]),
}


@pytest.mark.parametrize("key", LAYOUTS)
def test_what_well_known_layouts_shake_by_order(key):
    leads, banks, places = LAYOUTS[key]
    vectors = force(leads, banks), couple(leads, places, banks)
    for order in (1, 2, 4, 6):
        known = WORKED[key].get(str(order), [0.0, 0.0])
        found = [greatest(each, order) for each in vectors]
        assert_allclose(found, known, atol=0.5000001e-4, err_msg=f"order {order}")


def test_a_couple_with_a_force_depends_on_where_the_places_count_from():
    leads, _, places = LAYOUTS["lay.i4"]
    moved = couple(leads, np.array(places) + 1)  # counting from one pitch ahead
    assert greatest(moved, 2) == worked("lay.i4_couple_order2_if_z_starts_one_pitch_ahead")
    assert_allclose(couple(leads, places), 0, atol=1e-12)


V8 = {  # the invented engine's own rods, speed and masses
    "stroke": Q(3.640, "inch"),
    "rod_length": Q(5.960, "inch"),
    "engine_speed": Q(6200, "rpm"),
    "reciprocating_mass": Q(775, "g"),
    "rotating_mass": Q(470 + 2.5, "g"),
}
CARD = {"counterweight_mass": Q(1720 / 2, "g")}


def test_what_the_invented_v8_shakes_in_multiples():
    leads, banks, places = LAYOUTS["lay.v8cross"]
    one = (V8["reciprocating_mass"] * V8["stroke"] / 2 * V8["engine_speed"] ** 2).m_as("N")
    size = np.hypot(*force(leads, banks, **V8, **CARD)) / one
    assert max(size) == worked("bal.force_max_over_m_r_w2")
    spaced = couple(leads, places, banks, **V8, **CARD) / one
    assert_allclose(spaced, WORKED["bal.couple_max_over_m_r_w2_space"], atol=1e-12)
    rotating_only = {"counterweight_mass": V8["rotating_mass"]}
    spaced = couple(leads, places, banks, **V8, **rotating_only) / one
    assert greatest(spaced, 1) == worked("bal.couple_no_cw")


def test_what_the_invented_inline_four_shakes():
    mass = Q(WORKED["bal.i4_recip_g"], "g")
    given = {
        "stroke": Q(89.2, "mm"),
        "rod_length": Q(143.0, "mm"),
        "engine_speed": Q(7000, "rpm"),
        "reciprocating_mass": mass,
        "pin_offset": Q(-0.6, "mm"),
    }
    second = greatest(force([0, 180, 180, 0], **given), 2)
    one = (mass * Q(44.6, "mm") * Q(7000, "rpm") ** 2).m_as("N")
    assert second / one == worked("bal.i4_second_coeff")
    assert second == worked("bal.i4_second_N")


# --- against a source -------------------------------------------------------------------------


def beyond_two_terms(angle, stroke, rod_length):
    """Return what the exact acceleration has over cos t + (r / L) cos 2t, in multiples.

    Books stop there; the rest is the closed series of orders 2 to 8.
    """
    ratio = float(stroke / rod_length) / 2
    orders = np.array([2, 4, 6, 8])
    more = acceleration_harmonics(stroke, rod_length, orders=tuple(orders)).m
    return more @ np.cos(orders * angle) - ratio * np.cos(2 * angle)


def test_khurmi_15_9_pin_load_and_the_speed_at_which_it_turns_over():
    # [khurmi_tom] Example 15.9, p. 534: 1800 rpm, r 50, l 200, bore 80 mm, 33 deg after the top,
    # 1 kg, 0.7 MPa: load on the pin 1848 N, rod thrust 1865.8 N, side thrust 254 N (cut off);
    # the load is zero at 2612 rpm (cut off). Inputs and answers from a published companion.
    crank, angle = (Q(100, "mm"), Q(200, "mm")), Q(33, "deg")
    one = (Q(1, "kg") * Q(50, "mm") * Q(1800, "rpm") ** 2).m_as("N")
    given = dict(zip(("stroke", "rod_length"), crank, strict=True))
    given |= {"engine_speed": Q(1800, "rpm"), "reciprocating_mass": Q(1, "kg")}
    inertia = force([0.0], angle=angle, **given)[1]
    inertia -= one * beyond_two_terms(math.radians(33), *crank)
    gas = 3519.0  # pressure on the crown; the book rounds it to whole newtons
    assert 0.7e6 * math.pi / 4 * 0.080**2 == printed("3519")
    load, lean = gas - inertia, rod_tilt(angle, *crank).m
    assert load == printed("1848")
    assert load / math.cos(lean) == printed("1865.8")
    assert math.floor(load * math.tan(lean)) == 254
    assert math.floor(1800 * math.sqrt(gas / inertia)) == 2612


POUND = 0.45359237 * 32.2 * 0.3048  # pound-force as the older books have it, g = 32.2 ft/s2


def test_bevan_14_5_half_of_one_cylinder_balanced():
    # [bevan_tom] chapter 14 Example 5, p. 500: 180 lb rotate, 150 lb reciprocate, half of these
    # balanced, crank 7.5 in, 300 rpm: what is left is 1436 lb (cut off), at any angle. Published
    # companion. The balance weight of 318.8 lb is in test_bob_weight.py.
    given = {
        "stroke": Q(15, "inch"),
        "rod_length": Q(33, "inch"),  # free: the first order does not ask
        "engine_speed": Q(300, "rpm"),
        "reciprocating_mass": Q(150, "lb"),
        "rotating_mass": Q(180, "lb"),
        "counterweight_mass": Q(180 + 75, "lb"),
    }
    left = order_axes(force([0.0], **given), (1,))[:, 0] / POUND
    assert [math.floor(each) for each in left] == [1436, 1436]


def test_bevan_14_13_three_banks_in_second_order():
    # [bevan_tom] chapter 14 Example 13, p. 519: R 6 lb, r 3 in, l 11 in, 2000 rpm: least 1114 lb,
    # greatest 3343 lb (cut off). Published companion; three banks of four at 60 deg on a flat
    # crank is how the layout was read from its 2F and 6F.
    crank = {"stroke": Q(6, "inch"), "rod_length": Q(11, "inch")}
    given = {**crank, "engine_speed": Q(2000, "rpm"), "reciprocating_mass": Q(6, "lb")}
    both = order_axes(force(np.repeat([0, 180, 180, 0], 3), [-60, 0, 60] * 4, **given), (2,))
    book = (3 / 11) / acceleration_harmonics(*crank.values(), orders=(2,)).m  # stops at two terms
    assert [math.floor(each) for each in both[:, 0] * book / POUND] == [3343, 1114]


EIGHT = [0, 90, 270, 180, 180, 270, 90, 0]


def test_josephs_huston_eight_throws_are_balanced():
    # [josephs_huston] Table 15.10.2, p. 533: all totals of first and second order are 0
    places = np.arange(8.0)
    for order in (1, 2):
        assert_allclose(greatest(force(EIGHT), order), 0, atol=1e-12)
        assert_allclose(greatest(couple(EIGHT, places), order), 0, atol=1e-12)


def test_josephs_huston_four_throws_keep_a_first_order_couple():
    # [josephs_huston] first four rows of Table 15.10.2, p. 533: forces and second-order couple 0,
    # first-order couple -3 (cosines) and -1 (sines)
    leads, places, angle = EIGHT[:4], np.arange(4.0), TURN.m_as("rad")
    assert_allclose([greatest(force(leads), order) for order in (1, 2)], 0, atol=1e-12)
    along = couple(leads, places)[1]
    assert_allclose(along @ np.cos(angle) / 360, -3, rtol=1e-12)  # cos(t + lead): so the sines
    assert_allclose(along @ np.sin(angle) / 360, 1, rtol=1e-12)  # come with a minus
    assert_allclose(greatest(couple(leads, places), 2), 0, atol=1e-12)


def test_forces_of_right_angle_v8s():
    # [geometry] derived: a cross-plane crank has no first and second order force, a flat-plane
    # one the second of two inline fours at right angles, 4 sqrt 2 m r w^2 / n to two terms
    cross, flat = (force(*LAYOUTS[key][:2]) for key in ("lay.v8cross", "lay.v8flat"))
    assert_allclose([greatest(each, 1) for each in (cross, flat)], 0, atol=1e-12)
    assert_allclose(greatest(cross, 2), 0, atol=1e-12)
    second = 0.30 + 0.30**3 / 4 + 15 * 0.30**5 / 128 + 35 * 0.30**7 / 512
    both = 4 * math.sqrt(2) * second  # the next term is 0.30^9 or so
    assert_allclose(order_axes(flat, (2,))[:, 0], [both, 0], rtol=1e-5, atol=1e-12)


def test_second_order_of_an_inline_four_and_its_exact_peak():
    # [heywood_ice], [taylor_ice], recalled from memory: 4 m r w^2 / n to two terms; 0.5 kg,
    # r 40 mm, n 3.5, 6000 rpm. Exact, by [geometry]: n / sqrt(n^2 - 1) = 1.043498 times that,
    # where all four rods are square to their cranks' tops.
    crank = {"stroke": Q(80, "mm"), "rod_length": Q(140, "mm")}
    mass, speed = Q(0.5, "kg"), Q(6000, "rpm")
    four = force([0, 180, 180, 0], **crank, engine_speed=speed, reciprocating_mass=mass)
    book = (4 * mass * Q(40, "mm") * speed**2 / 3.5).m_as("N")
    assert greatest(four, 1) < 1e-6
    assert max(np.hypot(*four)) / book == printed("1.043498")
    exact = acceleration_harmonics(*crank.values(), orders=(2,)).m[0]
    assert_allclose(greatest(four, 2) / book, exact * 3.5, rtol=1e-12)


def test_an_inline_four_with_cranks_at_right_angles():
    # [inline_four_question]: the question was seen without its answer, forces and couples are
    # worked out apart from this code: 1240.7 and 877.3 N m to two terms, no force
    crank = {"stroke": Q(100, "mm"), "rod_length": Q(200, "mm")}
    given = {**crank, "engine_speed": Q(2000, "rpm"), "reciprocating_mass": Q(2, "kg")}
    leads, places = [0, 180, 270, 90], np.array([-0.3, -0.1, 0.1, 0.3])
    assert max(greatest(force(leads, **given), order) for order in (1, 2)) < 1e-9
    book = 0.25 / acceleration_harmonics(*crank.values(), orders=(2,)).m[0]
    assert greatest(couple(leads, places, **given), 1) == printed("1240.7")
    assert greatest(couple(leads, places, **given), 2) * book == printed("877.3")


# --- against geometry and identities ----------------------------------------------------------


def test_the_inline_four_fires_every_half_turn():
    four = tdc_angles(Q([0.0] * 4, "deg"), Q([0, 180, 180, 0], "deg")).m_as("deg")
    assert_allclose(four, [0, 180, 180, 0], atol=1e-6)
    assert_allclose(firings(four, [1, 3, 4, 2]), [0, 180, 360, 540], atol=1e-6)


@pytest.mark.parametrize("turned", [37.0, 200.0])
def test_only_differences_of_banks_and_leads_count(turned):
    leads = np.repeat([0, 90, 270, 180], 2)
    shifted = tdc_angles(BANKS + Q(turned, "deg"), Q(leads + 3 * turned, "deg")).m_as("deg")
    assert_allclose(shifted, CROSS, atol=1e-6)


def test_a_pin_that_leads_is_at_the_top_earlier():
    top = tdc_angles(Q([0.0, 0.0], "deg"), Q([0, 30], "deg")).m_as("deg")
    assert_allclose(top, [0, 330], atol=1e-6)


def test_two_neighbours_with_one_top_fire_a_turn_apart():
    assert_allclose(firings(CROSS, [1, 6, 5, 8]), [0, 360, 450, 810], atol=1e-6)


@pytest.mark.parametrize("ratio", [0.15, 0.30, 0.33])
def test_orders_of_one_cylinder_are_the_closed_series(ratio):
    # a / (r w^2) = cos t + A2 cos 2t + A4 cos 4t + ...; the next term left out is ratio**9 or so
    one = force([0.0], rod_length=Q(1 / ratio, "m"))
    series = {
        1: 1.0,
        2: ratio + ratio**3 / 4 + 15 * ratio**5 / 128 + 35 * ratio**7 / 512,
        4: -(ratio**3 / 4 + 3 * ratio**5 / 16 + 35 * ratio**7 / 256),
        6: 9 * ratio**5 / 128 + 45 * ratio**7 / 512,
    }
    found = order_axes(one, tuple(series))
    assert_allclose(found[0], np.abs([*series.values()]), atol=0.2 * ratio**9)
    assert_allclose(found[1], 0, atol=1e-12)  # to and fro along the bore
    given = acceleration_harmonics(UNIT["stroke"], Q(1 / ratio, "m")).m
    assert_allclose(found[0], abs(given), atol=1e-12)


def brute(angles, leads, banks, places, rotation, throw, rod, offset, up, round_, against):
    """Return shaking force and couple at a speed of one, by moving every mass and adding up.

    In complex numbers, the front view's x real and y imaginary. The crank pins stand where their
    leads say; the piston pin is where a rod's length from the crank pin meets its bore's line.
    The force is the whole momentum's change, differentiated twice through its Fourier series.
    """
    total, moment = 0j, 0j
    for lead, bank, place, piston, big_end, weight in zip(
        leads, banks, places, up, round_, against, strict=True
    ):
        upward, aside = 1j * np.exp(-1j * bank), rotation * np.exp(-1j * bank)
        clockwise = banks[0] + rotation * (angles + lead - leads[0])
        crank_pin = throw * 1j * np.exp(-1j * clockwise)
        from_foot = (crank_pin - offset * aside) / upward  # along the bore's line and off it
        pin = offset * aside + upward * (from_foot.real + np.sqrt(rod**2 - from_foot.imag**2))
        moved = piston * pin + (big_end - weight) * crank_pin
        total, moment = total + moved, moment + place * moved
    turns = np.fft.fftfreq(len(angles), 1 / len(angles))
    twice = [np.fft.ifft(np.fft.fft(each) * turns**2) for each in (total, moment)]  # minus d2/dt2
    return [np.stack([each.real, each.imag]) for each in twice]


@pytest.mark.parametrize("seed", range(12))
def test_any_layout_equals_the_sum_of_its_moving_masses(seed):
    draw = np.random.default_rng(seed)
    count, rotation = int(draw.integers(1, 9)), int(draw.choice([-1, 1]))
    leads, banks = draw.uniform(0, 2 * np.pi, (2, count))
    places = draw.uniform(-0.4, 0.4, count)
    up, round_, against = draw.uniform([[0.3]] * 3, [[1.2], [1.2], [2.0]], (3, count))
    throw, offset = draw.uniform(0.03, 0.07), draw.uniform(-0.008, 0.008)
    rod = throw * draw.uniform(2.6, 4.5)
    angles = np.arange(360) * (2 * np.pi / 360)
    known = brute(angles, leads, banks, places, rotation, throw, rod, offset, up, round_, against)
    given = {
        "stroke": Q(2 * throw, "m"),
        "rod_length": Q(rod, "m"),
        "pin_offset": Q(offset, "m"),
        "reciprocating_mass": Q(up, "kg"),
        "rotating_mass": Q(round_, "kg"),
        "counterweight_mass": Q(against, "kg"),
    }
    where = {"angle": Q(angles, "rad"), "rotation": rotation}
    degrees = np.degrees(leads), np.degrees(banks)
    pulled = force(*degrees, **where, **given)
    tipped = couple(degrees[0], places, degrees[1], **where, **given)
    assert_allclose(pulled, known[0], atol=1e-9)
    assert_allclose(tipped, known[1], atol=1e-9)
    for found in (pulled, tipped):
        axes = order_axes(found, (1, 2, 3, 4, 6))
        for at, order in enumerate((1, 2, 3, 4, 6)):
            strength = found @ np.exp(-1j * order * angles) * 2 / 360
            once_round = np.exp(1j * np.linspace(0, 2 * np.pi, 3600))
            size = np.hypot(*np.real(np.outer(strength, once_round)))  # of that order alone
            assert_allclose(axes[:, at], [max(size), min(size)], atol=2e-3 * axes[0, at])


LEADS = [10.0, 140.0, 215.0]
LEAN = [20.0, -35.0, 5.0]
OFFSET = {"pin_offset": Q(0.05, "m")}


def test_a_mirrored_engine_shakes_in_the_mirror():
    # banks swapped and the crank turned the other way: seen in a mirror
    seen = force(LEADS, LEAN, **OFFSET)
    mirrored = force(LEADS, [-each for each in LEAN], rotation=-1, **OFFSET)
    assert_allclose(mirrored, [-seen[0], seen[1]], atol=1e-12)


def test_the_same_crank_turned_the_other_way_shakes_backwards():
    # the pin's path then lies to the other side of the running direction
    backwards = Q(-TURN.m, "deg")
    ahead = force(LEADS, LEAN, rotating_mass=Q(0.7, "kg"), **OFFSET)
    turned = force([-each for each in LEADS], LEAN, angle=backwards, rotation=-1,
                   rotating_mass=Q(0.7, "kg"), pin_offset=Q(-0.05, "m"))  # fmt: skip
    assert_allclose(turned, ahead, atol=1e-12)


def test_an_engine_that_is_its_own_mirror_along_the_crank_has_no_couple():
    places = np.array([-2.0, -1.3, -0.4])
    ends = couple(LEADS + LEADS[::-1], [*places, *-places[::-1]], LEAN + LEAN[::-1],
                  rotating_mass=Q(0.7, "kg"), **OFFSET)  # fmt: skip
    assert_allclose(ends, 0, atol=1e-12)


def test_a_couple_without_a_force_is_free_of_where_the_places_count_from():
    leads, _, places = LAYOUTS["lay.i3"]
    near, far = (couple(leads, np.array(places) + way) for way in (0.0, 7.3))
    for order in (1, 2, 4):
        assert greatest(force(leads), order) < 1e-12
        assert_allclose(greatest(far, order), greatest(near, order), rtol=1e-9)
    assert greatest(far, 6) > 100 * greatest(near, 6)  # that order has a force


@pytest.mark.parametrize("rotation", [1, -1])
def test_half_a_pair_as_counterweight_stills_a_right_angle_v_in_first_order(rotation):
    pair = {"leads": [25.0, 25.0], "banks": [45, -45], "rotation": rotation}
    first = order_axes(force(**pair), (1,))[:, 0]
    assert_allclose(first, [1, 1], rtol=1e-12)  # a circle: one cylinder's mass on the crank pin
    half = force(**pair, counterweight_mass=Q(0.5, "kg"))
    assert_allclose(greatest(half, 1), 0, atol=1e-12)
    assert_allclose(greatest(force(**pair, counterweight_mass=Q(0.4, "kg")), 1), 0.2, rtol=1e-12)
    for banks, leads in (([30, -30], [25.0, 25.0]), ([45, -45], [25.0, 55.0])):
        other = {"leads": leads, "banks": banks, "rotation": rotation}
        assert greatest(force(**other, counterweight_mass=Q(0.5, "kg")), 1) > 0.2


def test_places_along_the_crank():
    v8 = cylinder_positions(np.repeat([1, 2, 3, 4], 2), [-1, 1] * 4, Q(100, "mm"), Q(24, "mm"))
    assert_allclose(v8.m_as("mm"), [-162, -138, -62, -38, 38, 62, 138, 162], rtol=1e-12)
    boxer = cylinder_positions([0, 0, 1, 1], [-1, 1] * 2, Q(2, "m"), Q(1, "m"))
    assert_allclose(boxer.m, [-1.5, -0.5, 0.5, 1.5], rtol=1e-12)
    three = cylinder_positions([1, 2, 3], [0] * 3, Q(4, "inch"))
    assert_allclose(three.m_as("mm"), [-101.6, 0, 101.6], rtol=1e-12, atol=1e-12)


# --- behaviour --------------------------------------------------------------------------------


def test_leads_without_a_unit_are_refused():
    with pytest.raises(
        UnitError, match=r"^tdc_angles: pin_leads needs a unit like rad, got the bare"
    ):
        tdc_angles(BANKS, np.repeat([0, 90, 270, 180], 2))


FOUR = {**UNIT, **phasing([0, 180, 180, 0], 0.0)}
PLACES = Q(np.array([-1.5, -0.5, 0.5, 1.5]), "m")


def test_arrays_of_angles_keep_their_shape_and_each_cylinder_may_weigh_differently():
    shapes = (Q(20.0, "deg"), TURN, Q(np.ones((3, 5)), "rad"))
    for angle in shapes:
        assert shaking_force(angle, **FOUR).shape == (2, *np.shape(angle.m))
        assert shaking_couple(angle, **FOUR, positions=PLACES).shape == (2, *np.shape(angle.m))
    masses = np.array([0.8, 1.1, 0.9, 1.2])
    each = [
        shaking_force(TURN, **{**FOUR, "reciprocating_mass": Q(mass, "kg")} | {
            "bank_angles": FOUR["bank_angles"][[at]], "tdc_angles": FOUR["tdc_angles"][[at]]})
        for at, mass in enumerate(masses)
    ]  # fmt: skip
    together = shaking_force(TURN, **{**FOUR, "reciprocating_mass": Q(masses, "kg")})
    assert_allclose(together.m, sum(each).m, atol=1e-12)


def test_units_do_not_change_the_answer():
    metric = force(LEADS, LEAN, stroke=Q(92.456, "mm"), rod_length=Q(151.384, "mm"),
                   engine_speed=Q(6200, "rpm"), reciprocating_mass=Q(453.59237, "g"))  # fmt: skip
    inches = force(LEADS, LEAN, stroke=Q(3.640, "inch"), rod_length=Q(5.960, "inch"),
                   engine_speed=Q(6200 / 60, "turn/s"), reciprocating_mass=Q(1, "lb"))  # fmt: skip
    assert_allclose(inches, metric, rtol=1e-9, atol=1e-9)


REFUSED = [
    ({"stroke": Q(7, "m")}, r"^shaking_force: rod_length must be longer than half the stroke"),
    ({"reciprocating_mass": Q(0.0, "g")}, r"^shaking_force: reciprocating_mass must be greater"),
    ({"rotation": 0}, r"^shaking_force: rotation must be 1 for standard or -1 for reverse, got 0"),
    (
        {"rotating_mass": Q([1.0, 2.0], "kg"), "rotation": 2},
        r"one entry for each cylinder, got 4 of bank_angles, 4 of tdc_angles, 2 of rotating_mass;"
        r" rotation must be 1 .* got 2\.$",
    ),
]


@pytest.mark.parametrize(("changes", "match"), REFUSED)
def test_what_cannot_be_is_refused(changes, match):
    with pytest.raises(ValueError, match=match):
        shaking_force(TURN, **{**FOUR, **changes})


def test_a_list_of_one_is_not_spread_over_all_cylinders():
    with pytest.raises(ValueError, match="got 1 of positions, 4 of bank_angles, 4 of tdc_angles"):
        shaking_couple(TURN, **FOUR, positions=PLACES[:1])
    with pytest.raises(ValueError, match=r"^cylinder_positions: bore_spacing must be greater than"):
        cylinder_positions([0, 1], [0, 0], Q(0.0, "mm"))


def test_bare_numbers_are_refused_all_at_once():
    with pytest.raises(UnitError, match=r"^shaking_force: engine_speed .*; rotating_mass needs"):
        shaking_force(TURN, **{**FOUR, "engine_speed": Q(600, "1/min"), "rotating_mass": 0.4})


def test_orders_keep_the_unit_and_are_refused_where_they_cannot_be_told():
    vectors = shaking_force(TURN, **FOUR)
    assert order_axes(vectors).shape == (2, 4)
    assert order_axes(vectors, (2,)).to("kN").m[0, 0] == pytest.approx(1.2282e-3, abs=1e-7)
    for orders in ((0, 1), (2, 360), (-1,)):
        with pytest.raises(
            ValueError, match=r"^order_axes: orders must be from 1 to less than hal"
        ):
            order_axes(vectors, orders)
