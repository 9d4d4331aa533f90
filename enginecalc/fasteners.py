"""Bolts: the preload that a torque, an angle or a stretch leaves in them, and what they stand.

Threads of 60 degrees only. Friction is never assumed: a torque belongs to the lubricant it was
given for. A bolt tightened into yield follows none of this.
"""

import numpy as np

from enginecalc.fits import must_go_in
from enginecalc.measured import must_list
from enginecalc.units import Q, above_zero, each_of, first_wrong, quantities  # noqa: F401 (Q)

_SHORTER = {"unified": 0.9743, "metric": 0.9382}  # pitches: stressed circle less than the crests
_PITCH_CIRCLE = 0.649519  # pitches: pitch circle less than the crests
_FLANK = np.sqrt(3) / 2  # cosine of half the thread's angle
_THREAD = must_go_in(
    "diameter", "pitch", room=True, advice="Of 24 threads to the inch, the pitch is 1/24 in."
)
_FRICTION = each_of(_THREAD, above_zero("thread_friction", "head_friction", "head_radius"))
_TIGHTENED = {
    "diameter": "m",
    "pitch": "m",
    "thread_friction": "1",
    "head_friction": "1",
    "head_radius": "m",
}


def _must_be_a_series(title, series, **_):
    """Raise ValueError for a family of threads without a formula."""
    if not (isinstance(series, str) and series in _SHORTER):
        raise ValueError(
            f'{title}: series must be "unified" or "metric", got {series!r}. Their stress areas'
            " differ, by up to 2 %; another thread's is not known here."
        )


_must_be_a_series.when = "series is neither unified nor metric"


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


@quantities(returns="m**2", refuse=each_of(_must_be_a_series, _THREAD), diameter="m", pitch="m")
def tensile_stress_area(diameter, pitch, series):
    """Return the area with which a thread stands tension.

    Parameters
    ----------
    diameter, pitch : float or array
        Nominal diameter, and from one thread to the next. [m]
    series : str
        "unified" or "metric".

    Returns
    -------
    float or array
        Stress area. [m**2]

    Notes
    -----
    pi / 4 (d - 0.9743 P)^2 unified, pi / 4 (d - 0.9382 P)^2 metric.

    Sources
    -------
    [asme_b1_1] unified; [iso898_1] metric.

    Examples
    --------
    >>> area = tensile_stress_area(Q(0.375, "inch"), Q(1 / 24, "inch"), "unified")
    >>> print(f"{area.to('inch**2'):.4f~P}")
    0.0878 in²
    """
    return np.pi / 4 * (diameter - _SHORTER[series] * pitch) ** 2


@quantities(returns="m", refuse=_THREAD, diameter="m", pitch="m")
def pitch_diameter(diameter, pitch):
    """Return the diameter at which the flanks of a thread meet on average.

    Parameters
    ----------
    diameter, pitch : float or array
        As in `tensile_stress_area`. [m]

    Returns
    -------
    float or array
        Pitch diameter. [m]

    Notes
    -----
    d - 0.649519 P.

    Sources
    -------
    [iso724]
    """
    return diameter - _PITCH_CIRCLE * pitch


@quantities(
    returns="m",
    refuse=must_go_in("washer_outside", "washer_inside", room=True, advice="Swapped?"),
    washer_outside="m",
    washer_inside="m",
)
def mean_head_radius(washer_outside, washer_inside):
    """Return the mean radius of the face that turns under a head or nut.

    Parameters
    ----------
    washer_outside, washer_inside : float or array
        Diameters of that face; of a turning washer, of the face that slips. [m]

    Returns
    -------
    float or array
        A radius: a quarter of both diameters together. [m]
    """
    return (washer_outside + washer_inside) / 4


def _lever(diameter, pitch, thread_friction, head_friction, head_radius):
    """Return torque over preload, a length; SI floats."""
    in_thread = thread_friction * pitch_diameter.kernel(diameter, pitch) / (2 * _FLANK)
    return pitch / (2 * np.pi) + in_thread + head_friction * head_radius


@quantities(
    returns="N", refuse=each_of(above_zero("torque"), _FRICTION), torque="N*m", **_TIGHTENED
)
def preload_from_torque(torque, diameter, pitch, thread_friction, head_friction, head_radius):
    """Return the preload to expect of a torque.

    Parameters
    ----------
    torque : float or array
        Of the last, steady pull. [N*m]
    diameter, pitch : float or array
        As in `tensile_stress_area`. [m]
    thread_friction, head_friction : float or array
        With the lubricant used, in the thread and under what turns. [1]
    head_radius : float or array
        Mean radius of the face that turns, see `mean_head_radius`. [m]

    Returns
    -------
    float or array
        Tension. [N]

    Notes
    -----
    F = T / (P / (2 pi) + mu_t d2 / (2 cos 30 deg) + mu_h r_h), d2 the pitch diameter. Left out:
    what friction takes more because the thread slopes, under 1 % up to a friction of 0.2.

    Sources
    -------
    [vdi2230_tables] the same three parts of the torque.

    Examples
    --------
    >>> face = mean_head_radius(Q(0.560, "inch"), Q(0.390, "inch"))
    >>> thread = Q(0.375, "inch"), Q(1 / 24, "inch")
    >>> preload = preload_from_torque(Q(45, "lbf*ft"), *thread, 0.10, 0.10, face)
    >>> print(f"{preload.to('lbf'):.0f~P}")
    10700 lbf
    """
    return torque / _lever(diameter, pitch, thread_friction, head_friction, head_radius)


