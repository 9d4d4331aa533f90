"""Which rod on which pin, which shells on which journal, and rods and pistons for even decks."""

import itertools

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from enginecalc.selection import choose_shells, even_decks, pair_off
from tests.figures import WORKED, printed, worked

INCH, MM = 0.0254, 0.001
TENTH = 0.0001 * INCH  # the grid on which sizes are drawn
GIVEN = WORKED["inputs"]["select"]
PERMUTATIONS = {n: np.array([*itertools.permutations(range(n))]) for n in range(1, 9)}


def given_inch(name):
    return np.array(GIVEN[f"{name}_in"]) * INCH


def given_mm(name):
    return np.array(GIVEN[f"{name}_mm"]) * MM


def worked_row(key):
    return [printed(repr(each)) for each in WORKED[key]]


def mains_stock():
    return dict(zip(given_inch("mains_shell_sizes"), GIVEN["mains_stock_halves"], strict=True))


# --- against the worked numbers ---------------------------------------------------------------


def test_rods_on_pins():
    parts = given_inch("rods_big_end_housings") - 2 * given_inch("rods_shell")
    found = pair_off(parts, given_inch("rods_crank_pins"), given_inch("rods_target_clearance"))
    for clearances, key in ((found.before, "asis"), (found.after, "best")):
        ends = np.array([min(clearances), max(clearances)]) / INCH
        assert list(ends) == worked_row(f"sel.rods_{key}_min_max")
    assert found.sum_of_squares / INCH**2 * 1e8 == worked("sel.rods_cost_1e-8_in2")
    assert found.equal_optima == WORKED["sel.rods_equal_optima"]
    assert found.moved == WORKED["sel.rods_fewest_moves"]
    assert WORKED["sel.rods_fewest_moves_solutions"] == 1  # so the order has to be this one
    pins = np.argsort(found.order) + 1
    assert list(pins) == WORKED["sel.rods_pairs_one_optimum"]
    assert "by hand" in found.method


def test_where_smallest_to_smallest_is_not_best():
    by_size, best = WORKED["sel.count_out_sorted_vs_best"]
    ladder = np.arange(3) * MM
    even = pair_off(ladder, ladder + MM, 0.0)
    assert np.sum(abs(even.after) > 0.5 * MM) == by_size
    found = pair_off(ladder, ladder + MM, 0.0, low=-0.5 * MM, high=0.5 * MM)
    assert len(found.outside) == best
    assert "Hungarian" in found.method
    by_size, crossed = WORKED["sel.weights_sorted_vs_crossed"]
    parts, places, weights = np.array([0, 1]) * MM, np.array([0, 0.1]) * MM, np.array([1, 10])
    even, found = pair_off(parts, places, 0.0), pair_off(parts, places, 0.0, weights=weights)
    sums = [np.sum(weights * each.after**2) / MM**2 for each in (even, found)]
    assert sums == [printed(str(by_size)), printed(str(crossed))]
    assert "Hungarian" in found.method
    by_size, crossed = WORKED["sel.targets_sorted_vs_crossed"]
    targets = np.array([1, -1]) * MM
    found = pair_off(parts, parts, targets)
    assert np.sum((0 - targets) ** 2) / MM**2 == printed(str(by_size))
    assert found.sum_of_squares / MM**2 == printed(str(crossed))
    assert_array_equal(found.order, [1, 0])
    assert "own target" in found.method


def test_shells_for_the_mains():
    found = choose_shells(
        given_inch("mains_housings"),
        given_inch("mains_journals"),
        mains_stock(),
        given_inch("mains_target_clearance"),
        given_inch("mains_greatest_step"),
        thicker="cap",
        standard=0.0955 * INCH,
    )
    assert list(found.before / INCH) == worked_row("sel.mains_std")
    assert list(found.after / INCH) == worked_row("sel.mains_best")
    assert_allclose(np.transpose(found.order) / INCH, WORKED["sel.mains_upper_lower"], rtol=1e-12)
    assert found.worst_deviation / INCH == worked("sel.mains_maxdev")
    assert found.equal_optima == WORKED["sel.mains_equal_optima"]
    assert found.moved == 2


