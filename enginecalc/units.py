"""One pint registry, the decorator through which quantities reach the formulas, and typed text.

Formulas are plain float functions in coherent SI. `quantities` converts at their door;
`read` turns what a person typed ("9.170 ± 0.002 in", "86,5 mm", "3 7/8 in") into a quantity.
"""

import functools
import inspect
import math
import re
from dataclasses import dataclass

import numpy as np
import pint
from pint.util import to_units_container


def _registry():
    """Return the registry somebody already set for this process, or make and set ours."""
    current = pint.application_registry.get()
    if type(current) is not pint.registry.LazyRegistry:
        return current
    try:
        registry = pint.UnitRegistry(cache_folder=":auto:")
    except OSError:  # no home to write a cache into: slower to start, otherwise the same
        registry = pint.UnitRegistry()
    pint.set_application_registry(registry)
    return registry


ureg = _registry()
Q = ureg.Quantity
_INFINITY = math.inf
_OFFSET = object()  # marks a unit such as degC, which no factor can convert


class UnitError(TypeError):
    """An argument arrived without a unit, or with a unit of the wrong kind."""


_RAISES = """

Raises
------
UnitError
    When an argument has no unit, or one of the wrong kind; all of them in one message.
"""


def quantities(returns, *, refuse=None, **takes):
    """Let a plain-float kernel take quantities and return one.

    Factors are learnt once per argument and unit. The kernel stays reachable as ``.kernel``,
    the units as ``.takes`` and ``.returns``; what is refused is added to the docstring.

    Parameters
    ----------
    returns : str
        Unit of the result. A ratio is "1".
    refuse : callable
        ``refuse(title, **arguments)`` sees the SI floats first and raises ValueError for what
        cannot be; ``refuse.when`` says when, for the docstring.
    **takes : str
        The unit of each argument. An argument not named here passes untouched. An argument in
        rad or rad/s takes only units that say what turns; one in "1" also takes a bare number.

    Raises
    ------
    UnitError
        By the decorated function, naming every argument without a unit or with a wrong one.
    """
    unit_out = ureg.Unit(returns)
    targets = {name: ureg.Unit(unit) for name, unit in takes.items()}

    def decorate(kernel):
        signature = inspect.signature(kernel)
        names = tuple(signature.parameters)
        if strangers := takes.keys() - set(names):
            raise TypeError(f"{kernel.__name__} has no parameter {sorted(strangers)}")
        converted = [name for name in names if name in takes]
        factors = {name: {} for name in converted}
        needed = sum(each.default is each.empty for each in signature.parameters.values())
        _TAKES[kernel.__name__] = takes

        @functools.wraps(kernel)
        def with_units(*args, **kwargs):
            given = len(args) + len(kwargs)
            twice = kwargs and not kwargs.keys() <= {*names[len(args) :]}
            if twice or not needed <= given <= len(names):
                try:
                    signature.bind(*args, **kwargs)
                except TypeError as wrong:  # a wrong call, in Python's own words
                    raise TypeError(f"{kernel.__name__}() {wrong}") from None
            arguments = dict(zip(names, args, strict=False), **kwargs)
            faults = []
            for name in converted:
                if name not in arguments:
                    continue
                value, known = arguments[name], factors[name]
                try:
                    units = value.units
                    factor = known.get(units)
                    if factor is None:
                        factor = known[units] = _factor(units, targets[name])
                except AttributeError:
                    if takes[name] != "1" or isinstance(value, str):
                        faults.append(f"{_needs(name, takes)}, got the bare {value!r}")
                except pint.DimensionalityError:
                    faults.append(f"{_needs(name, takes)}, got {value:.6g~P}")
                else:
                    if factor is _OFFSET:
                        arguments[name] = value.m_as(targets[name])
                    else:
                        arguments[name] = (
                            value.magnitude * factor if factor != 1 else value.magnitude
                        )
            if faults:
                raise UnitError(f"{kernel.__name__}: {'; '.join(faults)}. Write Q(number, 'unit').")
            if refuse is not None:
                refuse(kernel.__name__, **arguments)
            return Q(kernel(**arguments), unit_out)

        with_units.kernel, with_units.takes, with_units.returns = kernel, takes, returns
        with_units.__doc__ = inspect.cleandoc(kernel.__doc__ or "") + _RAISES
        if refuse is not None:
            with_units.__doc__ += f"ValueError\n    When {refuse.when}.\n"
        return with_units

    return decorate


