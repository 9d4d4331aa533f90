"""Valve lift and piston-to-valve gap: worked numbers, brute force, vectors, hand readings."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc import valve_gaps, valves
from enginecalc.crank import piston_position, tdc_angle
from enginecalc.lobes import SmoothLobe, card_lobe, table_lobe
from enginecalc.units import Q, UnitError
from enginecalc.valve_gaps import gap_minima, least_gap, limit_advance
from enginecalc.valves import net_valve_lift
from tests.figures import WORKED, printed, worked

INCH, DEGREE = 0.0254, np.pi / 180
IN, MM = "inch", "mm"


def deg(value):
    return Q(np.asarray(value, float), "deg")


LENGTHS = ("drop_at_tdc", "stroke", "rod_length", "lash", "pin_offset")


def train(unit, lobe, valve_angle, rocker_ratio, *lengths):
    """Return the arguments of `least_gap` but for the center, as quantities."""
    given = {name: Q(length, unit) for name, length in zip(LENGTHS, lengths, strict=True)}
    lobe = SmoothLobe(Q(lobe[0], unit).m_as("m"), lobe[1] * DEGREE)
    return {"lobe": lobe, "valve_angle": deg(valve_angle), "rocker_ratio": rocker_ratio, **given}


def floats(quantities, **changes):
    """Return the same arguments in SI floats, some of them changed."""
    plain = {n: v.to_base_units().m if hasattr(v, "units") else v for n, v in quantities.items()}
    return {**plain, **changes}


TRAINS = {
    "v8.ptv_i": (IN, 105, train(IN, (0.340, 142), 17, 1.55, 0.220, 3.640, 5.960, 0.016, 0)),
    "v8.ptv_e": (IN, -113, train(IN, (0.345, 146), 15, 1.55, 0.245, 3.640, 5.960, 0.018, 0)),
    "v8s.ptv_i": (IN, 105, train(IN, (0.340, 142), 17, 1.55, 0.220, 3.840, 5.960, 0.016, 0)),
    "v8s.ptv_e": (IN, -113, train(IN, (0.345, 146), 15, 1.55, 0.245, 3.840, 5.960, 0.018, 0)),
    "i4.ptv_i": (MM, 106, train(MM, (9.60, 132), 16.5, 1.0, 4.60, 89.2, 143.0, 0.20, -0.6)),
    "i4.ptv_e": (MM, -114, train(MM, (9.20, 130), 18, 1.0, 4.90, 89.2, 143.0, 0.25, -0.6)),
}
LIMITS = {IN: (0.080, 0.100), MM: (2.0, 2.5)}
_, ICL, INTAKE = TRAINS["v8.ptv_i"]
_, ECL, EXHAUST = TRAINS["v8.ptv_e"]


def down(angle):
    """Return how far the V8's piston is below its top."""
    return piston_position(deg(angle), INTAKE["stroke"], INTAKE["rod_length"])


def lift_at(angle):
    """Return the V8's net intake lift."""
    return net_valve_lift(INTAKE["lobe"], deg(angle), deg(ICL), 1.55, INTAKE["lash"])


# --- against the worked numbers of the invented engines ---------------------------------------


@pytest.mark.parametrize("key", TRAINS)
def test_least_gap_of_the_invented_engines(key):
    unit, center, given = TRAINS[key]
    assert least_gap(center=deg(center), **given).m_as(unit) == worked(key)
    found = gap_minima(center=center * DEGREE, **floats(given))
    assert found.after_tdc / DEGREE == worked(f"{key}_at")
    per_degree = Q(found.per_advance, "m/rad").m_as(f"{unit}/deg")
    assert per_degree == worked(f"{key}_per_deg_adv")


@pytest.mark.parametrize("key", TRAINS)
def test_how_far_the_cam_may_move(key):
    unit, center, given = TRAINS[key]
    side = key[-1]
    limit = Q(LIMITS[unit]["ie".index(side)], unit).m_as("m")
    plain = floats(given)
    lobe = plain.pop("lobe")
    advance = limit_advance(limit, lobe, center * DEGREE, **plain)
    assert advance / DEGREE == worked(f"{key.split('.')[0]}.adv_limit_{side}")
    there = gap_minima(lobe, center * DEGREE - advance, **plain).gap
    assert_allclose(there, limit, rtol=0, atol=1e-12)


WHAT_IFS = {
    "ratio_1.65": (ICL, INTAKE, {"rocker_ratio": 1.65}),
    "zero_lash": (ICL, INTAKE, {"lash": Q(0, IN)}),
    "adv4": (ICL - 4, INTAKE, {}),
    "head_cut_0.020": (ICL, INTAKE, {"cut": 0.020}),
    "cut_and_adv4": (ICL - 4, INTAKE, {"cut": 0.020}),
    "ret4": (ECL + 4, EXHAUST, {}),
}


