"""Lobes from cam cards and from lift tables: books' laws, exact figures, misread rows."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.lobes import SmoothLobe, card_lobe, concave_above, flattest, table_lobe
from tests.figures import printed, worked

INCH, DEGREE = 0.0254, np.pi / 180


def rows(low, high, step):
    """Return the crank angles of a table, both ends in it."""
    return np.arange(low, high + step / 2, step) * DEGREE


# --- against a source -------------------------------------------------------------------------

# [bevan_tom] chapter 9, Example 5, p. 300: base radius 1.125 in, lift 0.5 in, nose radius
# 0.125 in, half the angle of action 55 deg of the cam, 1200 rpm, flat follower. Lift on the flank
# OP (1 - cos A), on the nose 1.5 cos(55 - A) - 1; printed OP 4.477 (exact 4.4759).
FLANK, JUNCTION, SPEED = 4.475944, 12.96681, 1200 * 2 * np.pi / 60


def three_arcs(cam_angle):
    """Return the book's lift in inches, from the start of the flank, and the way back."""
    angle = 55 * DEGREE - np.minimum(abs(cam_angle), 55 * DEGREE)  # from the start of the flank
    nose = 1.5 * np.cos(55 * DEGREE - angle) - 1
    return np.where(angle < JUNCTION * DEGREE, FLANK * (1 - np.cos(angle)), nose)


def bevan(step=1.0, zero=0.0):
    """Return the book's cam as a table lobe, read every `step` cam degrees, in inches."""
    cam = rows(-60, 60, step)
    return table_lobe(2 * cam + zero, three_arcs(cam))


@pytest.mark.parametrize(("angle", "lift"), [(10, "0.0680"), (40, "0.4489")])
def test_lift_of_the_three_arc_cam(angle, lift):
    lobe = bevan()
    assert lobe.lift(2 * (angle - 55) * DEGREE) == printed(lift)
    assert lobe.lift(2 * (55 - angle) * DEGREE) == printed(lift)
    assert_allclose(lobe.lobe_lift, 0.5, rtol=1e-12)


@pytest.mark.parametrize("angle", [7.3, 20.6, 33.3, 40.0, 47.7])
def test_velocity_of_the_three_arc_cam(angle):
    # printed: on the nose 15.71 sin(55 - A) ft/s; on the flank OP sin A
    nose = printed("15.71").expected * math.sin((55 - angle) * DEGREE)
    feet = FLANK / 12 * SPEED * math.sin(angle * DEGREE) if angle < JUNCTION else nose
    found = 2 * bevan(0.25).slope(2 * (angle - 55) * DEGREE) * SPEED / 12
    assert_allclose(found, feet, rtol=2e-3)


@pytest.mark.parametrize("angle", [5.5, 30.25, 40.0, 55.0])
def test_acceleration_of_the_three_arc_cam(angle):
    # printed: on the nose -1974 cos(55 - A) ft/s2; ours: 5891.496 cos A on the flank
    nose = -printed("1974").expected * math.cos((55 - angle) * DEGREE)
    feet = 5891.496 * math.cos(angle * DEGREE) if angle < JUNCTION else nose
    found = 4 * bevan(0.5).bend(2 * (angle - 55) * DEGREE) * SPEED**2 / 12
    assert_allclose(found, feet, rtol=3e-4)


def test_second_difference_of_the_sampled_cam_at_one_degree():
    # worked out with the book's law, not printed there: +3.678e-5 in/rad2 at 40 deg
    off = 4 * bevan().bend(-30 * DEGREE) + 1.5 * math.cos(15 * DEGREE)
    assert_allclose(off, 3.678e-5, rtol=2e-3)


def test_the_sharpest_place_of_the_three_arc_cam_is_its_nose():
    assert_allclose(flattest(bevan(), 1.125), 0.125, atol=2e-4)
    assert_allclose(flattest(bevan(0.5, zero=3.0), 1.125), 0.125, atol=2e-4)


# [norton_machinery] peak factors of standard laws, from memory: v = Cv h / b, a = Ca h / b^2
LAWS = {
    "harmonic": (lambda u: (1 - np.cos(np.pi * u)) / 2, "1.5708", "4.9348"),
    "cycloidal": (lambda u: u - np.sin(2 * np.pi * u) / (2 * np.pi), "2.0000", "6.2832"),
    "3-4-5": (lambda u: u**3 * (10 - 15 * u + 6 * u**2), "1.8750", "5.7735"),
    "4-5-6-7": (lambda u: u**4 * (35 - 84 * u + 70 * u**2 - 20 * u**3), "2.1875", "7.5132"),
}


