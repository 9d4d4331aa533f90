"""From readings to sizes: repeats, the form of a bore or journal, and the size at 20 degC.

Readings of one thing run along the last axis of an array. A bore read at several heights in
several directions is a table of heights by directions, as `out_of_round` takes it; `taper` takes
it turned, directions by heights.
"""

import numpy as np

from enginecalc.units import Q, above_zero, each_of, first_wrong, quantities  # noqa: F401 (Q)

_REFERENCE = 20.0  # degC, at which dimensions hold: [iso1]
_THIN = 1e-4  # points less wide than a hundredth of their length count as a line


def must_list(*names, least, sizes=()):
    """Return a refusal, for `quantities`, of lists too short, of unequal length or not of numbers.

    Lists run along the last axis; what those of `sizes` hold must be above zero.
    """

    def refuse(title, **arguments):
        counts = {name: (0, *np.shape(arguments[name]))[-1] for name in names}
        faults = [
            f"{name} must hold {least} or more along the last axis, got {count}"
            for name, count in counts.items()
            if count < least
        ]
        if not faults and len({*counts.values()}) > 1:
            got = " and ".join(map(str, counts.values()))
            faults.append(f"{' and '.join(names)} must be as many, got {got}")
        for name in names:
            value = np.asarray(arguments[name])
            good = np.isfinite(value) & ((value > 0) | (name not in sizes))
            if not np.all(good):
                asked = "greater than zero" if name in sizes else "finite"
                faults.append(f"{name} must be {asked}, got {first_wrong(value, good):.6g}")
        if faults:
            raise ValueError(f"{title}: {'; '.join(faults)}.")

    refuse.when = f"{' or '.join(names)} holds fewer than {least}, or a figure not finite"
    refuse.when += f", or one of {' or '.join(sizes)} not above zero" if sizes else ""
    refuse.when += ", or they are not as many" if len(names) > 1 else ""
    return refuse


_REPEATS = must_list("readings", least=1)


@quantities(returns="m", refuse=_REPEATS, readings="m")
def mean_reading(readings):
    """Return the mean of repeated readings of one length.

    Parameters
    ----------
    readings : array
        Repeats along the last axis. [m]

    Returns
    -------
    float or array
        Mean. [m]

    Sources
    -------
    [gum] 4.2.1.
    """
    return np.mean(readings, axis=-1)


@quantities(returns="m", refuse=_REPEATS, readings="m")
def repeat_spread(readings):
    """Return how far repeated readings lie apart.

    Parameters
    ----------
    readings : array
        Repeats along the last axis. [m]

    Returns
    -------
    float or array
        Greatest less least; above three times the resolution, measure again. [m]
    """
    return np.max(readings, axis=-1) - np.min(readings, axis=-1)


@quantities(
    returns="m",
    refuse=each_of(_REPEATS, above_zero("resolution")),
    readings="m",
    resolution="m",
)
def reading_uncertainty(readings, resolution):
    """Return the standard uncertainty of the mean of repeated readings.

    Parameters
    ----------
    readings : array
        Repeats along the last axis. [m]
    resolution : float or array
        Least step the instrument shows. [m]

    Returns
    -------
    float or array
        Standard uncertainty; with one reading, or repeats all alike, the resolution's alone. What
        the instrument itself is off by is not in it. [m]

    Notes
    -----
    sqrt(s^2 / n + resolution^2 / 12), s the standard deviation of the n repeats (n - 1 below the
    line), from few of them itself a rough figure.

    Sources
    -------
    [gum] 4.2.3 for the mean, F.2.2.1 for the resolution.
    """
    count = readings.shape[-1]
    return np.sqrt(np.var(readings, axis=-1) / max(count - 1, 1) + resolution**2 / 12)


_DIAMETERS = must_list("diameters", least=2, sizes=["diameters"])


@quantities(returns="m", refuse=_DIAMETERS, diameters="m")
def taper(diameters):
    """Return how much a bore or journal differs along its axis.

    Parameters
    ----------
    diameters : array
        In one direction, at two or more heights along the last axis. [m]

    Returns
    -------
    float or array
        Greatest less least, in each direction. [m]
    """
    return np.max(diameters, axis=-1) - np.min(diameters, axis=-1)


