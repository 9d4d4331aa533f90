"""When the valves open and shut, counted from the piston's true dead centers, in crank angle.

Centerlines are positive as the trade writes them: intake after, exhaust before the top dead
center at which the valves overlap. `cam_advance` is + with the cam earlier; it is 0 when not
given. Events belong to a stated lobe lift: `opening_from_center` and `closing_from_center` are a
lobe's `opening` and `closing` at that lift, half its duration when both flanks are alike. An
event "before" a dead center is negative after it, and the other way round. A degree wheel's
readings rise in the running direction; its zero may stand anywhere.
"""

from dataclasses import dataclass

import numpy as np

from enginecalc.crank import crank_angle_at, dwell_angle, must_be_reached, tdc_angle
from enginecalc.lobes import CYCLE, nose_of
from enginecalc.units import Q, above_zero, quantities

_TURN = 2 * np.pi
_FROM_CENTER = {"centerline": "rad", "cam_advance": "rad"}


def wrap(angle, period=CYCLE):
    """Return `angle`, SI floats, from half a period before zero up to half a period after it."""
    return np.mod(angle + period / 2, period) - period / 2


def _sign(valve):
    """Return +1 for the intake, whose centerline counts after top dead center, -1 for exhaust."""
    if valve not in ("intake", "exhaust"):
        raise ValueError(f'valve must be "intake" or "exhaust", got {valve!r}.')
    return 1 if valve == "intake" else -1


@quantities(returns="m", refuse=above_zero("rocker_ratio"), lash="m", rocker_ratio="1")
def seat_lobe_lift(lash, rocker_ratio):
    """Return the lobe lift at which the valve leaves and meets its seat.

    Parameters
    ----------
    lash : float or array
        Clearance at the valve, shut. [m]
    rocker_ratio : float or array
        Valve lift over lobe lift. [1]

    Returns
    -------
    float or array
        Lobe lift that only takes up the lash. [m]
    """
    return lash / rocker_ratio


@quantities(returns="rad", opening_from_center="rad", **_FROM_CENTER)
def intake_opening(centerline, opening_from_center, cam_advance=0.0):
    """Return how long before top dead center the intake opens.

    Parameters
    ----------
    centerline, opening_from_center, cam_advance : float or array
        As in the heading. [rad]

    Returns
    -------
    float or array
        Crank angle before top dead center. [rad]

    Sources
    -------
    [timing_lecture] duration 20 + 180 + 35 deg.
    """
    return opening_from_center - centerline + cam_advance


@quantities(returns="rad", closing_from_center="rad", **_FROM_CENTER)
def intake_closing(centerline, closing_from_center, cam_advance=0.0):
    """Return how long after bottom dead center the intake shuts.

    Parameters
    ----------
    centerline, closing_from_center, cam_advance : float or array
        As in the heading. [rad]

    Returns
    -------
    float or array
        Crank angle after bottom dead center. [rad]

    Notes
    -----
    centerline - advance + closing - half a turn.
    """
    return centerline - cam_advance + closing_from_center - np.pi


@quantities(returns="rad", opening_from_center="rad", **_FROM_CENTER)
def exhaust_opening(centerline, opening_from_center, cam_advance=0.0):
    """Return how long before bottom dead center the exhaust opens.

    Parameters
    ----------
    centerline, opening_from_center, cam_advance : float or array
        As in the heading. [rad]

    Returns
    -------
    float or array
        Crank angle before bottom dead center. [rad]
    """
    return centerline + cam_advance + opening_from_center - np.pi


@quantities(returns="rad", closing_from_center="rad", **_FROM_CENTER)
def exhaust_closing(centerline, closing_from_center, cam_advance=0.0):
    """Return how long after top dead center the exhaust shuts.

    Parameters
    ----------
    centerline, closing_from_center, cam_advance : float or array
        As in the heading. [rad]

    Returns
    -------
    float or array
        Crank angle after top dead center. [rad]
    """
    return closing_from_center - centerline - cam_advance


