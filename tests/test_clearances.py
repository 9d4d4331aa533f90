"""Clearances of whole engines: worked numbers, a grid of our own, the spread, what is refused."""

from statistics import NormalDist

import numpy as np
import pytest
from numpy.testing import assert_allclose
from uncertainties import ufloat, umath

from enginecalc import valve_gaps
from enginecalc.records import load_engine, results
from enginecalc.records.clearances import (
    advance_to_limit,
    clearance_by_advance,
    least_piston_to_valve,
    phase_map,
)
from enginecalc.records.valve_timing import changes_tried, events
from enginecalc.units import Q
from tests.chapters import ENGINES, FILES
from tests.figures import worked

IN, MM = "inch", "mm"
V8, LONG, FOUR = (load_engine(ENGINES / f"{name}.toml") for name in FILES)
DEMO = {"v8": (V8, IN), "v8s": (LONG, IN), "i4": (FOUR, MM)}
VALVES = {"i": "intake", "e": "exhaust"}
BOTH = [(key, side) for key in DEMO for side in VALVES]


def deg(value):
    return Q(np.asarray(value, float) if np.ndim(value) else float(value), "deg")


# --- against a source: the worked numbers of the invented engines -------------------------------


@pytest.mark.parametrize(("key", "side"), BOTH)
def test_least_clearance_where_it_is_and_what_a_degree_does(key, side):
    engine, unit = DEMO[key]
    found = least_piston_to_valve(engine, VALVES[side])
    assert found.valve == VALVES[side]
    assert found.clearance.m_as(unit) == worked(f"{key}.ptv_{side}")
    assert found.crank_angle.m_as("deg") == worked(f"{key}.ptv_{side}_at")
    per_degree = found.per_degree.m_as(f"{unit}/deg")
    assert per_degree == worked(f"{key}.ptv_{side}_per_deg_adv")
    (angle, gap), *_ = found.minima
    assert (angle, gap) == (found.crank_angle, found.clearance)
    assert found.cylinder is None
    limit = {IN: {"i": 0.080, "e": 0.100}, MM: {"i": 2.0, "e": 2.5}}[unit][side]
    advance = advance_to_limit(engine, VALVES[side], Q(limit, unit))
    assert advance.m_as("deg") == worked(f"{key}.adv_limit_{side}")


AT_THE_CAM = {"intake.rocker_ratio": 1.0, "intake.lash": "0 in"}
CUT = Q(0.020, IN)
TRIED = {
    "plan.ptv_i_ratio_1.65": ({"intake.rocker_ratio": 1.65}, None, None),
    "plan.ptv_i_head_cut_0.020": ({}, CUT, None),
    "plan.ptv_i_adv4": ({}, None, deg(4)),
    "plan.ptv_i_cut_and_adv4": ({}, CUT, deg(4)),
    "plan.ptv_i_zero_lash": ({"intake.lash": "0 mm"}, None, None),
    "v8.ptv_i_if_cam_lift_used": (AT_THE_CAM, None, None),
}


def test_changes_tried_one_by_one():
    tried = changes_tried(V8, {**TRIED, "later": ({}, None, deg(-4))})
    assert list(tried.index) == ["as it is", *TRIED, "later"]
    assert list(tried.columns) == ["intake", "exhaust", "intake change", "exhaust change"]
    for key in TRIED:
        assert tried["intake"][key].m_as(IN) == worked(key)
    assert tried["exhaust"]["later"].m_as(IN) == worked("plan.ptv_e_ret4")
    assert tried["intake"]["as it is"].m_as(IN) == worked("v8.ptv_i")
    assert [tried[f"{valve} change"]["as it is"].m for valve in VALVES.values()] == [0, 0]


@pytest.mark.parametrize(
    ("valve", "keys"),
    [("intake", ("ivo_btdc", "ivc_abdc", "dur_i")), ("exhaust", ("evo_bbdc", "evc_atdc", "dur_e"))],
)
def test_events_at_fifty_thousandths(valve, keys):
    found = events(V8, valve, Q(0.050, IN))
    for each, key in zip(found, keys, strict=True):
        assert each.m_as("deg") == worked(f"v8.cam050.{key}")