def deck_sizes():
    names = ("block_heights", "crank_radius", "rods", "compression_heights")
    return [given_mm(f"deck_{name}") for name in names]


def test_even_decks():
    found = even_decks(*deck_sizes())
    assert list(found.before / MM) == worked_row("sel.deck_asis")
    assert np.ptp(found.before) / MM == worked("sel.deck_asis_spread")
    assert found.spread / MM == worked("sel.deck_best_spread")
    assert found.equal_optima == WORKED["sel.deck_equal_optima"]
    assert_allclose(found.lower_bound, found.spread, rtol=1e-9)  # which alone proves it best
    rods, pistons = np.array(WORKED["sel.deck_pick_rods_pistons_one_optimum"]) - 1
    heights, throw, lengths, compression = deck_sizes()
    picked = heights - throw - lengths[rods] - compression[pistons]
    assert_allclose(np.ptp(picked), found.spread, rtol=1e-9)
    assert found.moved <= np.sum([rods, pistons] != np.arange(4))


# --- against counting out every way -----------------------------------------------------------


def counted_pairings(parts, places, target, banned, weights, low, high):
    """Return the least (number outside, squares), how many reach it, and their fewest moves."""
    home = np.arange(len(parts))
    orders = PERMUTATIONS[len(parts)]
    orders = orders[~banned[orders, home].any(axis=1)]
    clearance = parts[orders] - places
    out = np.sum((clearance < low) | (clearance > high), axis=1)
    squares = np.sum(weights * (clearance - target) ** 2, axis=1)
    best = squares[out == min(out)].min()
    equal = orders[(out == min(out)) & (squares == best)]
    return (min(out), best), len(equal), np.sum(equal != home, axis=1).min()


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("n", range(2, 9))
def test_pairings_are_best_and_move_fewest(n, seed):
    draw = np.random.default_rng([n, seed])
    parts, places = draw.integers(0, 9, (2, n))  # few values: many ties
    target = draw.integers(2, 5, n if seed % 2 else None) + 20
    weights = draw.integers(1, 4, n) if seed == 4 else np.ones(n, int)
    low, high = (18, 25) if seed in (2, 5) else (-1000, 1000)
    banned = draw.random((n, n)) < (0, 0.2, 0.35)[seed % 3]
    banned[draw.permutation(n), np.arange(n)] = False  # one way is left
    sizes = 21000 + parts, 21000 - 20 + places
    best, equal, moves = counted_pairings(*sizes, target, banned, weights, low, high)
    found = pair_off(
        sizes[0] * TENTH,
        sizes[1] * TENTH,
        target * TENTH,
        banned if banned.any() else None,
        weights=weights * 0.3,
        low=low * TENTH,
        high=high * TENTH,
    )
    assert not banned[found.order, np.arange(n)].any()
    squares = np.sum(weights * (found.after - found.target) ** 2) / TENTH**2
    assert (len(found.outside), squares) == (best[0], pytest.approx(best[1], abs=1e-6))
    assert (found.equal_optima, found.moved) == (equal, moves)
    if "by hand" in found.method:  # then the worst and the spread are least too
        errors = sizes[0][PERMUTATIONS[n]] - sizes[1] - target
        worst, spread = abs(errors).max(axis=1).min(), np.ptp(errors, axis=1).min()
        assert_allclose([found.worst_deviation / TENTH, found.spread / TENTH], [worst, spread])
    else:
        assert banned.any() or low > -1000 or np.ptp(weights)


def test_sizes_on_no_common_grid_pair_by_size():
    draw = np.random.default_rng(8)
    for n in (5, 8, 16):
        parts, places = 22.5 + draw.normal(0, 0.1, n), 22 + draw.normal(0, 0.004, n)
        target = 0.025 + draw.normal(0, 0.004, n)
        found = pair_off(parts * MM, places * MM, target * MM)
        assert "own target: can be done by hand" in found.method
        assert_array_equal(found.order[np.argsort(places + target)], np.argsort(parts))
        assert found.equal_optima == (1 if n < 9 else None)


