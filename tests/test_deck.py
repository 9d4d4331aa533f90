"""Decks by cylinder, the plane of a bank, and what to cut off it."""

import dask.array as da
import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.deck import (
    deck_cut,
    deck_slope,
    mean_deck_clearance,
    piston_rock,
    plane_height,
    plane_residuals,
    plane_slope_across,
    plane_slope_along,
)
from enginecalc.units import Q, UnitError


def mm(*sizes):
    return Q(np.array(sizes, float), "mm")


def inch(size):
    return Q(size, "inch")


# --- against geometry and identities ----------------------------------------------------------

# The four corners of a bank, 420 by 140 mm, front inner first.
CORNERS = mm(0, 420, 0, 420), mm(0, 0, 140, 140)


def leaning(along, across):
    """Return the height of a deck that falls to the rear and rises across, worked out by hand."""
    return 218.2 - 0.05 * along / 420 + 0.02 * across / 140


def test_a_plane_is_found_exactly():
    along, across = CORNERS
    bank = along, across, Q(leaning(along.m, across.m), "mm")
    assert_allclose(plane_slope_along(*bank).m_as("mm/m"), -0.05 / 0.42, rtol=1e-9)
    assert_allclose(plane_slope_across(*bank).m_as("mm/m"), 0.02 / 0.14, rtol=1e-9)
    assert_allclose(plane_residuals(*bank).m_as("mm"), 0, atol=1e-12)
    cylinders = mm(46, 137, 228, 319)
    at = plane_height(cylinders, Q(70, "mm"), *bank).m_as("mm")
    assert_allclose(at, [218.2 - 0.05 * x / 420 + 0.01 for x in (46, 137, 228, 319)], rtol=1e-13)
    assert_allclose(at[1], plane_height(cylinders[1], Q(70, "mm"), *bank).m_as("mm"), rtol=1e-14)