def test_running_gaps_coil_bind_and_how_sure():
    named = {each.name: each for each in results(V8)}
    for side, valve in VALVES.items():
        running = named[f"{valve}_piston_to_valve_running"].value
        assert running.m_as(IN) == worked(f"ptv_{side}.running_steel")
    assert named["intake_coil_bind"].value.m_as(IN) == worked("spring.bind_margin")
    least = named["intake_piston_to_valve"]
    assert least.value.m_as(IN) == worked("v8.ptv_i")
    assert least.u.m_as(IN) == worked("plan.ptv_i_u")
    low = least.value - NormalDist().inv_cdf(0.95) * least.u
    assert low.m_as(IN) == worked("plan.ptv_i_low95")


# --- against geometry and identities: a grid of a hundredth of a degree -------------------------

HUNDREDTHS = np.radians(np.arange(-9000, 9001) / 100)


def train(valve, **changes):
    """Return a V8 valve's figures in inches and degrees, typed from the table of the engine."""
    own = {
        "intake": (0.340, 142, 105, 17, 0.220, 1.55, 0.016),
        "exhaust": (0.345, 146, -113, 15, 0.245, 1.55, 0.018),
    }
    names = ("lift", "half", "center", "lean", "drop", "ratio", "lash")
    given = dict(zip(names, own[valve], strict=True))
    return {**given, "stroke": 3.640, "rod": 5.960, "offset": 0.0, **changes}


def gaps(stroke, rod, offset, lift, half, center, lean, drop, ratio, lash, angles=HUNDREDTHS):
    """Return the gap at each angle after the piston's top: triangle, closed law, lash."""
    throw = stroke / 2
    top = np.arcsin(offset / (rod + throw))
    swing = throw * np.sin(top + angles) - offset
    height = throw * np.cos(top + angles) + np.sqrt(rod**2 - swing**2)
    down = np.sqrt((rod + throw) ** 2 - offset**2) - height
    part = np.clip((angles - np.radians(center)) / np.radians(half), -1, 1)
    net = np.maximum(ratio * lift * (1 - part**2) ** 2 - lash, 0)
    return drop + down * np.cos(np.radians(lean)) - net


def random_valves(count=40, seed=5):
    """Yield engines with pin and bore offset, a valve of each, and that valve's figures in mm."""
    draw = np.random.default_rng(seed)
    for at in range(2 * count):
        stroke, ratio = draw.uniform(60, 110), draw.uniform(1.5, 2.0)
        crank = {"stroke": stroke, "rod": stroke * ratio}
        pin, bore = draw.uniform(-2.5, 2.5, 2).tolist()
        valve, sign = (("intake", 1), ("exhaust", -1))[at % 2]
        low, high = (6, 110, 95, 0, 2, 1.0, 0.05), (11, 160, 125, 30, 9, 1.7, 0.5)
        lift, half, line, lean, drop, ratio, lash = draw.uniform(low, high).tolist()
        block, of = stroke / 2 + crank["rod"] + 31.0, f"{valve}."
        paths = "crank.stroke rod.length block.deck_height piston.pin_offset block.bore_offset"
        paths = [*paths.split(), of + "lobe_lift", of + "drop_at_tdc", of + "lash"]
        sizes = stroke, crank["rod"], block, pin, bore, lift, drop, lash
        changes = {path: f"{size!r} mm" for path, size in zip(paths, sizes, strict=True)}
        changes |= {of + "duration": [{"angle": f"{2 * half!r} deg", "at_lift": "0 mm"}]}
        changes |= {of + "centerline": f"{line!r} deg", of + "valve_angle": f"{lean!r} deg"}
        changes[of + "rocker_ratio"] = ratio
        names = ("lift", "half", "center", "lean", "drop", "ratio", "lash", "offset")
        values = (lift, half, sign * line, lean, drop, ratio, lash, pin + bore)
        yield FOUR.altered(changes), valve, {**dict(zip(names, values, strict=True)), **crank}


EACH = list(random_valves())