def counted_shells(gaps, stock, pairs, target, low, high, usual):
    """Return the least (outside, worst, squares, changes) in tenths, and how many reach all but."""
    costs = []
    for way in itertools.product(pairs, repeat=len(gaps)):
        uppers, lowers = zip(*way, strict=True)
        if all(fits(uppers, lowers, size, halves) for size, halves in stock.items()):
            after = np.array([gap - sum(pair) for gap, pair in zip(gaps, way, strict=True)])
            error = after - target
            out = np.sum((after < low) | (after > high))
            changes = sum(half != usual for half in uppers + lowers)
            costs.append((out, abs(error).max(), np.sum(error**2), changes))
    best = min(costs, default=None)
    return best, sum(cost[:3] == best[:3] for cost in costs) if costs else 0


def fits(uppers, lowers, size, halves):
    used = uppers.count(size), lowers.count(size)
    if np.ndim(halves):
        return used[0] <= halves[0] and used[1] <= halves[1]
    return sum(used) <= halves


@pytest.mark.parametrize("seed", range(30))
def test_shells_are_best_for_any_stock(seed):
    draw = np.random.default_rng(seed)
    n, sizes = draw.integers(2, 6), [950, 955, 960] if seed % 2 else [952, 955, 958, 966]
    shape = 2 if seed % 5 == 0 else ()
    stock = {size: draw.integers(0, 1.6 * n, shape) for size in sizes}
    step, thicker = draw.choice([3, 5, 10]), ("upper", "lower", "cap")[seed % 3]
    sign = -1 if thicker == "upper" else 1
    pairs = [p for p in itertools.product(sizes, sizes) if 0 <= sign * (p[1] - p[0]) <= step]
    journals = 26000 + draw.integers(-3, 4, n)
    housings = 26000 + 1910 + 25 + draw.integers(-6, 7, n)
    target = draw.integers(22, 28, n if seed % 4 == 0 else None)
    low, high = (22, 26) if seed % 3 == 0 else (-1000, 1000)
    best, equal = counted_shells(housings - journals, stock, pairs, target, low, high, 955)
    arguments = (housings * TENTH, journals * TENTH)
    options = {"standard": 955 * TENTH, "low": low * TENTH, "high": high * TENTH}
    in_metres = {size * TENTH: halves for size, halves in stock.items()}

    def choose():
        return choose_shells(
            *arguments, in_metres, target * TENTH, step * TENTH, thicker, **options
        )

    if best is None:
        with pytest.raises(ValueError, match="the stock is too small"):
            choose()
        return
    found = choose()
    uppers, lowers = (tuple(np.rint(each / TENTH)) for each in found.order)
    assert {*zip(uppers, lowers, strict=True)} <= {*pairs}
    assert all(fits(uppers, lowers, size, halves) for size, halves in stock.items())
    assert_allclose(found.after, arguments[0] - arguments[1] - np.sum(found.order, axis=0))
    squares = pytest.approx(best[2], abs=1e-6)
    worst = pytest.approx(best[1], abs=1e-6)
    got = len(found.outside), found.worst_deviation / TENTH, found.sum_of_squares / TENTH**2
    assert (*got, found.moved) == (best[0], worst, squares, best[3])
    assert found.equal_optima == equal


def test_sizes_on_no_common_grid_are_served_as_well():
    draw = np.random.default_rng(3)
    for _ in range(5):
        sizes = 955 + np.sort(draw.normal(0, 3, 3))
        gaps = 1910 + 25 + draw.normal(0, 3, 4)
        pairs = [p for p in itertools.product(sizes, sizes) if 0 <= p[1] - p[0] <= 6]
        stock = dict.fromkeys(sizes, 3)
        best, _ = counted_shells(gaps, stock, pairs, 25, -1e9, 1e9, 0)
        found = choose_shells(
            (26000 + gaps) * TENTH,
            np.full(4, 26000) * TENTH,
            {size * TENTH: halves for size, halves in stock.items()},
            25 * TENTH,
            6 * TENTH,
        )
        got = found.worst_deviation / TENTH, found.sum_of_squares / TENTH**2
        assert got == pytest.approx(best[1:3], rel=1e-4)