@quantities(
    returns="N*m", refuse=each_of(above_zero("preload"), _FRICTION), preload="N", **_TIGHTENED
)
def torque_for_preload(preload, diameter, pitch, thread_friction, head_friction, head_radius):
    """Return the torque to expect for a preload, the inverse of `preload_from_torque`.

    Parameters
    ----------
    preload : float or array
        Tension wanted. [N]
    diameter, pitch : float or array
        As in `tensile_stress_area`. [m]
    thread_friction, head_friction : float or array
        As in `preload_from_torque`. [1]
    head_radius : float or array
        As in `preload_from_torque`. [m]

    Returns
    -------
    float or array
        Torque. [N*m]
    """
    return preload * _lever(diameter, pitch, thread_friction, head_friction, head_radius)


@quantities(
    returns="N*m",
    refuse=above_zero("preload", "diameter", "nut_factor"),
    preload="N",
    diameter="m",
    nut_factor="1",
)
def torque_from_nut_factor(preload, diameter, nut_factor):
    """Return the torque for a preload by the short form.

    Parameters
    ----------
    preload : float or array
        Tension wanted. [N]
    diameter : float or array
        Nominal. [m]
    nut_factor : float or array
        Of this bolt with this lubricant. [1]

    Returns
    -------
    float or array
        Torque. [N*m]

    Notes
    -----
    K d F.

    Sources
    -------
    [wentzell_design] Examples 6.1 and 6.4, pp. 120 and 124.
    """
    return nut_factor * diameter * preload


@quantities(returns="1", refuse=_FRICTION, **_TIGHTENED)
def nut_factor(diameter, pitch, thread_friction, head_friction, head_radius):
    """Return the nut factor that stands for a thread and its friction.

    Parameters
    ----------
    diameter, pitch : float or array
        As in `tensile_stress_area`. [m]
    thread_friction, head_friction : float or array
        As in `preload_from_torque`. [1]
    head_radius : float or array
        As in `preload_from_torque`. [m]

    Returns
    -------
    float or array
        Torque over preload and diameter. [1]
    """
    return _lever(diameter, pitch, thread_friction, head_friction, head_radius) / diameter


@quantities(
    returns="1",
    refuse=each_of(_FRICTION, _must_be_shares("friction_uncertainty", "wrench_tolerance")),
    **_TIGHTENED,
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
    lever = _lever(diameter, pitch, thread_friction, head_friction, head_radius)
    by_friction = _lever(diameter, pitch, 1.0, 1.0, head_radius) - pitch / (2 * np.pi)
    sensitivity = by_friction / lever
    return np.hypot(wrench_tolerance / np.sqrt(3), sensitivity * friction_uncertainty)


_PIECES = must_list("lengths", "areas", least=1, sizes=("lengths", "areas"))
_SHANK = {"lengths": "m", "areas": "m**2", "elastic_modulus": "Pa"}


@quantities(
    returns="m",
    refuse=each_of(above_zero("preload", "elastic_modulus"), _PIECES),
    preload="N",
    **_SHANK,
)
def bolt_stretch(preload, lengths, areas, elastic_modulus):
    """Return how much longer a preload makes a bolt.

    Parameters
    ----------
    preload : float or array
        Tension. [N]
    lengths : array
        Of the pieces between head and nut along the last axis; half a diameter of the thread that
        is screwed in counts with the free thread. [m]
    areas : array
        Of each piece; of thread, its stress area. [m**2]
    elastic_modulus : float or array
        Of the bolt. [Pa]

    Returns
    -------
    float or array
        As a micrometer over both ends shows it. [m]

    Notes
    -----
    F / E * sum of l / A, below yield.

    Sources
    -------
    [wentzell_design] Example 6.2, p. 121, of one piece.
    """
    return preload / elastic_modulus * np.sum(lengths / areas, axis=-1)


@quantities(
    returns="N",
    refuse=each_of(above_zero("stretch", "elastic_modulus"), _PIECES),
    stretch="m",
    **_SHANK,
)
def preload_from_stretch(stretch, lengths, areas, elastic_modulus):
    """Return the preload that a measured stretch shows, whatever the friction.

    Parameters
    ----------
    stretch : float or array
        Length tightened less length free. [m]
    lengths : array
        As in `bolt_stretch`. [m]
    areas : array
        As in `bolt_stretch`. [m**2]
    elastic_modulus : float or array
        As in `bolt_stretch`. [Pa]

    Returns
    -------
    float or array
        Tension. [N]
    """
    return stretch * elastic_modulus / np.sum(lengths / areas, axis=-1)


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
