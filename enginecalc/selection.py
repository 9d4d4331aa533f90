"""Which part goes in which place, in SI floats. Parts are listed as they stand: part k in place k.

Sizes are rounded to 0.1 nm and counted in the largest step that they share (0.0001 in, 1 µm):
costs are whole numbers, a tie is a tie, and among equal answers the fewest parts are moved.
"""

import itertools
import operator
from bisect import bisect_left

import numpy as np

from enginecalc.choice import (
    FINEST,
    allowed_orders,
    assigned,
    by_place,
    checked_bans,
    choice,
    counted,
    in_turn,
    listed,
    named,
    outside,
    said,
)

_WAYS = 600_000  # up to which every way is tried


def pair_off(
    parts, places, target, banned=None, *, weights=1.0, low=None, high=None,
    uncertainty=0.0, part_numbers=None, place_numbers=None, unit="mm",
):  # fmt: skip
    """Return the `Choice` of parts with fewest clearances outside limits, then least squares.

    Parameters
    ----------
    parts, places : array
        Sizes; the clearance is part less place: rod housings less their shells, on pins. For
        pistons in bores give both with a minus sign. [m]
    target, low, high : float or array
        Clearance wanted, for all or by place; its limits, if any, which are never widened. [m]
    banned : array of bool
        True where a part (row) may not go in a place (column): bank, weight class, damage.
    weights : float or array
        How much each place's squared deviation counts.
    uncertainty : float
        Standard uncertainty of a clearance: a gain below it is no real difference. [m]
    part_numbers, place_numbers : list
        As stamped; without them 1, 2, 3 and so on. Messages speak of lengths in `unit`.

    Raises ValueError when sizes and numbers do not go together, or a place is left without a part.

    Notes
    -----
    With one convex cost for every pair, undoing a crossing makes neither the sum nor the worst nor
    the spread greater: smallest to smallest is best, each place taken with its own target. It does
    not hold for the number within limits, for weights or with bans: there the Hungarian method.
    """
    title = "pair_off"
    (parts, places), (names, numbers) = named(
        title, part=(parts, part_numbers), place=(places, place_numbers)
    )
    home = np.arange(len(parts))
    target = by_place(title, "target", target, len(home))
    weights = counted(by_place(title, "weights", weights, len(home), 0.0), 1000)[0]
    banned = checked_bans(title, banned, "part", names, "place", numbers)
    clearance = parts[:, None] - places
    most = 1.5e5 / np.sqrt(weights.max())  # the costs of 16 places are then whole in float64
    first, second = np.split(counted(np.r_[parts, places + target] - parts[0], most)[0], 2)
    squares = weights * (first[:, None] - second) ** 2
    cost = in_turn(outside(clearance, low, high), squares)
    order = assigned(in_turn(cost, home[:, None] != home), banned)
    method = (
        "the Hungarian method: least sum of squares of all pairings allowed; with bans, limits or"
        " weights smallest to smallest need not be best"
    )
    by_size = squares[np.argsort(parts), np.argsort(places + target)].sum()
    if not banned.any() and not np.ptp(weights) and squares[order, home].sum() == by_size:
        own = ", each place with its own target" if np.ptp(target) else ""
        method = (
            f"smallest to smallest{own}: can be done by hand; the cost being the same for every"
            " pair, no other pairing has a lesser sum of squares, worst deviation or spread"
        )
    once, allowed = np.eye(len(home), dtype=int), np.where(banned, np.inf, cost)
    equal = _cheapest(allowed.T, once, home**0)[2] if len(home) <= 12 else None
    before, after = clearance[home, home], clearance[order, home]
    return choice(
        title, order, before, after, target, order != home, uncertainty, unit, method, equal,
        banned[home, home], limits=(low, high, "place", numbers),
    )  # fmt: skip


