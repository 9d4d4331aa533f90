"""Every result of an engine in one list, each with how sure it is and the limits it must keep."""

import functools
from dataclasses import dataclass

import numpy as np
import pint

from enginecalc import limits, uncertainty
from enginecalc.records import figures
from enginecalc.records.reference import table
from enginecalc.units import Q, read_typed, to_si, ureg


@dataclass(frozen=True)
class Result:
    """One figure of an engine: value, how sure, the limits it must keep and where they come from.

    `reason` says why there is no value. `spread` says what makes the value unsure, in SI.
    """

    name: str
    value: pint.Quantity | None
    u: pint.Quantity | None = None
    low: pint.Quantity | None = None
    high: pint.Quantity | None = None
    source: str = ""
    reason: str = ""
    spread: uncertainty.Spread | None = None

    @functools.cached_property
    def status(self):
        """One of "within", "close", "outside", "not measured"; without limits, "within"."""
        value, low, high, u = (
            None if each is None else to_si(each)
            for each in (self.value, self.low, self.high, self.u)
        )
        return limits.status(value, low, high, u)


def results(engine, names=figures.RESULTS):
    """Return the list of an engine's `Result`, in the order in which they are shown.

    Parameters
    ----------
    engine : Engine
        As read or altered.
    names : sequence of str
        Which ones; all when not given.
    """
    values, spreads = _spreads(engine, names)
    return [_result(engine, name, values[name], spreads.get(name)) for name in names]


def _result(engine, name, value, spread):
    unit = _unit(figures.UNITS[name])
    low, high, source = limits_of(engine, name, unit)
    return Result(
        name,
        value=None if value is None else Q(value, unit),
        u=None if spread is None else Q(spread.u, unit),
        low=low,
        high=high,
        source=source,
        reason=f"{name} {engine.lacking(name)}" if value is None else "",
        spread=spread,
    )


_unit = functools.cache(ureg.Unit)


def _spreads(engine, names):
    """Return {name: value} and {name: Spread}, from the limits typed with the dimensions.

    All in one evaluation, of which the first column is the value.
    """
    uncertain = {}
    for path in figures.FIELDS:
        text = engine.text_at(path)
        if isinstance(text, str) and ("±" in text or "+" in text):
            u = read_typed(text).standard_uncertainty
            if u is not None:
                uncertain[path] = to_si(u)
    if not uncertain:
        return engine.values, {}
    columns = figures.Figures(uncertainty.shifted(figures.inputs(engine), uncertain))
    varied = {name: columns[name] for name in names if np.ndim(columns[name])}
    values = {name: float(varied[name][0]) if name in varied else columns[name] for name in names}
    return values, {name: uncertainty.spread(each, uncertain) for name, each in varied.items()}


def limits_of(engine, name, unit):
    """Return low, high and source for a result: the engine's own, else common practice."""
    own = engine.limits.get(name)
    if own is not None:
        low, high = (
            None if each is None else Q(each, unit) if isinstance(each, int | float) else each
            for each in (own.low, own.high)
        )
        return low, high, own.source or "the engine file"
    for row in _DEFAULTS.get(name, ()):
        part, _, wanted = row["condition"].partition(" = ")
        if not part or figures.field(engine, part) == wanted:
            low, high = (_bound(engine, row, side) for side in ("low", "high"))
            return low, high, row["source"]
    return None, None, ""


def _bound(engine, row, side):
    """Return a limit of the table: a figure, and so much more per unit of a field; or None."""
    if not row[side]:
        return None
    bound = _amount(row[side], row["unit"])
    if not row[f"{side}_per"]:
        return bound
    size = figures.field(engine, row["of"])
    return None if size is None else bound + float(row[f"{side}_per"]) * size.to(row["unit"])


@functools.cache
def _amount(text, unit):
    return Q(float(text), unit)


_DEFAULTS = {
    name: rows.to_dict("records") for name, rows in table("limits").groupby("result", sort=False)
}