@quantities(returns="m", refuse=_DIAMETERS, diameters="m")
def out_of_round(diameters):
    """Return how much a bore or journal is seen to differ across its axis, at least.

    Parameters
    ----------
    diameters : array
        At one height, in two or more directions along the last axis: thrust and axial. [m]

    Returns
    -------
    float or array
        Greatest less least, at each height. A lower bound: thrust and axial directions do not see
        an oval that lies at 45 degrees between them, and no diameter sees three lobes. [m]
    """
    return np.max(diameters, axis=-1) - np.min(diameters, axis=-1)


def spans_plane(x, y):
    """Return True where points, along the last axis, do not lie in one line, nor nearly."""
    x, y = _about_middle(x), _about_middle(y)
    xx, yy = _dot(x, x), _dot(y, y)
    return xx * yy - _dot(x, y) ** 2 > _THIN * (xx + yy) ** 2


def plane_slopes(x, y, z):
    """Return the slopes in x and y of the plane that fits points best in z.

    Takes SI floats, points along the last axis; nan where these lie in one line.
    """
    apart = spans_plane(x, y)
    x, y, z = _about_middle(x), _about_middle(y), _about_middle(z)
    xx, yy, xy, xz, yz = _dot(x, x), _dot(y, y), _dot(x, y), _dot(x, z), _dot(y, z)
    area = np.where(apart, xx * yy - xy * xy, np.nan)
    return (xz * yy - yz * xy) / area, (yz * xx - xz * xy) / area


def _about_middle(values):
    return values - np.mean(values, axis=-1, keepdims=True)


def _dot(one, other):
    return np.sum(one * other, axis=-1)


_ROUND = must_list("diameters", "directions", least=3, sizes=["diameters"])


def _must_show_an_oval(title, diameters, directions):
    """Raise ValueError where three directions or more do not differ; SI floats."""
    _ROUND(title, diameters=diameters, directions=directions)
    if not np.all(spans_plane(np.cos(2 * directions), np.sin(2 * directions))):
        got = np.array2string(np.degrees(directions), precision=4)
        raise ValueError(
            f"{title}: directions must be three or more different ones, got {got} deg."
            " Half a turn further is the same diameter again."
        )


_must_show_an_oval.when = f"{_ROUND.when}, or fewer than three of the directions differ"


@quantities(returns="m", refuse=_must_show_an_oval, diameters="m", directions="rad")
def fitted_ovality(diameters, directions):
    """Return how oval a bore or journal is, however the oval lies.

    Parameters
    ----------
    diameters : array
        At one height, in three or more directions along the last axis. [m]
    directions : array
        Of each diameter, from any one direction across the bore, such as 0, 45 and 90 deg. [rad]

    Returns
    -------
    float or array
        Greatest less least diameter of the oval that fits best, least squares. [m]

    Notes
    -----
    2 sqrt(a^2 + b^2) of the fit D = D0 + a cos(2 p) + b sin(2 p), p the direction; three lobes, or
    any odd number of them, still show in no diameter.

    Sources
    -------
    [geometry] an oval's second harmonic.
    """
    return 2 * np.hypot(*plane_slopes(np.cos(2 * directions), np.sin(2 * directions), diameters))


@quantities(
    returns="m",
    refuse=above_zero("size", "expansion"),
    size="m",
    expansion="1/K",
    temperature="degC",
)
def reference_size(size, expansion, temperature):
    """Return the size at 20 degC of a part measured warmer or colder.

    Parameters
    ----------
    size : float or array
        As measured. [m]
    expansion : float or array
        Coefficient of linear expansion of the part. [1/K]
    temperature : float or array
        Of the part when it was measured; the kernel, too, takes degrees Celsius. [degC]

    Returns
    -------
    float or array
        Size. [m]

    Notes
    -----
    D (1 - alpha (T - 20)).

    Sources
    -------
    [iso1] for 20 degC; [bansal_strength] Problem 1.28, p. 43, for the growth.

    Examples
    --------
    >>> cold = reference_size(Q(4.1058, "inch"), Q(21e-6, "1/K"), Q(30, "degC"))
    >>> print(f"{cold.to('inch'):.4f~P}")
    4.1049 in
    """
    return size * (1 - expansion * (temperature - _REFERENCE))