def _factor(units, target):
    """Return the factor from `units` to `target`; refuse a rate that does not say what turns."""
    if _turns(units) != _turns(target):
        raise pint.DimensionalityError(units, target)  # pint alone would read 1/min as rad/min
    one, two = (Q(number, units).m_as(target) for number in (1.0, 2.0))
    if math.isclose(two, 2 * one, rel_tol=1e-12):
        return one
    if "delta" in str(target):
        raise pint.DimensionalityError(units, target)  # 20 degC is a reading, not a rise
    return _OFFSET


def _needs(name, takes):
    return f"{name} needs a unit like {takes[name]}"


_FACTORS = {}


def to_si(quantity):
    """Return the magnitude of a quantity in coherent SI, by a factor learnt once per unit."""
    key = to_units_container(quantity)  # cheaper to look up than quantity.units
    factor = _FACTORS.get(key)
    if factor is None:
        base = Q(1.0, quantity.units).to_base_units().units
        factor = _FACTORS[key] = _factor(quantity.units, base)
    if factor is _OFFSET:
        return quantity.to_base_units().magnitude
    return quantity.magnitude * factor


def size_in(quantity, unit):
    """Return the magnitude of a quantity in a unit, as ``m_as`` does, by a factor learnt once."""
    key = to_units_container(quantity), to_units_container(unit)
    factor = _FACTORS.get(key)
    if factor is None:
        factor = _FACTORS[key] = _factor(quantity.units, unit)
    return quantity.m_as(unit) if factor is _OFFSET else quantity.magnitude * factor


def same_kind(unit, other):
    """Say whether two units measure the same kind of thing; an angle is not a ratio."""
    return unit.dimensionality == other.dimensionality and _turns(unit) == _turns(other)


def short(quantity):
    """Return a quantity as text with no digit more than it has: "400 deg"."""
    text = f"{quantity.magnitude:g} {quantity.units:~P}"
    return text.replace("ft·lbf", "lbf·ft").replace("m·N", "N·m")


@functools.cache
def _turns(unit):
    """Say whether `unit` names an angle: rad, deg, turn, rpm, but not Hz or a bare 1/min."""
    words = re.split(r"[^a-z_]+", str(unit))
    return any(word.endswith(("radian", "degree", "turn")) or "revol" in word for word in words)


_TAKES = {}  # {function: {argument: unit}}, for the sentences of refusals


def above_zero(*names):
    """Return a refusal, for `quantities`, of the named arguments where they are not above zero.

    Infinity and nan are refused with them.
    """

    def refuse(title, **arguments):
        faults = []
        for name in names:
            value = arguments.get(name, 1.0)
            if type(value) is float and 0.0 < value < _INFINITY:
                continue  # the usual case, at the least cost
            good = (value > 0) & (value < _INFINITY)
            if not np.all(good):
                wrong = first_wrong(value, good)
                asked = "finite" if wrong == _INFINITY else "greater than zero"
                unit = _TAKES.get(title, {}).get(name, "1").replace("1", "")
                faults.append(f"{name} must be {asked}, got {wrong:.6g} {unit}".rstrip())
        if faults:
            raise ValueError(f"{title}: {'; '.join(faults)}.")

    refuse.when = f"{' or '.join(names)} is not greater than zero"
    return refuse


def each_of(*refusals):
    """Return one refusal that raises everything the given ones find wrong, in one ValueError."""

    def refuse(title, **arguments):
        faults = []
        for one in refusals:
            try:
                one(title, **arguments)
            except ValueError as fault:
                faults.append(str(fault))
        if faults:
            raise ValueError(" ".join(faults))

    refuse.when = ", or ".join(one.when for one in refusals)
    return refuse


def first_wrong(value, good):
    """Return the first element of `value` where the mask `good` is not true, as a float."""
    value, good = np.broadcast_arrays(value, good)
    return float(value[~good].flat[0])


# --- typed text -------------------------------------------------------------------------------