@pytest.mark.parametrize("seed", range(12))
def test_decks_of_four_are_the_most_even_and_move_fewest(seed):
    draw = np.random.default_rng(seed)
    n = 4 - (seed == 11)
    heights, rods, pistons = draw.integers(-4, 5, (3, n))
    bank = np.arange(n) < 2
    banned = (bank[:, None] != bank) & (seed % 3 == 0)
    orders = PERMUTATIONS[n]
    counted = []
    for first, second in itertools.product(orders, orders):
        if not banned[second, np.arange(n)].any():
            moves = np.sum([first, second] != np.arange(n))
            counted.append((np.ptp(heights - rods[first] - pistons[second]), moves))
    best = min(counted)
    tenths = (21800 + heights) * TENTH, (14300 + rods) * TENTH, (3040 + pistons) * TENTH
    found = even_decks(tenths[0], 4460 * TENTH, *tenths[1:], banned_pistons=banned)
    assert (round(found.spread / TENTH), found.moved) == best
    assert found.equal_optima == sum(spread == best[0] for spread, _ in counted)
    assert found.lower_bound <= found.spread + 1e-12
    assert not banned[found.order[1], np.arange(n)].any()


@pytest.mark.parametrize("seed", range(6))
def test_decks_of_eight_reach_the_least_spread(seed):
    """Pistons put tall to roomy have least spread for a given order of rods: 40,320 to try."""
    draw = np.random.default_rng(seed)
    grid = 10 if seed % 2 else 1
    heights, rods, pistons = draw.integers(-40 // grid, 41 // grid, (3, 8)) * grid
    room = np.sort(heights - rods[PERMUTATIONS[8]], axis=1)
    least = np.ptp(room - np.sort(pistons), axis=1).min()
    sizes = (218000 + heights, np.full(8, 44600), 143000 + rods, 30400 + pistons)
    found = even_decks(*(each * MM / 1000 for each in sizes))
    assert found.spread / MM * 1000 == pytest.approx(least, abs=1e-6)
    assert found.lower_bound <= found.spread + 1e-12
    for order in found.order:
        assert_array_equal(np.sort(order), np.arange(8))
    left = np.arange(8) < 4
    banned = left[:, None] != left
    kept = even_decks(*(each * MM / 1000 for each in sizes), banned_pistons=banned)
    assert_array_equal(left[kept.order[1]], left)
    orders = PERMUTATIONS[8][~banned[PERMUTATIONS[8], np.arange(8)].any(axis=1)]
    room = np.sort(heights - pistons[orders], axis=1)
    least = np.ptp(room - np.sort(rods), axis=1).min()
    assert kept.spread / MM * 1000 == pytest.approx(least, abs=1e-6)
    both = even_decks(*(each * MM / 1000 for each in sizes), banned, banned)
    assert both.equal_optima >= 1
    assert both.spread >= kept.spread - 1e-12
    assert_array_equal(left[both.order[0]], left)


def test_twelve_decks_keep_to_their_bans_and_bound():
    draw = np.random.default_rng(4)
    heights, rods, pistons = (each + draw.integers(-4, 5, 12) / 100 for each in (218, 143, 30.4))
    banned = np.eye(12, dtype=bool)
    found = even_decks(heights * MM, 44.6 * MM, rods * MM, pistons * MM, banned_rods=banned)
    assert not np.any(found.order[0] == np.arange(12))
    assert found.lower_bound - 1e-12 <= found.spread < np.ptp(found.before) / 3


# --- against identities -----------------------------------------------------------------------


def test_the_answer_follows_its_inputs():
    draw = np.random.default_rng(7)
    parts, places = (
        draw.permutation(np.arange(7) ** 2 + size) * TENTH for size in (22025, 22000)
    )  # no two alike, so one answer only
    target, banned = 24 * TENTH, draw.random((7, 7)) < 0.2
    found = pair_off(parts, places, target, banned)
    rows, columns = draw.permutation(7), draw.permutation(7)
    turned = pair_off(parts[rows], places[columns], target, banned[rows][:, columns])
    assert found.equal_optima == 1
    assert_array_equal(rows[turned.order], found.order[columns])
    shifted = pair_off(parts + 3 * MM, places, target + 3 * MM, banned)
    assert_array_equal(shifted.order, found.order)
    metric = pair_off(-places, -parts, target, banned.T)  # which place for which part
    assert_array_equal(np.argsort(metric.order), found.order)


def test_parts_stay_where_nothing_is_gained():
    housings = np.array([2.3252, 2.3250, 2.3250, 2.3249]) * INCH
    found = pair_off(housings, housings - 0.0024 * INCH, 0.0024 * INCH, unit="inch")
    assert found.moved == 0
    assert found.equal_optima == 2
    assert found.gain.startswith("nothing is gained by a change, all stay: 0.0024 to 0.0024")
    assert not found.no_real_difference


# --- behaviour --------------------------------------------------------------------------------


def rods(**options):
    parts = given_inch("rods_big_end_housings") - 2 * given_inch("rods_shell")
    return pair_off(parts, given_inch("rods_crank_pins"), 0.0024 * INCH, unit="inch", **options)


def test_a_gain_is_told_and_weighed_against_the_measuring():
    assert rods().gain == (
        "0.0023 to 0.0025 inch, worst deviation 0.0001 inch;"
        " before 0.0021 to 0.0028 inch, 0.0004 inch; 4 changed"
    )
    assert not rods(uncertainty=0.0005 * INCH).no_real_difference  # the spread falls by as much
    found = rods(uncertainty=0.0006 * INCH)
    assert found.no_real_difference
    assert found.gain.startswith("no real difference, measured to 0.0006 inch: 0.0023 to")
    stays_not = np.eye(8, dtype=bool) & (np.arange(8) == 3)
    forced = rods(uncertainty=0.0006 * INCH, banned=stays_not)
    assert not forced.no_real_difference
    assert forced.order[3] != 3


def test_what_is_outside_its_limits_is_named():
    low, high = 0.0024 * INCH, 0.0026 * INCH
    found = rods(low=low, high=high, place_numbers=list("ABCDEFGH"))
    assert len(found.outside) == 1
    low_end = f"{min(found.after) / INCH:.4f}"
    assert found.caution == f"outside the limits: place {found.outside[0]} ({low_end} inch)"
    assert rods(low=0.0023 * INCH, high=high).caution == ""
    assert rods(low=0.0023 * INCH + 1e-8, high=high).caution != ""
    assert rods(high=0.0025 * INCH).caution == ""
    assert rods(high=0.0025 * INCH - 1e-8).caution != ""
    mains = choose_shells(
        given_inch("mains_housings"),
        given_inch("mains_journals"),
        mains_stock(),
        0.0025 * INCH,
        0.0005 * INCH,
        low=0.00235 * INCH,
        high=0.00265 * INCH,
        journal_numbers=[11, 12, 13, 14, 15],
        unit="inch",
    )
    assert mains.outside == ("13", "15")
    assert mains.caution == (
        "outside the limits: no pair of these sizes brings journal 13 and 15 within;"
        " journal 13 (0.0023 inch) and 15 (0.0027 inch)"
    )


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"part_numbers": [1, 2, 3, 4, 4, 6, 7, 8]}, "part number 4 stands twice"),
        ({"place_numbers": list("ABCDEFGA")}, "place number A stands twice"),
        ({"part_numbers": [1, 2]}, "got 8 part sizes with 2 numbers and 8 place sizes with 8"),
        ({"banned": np.zeros((8, 7))}, "a row by part and a column by place"),
        ({"banned": np.arange(8) == np.full((8, 1), 2)}, "the bans leave no part for place 3"),
        ({"weights": [1, 2]}, "weights must be one number or one for each of 8 places"),
        ({"weights": 0.0}, "weights must be one number"),
    ],
)
def test_pairings_refused(options, message):
    with pytest.raises(ValueError, match=message):
        rods(**options)


