"""When each cylinder stands at its top and fires."""

from itertools import permutations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.balance import firing_angles, tdc_angles
from enginecalc.units import Q, UnitError
from tests.figures import WORKED

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


# --- behaviour --------------------------------------------------------------------------------


def test_leads_without_a_unit_are_refused():
    with pytest.raises(
        UnitError, match=r"^tdc_angles: pin_leads needs a unit like rad, got the bare"
    ):
        tdc_angles(BANKS, np.repeat([0, 90, 270, 180], 2))
