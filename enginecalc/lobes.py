"""The shape of a cam lobe, in SI floats: lift in m, crank angle from the lobe's center in rad.

Every lobe shows the same face: `lobe_lift`; `lift`, `slope` and `bend` (per rad, per rad squared)
at crank angles from its center, + after it; `opening` and `closing`, the crank angle before and
after the center at which a lift is passed, nan above the nose; `duration` and `span`. The cam
turns at half the crank's speed: a lobe comes round every 720 crank degrees.
"""

import math
from dataclasses import dataclass, field, replace

import numpy as np

from enginecalc.units import Q

CYCLE = 4 * np.pi  # one turn of the cam in crank angle


class _Lobe:
    """What follows for every lobe from its `opening` and `closing`."""

    def duration(self, lift):
        """Return the crank angle for which the lobe is above `lift`."""
        return self.opening(lift) + self.closing(lift)

    @property
    def span(self):
        """The crank angles before and after the center beyond which the lift is zero."""
        return float(self.opening(0.0)), float(self.closing(0.0))


class _PowerLobe(_Lobe):
    """lift = lobe_lift (1 - x^p)^q, x = |angle| / width; `widths` and (p, q) of each flank."""

    def _flank(self, angle):
        """Return x, the width, p and q at each angle."""
        (p, q), (width, later) = self.powers[0], self.widths
        if self.powers[1] != (p, q) or later is not width:
            before = np.less(angle, 0)
            p, q = (np.where(before, *both) for both in zip(*self.powers, strict=True))
            width = np.where(before, width, later)
        return np.minimum(np.abs(angle) / width, 1.0), width, p, q

    def lift(self, angle):
        """Return the lobe's lift at crank angles from its center."""
        x, _, p, q = self._flank(angle)
        return self.lobe_lift * (1 - x**p) ** q

    def slope(self, angle):
        """Return the lift's rate of change per radian of crank angle."""
        x, width, p, q = self._flank(angle)
        steepness = p * q / width * x ** (p - 1) * (1 - x**p) ** (q - 1)
        return -np.sign(angle) * self.lobe_lift * steepness

    def bend(self, angle):
        """Return the slope's rate of change per radian; it drops to zero at the lobe's ends."""
        x, width, p, q = self._flank(angle)
        full = x**p
        shape = x ** (p - 2) * (1 - full) ** (q - 2) * ((p * q - 1) * full + 1 - p)
        return np.where(np.abs(angle) <= width, self.lobe_lift * p * q / width**2 * shape, 0.0)

    def _reach(self, lift, flank):
        part, (p, q) = np.where(lift <= self.lobe_lift, lift, np.nan), self.powers[flank]
        return self.widths[flank] * (1 - (part / self.lobe_lift) ** (1 / q)) ** (1 / p)

    def opening(self, lift):
        """Return the crank angle before the lobe's center at which it has opened to `lift`."""
        return self._reach(lift, 0)

    def closing(self, lift):
        """Return the crank angle after the lobe's center at which it has closed to `lift`."""
        return self._reach(lift, 1)


@dataclass(frozen=True)
class SmoothLobe(_PowerLobe):
    """A symmetric lobe of one closed law, so that every event can be checked by hand.

    Notes
    -----
    lift = lobe_lift (1 - (a / half_duration)^2)^2 for |a| <= half_duration, else 0; a is the crank
    angle from the lobe's center. Lift and slope end at zero together.
    """

    lobe_lift: float
    half_duration: float
    powers = ((2.0, 2.0), (2.0, 2.0))

    @property
    def widths(self):
        """The half duration, twice."""
        return self.half_duration, self.half_duration

    @classmethod
    def through(cls, lobe_lift, duration, at_lift):
        """Return the lobe that is open for `duration` (rad) above `at_lift` (m)."""
        return cls(lobe_lift, duration / 2 / cls(lobe_lift, 1.0).closing(at_lift))