# What a person may write, in small letters, and what pint calls it. Nothing else is read.
_UNITS = {
    "inch": 'in inch inches "',
    "thou": "thou",
    "mm": "mm",
    "cm": "cm",
    "m": "m",
    "um": "µm μm um",
    "cm**3": "cc cm3 ccm ml",
    "mm**3": "mm3",
    "inch**3": "in3 cuin cu·in",
    "liter": "litre liter l",
    "inch**2": "in2 sq·in",
    "mm**2": "mm2",
    "cm**2": "cm2",
    "m/s": "m/s",
    "ft/min": "ft/min",
    "m/s**2": "m/s2",
    "deg": "deg degree degrees °",
    "rpm": "rpm rev/min r/min",
    "g": "g",
    "kg": "kg",
    "oz": "oz",
    "lb": "lb lbs",
    "N*m": "n·m nm",
    "lbf*ft": "lbf·ft ft·lbf lb·ft ft·lb ft·lbs",
    "lbf*inch": "lbf·in in·lbf lb·in in·lb in·lbs",
    "kgf*m": "kgf·m",
    "N": "n",
    "kN": "kn",
    "lbf": "lbf",
    "psi": "psi",
    "ksi": "ksi",
    "bar": "bar",
    "kPa": "kpa",
    "MPa": "mpa n/mm2",
    "GPa": "gpa",
    "degC": "°c degc",
    "degF": "°f degf",
}
_SMALL = {"thou", *_UNITS["um"].split()}  # units of tolerances: never taken for the figure's own
_ALIASES = {alias: ureg.Unit(unit) for unit, aliases in _UNITS.items() for alias in aliases.split()}
_RISES = {ureg.Unit("degC"): ureg.Unit("delta_degC"), ureg.Unit("degF"): ureg.Unit("delta_degF")}

# The kinds of figure that are asked for, each with an example of how to write one.
KINDS = {
    "length": "83.5 mm",
    "volume": "70.0 cc",
    "area": "0.42 in²",
    "angle": "105 deg",
    "turning speed": "6200 rpm",
    "mass": "438 g",
    "torque": "61 N·m",
    "force": "10700 lbf",
    "pressure": "1030 MPa",
    "temperature": "20 °C",
    "temperature rise": "90 °C",
}


@dataclass(frozen=True)
class Typed:
    """A figure as a person typed it: the text, the middle figure, and its limits either side."""

    text: str
    value: pint.Quantity
    plus: pint.Quantity | None = None
    minus: pint.Quantity | None = None

    @functools.cached_property
    def standard_uncertainty(self):
        """Half the width of the limits over the root of three, or None without limits.

        Sources: [gum] 4.3.7, a rectangular distribution between the limits.
        """
        return None if self.plus is None else (self.plus + self.minus) / 2 / math.sqrt(3)


def read(text, kind=None):
    """Return the quantity a person typed; of "9.170 ± 0.002 in" the middle figure.

    Parameters
    ----------
    text : str
        A number and a unit: "104.4mm", "3 7/8 in", "86,5 mm", "4.110 +0.001/-0.000 in", "2 thou".
    kind : str
        One of `KINDS`; a figure of another kind is refused. None takes any.

    Raises
    ------
    ValueError
        In one sentence that says what came and how to write it.
    """
    return read_typed(text, kind).value


def read_typed(text, kind=None):
    """Return the `Typed` figure with its limits; see `read`."""
    if not isinstance(text, str):
        raise ValueError(f"{text!r} has no unit; {_how(kind)}")
    return _read_typed(text, kind)


def _how(kind):
    return f'write it like "{KINDS[kind or "length"]}"'


