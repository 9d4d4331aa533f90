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
FRICTION = each_of(_THREAD, above_zero("thread_friction", "head_friction", "head_radius"))
TIGHTENED = {
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


@quantities(returns="N", refuse=each_of(above_zero("torque"), FRICTION), torque="N*m", **TIGHTENED)
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
    returns="N*m", refuse=each_of(above_zero("preload"), FRICTION), preload="N", **TIGHTENED
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


@quantities(returns="1", refuse=FRICTION, **TIGHTENED)
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