@quantities(returns="rad", near_top="rad", near_bottom="rad")
def duration_between(near_top, near_bottom):
    """Return the duration from a valve's two events, at the lift they are stated at.

    Parameters
    ----------
    near_top, near_bottom : float or array
        Intake: opening before top, closing after bottom dead center. Exhaust: closing after top,
        opening before bottom. [rad]

    Returns
    -------
    float or array
        Crank angle from opening to closing. [rad]

    Sources
    -------
    [timing_lecture] 20 + 180 + 35 = 235 deg, 10 + 180 + 35 = 225 deg.
    """
    return near_top + np.pi + near_bottom


@quantities(returns="rad", near_top="rad", near_bottom="rad")
def centerline_between(near_top, near_bottom):
    """Return the centerline half way between a valve's two events; for a lobe of equal flanks.

    Parameters
    ----------
    near_top, near_bottom : float or array
        As in `duration_between`. [rad]

    Returns
    -------
    float or array
        Positive: intake after, exhaust before top dead center. [rad]
    """
    return (np.pi + near_bottom - near_top) / 2


@quantities(returns="rad", intake_centerline="rad", exhaust_centerline="rad")
def lobe_separation_angle(intake_centerline, exhaust_centerline):
    """Return the angle between exhaust and intake lobe, in degrees of the cam's own turning.

    Parameters
    ----------
    intake_centerline, exhaust_centerline : float or array
        As in the heading. [rad]

    Returns
    -------
    float or array
        Cam angle: half the crank angle between the two. [rad]
    """
    return (intake_centerline + exhaust_centerline) / 2


@quantities(returns="rad", intake_centerline="rad", exhaust_centerline="rad")
def installed_advance(intake_centerline, exhaust_centerline):
    """Return by how much the intake centerline is less than the lobe separation.

    Parameters
    ----------
    intake_centerline, exhaust_centerline : float or array
        As in the heading. [rad]

    Returns
    -------
    float or array
        The trade's advance, in crank angle: + earlier. [rad]
    """
    return (exhaust_centerline - intake_centerline) / 2


@quantities(returns="rad", intake_opening="rad", exhaust_closing="rad")
def valve_overlap(intake_opening, exhaust_closing):
    """Return the crank angle for which both valves are open at the stated lift.

    Parameters
    ----------
    intake_opening, exhaust_closing : float or array
        Before and after top dead center. [rad]

    Returns
    -------
    float or array
        Negative when neither is open between the two. [rad]

    Sources
    -------
    [timing_lecture] 20 + 10 = 30 deg.
    """
    return intake_opening + exhaust_closing


@quantities(returns="rad", **_FROM_CENTER)
def lobe_center(centerline, cam_advance=0.0, valve="intake"):
    """Return where a lobe's center lies, + after the top dead center of overlap.

    Parameters
    ----------
    centerline, cam_advance : float or array
        As in the heading. [rad]
    valve : str
        "intake" or "exhaust".

    Returns
    -------
    float or array
        Crank angle; negative for an exhaust lobe. [rad]
    """
    return _sign(valve) * centerline - cam_advance


def _must_stay_near_the_top(title, before, after):
    reach = np.mod(after - before, _TURN) / 2
    if not np.all(reach <= np.pi / 2):
        raise ValueError(
            f"{title}: before and after must lie within 90 deg of top dead center, got"
            f" {np.degrees(np.max(reach)):.4g} deg either side. Which dead center is it, or are"
            " the two readings exchanged?"
        )


_must_stay_near_the_top.when = "the stop is met more than 90 deg from the dead center"


@quantities(returns="rad", refuse=_must_stay_near_the_top, before="rad", after="rad")
def true_tdc_from_stop(before, after):
    """Return the wheel's reading at true top dead center: half way between both at a fixed stop.

    Parameters
    ----------
    before, after : float or array
        Readings where the piston meets the stop, before and after the top. [rad]

    Returns
    -------
    float or array
        Reading, from minus half a turn to half a turn. [rad]
    """
    return wrap(before + np.mod(after - before, _TURN) / 2, _TURN)


@quantities(
    returns="rad", refuse=must_be_reached, depth="m", stroke="m", rod_length="m", pin_offset="m"
)
def stop_bias(depth, stroke, rod_length, pin_offset=0.0):
    """Return how far after true top dead center a stop's half way point lies, by the offset.

    Parameters
    ----------
    depth, stroke, rod_length, pin_offset : float or array
        The stop's depth below true top dead center, and the crank as in `enginecalc.crank`. [m]

    Returns
    -------
    float or array
        A few hundredths of a degree at most in common engines. [rad]
    """
    crank = stroke, rod_length, pin_offset
    middle = crank_angle_at.kernel(depth, *crank) - dwell_angle.kernel(depth, *crank) / 2
    return middle - tdc_angle.kernel(*crank)