def test_random_engines_against_the_grid():
    for at, (engine, valve, given) in enumerate(EACH):
        advance = (at % 7 - 3) * 3.0
        curve = gaps(**{**given, "center": given["center"] - advance})
        found = least_piston_to_valve(engine, valve, deg(advance))
        assert -1e-6 < found.clearance.m_as(MM) - np.min(curve) < 1e-9
        there = np.interp(found.crank_angle.m_as("rad"), HUNDREDTHS, curve)
        assert_allclose(there, np.min(curve), rtol=0, atol=1e-6)
        assert found.clearance == min(gap for _, gap in found.minima)
        swept = clearance_by_advance(engine, valve, deg([0, advance]))
        assert_allclose(swept.m_as(MM)[1], np.min(curve), rtol=0, atol=1e-6)


def test_a_degree_of_advance_by_finite_difference():
    step = 0.01
    for engine, valve, _ in EACH:
        found = least_piston_to_valve(engine, valve)
        before, after = (least_piston_to_valve(engine, valve, deg(at)) for at in (-step, step))
        rate = (after.clearance - before.clearance).m_as(MM) / (2 * step)
        assert_allclose(found.per_degree.m_as("mm/deg"), rate, rtol=0, atol=2e-5)


def test_the_nearest_advance_to_a_limit():
    reached = 0
    for engine, valve, given in EACH:
        now = np.min(gaps(**given))
        limit = now - 0.7 if reached % 2 else now + 0.5
        advance = advance_to_limit(engine, valve, Q(limit, MM))
        end = 60.0 if advance is None else abs(advance.m_as("deg"))
        for size in np.arange(0.5, end, 1.0):  # nowhere nearer, on either side
            for way in (-1, 1):
                least = np.min(gaps(**{**given, "center": given["center"] - way * size}))
                assert (least > limit) == (now > limit)
        if advance is not None:
            there = {**given, "center": given["center"] - advance.m_as("deg")}
            assert_allclose(np.min(gaps(**there)), limit, rtol=0, atol=2e-6)
            reached += 1
    assert reached > 40
    assert advance_to_limit(V8, "intake", Q(2, IN)) is None


COS = {"intake": np.cos(np.radians(17)), "exhaust": np.cos(np.radians(15))}
NEARER = {  # what is tried: changes, cut, how much nearer the piston comes, the stroke then
    "thinner gasket": ({"gasket.thickness": "0.022 in"}, None, 0.006, 3.640),
    "longer stroke": ({"crank.stroke": "3.652 in"}, None, 0.006, 3.652),
    "decks cut": ({"block.deck_height": "9.161 in"}, None, 0.009, 3.640),
    "gasket and heads": ({"gasket.thickness": "0.022 in"}, Q(0.010, IN), 0.016, 3.640),
}


@pytest.mark.parametrize("what", NEARER)
@pytest.mark.parametrize("valve", COS)
def test_what_brings_the_piston_nearer_changes_the_drop_by_the_cosine(what, valve):
    changes, cut, nearer, stroke = NEARER[what]
    found = changes_tried(V8, {what: (changes, cut, None)})
    given = train(valve, stroke=stroke)
    given["drop"] -= nearer * COS[valve]
    least = np.min(gaps(**given))
    assert_allclose(found[valve][what].m_as(IN), least, rtol=0, atol=1e-7)
    change = least - np.min(gaps(**train(valve)))
    assert_allclose(found[f"{valve} change"][what].m_as(IN), change, rtol=0, atol=2e-7)


def test_decks_measured_one_by_one_show_the_worst_cylinder():
    decks = {1: 0.015, 2: 0.012, "3L": 0.004, 4: 0.021}  # the file's is 0.015
    for valve in VALVES.values():
        found = least_piston_to_valve(
            V8, valve, deg(2), {name: Q(deck, IN) for name, deck in decks.items()}
        )
        given = train(valve, drop=train(valve)["drop"] - 0.011 * COS[valve])
        given["center"] -= 2
        assert found.cylinder == "3L"
        assert_allclose(found.clearance.m_as(IN), np.min(gaps(**given)), rtol=0, atol=1e-7)


