"""Where ring gaps stand: the best placement, the list of placements, and their check."""

import itertools
import time

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.records.ring_placement import Placement, check, clash, gap_words, placements, turned
from enginecalc.ring_gaps import (
    axis_distance,
    best_gap_angles,
    greatest_axis_distance,
    greatest_gap_separation,
    least_gap_separation,
    mirrored_gap_angles,
)
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, worked

ENDS = {"pin": (0, 180), "thrust": (90, 270), "both": (0, 90, 180, 270)}


def deg(angle):
    return Q(np.asarray(angle, dtype=float), "deg")


def found(count, separation, avoid="both"):
    return best_gap_angles(count, deg(separation), avoid)


def listed(name):
    (placement,) = (each for each in placements() if each.name == name)
    return placement


def own(rings="top second oil", angles=(10, 125, 250)):
    return Placement("a builder's own", tuple(rings.split()), deg(angles), "", "")


# --- against a source: worked numbers and a manual ---------------------------------------------


def test_worked_separation():
    assert least_gap_separation(deg([10, 125, 250])).m_as("deg") == worked("ring.sep_10_125_250")


def test_worked_distance_and_its_equal_starts():
    best = greatest_axis_distance(3, deg(120), "both").m_as("deg")
    assert best == worked("ring.clock_best_distance")
    starts = np.arange(0, 120)
    each = axis_distance(deg(starts[:, None] + [0, 120, 240]), "both").m_as("deg").min(axis=1)
    assert starts[each >= 15 - 1e-9].tolist() == WORKED["ring.clock_best_starts"]
    assert_allclose(found(3, 120).m_as("deg"), [15, 135, 255])


def test_the_manual_sets_each_ring_a_third_of_a_turn_from_the_next():
    # [tm_10_3930] paragraph 3-14, step 9, p. 3-98: the oil ring's gap 180 deg from that of its
    # expander, the second ring's 120 deg from the oil ring's, the top ring's 120 from the second's
    placement = listed("four gaps, expander opposite the oil ring")
    at = dict(zip(placement.rings, placement.angles.m_as("deg"), strict=True))
    apart = [("oil expander", "oil ring"), ("oil ring", "second"), ("second", "top")]
    assert [abs(at[one] - at[other]) for one, other in apart] == [180, 120, 120]


# --- against geometry and identities ----------------------------------------------------------


def around(angle, other):
    """Return the short way round, by the angle between two arrows."""
    return abs(np.degrees(np.angle(np.exp(1j * np.radians(angle - other)))))


@pytest.mark.parametrize("avoid", ENDS)
def test_distance_and_separation_by_arrows(avoid):
    angles = np.random.default_rng(5).uniform(-400, 800, (40, 4))
    near = np.min([around(angles, end) for end in ENDS[avoid]], axis=0)
    assert_allclose(axis_distance(deg(angles), avoid).m_as("deg"), near, atol=1e-9)
    pairs = [around(angles[:, i], angles[:, j]) for i, j in itertools.combinations(range(4), 2)]
    apart = least_gap_separation(deg(angles)).m_as("deg")
    assert_allclose(apart, np.min(pairs, axis=0), atol=1e-9)


def every_placement(count, step):
    """Return separation and, by axes, distance of every placement on a grid."""
    rows = np.array([*itertools.combinations(range(0, 360, step), count)])
    pairs = itertools.combinations(range(count), 2)
    apart = np.min([around(rows[:, i], rows[:, j]) for i, j in pairs], axis=0)
    away = {avoid: np.min([around(rows, end) for end in ends], axis=0).min(axis=1)
            for avoid, ends in ENDS.items()}  # fmt: skip
    return apart.round(6), {avoid: each.round(6) for avoid, each in away.items()}


GRIDS = [(2, 5), (3, 5), (4, 10), (5, 15)]