def choose_shells(
    housings, journals, stock, target, largest_step, thicker="lower", *, standard=None, low=None,
    high=None, uncertainty=0.0, journal_numbers=None, unit="mm",
):  # fmt: skip
    """Return the `Choice` of an upper and a lower half shell for each journal from a limited stock.

    Fewest clearances outside their limits come first, then the least worst deviation, the least
    squares, the fewest halves that are not standard. The other parameters are as in `pair_off`.

    Parameters
    ----------
    housings, journals : array
        Housing bores with their caps torqued; journals. [m]
    stock : dict
        Wall thickness in m to the number of halves, or to a pair where upper and lower differ.
    largest_step, thicker : float, str
        Greatest difference of the two halves [m]; the thicker, loaded one: "upper" in rods, "lower"
        or "cap" in mains.
    standard : float or tuple of float
        Wall of both, or of the upper and the lower half before; without it what there is most of.

    Raises ValueError when these do not go together, or the stock is too small: as every journal
    takes the same pairs, it says how many go without and which halves are then left over.
    """
    title = "choose_shells"
    (housings, journals), (numbers, _) = named(
        title, housing=(housings, journal_numbers), journal=(journals, journal_numbers)
    )
    home, sizes = np.arange(len(journals)), np.array(sorted(stock), float)
    target = by_place(title, "target", target, len(home))[:, None]
    if thicker not in ("upper", "lower", "cap"):
        raise ValueError(f'{title}: thicker must be "upper" or "lower", got {thicker!r}.')
    sound = sizes.size and all(np.all(np.array(halves) >= 0) for halves in stock.values())
    if not sound or not np.all(np.diff(sizes, prepend=0.0) > FINEST):
        raise ValueError(f"{title}: stock must hold different sizes and how many of each.")
    if not largest_step >= 0:
        raise ValueError(
            f"{title}: largest_step must not be negative, got {said(largest_step, unit)}."
        )
    pairs = np.array([*itertools.product(range(len(sizes)), repeat=2)])
    rise = np.diff(sizes[pairs])[:, 0] * (-1 if thicker == "upper" else 1)
    pairs = pairs[(rise > -FINEST) & (rise < largest_step + FINEST)]
    rows = []  # of each sort of half: how many each pair takes, how many there are, its name
    for at, size in enumerate(sizes):
        halves, label = stock[size], f"half of {said(size, unit)}"
        if np.ndim(halves):
            rows += zip((pairs == at).T, halves, (f"upper {label}", f"lower {label}"), strict=True)
        else:
            rows.append((np.sum(pairs == at, axis=1), halves, label))
    uses, room, labels = (np.array(each) for each in zip(*rows, strict=True))
    uses, room = uses.astype(int), np.minimum(room, 2 * len(home)).astype(int)
    clearance = (housings - journals)[:, None] - sizes[pairs].sum(axis=1)
    error, out = clearance - target, 1.0 * outside(clearance.T, low, high).T
    off = np.rint(np.abs(error) / FINEST)
    fewest, steps = _cheapest(out, uses, room)[0], np.unique(off)
    if fewest == np.inf:
        uses = np.c_[uses, 0 * room]  # one option more: the journal goes without
        missed, pick, _ = _cheapest(np.c_[0 * off, home**0], uses, room)
        left = zip(room - uses[:, pick].sum(axis=1), labels, strict=True)
        left = listed(f"{number} {label}" for number, label in left if number) or "nothing"
        raise ValueError(
            f"{title}: the stock is too small, {missed:.0f} of {len(home)} journals go without a"
            f" pair and {left} is left over."
        )

    def fits(most):
        return _cheapest(np.where(off <= most, out, np.inf), uses, room)[0] == fewest

    worst = bisect_left(steps, True, key=fits)
    squares = counted(np.where(off <= steps[worst], error, 0.0), 1e5)[0] ** 2
    most_of = sizes[np.argmax([np.sum(stock[size]) for size in sizes])]
    usual = np.broadcast_to(most_of if standard is None else standard, 2)
    changed = np.sum(np.abs(sizes[pairs] - usual) > FINEST, axis=1) + 0 * off
    cost = np.where(off <= steps[worst], in_turn(out, squares), np.inf)
    equal = _cheapest(cost, uses, room)[2]
    pick = _cheapest(in_turn(cost, changed), uses, room)[1]
    method = (
        "all choices that the stock allows were weighed: none has fewer outside limits, then a"
        " lesser worst deviation, then a lesser sum of squares"
    )
    never = listed(np.array(numbers)[out.all(axis=1)])
    never = f"no pair of these sizes brings journal {never} within; " if never else ""
    before, after = housings - journals - usual.sum(), clearance[home, pick]
    return choice(
        title, tuple(sizes[pairs[pick]].T), before, after, target[:, 0], changed[home, pick],
        uncertainty, unit, method, equal, limits=(low, high, f"{never}journal", numbers),
    )  # fmt: skip