@dataclass(frozen=True)
class CardLobe(_PowerLobe):
    """A lobe through the figures of a cam card, each flank its own; made by `card_lobe`.

    Notes
    -----
    lift = lobe_lift (1 - x^p)^q, x = |a| / width <= 1, the lesser of p and q being 2: the closed
    law of `SmoothLobe` with a fuller nose (p > 2) or longer feet (q > 2). Each flank falls
    steadily from nose to foot with a continuous slope and a finite acceleration, which steps at
    the nose only where the flanks differ. `widths` and `powers`: opening flank, closing flank.
    """

    lobe_lift: float
    widths: tuple
    powers: tuple

    def peak_acceleration(self):
        """Return the greatest upward bend, in m per radian of crank angle squared.

        lobe_lift / width^2 times 2 p^2, or with q > 2 times 4 q y^(q-2), y = 2 (q-2) / (2 q - 1).
        """
        peaks = (
            (2 * p * p if q == 2 else 4 * q * (2 * (q - 2) / (2 * q - 1)) ** (q - 2)) / width**2
            for (p, q), width in zip(self.powers, self.widths, strict=True)
        )
        return self.lobe_lift * max(peaks)


def card_lobe(lobe_lift, at_lifts, opening, closing=None):
    """Return the `CardLobe` exactly through one or two lifts of a cam card, in SI floats.

    `opening` and `closing` are the crank angles from the center to each of `at_lifts`; without
    `closing` the flanks are equal and `opening` is half of each duration. One lift gives p = q = 2.
    Raises ValueError when no such lobe meets the card.
    """
    closing = opening if closing is None else closing
    if not 1 <= len(at_lifts) == len(opening) == len(closing) <= 2:
        raise ValueError("card_lobe: give one or two lifts, and a half duration for each of them.")
    flanks = [_flank_through(lobe_lift, at_lifts, angles) for angles in (opening, closing)]
    return CardLobe(float(lobe_lift), *zip(*flanks, strict=True))


def _flank_through(lobe_lift, at_lifts, angles):
    """Return the width and (p, q) of a flank through its one or two points."""
    pairs = sorted(zip(at_lifts, angles, strict=True))
    card = " and ".join(f"{_deg(angle)} at {_mm(lift)}" for lift, angle in pairs)
    card = f"half durations of {card} under a lobe lift of {_mm(lobe_lift)}"
    sound = all(0 <= lift < lobe_lift < np.inf and 0 < angle <= 2 * np.pi for lift, angle in pairs)
    ratio = pairs[0][1] / pairs[-1][1] if sound else 0.0
    if not sound or (len(pairs) == 2 and not (ratio > 1 and pairs[0][0] < pairs[1][0])):
        raise ValueError(
            "card_lobe: lifts must lie from zero to under the lobe lift, the lower one with the"
            f" longer duration, half durations from zero to 360 deg, got {card}."
        )

    def inside(at, q):
        """Return 1 - (lift / lobe_lift)^(1/q), which is x^p."""
        lift = pairs[at][0]
        return -math.expm1(math.log(lift / lobe_lift) / q) if lift else 1.0

    p = q = 2.0
    if len(pairs) == 2:
        p = math.log(inside(0, q) / inside(1, q)) / math.log(ratio)
    if abs(p - 2) < 1e-9:
        p = 2.0  # the closed law itself, but for rounding
    elif p < 2:
        p, low, high = 2.0, 2.0, 1e4
        for _ in range(80):
            q = math.sqrt(low * high)
            low, high = (q, high) if inside(0, q) / inside(1, q) < ratio**2 else (low, q)
    width = float(pairs[0][1] / inside(0, q) ** (1 / p))
    if not width <= 2 * np.pi or q > 9e3:
        raise ValueError(
            f"card_lobe: no lobe of this law comes down within a turn of the cam with {card}."
            " Check at which lift each duration is stated."
        )
    return width, (p, q)


