"""A bolt in its joint: the angle after snug, the doubt of its preload, what it bears.

Threads, torque, preload and stretch are those of `enginecalc.fasteners`.
"""

import numpy as np

from enginecalc.fasteners import FRICTION, TIGHTENED, torque_for_preload
from enginecalc.fits import must_go_in
from enginecalc.measured import must_list
from enginecalc.units import above_zero, each_of, first_wrong, quantities


def _must_be_shares(*names):
    """Return a refusal, for `quantities`, of shares below 0, or of 1 and more."""

    def refuse(title, **arguments):
        faults = []
        for name in names:
            value = np.asarray(arguments[name])
            good = (value >= 0) & (value < 1)
            if not np.all(good):
                wrong = first_wrong(value, good)
                faults.append(f"{name} must be 0 or more and less than 1, got {wrong:.6g}")
        if faults:
            raise ValueError(f"{title}: {'; '.join(faults)}. Write 4 % as 0.04.")

    refuse.when = f"{' or '.join(names)} is below 0, or not below 1"
    return refuse


@quantities(
    returns="1",
    refuse=each_of(FRICTION, _must_be_shares("friction_uncertainty", "wrench_tolerance")),
    **TIGHTENED,
    friction_uncertainty="1",
    wrench_tolerance="1",
)
def preload_uncertainty(
    diameter,
    pitch,
    thread_friction,
    head_friction,
    head_radius,
    friction_uncertainty,
    wrench_tolerance,
):
    """Return how uncertain a preload is that was set by torque, as a share of it.

    Parameters
    ----------
    diameter, pitch : float or array
        As in `tensile_stress_area`. [m]
    thread_friction, head_friction : float or array
        As in `preload_from_torque`. [1]
    head_radius : float or array
        As in `preload_from_torque`. [m]
    friction_uncertainty : float or array
        Standard uncertainty of the friction, one lubricant in thread and under the head. [1]
    wrench_tolerance : float or array
        Greatest error of the wrench as a share of the torque, such as 0.04. [1]

    Returns
    -------
    float or array
        Relative standard uncertainty. [1]

    Notes
    -----
    sqrt((wrench / sqrt 3)^2 + (d ln F / d mu * u_mu)^2), both frictions together; to first order.

    Sources
    -------
    [gum] 4.3.7 and 5.1.2; [iso6789] 4 % of a torque wrench.
    """
    lever = torque_for_preload.kernel(
        1.0, diameter, pitch, thread_friction, head_friction, head_radius
    )
    by_friction = torque_for_preload.kernel(1.0, diameter, pitch, 1.0, 1.0, head_radius) - pitch / (
        2 * np.pi
    )
    sensitivity = by_friction / lever
    return np.hypot(wrench_tolerance / np.sqrt(3), sensitivity * friction_uncertainty)


@quantities(
    returns="rad",
    refuse=each_of(
        above_zero("stretch", "joint_stiffness_ratio", "pitch"), _must_be_shares("snug_share")
    ),
    stretch="m",
    joint_stiffness_ratio="1",
    pitch="m",
    snug_share="1",
)
def turn_angle(stretch, joint_stiffness_ratio, pitch, snug_share):
    """Return how far to turn a bolt on from snug.

    Parameters
    ----------
    stretch : float or array
        Of the bolt at the preload wanted. [m]
    joint_stiffness_ratio : float or array
        Of the clamped parts to the bolt. [1]
    pitch : float or array
        Of the thread. [m]
    snug_share : float or array
        Part of the preload there when the count begins; 0 counts from nothing. [1]

    Returns
    -------
    float or array
        Angle between head and thread. [rad]

    Notes
    -----
    2 pi / P * (1 - snug) * (stretch + stretch / ratio): the parts give way as the bolt stretches.

    Sources
    -------
    [wentzell_design] Example 6.3, p. 122, with parts that do not give way.
    """
    return 2 * np.pi * (1 - snug_share) * stretch * (1 + 1 / joint_stiffness_ratio) / pitch


@quantities(returns="1", refuse=must_list("preloads", least=2, sizes=["preloads"]), preloads="N")
def preload_scatter(preloads):
    """Return how much preloads differ that were meant to be alike.

    Parameters
    ----------
    preloads : array
        Two or more along the last axis. [N]

    Returns
    -------
    float or array
        Standard deviation over mean. [1]

    Sources
    -------
    [shigley9] Table 8-14, p. 439.
    """
    return np.std(preloads, axis=-1, ddof=1) / np.mean(preloads, axis=-1)


@quantities(returns="Pa", refuse=above_zero("preload", "area"), preload="N", area="m**2")
def bolt_stress(preload, area):
    """Return the stress a preload makes in a bolt.

    Parameters
    ----------
    preload : float or array
        Tension. [N]
    area : float or array
        The least of the stress area and the shank's. [m**2]

    Returns
    -------
    float or array
        Of tension alone; the twist of tightening adds to it while the wrench pulls. [Pa]
    """
    return preload / area


@quantities(returns="1", refuse=above_zero("stress", "strength"), stress="Pa", strength="Pa")
def strength_share(stress, strength):
    """Return how much of its strength a stress asks of a bolt.

    Parameters
    ----------
    stress, strength : float or array
        In the bolt, see `bolt_stress`; and its proof or its yield strength. [Pa]

    Returns
    -------
    float or array
        1 is all of it. [1]
    """
    return stress / strength


@quantities(returns="N", refuse=above_zero("preload"), preload="N", rod_bolt_load="N")
def separation_margin(preload, rod_bolt_load):
    """Return the preload left between two faces while a load pulls them apart.

    Parameters
    ----------
    preload, rod_bolt_load : float or array
        Least preload to expect, and pull on the bolt, see `enginecalc.forces.rod_bolt_load`. [N]

    Returns
    -------
    float or array
        Zero or less: the faces part. Somewhat more is left, as the bolt takes a share. [N]
    """
    return preload - rod_bolt_load


@quantities(
    returns="N*m",
    refuse=each_of(
        above_zero("torque"),
        must_go_in("wrench_length", "adaptor_length", room=True, advice="Swapped?"),
    ),
    torque="N*m",
    wrench_length="m",
    adaptor_length="m",
    adaptor_angle="rad",
)
def adaptor_setting(torque, wrench_length, adaptor_length, adaptor_angle):
    """Return what to set a torque wrench to that turns a bolt through an adaptor.

    Parameters
    ----------
    torque : float or array
        Wanted at the bolt. [N*m]
    wrench_length, adaptor_length : float or array
        Middle of the grip to the wrench's square; the square to the bolt's axis. [m]
    adaptor_angle : float or array
        0 straight on from the wrench, 180 deg folded back. [rad]

    Returns
    -------
    float or array
        Setting. [N*m]

    Notes
    -----
    T L / (L + a cos(angle)): T L / (L + a) straight on, T at a right angle, T L / (L - a) back.

    Sources
    -------
    [tm_1_1500] 8-16 and 8-17, straight on and folded back; [tm_9_254] figure 46, at an angle.
    """
    return torque * wrench_length / (wrench_length + adaptor_length * np.cos(adaptor_angle))


@quantities(
    returns="m",
    refuse=above_zero("free_length", "new_length"),
    free_length="m",
    new_length="m",
)
def permanent_set(free_length, new_length):
    """Return how much longer a used bolt is than it was new.

    Parameters
    ----------
    free_length, new_length : float or array
        Over both ends, loose: now, and before it was first tightened. [m]

    Returns
    -------
    float or array
        + longer: it has been past yield. [m]
    """
    return free_length - new_length
