"""What comes of a selection, and the counting that all selections share, in SI floats.

Sizes are rounded to 0.1 nm and counted in the largest step that they share (0.0001 in, 1 µm):
costs are whole numbers, and a tie is a tie.
"""

import functools
import itertools
from dataclasses import dataclass

import numpy as np

from enginecalc.units import Q

FINEST = 1e-10  # m, to which sizes are rounded


@dataclass(frozen=True, eq=False)
class Choice:
    """What goes where, and each place's clearance before and after.

    `order` holds for each place the index of its part; of shells, the walls of the upper and of the
    lower halves; of decks, the rods' and the pistons' indices. `moved` counts what is not as
    before, `equal_optima` the answers as good (None: not counted), `outside` the numbers of places
    outside their limits. Deviations are from `target`; no decks spread less than `lower_bound`.
    """

    order: np.ndarray | tuple
    before: np.ndarray
    after: np.ndarray
    target: np.ndarray
    moved: int
    worst_deviation: float
    sum_of_squares: float
    spread: float
    method: str
    gain: str
    no_real_difference: bool
    equal_optima: int | None
    outside: tuple
    caution: str
    lower_bound: float | None


def named(title, **given):
    """Return sizes as arrays, and their numbers; refuse what does not go together."""
    faults, sizes, names = [], [], []
    for kind, (values, numbers) in given.items():
        numbers = range(1, len(values) + 1) if numbers is None else numbers
        sizes.append(np.asarray(values, float))
        names.append([str(each) for each in numbers])
        bad = zip(names[-1], ~np.isfinite(sizes[-1]), strict=False)
        faults += [f"{kind} {each} is not a number" for each, wrong in bad if wrong]
        twice = [each for each in dict.fromkeys(names[-1]) if names[-1].count(each) > 1]
        faults += [f"{kind} number {each} stands twice" for each in twice]
    counts = [*map(len, sizes + names)]
    if len({*counts}) > 1 or not counts[0]:
        counts = zip(counts, given, names, strict=False)
        got = (f"{size} {kind} sizes with {len(each)} numbers" for size, kind, each in counts)
        faults.append(f"as many of each are needed, got {listed(got)}")
    if faults:
        raise ValueError(f"{title}: {'; '.join(faults)}.")
    return sizes, names


def by_place(title, name, value, count, above=-np.inf):
    """Return a value for each place, from one for all or one for each."""
    value = np.asarray(value, float)
    if value.shape not in ((), (count,)) or not np.all((value > above) & (value < np.inf)):
        raise ValueError(f"{title}: {name} must be one number or one for each of {count} places.")
    return np.broadcast_to(value, count)


def checked_bans(title, banned, kind, names, place, numbers):
    """Return the bans as an array; refuse those that leave a place without a part."""
    shape = len(names), len(numbers)
    banned = np.asarray(np.zeros(shape) if banned is None else banned, bool)
    if banned.shape != shape:
        raise ValueError(f"{title}: bans must have a row by {kind} and a column by {place}.")
    missed = banned[assigned(banned, False), np.arange(len(numbers))]
    if missed.any():
        missed = listed(np.array(numbers)[missed])
        raise ValueError(f"{title}: the bans leave no {kind} for {place} {missed}.")
    return banned


@functools.cache
def _permutations(count):
    return np.array([*itertools.permutations(range(count))])


def allowed_orders(banned):
    """Return all orders that are allowed."""
    orders = _permutations(len(banned))
    return orders[~banned[orders, np.arange(len(banned))].any(axis=1)]


def assigned(cost, banned):
    """Return the index of the part for each place at the least total cost."""
    from scipy.optimize import linear_sum_assignment

    return linear_sum_assignment(np.where(banned, np.inf, cost).T)[1]


def counted(values, most=np.inf):
    """Return values counted in the largest step they share, but not past `most`; and the step."""
    units = np.rint(np.asarray(values) / FINEST)
    step = max(np.gcd.reduce(units.astype(np.int64), axis=None), 1, np.abs(units).max() / most)
    return np.rint(units / step), float(step * FINEST)


def in_turn(first, then):
    """Return one cost for two: the second decides only between equals in the first."""
    return first * (len(then) * np.max(then) + 1) + then


def outside(clearance, low, high):
    """Return where clearances, places last, are outside the limits."""
    low, high = -np.inf if low is None else low, np.inf if high is None else high
    return (clearance < np.subtract(low, FINEST)) | (clearance > np.add(high, FINEST))


def choice(
    title, order, before, after, target, moved, uncertainty, unit, method, equal, forced=False,
    bound=None, *, limits=(None, None, "", ()),
):  # fmt: skip
    """Return the `Choice`, in words too; `moved` and `forced` mark parts."""
    if np.all(after <= 0) and np.all(target > 0):
        raise ValueError(f"{title}: no clearance is left: are inner and outer sizes swapped?")
    was, now = ((np.max(np.abs(each - target)), np.ptp(each - target)) for each in (before, after))
    changes, moved = np.abs(np.round(np.subtract(was, now), 10)), int(np.sum(moved))
    same = bool(moved and not np.any(forced) and changes.max() < round(uncertainty or 0.0, 10))
    gain = f"{_span(after, unit)}, worst deviation {said(now[0], unit)}"
    if moved:
        gain += f"; before {_span(before, unit)}, {said(was[0], unit)}; {moved} changed"
    else:
        gain = f"nothing is gained by a change, all stay: {gain}"
    if same:
        gain = f"no real difference, measured to {said(uncertainty, unit)}: {gain}"
    low, high, place, numbers = limits
    wide = np.flatnonzero(outside(after, low, high))
    caution = listed(f"{numbers[at]} ({said(after[at], unit)})" for at in wide)
    return Choice(
        order, before, after, target, moved, float(now[0]), float(np.sum((after - target) ** 2)),
        float(now[1]), method, gain, same, equal, tuple(numbers[at] for at in wide),
        f"outside the limits: {place} {caution}" if caution else "", bound,
    )  # fmt: skip


def _span(clearances, unit):
    least, _, _ = said(min(clearances), unit).partition(" ")
    return f"{least} to {said(max(clearances), unit)}"


def said(length, unit):
    return f"{Q(round(float(length), 10), 'm').m_as(unit):.4g} {unit}"


def listed(each):
    *most, last = [*map(str, each)] or [""]
    return f"{', '.join(most)} and {last}" if most else last