def _mm(length):
    return f"{Q(length, 'm').to('mm'):.6g~P}"


def _deg(angle):
    return f"{math.degrees(angle):.6g} deg"


@dataclass(frozen=True, eq=False)
class TableLobe(_Lobe):
    """A lobe measured with a degree wheel; made by `table_lobe`.

    Notes
    -----
    A shape-preserving cubic through the rows, which never swings below zero nor beyond a row, and
    repeats every 720 crank degrees. `center` is the wheel angle of the lobe's center, `remarks`
    a list of sentences of doubt. `bend` runs between second differences of the rows: the cubic's
    own bend jumps from row to row.
    """

    lobe_lift: float
    center: float
    angles: np.ndarray = field(repr=False)  # as on the wheel
    lifts: np.ndarray = field(repr=False)
    remarks: list = field(repr=False)
    curves: tuple = field(repr=False)  # by wheel angle: lift, slope, and the points of the bend

    def _wheel(self, angle):
        start = self.angles[0]
        return start + np.mod(angle + (self.center - start), CYCLE)

    def lift(self, angle):
        """Return the lobe's lift at crank angles from its center."""
        return self.curves[0](self._wheel(angle))

    def slope(self, angle):
        """Return the lift's rate of change per radian of crank angle."""
        return self.curves[1](self._wheel(angle))

    def bend(self, angle):
        """Return the lift's second difference, per radian of crank angle squared."""
        return np.interp(self._wheel(angle), *self.curves[2])

    def opening(self, lift):
        """Return the crank angle before the lobe's center at which it has opened to `lift`."""
        return self.center - self._crossing(lift, slice(None))

    def closing(self, lift):
        """Return the crank angle after the lobe's center at which it has closed to `lift`."""
        return self._crossing(lift, slice(None, None, -1)) - self.center

    def _crossing(self, lift, way):
        """Return the wheel angle at which the flank passes `lift`, from its foot to the nose."""
        angles, lifts = self.angles[way], np.maximum.accumulate(self.lifts[way])
        after = np.clip(np.searchsorted(lifts, lift, side="right"), 1, np.argmax(lifts))
        low, high = angles[after - 1], angles[after]
        for _ in range(50):
            middle = (low + high) / 2
            below = self.curves[0](middle) <= lift
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        return np.where(lift <= self.lobe_lift, (low + high) / 2, np.nan)


def table_lobe(angles, lifts, center=None, unit="mm"):
    """Return the `TableLobe` of lift readings against a degree wheel, in SI floats.

    The wheel's zero may stand anywhere: without `center` the lobe's center is where the middles
    between equal lifts on both flanks come to at the nose. Messages speak of lift in `unit`.
    Raises ValueError, naming the row, when the table cannot be a lobe's.
    """
    from scipy.interpolate import PchipInterpolator

    angles, lifts = np.asarray(angles, float), np.asarray(lifts, float)
    ends = _must_be_a_table(angles, lifts, unit)
    remarks = _doubts(angles, lifts)
    lifts = np.where(lifts > 1e-9 * max(lifts), lifts, 0.0)  # rounding is not a lift
    first, last = np.diff(angles)[[0, -1]]
    if lifts[0] or lifts[-1]:
        remarks.append(f"the table ends at {ends}: taken as shut one step further")
        if angles[-1] - angles[0] + first + last < CYCLE:
            angles = np.r_[angles[0] - first, angles, angles[-1] + last]
            lifts = np.r_[0.0, lifts, 0.0]
    kept = len(angles) - (angles[-1] - angles[0] > CYCLE * (1 - 1e-9))  # 0 and 720 are one row
    rows = np.concatenate([angles[:kept] + turn * CYCLE for turn in (-1, 0, 1)])
    curve = PchipInterpolator(rows, np.tile(lifts[:kept], 3))
    middles = (rows[:-2] + rows[1:-1] + rows[2:]) / 3
    bends = np.diff(np.diff(np.tile(lifts[:kept], 3)) / np.diff(rows)) * 2 / (rows[2:] - rows[:-2])
    curves = curve, curve.derivative(), (middles, bends)
    lobe = TableLobe(max(lifts), 0.0, angles, lifts, remarks, curves)
    if center is None:
        depths = lobe.lobe_lift * np.array([0.05, 0.1, 0.15, 0.2, 0.3])
        left, right = (flank(lobe.lobe_lift - depths) for flank in (lobe.opening, lobe.closing))
        center = nose_of(depths, (right - left) / 2)[0]
    return replace(lobe, center=float(center))


