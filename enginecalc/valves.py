"""Valve lift, the gap between valve and piston at one crank angle, and the room of the spring.

`after_tdc` counts crank angle from the piston's true top dead center between exhaust and intake
stroke, + after it; `center` is where the lobe's center lies by it, as `camshaft.lobe_center` gives
it: negative for an exhaust lobe. Gaps are along the valve's own axis unless said otherwise, -
where valve and piston meet. `piston_position` is below true top dead center, `drop_at_tdc` from
the closed valve to the piston there. `lobe` is any of `enginecalc.lobes`.
Parts are rigid: no spring, pushrod or rocker bends, no piston rocks.
"""

import numpy as np

from enginecalc.camshaft import wrap
from enginecalc.units import Q, above_zero, quantities

_LIFT = {"rocker_ratio": "1", "lash": "m"}


def must_open(title, lobe, rocker_ratio=1.0, lash=0.0, **_):
    """Raise ValueError where the lash takes up the whole lift; SI floats."""
    above_zero("rocker_ratio")(title, rocker_ratio=rocker_ratio)
    if not np.all(lash < rocker_ratio * lobe.lobe_lift):
        lash, lift = (Q(np.max(x), "m").to("mm") for x in (lash, rocker_ratio * lobe.lobe_lift))
        raise ValueError(
            f"{title}: lash must be less than the gross valve lift, got {lash:.4g~P} against"
            f" {lift:.4g~P}. Are both in one unit?"
        )


must_open.when = "rocker_ratio is not greater than zero, or the lash takes up the whole lift"


@quantities(returns="m", refuse=must_open, after_tdc="rad", center="rad", **_LIFT)
def net_valve_lift(lobe, after_tdc, center, rocker_ratio=1.0, lash=0.0):
    """Return how far a valve is off its seat.

    Parameters
    ----------
    lobe : lobe
        As in the heading.
    after_tdc, center : float or array
        As in the heading. [rad]
    rocker_ratio : float or array
        Valve lift over lobe lift. [1]
    lash : float or array
        Clearance at the valve, shut. [m]

    Returns
    -------
    float or array
        Zero while the valve is shut. [m]

    Notes
    -----
    ratio * lobe lift - lash, never below zero; the lobe comes round every 720 crank degrees.
    """
    return np.maximum(rocker_ratio * lobe.lift(wrap(after_tdc - center)) - lash, 0.0)


@quantities(returns="m", valve_lift="m", piston_position="m", drop_at_tdc="m", valve_angle="rad")
def axial_gap(valve_lift, piston_position, drop_at_tdc, valve_angle):
    """Return the gap along the valve to a pocket floor parallel to its face.

    Parameters
    ----------
    valve_lift, piston_position, drop_at_tdc : float or array
        Net valve lift, and as in the heading. [m]
    valve_angle : float or array
        Lean of the valve from the bore. [rad]

    Returns
    -------
    float or array
        Gap. [m]

    Notes
    -----
    drop + position * cos(valve angle) - lift.
    """
    return drop_at_tdc + piston_position * np.cos(valve_angle) - valve_lift


def _unit(vector):
    return vector / np.linalg.norm(vector, axis=-1, keepdims=True)


@quantities(returns="m", disc_center="m", valve_diameter="m", floor_point="m")
def rim_gap(disc_center, axis, valve_diameter, floor_point, floor_normal):
    """Return the least gap between a valve's rim and any flat floor, square to the floor.

    Parameters
    ----------
    disc_center : array
        Center of the valve's face; vectors run along the last axis. [m]
    axis : array
        Along the stem, of any length.
    valve_diameter : float or array
        Of the head. [m]
    floor_point : array
        Any point of the floor. [m]
    floor_normal : array
        Square to the floor, towards the valve, of any length.

    Returns
    -------
    float or array
        Gap of the lowest point of the rim, which is lower than the center of the face. [m]

    Notes
    -----
    n . (c - p) - R sqrt(1 - (n . a)^2), a and n of length one, R half the diameter.
    """
    normal = _unit(floor_normal)
    lean = np.linalg.norm(np.cross(normal, _unit(axis)), axis=-1)
    return np.sum(normal * (disc_center - floor_point), axis=-1) - valve_diameter / 2 * lean


@quantities(
    returns="m",
    valve_lift="m",
    piston_position="m",
    height_at_tdc="m",
    valve_diameter="m",
    valve_angle="rad",
)
def flat_crown_gap(valve_lift, piston_position, height_at_tdc, valve_diameter, valve_angle):
    """Return the least gap, along the bore, between a leaning valve and a crown without pockets.

    Parameters
    ----------
    valve_lift, piston_position, height_at_tdc, valve_diameter : float or array
        Net valve lift, position, the height of the closed valve's center over the crown at top
        dead center along the bore, and the head's diameter. [m]
    valve_angle : float or array
        Lean of the valve from the bore. [rad]

    Returns
    -------
    float or array
        Gap under the rim. [m]

    Notes
    -----
    height + position - lift cos(angle) - diameter / 2 sin(angle).
    """
    over = height_at_tdc + piston_position - valve_lift * np.cos(valve_angle)
    return over - valve_diameter / 2 * np.sin(valve_angle)