@pytest.mark.parametrize(("count", "step"), GRIDS)
def test_no_placement_of_a_grid_is_better_and_none_is_missed(count, step):
    apart, away = every_placement(count, step)
    for avoid, separation in itertools.product(ENDS, range(step, 360 // count + 1, step)):
        best = away[avoid][apart >= separation].max()
        one = found(count, separation, avoid)
        reached = axis_distance(one, avoid).m_as("deg").min()
        assert reached >= best - 1e-9
        assert least_gap_separation(one).m_as("deg") >= separation - 1e-9
        assert reached <= best + step / 2 + 1e-9  # no farther than between two places of the grid
        if reached == pytest.approx(best):  # of equals the one farthest apart
            most = apart[(apart >= separation) & (away[avoid] >= best - 1e-6)].max()
            assert least_gap_separation(one).m_as("deg") >= most - 1e-9
        for distance in np.unique(away[avoid]):
            least = greatest_gap_separation(count, deg(distance), avoid).m_as("deg")
            assert least >= apart[away[avoid] >= distance - 1e-6].max() - 1e-9


@pytest.mark.parametrize("avoid", ENDS)
def test_the_greatest_distance_matches_a_grid_of_whole_degrees(avoid):
    # the first gap goes round, the others stand as much farther on as there is room for
    for separation in (105, 111, 117, 119, 120):
        room = np.arange(360 - 3 * separation + 1)
        first, more, still = np.meshgrid(np.arange(180), room, room)
        angles = np.stack([first, first + separation + more, first + 2 * separation + still], -1)
        fits = still >= more
        best = np.min([around(angles, end) for end in ENDS[avoid]], axis=0).min(axis=-1)[fits].max()
        answer = greatest_axis_distance(3, deg(separation), avoid).m_as("deg")
        assert best - 1e-9 <= answer <= best + 0.5 + 1e-9


@pytest.mark.parametrize(
    ("count", "separation", "avoid", "angles", "distance"),
    [
        (3, 120, "both", [15, 135, 255], 15),
        (3, 105, "both", [30, 135, 240], 30),
        (3, 90, "both", [45, 135, 225], 45),
        (3, 120, "pin", [30, 150, 270], 30),
        (3, 120, "thrust", [0, 120, 240], 30),
        (2, 90, "both", [45, 225], 45),
        (2, 180, "pin", [90, 270], 90),
        (4, 90, "both", [45, 135, 225, 315], 45),
        (5, 72, "both", [9, 81, 153, 225, 297], 9),
    ],
)
def test_hand_exact_placements(count, separation, avoid, angles, distance):
    # a fifth of a turn apart gaps lie at x, x + 18, x + 36, x + 54, x + 72 modulo 90: 9 at best
    assert_allclose(found(count, separation, avoid).m_as("deg"), angles, atol=1e-9)
    assert_allclose(greatest_axis_distance(count, deg(separation), avoid).m_as("deg"), distance)
    assert_allclose(axis_distance(deg(angles), avoid).m_as("deg").min(), distance)


def test_of_equal_placements_the_first_gap_is_just_past_an_axis():
    for count, separation in itertools.product((2, 3, 4), (20, 55, 80)):
        one = found(count, separation)
        near = axis_distance(one, "both")
        assert_allclose(one[0].m, near.m.min(), rtol=1e-12)


@pytest.mark.parametrize("count", [2, 3, 5])
@pytest.mark.parametrize("avoid", ENDS)
def test_the_two_greatest_are_each_others_inverse(count, avoid):
    for separation in np.linspace(10, 360 / count, 7):
        distance = greatest_axis_distance(count, deg(separation), avoid)
        back = greatest_gap_separation(count, distance, avoid).m_as("deg")
        assert back >= separation - 1e-9
        again = greatest_axis_distance(count, deg(back), avoid)
        assert_allclose(again.m, distance.m, atol=1e-9)


def test_gaps_wanted_nearer_together_stand_no_nearer_to_an_axis():
    wanted = np.linspace(0, 120, 241)
    distances = greatest_axis_distance(3, deg(wanted), "both").m_as("deg")
    assert (np.diff(distances) <= 1e-9).all()
    assert distances[0] == pytest.approx(45)
    assert distances[-1] == pytest.approx(15)


def test_mirrored_the_major_thrust_side_is_as_far_from_each_gap():
    angles = np.array([15.0, 135, 255, 0, 359])
    other = mirrored_gap_angles(deg(angles)).m_as("deg")
    assert_allclose(around(other, 270), around(angles, 90), atol=1e-9)
    assert_allclose(around(other, 0), around(angles, 0), atol=1e-9)
    assert_allclose(mirrored_gap_angles(deg(other)).m_as("deg"), angles, atol=1e-9)


def test_each_placement_of_the_list_keeps_what_it_says():
    said = {
        "three gaps, a third of a turn apart": (120, 15),
        "three gaps, 45 deg from every axis": (90, 45),
        "three gaps, 30 deg from every axis": (105, 30),
        "two gaps, opposite": (180, 45),
        "four gaps, expander opposite the oil ring": (60, 15),
        "five gaps, 60 deg apart": (60, 15),
        "five gaps, rails beside the expander": (45, 0),
    }
    assert [placement.name for placement in placements()] == [*said]
    for placement, (separation, distance) in zip(placements(), said.values(), strict=True):
        assert_allclose(least_gap_separation(placement.angles).m_as("deg"), separation)
        near = axis_distance(placement.angles, "both").m_as("deg").min()
        assert_allclose(near, distance, atol=1e-9)
    assert all("ring maker's figure wins" in placement.note for placement in placements())
    assert all(placement.source for placement in placements())
    for placement in placements()[:3]:  # what the search finds, ring by ring in another order
        separation, _ = said[placement.name]
        assert_allclose(np.sort(placement.angles.m), found(3, separation).m_as("deg"))


# --- behaviour --------------------------------------------------------------------------------


def test_radians_and_turns_give_the_same_answer():
    for unit in ("rad", "turn"):
        angles = best_gap_angles(3, deg(105).to(unit), "both")
        assert_allclose(angles.m_as("deg"), [30, 135, 240])
    gaps = deg([10, 125, 250])
    assert_allclose(least_gap_separation(gaps.to("turn")).m, least_gap_separation(gaps).m)


def test_an_array_gives_what_a_loop_gives():
    wanted = np.array([60.0, 90, 105, 120])
    for function in (greatest_axis_distance, best_gap_angles):
        loop = [function(3, deg(each), "both").m for each in wanted]
        assert_allclose(function(3, deg(wanted), "both").m, loop, rtol=1e-13)
    distances = np.array([5.0, 20, 45])
    loop = [greatest_gap_separation(3, deg(each), "pin").m for each in distances]
    assert_allclose(greatest_gap_separation(3, deg(distances), "pin").m, loop, rtol=1e-13)


def test_a_kernel_gives_nan_where_a_turn_has_no_room():
    assert np.isnan(greatest_axis_distance.kernel(3, np.radians(121), "both"))
    assert np.isnan(greatest_gap_separation.kernel(3, np.radians(46), "both"))
    assert np.isnan(best_gap_angles.kernel(3, np.radians(121), "both")).all()


def test_five_gaps_are_found_at_once():
    start = time.perf_counter()
    found(5, 60)
    assert time.perf_counter() - start < 0.5


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: least_gap_separation(deg([15])), r"^least_gap_separation: gap_angles must hold 2"
         r" or more along the last axis, got 1\.$"),
        (lambda: least_gap_separation(deg([15, np.nan])), r"gap_angles must be finite, got nan\.$"),
        (lambda: mirrored_gap_angles(deg([15, np.inf])), r"gap_angles must be finite, got inf\.$"),
        (lambda: axis_distance(deg([15, np.nan]), "pin"), r"^axis_distance: gap_angles must be"
         r" finite, got nan\.$"),
        (lambda: axis_distance(deg(15), "front"), r'^axis_distance: avoid must be "pin", "thrust"'
         r" or \"both\", got 'front'\.$"),
        (lambda: found(3, 121), r"^best_gap_angles: least_separation must be from 0 to 120 deg for"
         r" 3 gaps, got 121 deg\.$"),
        (lambda: found(2, -1), r"separation must be from 0 to 180 deg for 2 gaps, got -1 deg"),
        (lambda: found(1, 20), r"count must be a whole number of 2 or more, got 1\.$"),
        (lambda: found(2.5, 20), r"count must be a whole number of 2 or more, got 2\.5\.$"),
        (lambda: found(True, 20), r"count must be a whole number of 2 or more, got True\.$"),
        (lambda: greatest_gap_separation(3, deg(46), "both"), r"^greatest_gap_separation:"
         r' axis_distance must be from 0 to 45 deg for avoid "both", got 46 deg\.$'),
        (lambda: greatest_gap_separation(3, deg(91), "pin"), r'to 90 deg for avoid "pin", got 91'),
        (lambda: greatest_axis_distance(0, deg(20), None), r"^greatest_axis_distance: count must be"
         r" a whole number of 2 or more, got 0. greatest_axis_distance: avoid must be"
         r' "pin", "thrust" or "both", got None'),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_an_angle_needs_its_unit():
    with pytest.raises(UnitError, match="gap_angles needs a unit like rad, got the bare"):
        axis_distance(15.0, "pin")
    with pytest.raises(UnitError, match="least_separation needs a unit like rad, got 120 mm"):
        best_gap_angles(3, Q(120.0, "mm"), "both")


def test_rules_that_clash_are_told():
    assert clash(3, deg(120), deg(20), "both") == (
        "3 gaps 120 deg apart cannot all be 20 deg from the pin and thrust axis: 15 deg is the"
        " most; or keep the 20 deg and set them 115 deg apart at most."
    )
    assert clash(3, deg(120), deg(15), "both") == ""
    assert clash(3, deg(120), deg(30), "thrust") == ""
    assert "from the pin axis: 30 deg is the most" in clash(3, deg(120), deg(31), "pin")


def test_a_placement_is_checked_ring_by_ring():
    assert check(own(), deg(115), deg(10), "both") == []
    assert check(own(), deg(116), deg(12), "both") == [
        "top and second are 115 deg apart, less than the 116 deg wanted.",
        "top is 10 deg from the pin axis, less than the 12 deg wanted.",
    ]
    assert check(own(), deg(60), deg(21), "thrust") == [
        "oil is 20 deg from the thrust axis, less than the 21 deg wanted."
    ]
    assert check(own(), deg(90), deg(12), "thrust") == []  # only the thrust axis is asked
    *_, last = check(own(), deg(120), deg(20), "both")
    assert last == clash(3, deg(120), deg(20), "both")


def test_gaps_in_words_and_for_the_other_rotation():
    assert gap_words(own()) == "top 10 deg, second 125 deg, oil 250 deg"
    assert gap_words(turned(own(), "standard")) == gap_words(own())
    assert gap_words(turned(own(), "reverse")) == "top 350 deg, second 235 deg, oil 110 deg"
    with pytest.raises(
        ValueError, match=r'^rotation must be "standard" or "reverse", got \'left\''
    ):
        turned(own(), "left")


@pytest.mark.parametrize(
    ("rings", "angles", "message"),
    [
        ("top second", (10,), r"^a builder's own: 2 rings with 1 angles; write an angle for each of"
         r" two rings or more\.$"),
        ("top", (10,), r"1 rings with 1 angles; write an angle for each of two rings or more\.$"),
        ("top top", (10, 190), r'the ring "top" stands twice; give each a name of its own\.$'),
        ("top second", (10, 360), r"an angle is 360 deg; write one from 0 to below 360 deg\.$"),
        ("top second", (10, np.nan), r"an angle is nan deg; write one from 0 to below 360 deg\.$"),
    ],
)  # fmt: skip
def test_rings_and_angles_must_go_together(rings, angles, message):
    with pytest.raises(ValueError, match=message):
        own(rings, angles)


def test_a_placement_needs_a_name():
    with pytest.raises(ValueError, match=r"^placement: a placement needs a name\.$"):
        Placement("", ("top", "second"), deg([10, 190]), "", "")
