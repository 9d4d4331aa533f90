"""A rod's edge in the fillet of its journal: worked numbers, right triangles, points tried."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc import fillet
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, worked

IN, MM = "inch", "mm"

# --- against the worked numbers of the invented engine ----------------------------------------

GIVEN = WORKED["inputs"]["fillet"]
RADIUS, SIDE, FILM = (GIVEN[f"{each}_in"] for each in ("radius", "centred_axial_gap", "radial_gap"))


@pytest.mark.parametrize(
    ("key", "chamfer", "side_gap", "journal_gap"),
    [
        ("no_chamfer", 0.0, SIDE, FILM),
        ("chamfer_0.090", 0.090, SIDE, FILM),
        ("chamfer_0.115", 0.115, SIDE, FILM),
        ("chamfer_0.115_at_cheek", 0.115, 0.0, FILM),
        ("chamfer_0.1017_at_cheek", 0.1017, 0.0, FILM),
        ("no_chamfer_worst", 0.0, 0.0, 0.0),
    ],
)
def test_gap_to_the_fillet(key, chamfer, side_gap, journal_gap):
    lengths = (Q(each, IN) for each in (RADIUS, chamfer, side_gap, journal_gap))
    assert fillet.chamfer_to_fillet(*lengths).m_as(IN) == worked(f"fillet.{key}")


@pytest.mark.parametrize(
    ("key", "gaps"), [("centred", (SIDE, FILM)), ("at_cheek", (0.0, FILM)), ("worst", ())]
)
def test_chamfer_that_is_needed(key, gaps):
    lengths = (Q(each, IN) for each in (RADIUS, *gaps))
    assert fillet.least_chamfer(*lengths).m_as(IN) == worked(f"fillet.needed_{key}")


# --- against geometry and identities ----------------------------------------------------------

gap_of, leg_of = fillet.chamfer_to_fillet.kernel, fillet.least_chamfer.kernel


@pytest.mark.parametrize(
    ("radius", "chamfer", "side_gap", "journal_gap", "gap"),
    [
        (5, 0, 2, 1, 0),  # the edge 3 and 4 from the fillet's center: on the arc
        (16, 0, 4, 11, 3),  # 12 and 5 from it: 13, 3 inside
        (15, 0, 7, 0, -2),  # 8 and 15 from it: 17, 2 outside
        (10, 2, 2, 2, 0),  # both corners 8 and 6 from it
        (10, 8, 4, 3, 3),  # both corners past the arc
    ],
)
def test_gap_by_right_triangles(radius, chamfer, side_gap, journal_gap, gap):
    assert_allclose(gap_of(radius, chamfer, side_gap, journal_gap), gap, atol=1e-14)


def test_least_chamfer_by_a_right_triangle():
    assert_allclose(leg_of(10, 2, 2), 2, atol=1e-14)
    assert leg_of(10, 4.5, 2.5) == 0  # 5.5 and 7.5 from the center: clear with a square edge


def tried(radius, chamfer, side_gap, journal_gap):
    """Return the least room that any point of a rod's edge has to fillet, cheek and journal."""
    part = np.linspace(0, 1, 2001)
    beside = side_gap + np.r_[0 * part, chamfer * part, chamfer + radius * part]
    above = journal_gap + np.r_[chamfer + radius * part, chamfer * part[::-1], 0 * part]
    room, corner = np.minimum(beside, above), (beside < radius) & (above < radius)
    room[corner] = radius - np.hypot(radius - beside, radius - above)[corner]
    return np.min(room)


RODS = 0.003 * np.random.default_rng(9).uniform([0.5, 0, 0.01, 0.01], [1, 1.2, 0.4, 0.4], (400, 4))
RADII, CHAMFERS, *GAPS = RODS.T


def test_gap_by_trying_points_of_the_edge():
    assert_allclose(gap_of(*RODS.T), [tried(*rod) for rod in RODS], rtol=0, atol=1e-17)
    assert np.sum(gap_of(*RODS.T) < 0) > 30


def test_the_least_chamfer_has_no_gap_and_no_lesser_one_clears():
    legs = leg_of(RADII, *GAPS)
    needed = legs > 0
    assert 100 < np.sum(needed) < 350
    at_leg, under, square = (gap_of(RADII, legs * part, *GAPS) for part in (1, 0.999, 0))
    assert_allclose(at_leg[needed], 0, atol=1e-17)
    assert np.all(under[needed] < 0)
    assert np.all(square[~needed] >= 0)


def test_cheek_and_journal_may_change_places_and_size_only_scales():
    gaps, legs = gap_of(RADII, CHAMFERS, *GAPS), leg_of(RADII, *GAPS)
    assert_allclose(gap_of(RADII, CHAMFERS, *GAPS[::-1]), gaps, rtol=0, atol=1e-18)
    assert_allclose(leg_of(RADII, *GAPS[::-1]), legs, rtol=0, atol=1e-18)
    assert_allclose(gap_of(*25.4 * RODS.T), 25.4 * gaps, rtol=0, atol=1e-16)
    assert_allclose(leg_of(*25.4 * RODS.T[[0, 2, 3]]), 25.4 * legs, rtol=0, atol=1e-16)


# --- behaviour --------------------------------------------------------------------------------


def test_both_gaps_may_vanish_and_do_when_not_given():
    radius, chamfer, none = Q(3.0, MM), Q(2.5, MM), Q(0, MM)
    told = fillet.chamfer_to_fillet(radius, chamfer, none, none)
    assert fillet.chamfer_to_fillet(radius, chamfer) == told
    assert fillet.least_chamfer(radius).m_as(MM) == pytest.approx(3.0, rel=1e-14)


def test_arrays_equal_loops():
    alone = [(gap_of(*rod), leg_of(rod[0], *rod[2:])) for rod in RODS]
    assert_allclose(np.transpose(alone), [gap_of(*RODS.T), leg_of(RADII, *GAPS)], atol=1e-18)
    table = gap_of(RADII[:6, None], CHAMFERS[:7], GAPS[0][:7], GAPS[1][:6, None])
    assert table[4, 2] == gap_of(RADII[4], CHAMFERS[2], GAPS[0][2], GAPS[1][4])


def test_what_was_not_measured_has_no_gap():
    rods = np.array([0.125, 0.115, 0.006, 0.0012]) + np.diag([np.nan] * 4)
    assert np.isnan(gap_of(*rods.T)).all()


@pytest.mark.parametrize("name", ["chamfer_to_fillet", "least_chamfer"])
def test_what_is_refused_and_how(name):
    asked = getattr(fillet, name)
    given = {each: Q(0.02, IN) for each in asked.takes}
    with pytest.raises(ValueError, match=f"^{name}: fillet_radius must be greater than zero, got"):
        asked(**{**given, "fillet_radius": Q(0, IN)})
    for wrong, said in ((0.02, "the bare 0.02"), (Q(3, "deg"), "3 deg")):
        with pytest.raises(UnitError, match=f"{name}: side_gap needs a unit like m, got {said}"):
            asked(**{**given, "side_gap": wrong})