def test_sizes_refused():
    good = np.array([22.02, 22.03, 22.05]) * MM
    gone = np.array([22.02, np.nan, np.inf]) * MM
    with pytest.raises(ValueError, match="part 2 is not a number; part 3 is not a number"):
        pair_off(gone, good, 0.02 * MM)
    with pytest.raises(ValueError, match="place 12 is not a number"):
        pair_off(good, [good[0], None, good[2]], 0.02 * MM, place_numbers=[11, 12, 13])
    with pytest.raises(ValueError, match="got 3 part sizes with 3 numbers and 2 place"):
        pair_off(good, good[:2], 0.02 * MM)
    with pytest.raises(ValueError, match="got 0 part"):
        pair_off([], [], 0.02 * MM)
    with pytest.raises(ValueError, match="target must be one number"):
        pair_off(good, good, np.nan)
    with pytest.raises(ValueError, match="inner and outer sizes swapped"):
        pair_off(good, good + 0.1 * MM, 0.02 * MM)
    with pytest.raises(ValueError, match="rod 3 is not a number; piston number 7 stands twice"):
        even_decks(good, 1 * MM, [1, 2, np.nan], good, piston_numbers=[7, 7, 8])
    names, banned = ["L1", "L2", "R1"], np.arange(3) < np.full((3, 1), 2)
    with pytest.raises(ValueError, match="the bans leave no piston for cylinder L1 and L2"):
        even_decks(good, 1 * MM, good, good, None, banned, cylinder_numbers=names)