def nose_of(depths, middles):
    """Return where the middle between equal lifts comes to at the nose, and its drift.

    Near the nose each flank is a parabola: the middle drifts with the root of the depth below it.
    """
    if np.ptp(depths) == 0:
        return np.mean(middles), np.nan
    drift, nose = np.polyfit(np.sqrt(depths), middles, 1)
    return nose, drift


def _must_be_a_table(angles, lifts, unit):
    """Refuse what cannot be a lobe's table; return its end lifts as text."""
    if not 5 <= len(angles) == len(lifts):
        short = min(len(angles), len(lifts)) + 1
        raise ValueError(
            f"lift table: row {short} is missing or incomplete, got {len(angles)} angles and"
            f" {len(lifts)} lifts. A lobe needs five rows or more."
        )
    with np.errstate(invalid="ignore"):
        checks = {
            "angle is not a number": ~np.isfinite(angles),
            "lift is not a number": ~np.isfinite(lifts),
            "angles must rise from row to row": np.diff(angles, prepend=-np.inf) <= 0,
            "more than 720 deg after the first row": angles - angles[0] > CYCLE * (1 + 1e-9),
            "negative lift": lifts < 0,
        }
    shown = [f"{lift:.4g}" for lift in Q(lifts, "m").m_as(unit)]
    for fault, bad in checks.items():
        for row in np.flatnonzero(bad)[:1]:
            got = f"{_deg(angles[row])}, {shown[row]} {unit}"
            raise ValueError(f"lift table: row {row + 1}: {fault}, got {got}.")
    ends = f"{shown[0]} and {shown[-1]} {unit}"
    if not max(lifts[0], lifts[-1]) < 0.005 * max(lifts):
        raise ValueError(f"lift table not closed: ends at {ends} (rows 1 and {len(lifts)}).")
    return ends


def _doubts(angles, lifts):
    """Return sentences about rows that may be misread."""
    rise = np.diff(lifts)
    again = (rise > 0) & np.r_[False, np.logical_or.accumulate(rise < 0)[:-1]]
    wide = (np.diff(angles) > math.radians(15) + 1e-9) & (np.maximum(lifts[1:], lifts[:-1]) > 0)
    doubts = {"lift rises again after falling": again, "a step of more than 15 deg": wide}
    return [
        f"row {row + 2}: {doubt}: misread row?"
        for doubt, rows in doubts.items()
        for row in np.flatnonzero(rows)
    ]


def _curvature(lobe):
    """Return lift plus bend per cam radian squared, over the whole lobe."""
    before, after = lobe.span
    angle = np.r_[np.linspace(-before, 0, 1500), np.linspace(0, after, 1500)]
    return lobe.lift(angle) + 4 * lobe.bend(angle)


def flattest(lobe, base_radius):
    """Return the least radius of curvature a flat follower meets, in m; zero or less is concave.

    Least of H + H'', H = base radius + lift, H'' per cam radian squared. Sources: [geometry].
    """
    return base_radius + np.min(_curvature(lobe))


def concave_above(lobe, base_radius):
    """Return the lobe lift in m above which this lobe, every lift scaled with it, is concave."""
    deepest = -np.min(_curvature(lobe))
    return lobe.lobe_lift * base_radius / deepest if deepest > 0 else np.inf