@pytest.mark.parametrize("law", LAWS)
def test_peak_factors_of_standard_laws_as_tables(law):
    rise, speed, acceleration = LAWS[law]
    angle = rows(-75, 75, 0.125)
    lobe = table_lobe(angle, 0.008 * rise(np.maximum(1 - abs(angle) / (70 * DEGREE), 0)))
    steepest = np.max(lobe.slope(angle)) * 70 * DEGREE / 0.008
    assert_allclose(steepest, float(speed), atol=1e-4)
    assert_allclose(
        np.max(abs(lobe.bend(angle))) * (70 * DEGREE) ** 2 / 0.008, float(acceleration), rtol=2e-4
    )


@pytest.mark.parametrize(("side", "lift", "half"), [("i", 0.340, 142), ("e", 0.345, 146)])
def test_convexity_of_the_quarry_pumps_lobes(side, lift, half):
    lobe = SmoothLobe(lift * INCH, half * DEGREE)
    base = 0.560 * INCH
    assert flattest(lobe, base) / INCH == worked(f"v8.lobe_{side}_min_H_plus_H2")
    assert concave_above(lobe, base) / INCH == worked(f"v8.lobe_{side}_concave_above")
    angle = rows(-150, 150, 1) + 200 * DEGREE
    table = table_lobe(angle, lobe.lift(rows(-150, 150, 1)))
    assert_allclose(flattest(table, base), flattest(lobe, base), atol=1e-4 * INCH)


@pytest.mark.parametrize("height", ["0.02", "0.05", "0.15"])
def test_middles_of_an_uneven_lobe(height):
    lobe = card_lobe(0.340, [0.0], [140 * DEGREE], [148 * DEGREE])
    lift = 0.340 - float(height)
    middle = (lobe.closing(lift) - lobe.opening(lift)) / 2 / DEGREE
    assert middle == worked(f"cam.asym_mid_deg_{height}")


# --- against geometry and identities ----------------------------------------------------------


def random_cards(count=60):
    """Return cards in inches: lobe lift, two lifts, and half durations at each on each flank."""
    draw = np.random.default_rng(4)
    lift, low, high = (
        draw.uniform(*ends, count) for ends in ((0.2, 0.5), (0.001, 0.02), (0.05, 0.2))
    )
    widest = np.sqrt(np.log(low / lift) / np.log(high / lift))  # a bell without end has this ratio
    wide = draw.uniform(100, 130, (2, count)) * DEGREE
    narrow = wide / (1 + (np.minimum(widest, 2) - 1) * draw.uniform(0.1, 0.7, (2, count)))
    return [
        (lift[i], [low[i], high[i]], *np.transpose([wide[:, i], narrow[:, i]]))
        for i in range(count)
    ]


@pytest.mark.parametrize("card", random_cards())
def test_a_card_lobe_meets_its_card_and_is_a_lobe(card):
    top, lifts, opening, closing = card
    lobe = card_lobe(top, lifts, opening, closing)
    assert_allclose(lobe.lift(-np.array(opening)), lifts, rtol=1e-9, atol=1e-12)
    assert_allclose(lobe.lift(np.array(closing)), lifts, rtol=1e-9, atol=1e-12)
    assert_allclose(lobe.duration(lifts[1]), opening[1] + closing[1], rtol=1e-12)
    before, after = lobe.span
    angle, step = np.linspace(-before, after, 4001)[1:-1], 1e-5
    assert np.all(lobe.lift(angle) >= 0)
    assert np.all(np.diff(lobe.lift(angle[angle < 0])) >= 0)
    assert np.all(np.diff(lobe.lift(angle[angle > 0])) <= 0)
    clear = angle[
        (abs(angle) > 2 * step) & (angle > 2 * step - before) & (angle < after - 2 * step)
    ]
    rate = (lobe.lift(clear + step) - lobe.lift(clear - step)) / (2 * step)
    assert_allclose(lobe.slope(clear), rate, rtol=0, atol=1e-5 * np.max(abs(rate)))
    swing = (lobe.slope(clear + step) - lobe.slope(clear - step)) / (2 * step)
    assert_allclose(lobe.bend(clear), swing, rtol=0, atol=1e-4 * np.max(abs(swing)))
    peak = lobe.peak_acceleration()
    assert np.max(swing) <= peak * (1 + 1e-6)
    assert_allclose(np.max(lobe.bend(np.r_[-before, angle, after])), peak, rtol=1e-4)
    assert_allclose(lobe.slope(np.array([-before, 0.0, after])), 0, atol=1e-9)
    assert_allclose(lobe.lift(np.array([-before - 0.1, after + 0.1])), 0, atol=1e-15)