@quantities(returns="m", piston_position="m", side_offset="m")
def side_shift(piston_position, side_offset, axis):
    """Return how far a pocket cut along the valve's axis lies beside the valve.

    Parameters
    ----------
    piston_position, side_offset : float or array
        As in the heading; the shift at top dead center, its parts across and along the crank on
        the last axis, + the way the stem leans. [m]
    axis : array
        Along the stem, of any length: across, up the bore, along the crank; (sin, cos, 0) of the
        valve angle for a valve that is not canted.

    Returns
    -------
    float or array
        | side offset + position * the axis' two parts across the bore |. [m]
    """
    across = _unit(axis)[..., ::2]
    return np.linalg.norm(side_offset + np.expand_dims(piston_position, -1) * across, axis=-1)


@quantities(returns="m", side_shift="m", valve_diameter="m", pocket_diameter="m")
def radial_gap(side_shift, valve_diameter, pocket_diameter):
    """Return the room beside a valve's rim in a round pocket cut along the valve's axis.

    Parameters
    ----------
    side_shift, valve_diameter, pocket_diameter : float or array
        Of the pocket beside the valve, of the head, of the pocket. [m]

    Returns
    -------
    float or array
        Gap, square to the valve's axis. [m]
    """
    return (pocket_diameter - valve_diameter) / 2 - abs(side_shift)


@quantities(returns="m", vertical_drop="m", valve_angle="rad")
def drop_along_valve(vertical_drop, valve_angle, flat_crown=False):
    """Return the drop along the valve from one measured along the bore.

    Parameters
    ----------
    vertical_drop : float or array
        Measured along the bore. [m]
    valve_angle : float or array
        Lean of the valve from the bore. [rad]
    flat_crown : bool
        The floor is square to the bore; otherwise a pocket's, parallel to the valve's face.

    Returns
    -------
    float or array
        vertical drop * cos(angle) in a pocket, / cos(angle) to a flat crown. [m]
    """
    return vertical_drop * np.cos(valve_angle) ** np.where(flat_crown, -1, 1)


@quantities(returns="m", least_gap="m", quench_loss="m", valve_angle="rad")
def running_gap(least_gap, quench_loss, valve_angle):
    """Return the least gap hot and at speed, when the piston stands nearer to the head.

    Parameters
    ----------
    least_gap, quench_loss : float or array
        Gap cold and at rest; cold quench less running quench, of `enginecalc.forces`. [m]
    valve_angle : float or array
        Lean of the valve from the bore. [rad]

    Returns
    -------
    float or array
        gap - loss * cos(valve angle). [m]
    """
    return least_gap - quench_loss * np.cos(valve_angle)


@quantities(returns="m", lobe_lift="m", rocker_ratio="1")
def gross_valve_lift(lobe_lift, rocker_ratio):
    """Return the valve's greatest lift before the lash is taken off.

    Parameters
    ----------
    lobe_lift : float or array
        At the follower. [m]
    rocker_ratio : float or array
        Valve lift over lobe lift. [1]

    Returns
    -------
    float or array
        lobe lift * ratio. [m]
    """
    return lobe_lift * rocker_ratio


@quantities(returns="m", spring_installed="m", spring_bind="m", gross_valve_lift="m")
def coil_bind_margin(spring_installed, spring_bind, gross_valve_lift):
    """Return what a valve spring can still give at full lift, the lash taken up.

    Parameters
    ----------
    spring_installed, spring_bind, gross_valve_lift : float or array
        Length with the valve shut, length with the coils touching, and lift. [m]

    Returns
    -------
    float or array
        Negative when the coils meet. [m]
    """
    return spring_installed - gross_valve_lift - spring_bind


@quantities(returns="m", retainer_to_seal="m", gross_valve_lift="m")
def retainer_margin(retainer_to_seal, gross_valve_lift):
    """Return the gap left between spring retainer and valve seal at full lift.

    Parameters
    ----------
    retainer_to_seal, gross_valve_lift : float or array
        Gap with the valve shut, and lift. [m]

    Returns
    -------
    float or array
        Negative when they meet. [m]
    """
    return retainer_to_seal - gross_valve_lift


def _must_face_up(title, face_angle, **_):
    if not np.all(abs(face_angle) < np.radians(80)):
        raise ValueError(
            f"{title}: face_angle must be less than 80 deg from vertical either way, got"
            f" {np.degrees(np.max(abs(face_angle))):.4g} deg."
        )


_must_face_up.when = "the intake face lies 80 deg or more from vertical"
_CUT = {"cut": "m", "half_bank_angle": "rad", "face_angle": "rad"}


@quantities(returns="m", refuse=_must_face_up, **_CUT)
def manifold_drop(cut, half_bank_angle, face_angle):
    """Return how much lower the manifold of a V engine sits when its heads or decks are cut.

    Parameters
    ----------
    cut : float or array
        Off each head or deck, along the bores. [m]
    half_bank_angle, face_angle : float or array
        Bore and intake face from vertical, seen from the front. [rad]

    Returns
    -------
    float or array
        Its end rails close by as much. [m]

    Notes
    -----
    cut * cos(half bank - face) / cos(face), the intake sides of the manifold uncut.
    """
    return cut * np.cos(half_bank_angle - face_angle) / np.cos(face_angle)


@quantities(returns="m", refuse=_must_face_up, **_CUT)
def manifold_side_cut(cut, half_bank_angle, face_angle):
    """Return what to cut off each side of a manifold so that its ports line up again.

    Parameters
    ----------
    cut : float or array
        As in `manifold_drop`. [m]
    half_bank_angle, face_angle : float or array
        As in `manifold_drop`. [rad]

    Returns
    -------
    float or array
        Square to the intake face. [m]

    Notes
    -----
    cut * sin(half bank) / cos(face).
    """
    return cut * np.sin(half_bank_angle) / np.cos(face_angle)