@functools.lru_cache(maxsize=8192)
def _read_typed(text, kind):
    how = _how(kind)
    plain = _plain(text)
    if not plain:
        raise ValueError(f"nothing was typed; {how}")
    parts = re.fullmatch(r"(.+?)(?:(?:±|\+/-|\+-)(.*)|\+([^/]*)/ *-(.*))?", plain).groups()
    pieces = [_NUMBER.fullmatch(part.strip()) for part in parts if part is not None]
    if None in pieces:
        raise ValueError(f'"{text.strip()}" is not a number with a unit; {how}')
    names = [piece["unit"].strip() for piece in pieces]
    if not any(names):
        raise ValueError(f"{plain} has no unit; {how}")
    if not names[0] and names[-1].lower() in _SMALL:
        raise ValueError(f"{plain}: which unit is the figure itself in? Write it beside it; {how}")
    names = [name or names[0] or names[-1] for name in names]
    numbers = [_number(piece, name, text, how) for piece, name in zip(pieces, names, strict=True)]
    units = [_unit(name, text, how) for name in names]
    if kind == "temperature rise":
        units = [_RISES.get(unit, unit) for unit in units]
    if kind and not same_kind(units[0], _ASKED[kind]):
        article = "an" if kind[0] in "aeiou" else "a"
        raise ValueError(f"{text.strip()} is not {article} {kind}; {how}")
    units[1:] = [_RISES.get(unit, unit) for unit in units[1:]]  # a tolerance is a difference
    if any(unit.dimensionality != units[0].dimensionality for unit in units):
        raise ValueError(f"{text.strip()} mixes units of different kinds; {how}")
    if any(number < 0 for number in numbers[1:]):
        raise ValueError(
            f'{text.strip()} has a negative tolerance; write it like "9.170 ± 0.002 in"'
        )
    figures = [Q(number, unit) for number, unit in zip(numbers, units, strict=True)]
    if len(figures) == 2:
        figures.append(figures[1])
    return Typed(text, *figures)


def _plain(text):
    """Return `text` with one sort of minus, space, quote and dot."""
    for sort, one in (("\u2212\u2013", "-"), ("\u00a0\u202f\t\n", " "), ("”″", '"'), ("⋅∙", "·")):
        text = re.sub(f"[{sort}]", one, text)
    return text.strip()


_NUMBER = re.compile(
    r"(?P<sign>[+-]?) *"
    r"(?:(?:(?P<whole>\d+) +)?(?P<top>\d+)/(?P<bottom>\d+)"  # 3 7/8
    r"|(?P<decimal>(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]?\d+)?))"  # 86,5
    r"(?![\d/])(?P<unit>.*)"
)


def _number(piece, unit, text, how):
    """Return the number in a piece of typed text, "3 7/8" as 3.875."""
    if piece["decimal"]:
        number = float(_settle_commas(piece["decimal"], unit, text))
    elif int(piece["bottom"]) == 0:
        raise ValueError(f'"{text.strip()}" divides by zero; {how}')
    else:
        whole, top, bottom = (float(piece[part] or 0) for part in ("whole", "top", "bottom"))
        number = whole + top / bottom
    if not math.isfinite(number):
        raise ValueError(f'"{text.strip()}" is too large to be meant; {how}')
    return -number if piece["sign"] == "-" else number


def _settle_commas(number, unit, text):
    """Return `number` with a point for its decimals and no grouping, or refuse to guess."""
    marks = "".join(mark for mark in number if mark in ".,")
    if marks in ("", "."):
        return number
    if marks == ",":
        before, after = number.split(",")
        if re.fullmatch(r"[1-9]\d?\d?", before) and re.fullmatch(r"\d{3}", after):
            raise ValueError(
                f'"{text.strip()}" can be read as {before}.{after} {unit} or as {before}{after}'
                f" {unit}; write {before}.{after} {unit} or {before}{after} {unit}"
            )
        return f"{before}.{after}"
    group, point = (marks[0], marks[-1]) if len(set(marks)) == 2 else (marks[0], None)
    grouped = rf"\d{{1,3}}(\{group}\d{{3}})+" + (rf"\{point}\d*" if point else "")
    if not re.fullmatch(grouped, number):
        raise ValueError(
            f'"{text.strip()}" has its points and commas mixed; write one decimal point'
        )
    number = number.replace(group, "")
    return number.replace(point, ".") if point else number


def _unit(name, text, how):
    """Return the unit a person wrote, from the allow-list."""
    name = name.lower().replace("³", "3").replace("²", "2").replace("^", "").replace("**", "")
    unit = _ALIASES.get(re.sub(r"[ ·*-]+", "·", name))
    if unit is None:
        raise ValueError(f'"{text.strip()}": {name} is not a unit known here; {how}')
    return unit


_ASKED = {kind: _unit(example.split(" ", 1)[1], example, "") for kind, example in KINDS.items()}