def test_a_card_taken_from_the_closed_law_gives_the_closed_law_back():
    law = SmoothLobe(0.009, 2.3)
    lifts = [0.0002, 0.0013]
    lobe = card_lobe(0.009, lifts, [law.closing(lift) for lift in lifts])
    angle = np.linspace(-2.5, 2.5, 501)
    assert_allclose(lobe.lift(angle), law.lift(angle), atol=1e-14)
    inside = angle[abs(angle) < 2.295]
    assert_allclose(lobe.bend(inside), law.bend(inside), atol=1e-10)
    # by calculus the closed law's foot bends by 8 lift / half duration^2
    assert_allclose(lobe.peak_acceleration(), 8 * 0.009 / 2.3**2, rtol=1e-9)
    assert_allclose(law.bend(0.0), -4 * 0.009 / 2.3**2, rtol=1e-14)


def uneven(angle):
    """Return a lobe's lift that comes from no code here: half a cosine, wider after the nose."""
    width = np.where(angle < 0, 125, 140) * DEGREE
    return 0.009 * np.cos(np.pi / 2 * np.minimum(abs(angle) / width, 1)) ** 2


@pytest.mark.parametrize("zero", [0, 105, 250, 359, -113])
@pytest.mark.parametrize("step", [1, 2, 5])
def test_the_center_is_found_wherever_the_wheels_zero_is(zero, step):
    angle = rows(-150, 150, step)
    lobe = table_lobe(angle + zero * DEGREE, uneven(angle))
    assert_allclose(lobe.center / DEGREE, zero, atol=0.2)
    between = rows(-145.3, 145, 0.7)
    found = table_lobe(angle + zero * DEGREE, uneven(angle), zero * DEGREE).lift(between)
    assert_allclose(found, uneven(between), atol=2e-7 * step**2)
    assert lobe.remarks == []


def test_readings_rounded_to_a_dial_still_give_the_center():
    angle = rows(-150, 150, 5)
    law = SmoothLobe(0.340, 142 * DEGREE)  # 0.001 in dial: the nose reads alike over 15 deg
    lobe = table_lobe(angle + 103 * DEGREE, np.round(law.lift(angle - 1.3 * DEGREE), 3))
    assert_allclose(lobe.center / DEGREE, 104.3, atol=0.25)


def test_a_table_comes_round_every_720_degrees_and_never_goes_under_zero():
    angle = np.sort(
        np.r_[rows(0, 720, 10), rows(180, 420, 7)[1:-1]]
    )  # uneven, 0 and 720 both in it
    angle = angle[np.r_[True, np.diff(angle) > 1e-6]]
    lobe = table_lobe(angle, uneven(angle - 300 * DEGREE), 300 * DEGREE)
    fine = rows(-360, 360, 0.25)
    assert_allclose(lobe.lift(fine + 4 * np.pi), lobe.lift(fine), atol=1e-15)
    assert np.all(lobe.lift(fine) >= 0)
    assert np.all(np.diff(lobe.lift(fine)) * -np.sign(fine[1:] + fine[:-1]) >= -1e-15)
    assert_allclose(lobe.lift(np.array([-355, 200, 355]) * DEGREE), 0, atol=1e-15)
    step = 1e-6
    rate = (lobe.lift(fine + step) - lobe.lift(fine - step)) / (2 * step)
    assert_allclose(lobe.slope(fine), rate, atol=1e-7)


def test_opening_and_closing_of_a_table_are_the_inverse_of_its_lift():
    angle = rows(-150, 150, 3)
    lobe = table_lobe(angle + 1.0, uneven(angle))
    lifts = np.linspace(0.0001, 0.0089, 50)
    assert_allclose(lobe.lift(-lobe.opening(lifts)), lifts, rtol=1e-9)
    assert_allclose(lobe.lift(lobe.closing(lifts)), lifts, rtol=1e-9)
    assert np.isnan(lobe.duration(0.0091))
    assert_allclose(np.sum(lobe.span), 267 * DEGREE, atol=1e-9)  # rows at -126 and 141 read zero