@pytest.mark.parametrize("what", WHAT_IFS)
def test_what_if(what):
    center, given, changes = WHAT_IFS[what]
    given = {**given, **changes}
    cut = valves.drop_along_valve(Q(given.pop("cut", 0.0), IN), given["valve_angle"])
    given["drop_at_tdc"] -= cut
    key = f"plan.ptv_{'e' if what == 'ret4' else 'i'}_{what}"
    assert least_gap(center=deg(center), **given).m_as(IN) == worked(key)


def test_cam_lift_taken_for_valve_lift_reads_too_much():
    wrong = {**INTAKE, "rocker_ratio": 1.0, "lash": Q(0, IN)}
    assert least_gap(center=deg(ICL), **wrong).m_as(IN) == worked("v8.ptv_i_if_cam_lift_used")


@pytest.mark.parametrize(("side", "angle"), [("i", 17), ("e", 15)])
def test_gap_hot_and_at_speed(side, angle):
    _, center, given = TRAINS[f"v8.ptv_{side}"]
    lost = Q(0.043 - 0.0332, IN)  # running quench with a steel rod
    found = valves.running_gap(least_gap(center=deg(center), **given), lost, deg(angle))
    assert found.m_as(IN) == worked(f"ptv_{side}.running_steel")


def test_the_cams_period_is_720_degrees():
    assert lift_at(0).m_as(IN) == worked("v8.open_at_firing_tdc_if_wrapped_360")
    assert_allclose(lift_at([-360, 360, 1080]).m, 0, atol=0)
    assert_allclose(lift_at(720 + 33.0).m, lift_at(33.0).m, rtol=1e-12)


def hand_readings(step):
    angle = deg(np.arange(-15, 15.1, step))
    lift = lift_at(angle.m)
    return angle, Q(0.220, IN) + down(angle.m) * np.cos(17 * DEGREE), lift.to(IN)


def test_a_hands_table_of_stations():
    angle, drop, lift = hand_readings(5)
    table = [printed(f"{gap:.4f}") for gap in WORKED["v8.ptv_i_hand_table"]]
    assert valve_gaps.station_gap(drop, lift).m_as(IN).tolist() == table
    found = valve_gaps.gap_from_stations(angle, drop, lift)
    assert (found.read - least_gap(center=deg(ICL), **INTAKE)).m_as(IN) == worked(
        "v8.ptv_i_hand_excess"
    )
    assert_allclose(found.gap.m_as(IN), WORKED["v8.ptv_i"], atol=2e-4)
    assert_allclose(found.after_tdc.m_as("deg"), WORKED["v8.ptv_i_at"], atol=0.1)
    assert found.sentence == (
        "stations 5° apart read too much clearance: the least reading, 0.1096 in, is 0.0015 in more"
        " than the curve through it comes to"
    )
    fine = valve_gaps.gap_from_stations(*hand_readings(1))
    assert_allclose(fine.gap.m_as(IN), WORKED["v8.ptv_i"], atol=5.1e-5)


# --- against geometry and identities ----------------------------------------------------------


def random_trains(count=300):
    """Return lobes and SI trains with pin offset: closed law, card and table in turn."""
    draw = np.random.default_rng(11)
    for number in range(count):
        lift, half = draw.uniform(0.006, 0.013), draw.uniform(105, 165) * DEGREE
        lobe = SmoothLobe(lift, half)
        if number % 3 == 1:
            narrow = half * draw.uniform(0.68, 0.85)
            lobe = card_lobe(lift, [0.02 * lift, 0.3 * lift], [half, narrow], [half + 0.1, narrow])
        if number % 3 == 2:
            rows = np.arange(-180, 181, draw.choice([1, 2, 5, 10])) * DEGREE
            lobe = table_lobe(rows, lobe.lift(rows))
        stroke = draw.uniform(0.05, 0.12)
        yield {
            "lobe": lobe,
            "center": draw.uniform(80, 135) * draw.choice([-1, 1]) * DEGREE,
            "valve_angle": draw.uniform(0, 30) * DEGREE,
            "drop_at_tdc": draw.uniform(0.001, 0.012),
            "stroke": stroke,
            "rod_length": stroke * draw.uniform(1.3, 2.2),
            "rocker_ratio": draw.uniform(1.0, 1.8),
            "lash": draw.uniform(0, 0.0006),
            "pin_offset": draw.uniform(-0.003, 0.003),
        }


GRID = np.arange(-9000, 9001) * 0.01 * DEGREE  # the piston is far down outside it


def stepped(lobe, center, valve_angle, drop_at_tdc, rocker_ratio, lash, **crank):
    """Return the gap at every hundredth of a degree, by the text of the formula."""
    top = tdc_angle.kernel(**crank)
    down = piston_position.kernel(top + GRID, **crank)
    phase = (GRID - center + 2 * np.pi) % (4 * np.pi) - 2 * np.pi
    lift = np.maximum(rocker_ratio * lobe.lift(phase) - lash, 0)
    return drop_at_tdc + down * np.cos(valve_angle) - lift