@quantities(returns="rad", before="rad", after="rad", wheel_zero="rad")
def midpoint(before, after, wheel_zero):
    """Return the middle between two readings at equal lift either side of the nose.

    Parameters
    ----------
    before, after, wheel_zero : float or array
        Readings before and after the nose, and at true top dead center. [rad]

    Returns
    -------
    float or array
        + after top dead center, from minus half a turn to half a turn. [rad]
    """
    return wrap(before + np.mod(after - before, _TURN) / 2 - wheel_zero, _TURN)


@dataclass(frozen=True)
class Centerline:
    """A lobe's center from pairs of readings at equal lift either side of the nose.

    `centerline` is at the nose, positive as in the heading. `slope` says how much later the middle
    of a pair lies per height below the nose: an uneven lobe has one. `scatter` is the standard
    deviation of the middles about their fit. Each is nan where the readings are too few.
    """

    centerline: Q
    slope: Q
    scatter: Q
    valve: str

    def against(self, card_centerline):
        """Return in words how the cam stands against its card."""
        later = (self.centerline - card_centerline).m_as("deg") * _sign(self.valve)
        if abs(later) < 0.05:
            return "the cam stands as its card says"
        return f"the cam is {abs(later):.1f}° {'retarded' if later > 0 else 'advanced'} (crank)"


@quantities(returns="m", heights="m")
def _metres(heights):
    return heights


def centerline_from_pairs(heights, before, after, wheel_zero, valve="intake"):
    """Return the `Centerline` of a lobe from quantities; see `midpoint` for the readings.

    `heights` are lobe lifts measured down from the nose, one for each pair. The middles are
    followed up to the nose along the root of the height; at one height their mean is taken.
    Raises ValueError when heights and pairs are not as many, or a height is not below the nose.
    """
    middles = np.atleast_1d(midpoint(before, after, wheel_zero).m_as("rad"))
    depths = np.atleast_1d(_metres(heights).m_as("m"))
    if len(depths) != len(middles) or not np.all(depths > 0):
        raise ValueError(
            f"centerline_from_pairs: heights must be above zero, one for each of the {len(middles)}"
            f" pairs, got {heights:.6g~P}."
        )
    nose, drift = nose_of(depths, middles)
    spare = len(middles) - (1 if np.isnan(drift) else 2)
    off = middles - nose - np.nan_to_num(drift) * np.sqrt(depths)
    scatter = np.sqrt(off @ off / spare) if spare else np.nan
    slope = np.nan if np.isnan(drift) else np.polyfit(depths, middles, 1)[0]
    center = Q(_sign(valve) * nose, "rad")
    return Centerline(center, Q(slope, "rad/m"), Q(scatter, "rad"), valve)


@quantities(returns="rad", crank_angle="rad", center="rad")
def lash_margin(lobe, crank_angle, center):
    """Return how far past the end of its lobe, ramps and all, a valve stands.

    Parameters
    ----------
    lobe : lobe
        Of `enginecalc.lobes`.
    crank_angle, center : float or array
        Where the crank is, and the lobe's center, from one and the same dead center. [rad]

    Returns
    -------
    float or array
        Crank angle; negative while the lobe may lift, when lash cannot be set. [rad]
    """
    past = wrap(crank_angle - center)
    opening, closing = lobe.span
    return np.where(past < 0, -past - opening, past - closing)


@quantities(returns="rad", crank_angle="rad", center="rad")
def lash_setting_angle(crank_angle, center):
    """Return at which of two crank positions, a turn apart, a valve's lash is to be set.

    Parameters
    ----------
    crank_angle, center : float or array
        One of the two positions, and the lobe's center, from the same dead center. [rad]

    Returns
    -------
    float or array
        `crank_angle`, or a turn more when the lobe's center is then farther away: at least half a
        turn, so that every valve of a short lobe is shut at one of the two. [rad]
    """
    return crank_angle + np.where(abs(wrap(crank_angle - center)) < np.pi, _TURN, 0.0)