# --- behaviour --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lifts", "halves", "match"),
    [
        (
            [0.00015, 0.0013],
            [110, 110],
            "lower one with the longer duration, .* 110 deg at 0.15 mm",
        ),
        ([0.00015, 0.0013], [110, 120], "lower one with the longer duration"),
        ([0.00015, 0.0091], [140, 110], "under the lobe lift.* lobe lift of 9 mm"),
        ([0.00015, 0.0013], [400, 110], "from zero to 360 deg"),
        ([math.nan, 0.0013], [140, 110], "lifts must lie from zero"),
        ([0.00015, 0.0013], [200, 100], "no lobe of this law comes down within a turn of the cam"),
        ([0.0001, 0.0002, 0.003], [140, 130, 110], "give one or two lifts"),
        ([0.0013], [140, 110], "a half duration for each"),
    ],
)
def test_cards_no_lobe_can_meet(lifts, halves, match):
    with pytest.raises(ValueError, match=match):
        card_lobe(0.009, lifts, np.array(halves) * DEGREE)


GOOD = np.array([0, 0.1, 0.9, 2.0, 3.0, 3.4, 3.0, 2.0, 0.9, 0.1, 0]) / 1000


def changed(row, value):
    table = GOOD.copy()
    table[row - 1] = value
    return table


@pytest.mark.parametrize(
    ("angles", "lifts", "match"),
    [
        (rows(0, 100, 10), changed(11, 0.08 * INCH), "not closed: ends at 0 and 0.08 in "),
        (rows(0, 100, 10), changed(1, 0.002), "not closed: ends at 0.07874 and 0 in"),
        (rows(0, 100, 10), GOOD * 0, "lift table not closed"),
        (
            rows(0, 100, 10),
            GOOD[:-1],
            "row 11 is missing or incomplete, got 11 angles and 10 lifts",
        ),
        (rows(0, 30, 10), GOOD[:4], "row 5 is missing"),
        (rows(0, 1000, 100), GOOD, "row 9: more than 720 deg after the first row"),
        (rows(0, 100, 10)[::-1], GOOD, "row 2: angles must rise from row to row, got 90 deg"),
        (np.r_[rows(0, 40, 10), rows(40, 90, 10)], GOOD, "row 6: angles must rise"),
        (rows(0, 100, 10), changed(4, -0.002), "row 4: negative lift, got 30 deg, -0.07874 in"),
        (rows(0, 100, 10), changed(7, math.nan), "row 7: lift is not a number"),
        (np.r_[rows(0, 90, 10), np.inf], GOOD, "row 11: angle is not a number"),
    ],
)
def test_tables_that_cannot_be_a_lobes(angles, lifts, match):
    with pytest.raises(ValueError, match=match):
        table_lobe(angles, lifts, unit="in")


def test_doubts_are_told_and_not_raised():
    assert table_lobe(rows(0, 100, 10), GOOD).remarks == []
    # row 7 misread as 1.0: the lift falls there and rises again at row 8
    misread = table_lobe(rows(0, 100, 10), changed(7, 0.001))
    assert misread.remarks == ["row 8: lift rises again after falling: misread row?"]
    wide = table_lobe(np.r_[rows(0, 50, 10), rows(70, 110, 10)], GOOD)
    assert wide.remarks == ["row 7: a step of more than 15 deg: misread row?"]
    resting = np.r_[-100 * DEGREE, rows(0, 100, 10), 300 * DEGREE]  # a long step on the base circle
    assert table_lobe(resting, np.r_[0, GOOD, 0]).remarks == []


def test_a_table_that_ends_a_hair_open_is_shut_in_words():
    lobe = table_lobe(rows(0, 100, 10), changed(11, 0.00001), unit="in")
    assert lobe.remarks == ["the table ends at 0 and 0.0003937 in: taken as shut one step further"]
    assert_allclose(lobe.lift(200 * DEGREE), 0, atol=1e-15)
    assert_allclose(sum(lobe.span), 110 * DEGREE, rtol=1e-9)