@pytest.mark.parametrize("third", [0, 1, 2], ids=["law", "card", "table"])
def test_against_stepping_by_a_hundredth_of_a_degree(third):
    kinds = set()
    for given in list(random_trains())[third::3]:
        gaps, found = stepped(**given), gap_minima(**given)
        assert -5e-10 < found.gap - np.min(gaps) < 1e-12
        # each minimum is a valley of the stepped curve, and no valley under the drop is left out
        valleys = np.flatnonzero((gaps[1:-1] <= gaps[:-2]) & (gaps[1:-1] < gaps[2:])) + 1
        kept = np.isfinite(found.gaps)
        nearest = valleys[np.argmin(abs(GRID[valleys] - found.angles[kept][:, None]), axis=1)]
        assert_allclose(found.gaps[kept], gaps[nearest], rtol=0, atol=1e-9)
        assert_allclose(found.angles[kept], GRID[nearest], rtol=0, atol=0.2 * DEGREE)
        assert set(valleys[gaps[valleys] < given["drop_at_tdc"] + 1e-9]) <= set(nearest)
        kinds.add(int(kept.sum()))
    assert kinds == {1, 2}  # one is shut at the top, and in some trains another follows it open


def test_change_with_advance_is_the_slope_of_the_least_gap():
    step = 1e-5
    for given in random_trains(60):
        center = given.pop("center")
        found = gap_minima(center=center - np.array([-step, 0, step]), **given)
        rate = (found.gap[2] - found.gap[0]) / (2 * step)
        assert_allclose(found.per_advance[1], rate, rtol=0, atol=2e-7)


def test_phases_columns_and_the_map_equal_one_at_a_time():
    plain = floats(INTAKE)
    centers = np.radians([[90.0, 105, 120], [100, 110, 118]])
    found = gap_minima(center=centers, **plain)
    assert found.gap.shape == found.after_tdc.shape == found.per_advance.shape == (2, 3)
    for place in np.ndindex(2, 3):
        one = gap_minima(center=centers[place], **plain)
        assert_allclose(found.gap[place], one.gap, rtol=1e-13)
        assert_allclose(found.after_tdc[place], one.after_tdc, atol=1e-10)
    drops, strokes = np.array([0.005, 0.006]), np.array([0.09, 0.1])
    columns = gap_minima(center=1.8, **{**plain, "drop_at_tdc": drops, "stroke": strokes})
    for row in (0, 1):
        alone = {**plain, "drop_at_tdc": drops[row], "stroke": strokes[row]}
        assert_allclose(columns.gap[row], gap_minima(center=1.8, **alone).gap, rtol=1e-13)


@pytest.mark.parametrize(("valve", "given"), [("intake", INTAKE), ("exhaust", EXHAUST)])
def test_map_over_advance_and_separation(valve, given):
    advance, separation = np.radians(np.linspace(-8, 8, 9)), np.radians(np.linspace(104, 114, 6))
    plain = floats(given)
    found = valve_gaps.gap_map(valve, advance, separation, **plain)
    assert found.shape == (9, 6)
    for row, column in ((0, 0), (3, 5), (8, 2)):
        ahead, apart = advance[row], separation[column]
        own = apart - ahead if valve == "intake" else -(apart + ahead)
        assert_allclose(found[row, column], gap_minima(center=own, **plain).gap, rtol=1e-11)


# --- behaviour --------------------------------------------------------------------------------


def test_a_limit_that_is_never_met_is_nan():
    plain = floats(INTAKE)
    assert np.isnan(limit_advance(0.02, plain.pop("lobe"), ICL * DEGREE, **plain))


def test_a_crank_that_cannot_turn_is_nan_in_a_sweep_and_a_sentence_at_the_door():
    rods = np.array([5.96, 1.0]) * INCH
    gaps = gap_minima(center=ICL * DEGREE, **floats(INTAKE, rod_length=rods)).gap
    assert np.isnan(gaps).tolist() == [False, True]
    with pytest.raises(ValueError, match="the crank cannot turn"):
        least_gap(center=deg(ICL), **{**INTAKE, "rod_length": Q(1.0, IN)})


def test_what_is_refused_and_how():
    lobe = INTAKE["lobe"]
    with pytest.raises(ValueError, match=r"gross valve lift, got 10.16 mm against 8.636"):
        net_valve_lift(lobe, deg(0), deg(105), 1.0, Q(0.40, IN))
    with pytest.raises(ValueError, match="rocker_ratio must be greater than zero"):
        net_valve_lift(lobe, deg(0), deg(105), -1.5, Q(0.01, IN))
    with pytest.raises(UnitError, match="center needs a unit like rad, got the bare 105"):
        net_valve_lift(lobe, deg(0), 105, 1.55)
    angle, drop, lift = hand_readings(5)
    with pytest.raises(
        ValueError, match="must not be at the first or last station, it is at 5 deg"
    ):
        valve_gaps.gap_from_stations(angle[:5], drop[:5], lift[:5])
    with pytest.raises(ValueError, match="crank angles must rise, with a drop and lift for each"):
        valve_gaps.gap_from_stations(angle[::-1], drop, lift)
    with pytest.raises(ValueError, match="crank angles must rise, with a drop and lift for each"):
        valve_gaps.gap_from_stations(angle[1:], drop, lift)