def shells(stock, count=4, **options):
    journals = np.full(count, 2.6 * INCH)
    stock = {size * INCH: halves for size, halves in stock.items()}
    options = {"largest_step": 0.0005 * INCH, "unit": "inch", **options}
    return choose_shells(journals + 0.1935 * INCH, journals, stock, 0.0025 * INCH, **options)


@pytest.mark.parametrize(
    ("stock", "options", "message"),
    [
        (
            {0.0955: 7},
            {},
            r"too small, 1 of 4 journals go without a pair and 1 half of 0\.0955 inch is left",
        ),
        (
            {0.0950: 3, 0.0970: 5},
            {},
            r"1 of 4 .* and 1 half of 0\.095 inch and 1 half of 0\.097 inch is left",
        ),
        ({0.0955: (4, 2)}, {}, r"2 of 4 journals .* 2 upper half of 0\.0955 inch is left"),
        ({0.0955: 7}, {"count": 5}, r"2 of 5 journals"),
        ({0.0955: 4, 0.0965: 2}, {}, "1 of 4 journals go without a pair and nothing is left over"),
        ({}, {}, "stock must hold different sizes"),
        ({0.0955: 4, 0.0955 + 1e-12: 4}, {}, "stock must hold different sizes"),
        ({0.0955: np.nan}, {}, "and how many of each"),
        (
            {0.0955: 8},
            {"largest_step": -1e-5},
            "largest_step must not be negative, got -0.0003937 inch",
        ),
        ({0.0955: 8}, {"thicker": "both"}, 'thicker must be "upper" or "lower", got \'both\''),
        ({0.0955: 8}, {"journal_numbers": [1, 2, 3, 3]}, "journal number 3 stands twice"),
    ],
)
def test_shells_refused(stock, options, message):
    with pytest.raises(ValueError, match=message):
        shells(stock, **options)


def test_the_loaded_half_is_the_thicker_one():
    stock = {0.0950: 4, 0.0955: 4}
    upper, lower = shells(stock, thicker="upper").order
    assert np.all(upper >= lower)
    upper, lower = shells(stock, thicker="cap").order
    assert np.all(upper <= lower)
    split = shells({0.0950: (4, 0), 0.0955: (0, 4)}, thicker="lower")
    assert_allclose(np.array(split.order) / INCH, [[0.0950] * 4, [0.0955] * 4])