def even_decks(
    deck_heights, throws, rod_lengths, compression_heights, banned_rods=None, banned_pistons=None,
    *, uncertainty=0.0, cylinder_numbers=None, rod_numbers=None, piston_numbers=None, unit="mm",
):  # fmt: skip
    """Return the `Choice` of a rod and a piston for each cylinder with the least spread of decks.

    Parameters
    ----------
    deck_heights, throws : array
        Crank center to deck, by cylinder; half strokes, by cylinder or one for all. [m]
    rod_lengths, compression_heights : array
        Of the rods and of the pistons. [m]
    banned_rods, banned_pistons : array of bool
        True where a rod or piston (row) may not go in a cylinder (column).

    The other parameters, and what is refused, are as in `pair_off`.

    Notes
    -----
    Up to 600,000 ways are all tried. Past that rods and pistons are assigned in turn from random
    starts, then exchanged in pairs. The bound: the k roomiest decks have together no less than
    their room less the k longest rods and the k tallest pistons; so too for rods and for pistons,
    and the other way up.
    """
    title, count = "even_decks", len(deck_heights)
    throws = np.broadcast_to(throws, count) if np.ndim(throws) == 0 else throws
    (decks, throws, rods, pistons), (numbers, _, rod_names, piston_names) = named(
        title,
        cylinder=(deck_heights, cylinder_numbers),
        throw=(throws, cylinder_numbers),
        rod=(rod_lengths, rod_numbers),
        piston=(compression_heights, piston_numbers),
    )
    bans = (
        checked_bans(title, banned_rods, "rod", rod_names, "cylinder", numbers),
        checked_bans(title, banned_pistons, "piston", piston_names, "cylinder", numbers),
    )
    home, terms = np.arange(count), np.array([decks - throws, -rods, -pistons])
    whole, step = counted(terms - terms[:, :1])

    def best(rods, pistons):
        spread = np.ptp(whole[0] + whole[1][rods][:, None] + whole[2][pistons], axis=2)
        moves = np.sum(rods != home, axis=1)[:, None] + np.sum(pistons != home, axis=1)
        cost = spread * (2 * count + 1) + moves
        rod, piston = np.unravel_index(np.argmin(cost), cost.shape)
        return cost.min(), (rods[rod], pistons[piston]), int(np.sum(spread == spread.min()))

    up, down = np.cumsum(np.sort(whole), axis=1), np.cumsum(-np.sort(-whole), axis=1)
    most = -np.min((up - down - up.sum(axis=0)) // (home + 1))
    bound = most - np.min((up - down + down.sum(axis=0)) // (home + 1))
    orders = [allowed_orders(ban) if count <= 8 else [] for ban in bans]
    ways = len(orders[0]) * len(orders[1])
    if 0 < ways <= _WAYS:
        _, order, equal = best(*orders)
        method = f"all {ways:,} ways tried: none has less spread, nor as little with fewer moves"
    else:
        swaps = [np.where(home == i, j, np.where(home == j, i, home))
                 for i, j in [(0, 0), *itertools.combinations(home, 2)]]  # fmt: skip
        draw, lowest, equal = np.random.default_rng(1), np.inf, None
        for _ in range(50):
            tried = [assigned(draw.random(ban.shape), ban) for ban in bans]
            for kind in (0, 1) * 5:
                rest = whole[0] + whole[2 - kind][tried[1 - kind]] - whole.sum() / count
                tried[kind] = assigned((rest + whole[1 + kind][:, None]) ** 2, bans[kind])
            last, cost = np.inf, best(*(each[None] for each in tried))[0]
            while cost < last:
                near = [each[swaps] for each in tried]
                near = [a[~ban[a, home].any(axis=1)] for a, ban in zip(near, bans, strict=True)]
                last, (cost, tried, _) = cost, best(*near)
            if cost < lowest:
                lowest, order = cost, tried
        proof = "none has less spread" if lowest // (2 * count + 1) == bound else "the best found"
        method = f"rods and pistons assigned in turn and exchanged from 50 random starts: {proof}"
    before, after = terms.sum(axis=0), terms[0] + terms[1][order[0]] + terms[2][order[1]]
    return choice(
        title, tuple(order), before, after, np.full(count, before.mean()), np.array(order) != home,
        uncertainty, unit, method, equal, [ban[home, home] for ban in bans], bound * step,
    )  # fmt: skip


def _cheapest(cost, uses, room):
    """Return the least total of one option from each row, those options, and how many reach it.

    `uses` is what each option (column) takes of each resource (row), `room` what there is. Row by
    row the cheapest way to every state of the resources is kept. A state is one whole number with a
    field of bits for each resource, whose highest bit is set when more is used than there is.
    """
    full = 1 << int(len(cost) * uses.max()).bit_length()
    fields = [(2 * full) ** at for at in range(len(room))]
    over = full * sum(fields)
    takes = [sum(map(operator.mul, each, fields)) for each in uses.T.tolist()]
    start = sum(map(operator.mul, (full - 1 - room).tolist(), fields))
    layers = [{start: (0.0, 1, None, None)}]
    for row in cost.tolist():
        options = [each for each in zip(row, takes, itertools.count()) if each[0] < np.inf]
        onward = {}
        for before, (total, ways, _, _) in layers[-1].items():
            for extra, taken, option in options:
                after, reached = before + taken, total + extra
                if after & over:
                    continue
                known = onward.get(after)
                if known is None or reached < known[0]:
                    onward[after] = reached, ways, option, before
                elif reached == known[0]:
                    onward[after] = reached, known[1] + ways, *known[2:]
        layers.append(onward)
    least = min((each[0] for each in layers[-1].values()), default=np.inf)
    ends = [state for state, each in layers[-1].items() if each[0] == least]
    pick, state = [], ends[0] if ends else None
    for layer in layers[:0:-1] if ends else ():
        pick.insert(0, layer[state][2])
        state = layer[state][3]
    return least, pick, sum(layers[-1][end][1] for end in ends)