def test_a_twisted_deck_lies_over_and_under_its_plane_in_turn():
    # one corner 0.04 mm high: the plane takes up a part, a quarter stays at each corner
    twisted = mm(218.24, 218.2, 218.2, 218.2)
    off = plane_residuals(*CORNERS, twisted).m_as("mm")
    assert_allclose(off, [0.01, -0.01, -0.01, 0.01], rtol=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_readings_that_scatter_give_the_least_squares_of_a_library(seed):
    draw = np.random.default_rng(seed)
    along, across = draw.uniform(0, 420, 9), draw.uniform(0, 140, 9)
    heights = leaning(along, across) + draw.normal(0, 0.01, 9)
    bank = Q(along, "mm"), Q(across, "mm"), Q(heights, "mm")
    level, slope_along, slope_across = np.linalg.lstsq(
        np.stack([np.ones(9), along, across], axis=1), heights, rcond=None
    )[0]
    assert_allclose(float(plane_slope_along(*bank)), slope_along, rtol=1e-7)
    assert_allclose(float(plane_slope_across(*bank)), slope_across, rtol=1e-7)
    at = plane_height(Q(137, "mm"), Q(70, "mm"), *bank).m_as("mm")
    assert_allclose(at, level + 137 * slope_along + 70 * slope_across, rtol=1e-12)
    off = plane_residuals(*bank).m_as("mm")
    assert_allclose(off, heights - level - slope_along * along - slope_across * across, atol=1e-9)
    for direction in (np.ones(9), along, across):  # square to all that a plane can take up
        assert abs(off @ direction) < 1e-8


def test_where_the_places_count_from_does_not_matter():
    draw = np.random.default_rng(2)
    along, across = Q(draw.uniform(0, 420, 6), "mm"), Q(draw.uniform(0, 140, 6), "mm")
    heights = Q(218.2 + draw.normal(0, 0.01, 6), "mm")
    moved = along - Q(350, "mm"), across + Q(80, "mm"), heights
    here = plane_height(Q(137, "mm"), Q(70, "mm"), along, across, heights)
    there = plane_height(Q(-213, "mm"), Q(150, "mm"), *moved)
    assert_allclose(there.m, here.m, rtol=1e-13)


def test_readings_either_side_take_slope_and_rock_out():
    # a crown 0.20 mm down, sloping 0.001 along the crank, rocked by 0.03 mm at its edges 40 mm out
    slope, lean = 0.001, 0.03 / 40
    front, rear = (Q(0.20 + slope * x, "mm") for x in (38, -38))
    major, minor = (Q(0.20 + lean * y, "mm") for y in (40, -40))
    assert_allclose(mean_deck_clearance(front, rear).m_as("mm"), 0.20, rtol=1e-12)
    assert_allclose(float(deck_slope(front, rear, Q(76, "mm"))), 0.001, rtol=1e-9)
    assert_allclose(piston_rock(major, minor).m_as("mm"), 0.03, rtol=1e-9)
    assert_allclose(piston_rock(minor, major).m_as("mm"), 0.03, rtol=1e-9)


def test_a_piston_above_the_deck_is_negative():
    assert_allclose(mean_deck_clearance(inch(-0.004), inch(-0.002)).m_as("inch"), -0.003)


def test_a_deck_is_cut_down_corner_by_corner():
    cut = deck_cut(mm(218.26, 218.23, 218.21, 218.2), Q(218.2, "mm")).m_as("mm")
    assert_allclose(cut, [0.06, 0.03, 0.01, 0], atol=1e-11)


# --- behaviour --------------------------------------------------------------------------------

BANK = (*CORNERS, mm(218.24, 218.2, 218.21, 218.2))
FORMULAS = [
    (mean_deck_clearance, (Q(0.21, "mm"), Q(0.18, "mm"))),
    (deck_slope, (Q(0.21, "mm"), Q(0.18, "mm"), Q(76, "mm"))),
    (piston_rock, (Q(0.21, "mm"), Q(0.18, "mm"))),
    (plane_height, (Q(137, "mm"), Q(70, "mm"), *BANK)),
    (plane_slope_along, BANK),
    (plane_slope_across, BANK),
    (plane_residuals, BANK),
    (deck_cut, (Q(218.26, "mm"), Q(218.2, "mm"))),
]
IDS = [formula.__name__ for formula, _ in FORMULAS]


@pytest.mark.parametrize(("formula", "given"), FORMULAS, ids=IDS)
def test_inch_and_millimetre_give_the_same_answer(formula, given):
    metric = formula(*given).m
    assert_allclose(formula(*(each.to("inch") for each in given)).m, metric, rtol=1e-8, atol=1e-12)


@pytest.mark.parametrize(("formula", "given"), FORMULAS, ids=IDS)
def test_lazy_arrays_stay_lazy(formula, given):
    plain = [np.atleast_1d(each.m_as("m")) for each in given]
    lazy = formula.kernel(*(da.from_array(each, chunks=2) for each in plain))
    assert isinstance(lazy, da.Array)
    eager = formula.kernel(*plain)
    assert_allclose(lazy.compute(scheduler="sync"), eager, rtol=1e-10, atol=1e-14)


@pytest.mark.parametrize(("formula", "given"), FORMULAS, ids=IDS)
def test_bare_numbers_are_refused(formula, given):
    with pytest.raises(UnitError, match=f"^{formula.__name__}: .* needs a unit like m, got the"):
        formula(*(each.m for each in given))


def test_two_banks_at_once():
    heights = Q(np.array([[218.24, 218.2, 218.21, 218.2], [218.2, 218.3, 218.2, 218.1]]), "mm")
    for formula, more in (
        (plane_height, (Q(137, "mm"), Q(70, "mm"))),
        (plane_slope_along, ()),
        (plane_slope_across, ()),
        (plane_residuals, ()),
    ):
        both = formula(*more, *CORNERS, heights).m
        loop = [formula(*more, *CORNERS, each).m for each in heights]
        assert_allclose(both, loop, rtol=1e-9, atol=1e-13)


def test_places_in_one_line_are_no_plane():
    along, across, heights = mm(0, 140, 280, 420), mm(70, 70, 70, 70), mm(218, 218, 218, 218)
    for formula in (plane_slope_along, plane_slope_across, plane_residuals):
        with pytest.raises(
            ValueError, match=r"must not lie in one line\. Read both long edges of the deck"
        ):
            formula(along, across, heights)
    assert np.isnan(plane_slope_along.kernel(along.m, across.m, heights.m))
    with pytest.raises(ValueError, match=r"^plane_height: read_along and read_across must not"):
        plane_height(Q(137, "mm"), Q(70, "mm"), along, across, heights)


def test_two_corners_or_one_too_few_heights_are_refused():
    with pytest.raises(ValueError, match=r"must hold 3 or more .*; read_across must hold 3 or"):
        plane_slope_along(mm(0, 420), mm(0, 140), mm(218, 218))
    with pytest.raises(ValueError, match="and deck_heights must be as many, got 4 and 4 and 3"):
        plane_slope_along(*CORNERS, mm(218, 218, 218))
    with pytest.raises(ValueError, match="deck_heights must be finite, got nan"):
        plane_slope_along(*CORNERS, mm(218, 218, 218, np.nan))


def test_a_span_of_nothing_has_no_slope():
    with pytest.raises(ValueError, match=r"^deck_slope: span must be greater than zero, got 0 m"):
        deck_slope(Q(0.21, "mm"), Q(0.18, "mm"), Q(0.0, "mm"))


def test_metal_only_comes_off():
    with pytest.raises(
        ValueError,
        match=r"wanted_deck_height must not exceed block_deck_height, got 218\.2 mm against"
        r" 218\.18 mm\. The deck is too low already; metal only comes off\.",
    ):
        deck_cut(mm(218.26, 218.18), Q(218.2, "mm"))