def test_spread_of_the_intake_by_the_uncertainties_library():
    given, root = train("intake"), 3**0.5
    at = HUNDREDTHS[np.argmin(gaps(**given))]
    drop, lash = ufloat(0.220, 0.0026 / root), ufloat(0.016, 0.0026 / root)
    throw, rod = ufloat(3.640, 0.0017 / root) / 2, ufloat(5.960, 0.0009 / root)
    center = ufloat(np.radians(105), np.radians(0.87) / root)
    down = rod + throw - throw * np.cos(at) - umath.sqrt(rod**2 - (throw * np.sin(at)) ** 2)
    lobe = 0.340 * (1 - ((at - center) / np.radians(142)) ** 2) ** 2
    gap = drop + down * np.cos(np.radians(17)) - 1.55 * lobe + lash
    (found,) = results(V8, ["intake_piston_to_valve"])
    assert_allclose(found.u.m_as(IN), gap.std_dev, rtol=1e-3)
    assert_allclose(found.value.m_as(IN), gap.nominal_value, rtol=0, atol=1e-7)


# --- behaviour ----------------------------------------------------------------------------------


def test_a_map_equals_one_cell_at_a_time_and_is_worked_out_in_two_evaluations(monkeypatch):
    sizes, gap_minima = [], valve_gaps.gap_minima

    def counted(lobe, center, **others):
        sizes.append(np.size(center))
        return gap_minima(lobe, center, **others)

    advance, separation = deg(np.linspace(-6, 14, 41)), deg(np.linspace(99, 119, 41))
    with monkeypatch.context() as watched:
        watched.setattr(valve_gaps, "gap_minima", counted)
        grid = phase_map(V8, advance, separation)
    assert len(sizes) == 2
    assert max(sizes) <= 81, "each center once: 41 x 41 cells share 81 of them"
    draw = np.random.default_rng(3)
    for row, column in draw.integers(0, 41, (12, 2)):
        ahead, apart = advance[row].m, separation[column].m
        engine = V8.altered(
            {
                "intake.centerline": f"{apart - ahead} deg",
                "exhaust.centerline": f"{apart + ahead} deg",
            }
        )
        for valve in VALVES.values():
            cell = getattr(grid, valve)[row, column]
            one = least_piston_to_valve(engine, valve).clearance
            assert_allclose(cell.m_as(IN), one.m_as(IN), rtol=0, atol=1e-9)


@pytest.mark.parametrize("valve", VALVES.values())
@pytest.mark.parametrize("key", ["drop_at_tdc", "valve_angle", "centerline", "rocker_ratio"])
def test_a_missing_field_is_named_with_where_to_measure_it(valve, key):
    engine = V8.altered({f"{valve}.{key}": None})
    said = rf"^{valve} piston to valve needs {valve}\.{key}: \w+ \w+"
    with pytest.raises(ValueError, match=said):
        least_piston_to_valve(engine, valve)
    with pytest.raises(ValueError, match=said):
        advance_to_limit(engine, valve, Q(2, MM))


def test_a_missing_lobe_is_asked_for_in_words():
    engine = V8.altered({"intake.lobe_lift": None, "exhaust.duration": None})
    with pytest.raises(
        ValueError, match=r"needs exhaust\.lobe_lift with exhaust\.duration, or exhaust\.table"
    ):
        least_piston_to_valve(engine, "exhaust")
    # the intake's closing angle alone gives an effective ratio, but no lift and so no clearance
    with pytest.raises(ValueError, match=r"needs (?!.*intake\.closing).*intake\.lobe_lift"):
        least_piston_to_valve(engine, "intake")


def test_a_valve_has_one_of_two_names():
    said = 'valve must be "intake" or "exhaust", got \'inlet\''
    with pytest.raises(ValueError, match=said):
        least_piston_to_valve(V8, "inlet")
    for ask, given in ((advance_to_limit, Q(2, MM)), (clearance_by_advance, deg([0, 1]))):
        with pytest.raises(ValueError, match=said):
            ask(V8, "inlet", given)
