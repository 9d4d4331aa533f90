"""The bob weight of a crank pin and the masses of a rod's two ends."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.bob_weight import big_end_mass, bob_weight, bob_weight_lines, small_end_mass
from enginecalc.forces import reciprocating_mass
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, printed, worked

PARTS = {"big_end": 426, "rod_shells": 44, "oil": 5, "piston": 438, "pin": 128, "rings": 34,
         "locks": 3, "small_end": 172}  # fmt: skip


def weighed(unit="g", **changes):
    return {name: Q(mass, unit) for name, mass in {**PARTS, **changes}.items()}


V8 = {"rods": 2, "reciprocating_share": 0.5, **weighed()}

# --- against the worked numbers of the invented engines ---------------------------------------


def test_bob_weight_of_the_invented_v8():
    assert bob_weight(**V8).m_as("g") == worked("bal.bob_g")
    lines = bob_weight_lines(**V8).m_as("g")
    assert_allclose(lines, [852, 88, 5, 438, 128, 34, 3, 172], rtol=1e-12)
    assert_allclose(lines[:2].sum() / 2, WORKED["bal.rot_g"], rtol=1e-12)
    assert_allclose(lines[3:].sum(), WORKED["bal.recip_g"], rtol=1e-12)  # half of two


def test_rod_ends_from_the_center_of_gravity():
    rod = Q(598, "g"), Q(5.960, "inch"), Q(1.714, "inch")
    assert small_end_mass(*rod).m_as("g") == worked("bal.small_end_from_cg")
    assert big_end_mass(*rod).m_as("g") == printed("426.0")


# --- against a source -------------------------------------------------------------------------


def test_bevan_14_5_balance_weight_of_one_cylinder():
    # [bevan_tom] chapter 14 Example 5, p. 500: 180 lb rotate, 150 lb reciprocate, half of these
    # balanced, crank 7.5 in, weight at 6 in: 318.8 lb. Inputs and answer from a published
    # companion. The parts of both masses are made up here.
    parts = weighed("lb", big_end=150, rod_shells=20, oil=10, piston=90, pin=25, rings=4, locks=1,
                    small_end=30)  # fmt: skip
    at_the_pin = bob_weight(rods=1, reciprocating_share=0.5, **parts)
    assert (at_the_pin * 7.5 / 6).m_as("lb") == printed("318.8")


# --- against geometry and identities ----------------------------------------------------------


def test_ends_add_up_to_the_rod_and_balance_on_its_center_of_gravity():
    draw = np.random.default_rng(7)
    rod, length = Q(draw.uniform(300, 900, 50), "g"), Q(draw.uniform(110, 220, 50), "mm")
    center = length * draw.uniform(0.05, 0.95, 50)
    small, big = small_end_mass(rod, length, center), big_end_mass(rod, length, center)
    assert_allclose((small + big).m_as("g"), rod.m, rtol=1e-12)
    assert_allclose((small * (length - center) - big * center).m_as("g*mm"), 0, atol=1e-8)


@pytest.mark.parametrize("share", [0.0, 0.36, 0.5, 1.0])
@pytest.mark.parametrize("rods", [1, 2, 3])
def test_the_weight_is_what_rotates_and_a_share_of_what_reciprocates(rods, share):
    up = [V8[part] for part in ("piston", "pin", "rings", "locks", "small_end")]
    plain = rods * (426 + 44) + 5 + share * rods * reciprocating_mass(*up).m_as("g")
    given = {**V8, "rods": rods, "reciprocating_share": share}
    assert_allclose(bob_weight(**given).m_as("g"), plain, rtol=1e-12)
    assert_allclose(bob_weight_lines(**given).m_as("g").sum(), plain, rtol=1e-12)


def test_one_card_for_each_of_several_pins():
    pistons = Q(np.array([438.0, 440.0, 437.0]), "g")
    cards = bob_weight_lines(**{**V8, "piston": pistons})
    assert cards.shape == (8, 3)
    assert_allclose(bob_weight(**{**V8, "piston": pistons}).m_as("g"), [1720, 1722, 1719])


# --- behaviour --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"reciprocating_share": 1.2}, r"^bob_weight: reciprocating_share must lie between 0 and "),
        (
            {"reciprocating_share": -0.1},
            r"between 0 and 1, got -0\.1; for a 90 deg V with two rods",
        ),
        ({"oil": Q(-5, "g")}, r"^bob_weight: oil must not be below zero"),
        ({"rods": 0}, r"^bob_weight: rods must be greater than zero, got 0\."),
        (
            {"big_end": Q(0.0, "g"), "locks": Q(-3, "g")},
            r"big_end must be greater than zero, got 0 kg\. bob_weight: locks must not be below",
        ),
    ],
)
def test_what_cannot_be_on_a_card_is_refused(changes, match):
    with pytest.raises(ValueError, match=match):
        bob_weight(**{**V8, **changes})


@pytest.mark.parametrize("center", [0.0, 5.960, 7.0, -1.0])
def test_a_center_of_gravity_beyond_the_rod_is_refused(center):
    for formula in (small_end_mass, big_end_mass):
        with pytest.raises(ValueError, match="center_of_gravity must lie between the rod's two en"):
            formula(Q(598, "g"), Q(5.960, "inch"), Q(center, "inch"))


def test_a_mass_without_a_unit_is_refused():
    with pytest.raises(UnitError, match=r"^bob_weight: oil needs a unit like kg, got the bare 5"):
        bob_weight(**{**V8, "oil": 5})
