"""All results of a build as one plain CSV that opens anywhere, without this workbook."""

import csv
import io
import math
import re

from enginecalc.records import figures
from enginecalc.records.clearances import block_clearances
from enginecalc.records.doubts import cannot_be
from enginecalc.records.fit_results import fit_results
from enginecalc.records.ledger_rows import inert
from enginecalc.records.reference import rows
from enginecalc.records.results import Result, results
from enginecalc.units import ureg

COLUMNS = (
    *("engine", "state", "place", "name", "meaning", "value", "unit", "standard uncertainty"),
    *("low", "high", "limit source", "status", "origin", "reason"),
    *("nearest part", "crank angle [deg]"),
)
PLANNED = "as planned"
_AS_IF_ALIKE = {"displacement": " As if all cylinders were like this one."}


def results_csv(build):
    """Return every result of a build as the bytes of a CSV: UTF-8, commas, decimal points.

    First the engine as planned, with the clearances in its block, then each cylinder with
    readings as measured, then the fits place by place. A figure has all its digits, in the unit of
    its limits or else in its usual one; what is not known is blank, with a reason. A text that a
    spreadsheet would work out as a formula gets an apostrophe before it.

    Parameters
    ----------
    build : Build
        With or without readings. Parts of a cylinder that do not go together give a row that
        says so.
    """
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    for row in _rows(build):
        writer.writerow({"engine": _text(build.engine.name), **row})
    return out.getvalue().encode()


def _rows(build):
    for each in results(build.engine):
        yield _row(PLANNED, "engine", each, "planned")
    yield from _block(build.engine)
    for number in build.cylinders:
        yield from _cylinder(build, number)
    for fit in fit_results(build):
        row = _row("as measured", fit.place, fit.result, "measured")
        yield {**row, "status": "cannot be"} if cannot_be(fit.result) else row


def _cylinder(build, number):
    """Yield the rows of a cylinder as measured; none where nothing of it was."""
    state, place = f"cylinder {number} as measured", f"cylinder {number}"
    try:
        engine = build.measured(number)
    except ValueError as fault:
        for line in str(fault).splitlines():
            yield {"state": state, "place": place, "status": "cannot be", "reason": _text(line)}
        return
    if engine is build.engine:
        return
    for each in results(engine):
        fields = sorted(build.fields_read(number) & {*figures.rests_on(each.name)})
        origin = f"measured: {', '.join(fields)}" if fields else "planned"
        row = _row(state, place, each, origin)
        yield {**row, "meaning": row["meaning"] + _AS_IF_ALIKE.get(each.name, "")}


def _block(engine):
    """Yield the rows of the clearances in the block, pair by pair."""
    table = block_clearances(engine)
    for gap in table.to_dict("records"):
        source = table.attrs["sources"][gap["pair"]]
        result = Result(gap["pair"], gap["clearance"], low=gap["limit"], source=source)
        row = _row(PLANNED, f"cylinder {gap['cylinder']}", result, "planned")
        angle = _number(gap["crank_angle"], ureg.Unit("deg"))
        yield {**row, "nearest part": _text(gap["feature"]), "crank angle [deg]": angle}
    for pair, reason in table.attrs["not_measured"].items():
        yield _row(PLANNED, "engine", Result(pair, None, reason=reason), "")


def _row(state, place, result, origin):
    """Return the cells of a result by the name of their column."""
    known = result.value is not None and not math.isnan(result.value.magnitude)
    limited = result.low is not None or result.high is not None
    unit = _unit_of(result)
    entry = rows("glossary", "name").get(result.name)
    no_value = result.reason or "these dimensions give no figure for it"
    return {
        "state": state,
        "place": place,
        "name": _text(result.name),
        "meaning": _text(entry["meaning"] if entry else "Least gap of the two over a turn."),
        "value": _number(result.value, unit),
        "unit": _plain(unit) if known or limited else "",
        "standard uncertainty": _number(result.u, unit),
        "low": _number(result.low, unit),
        "high": _number(result.high, unit),
        "limit source": _text(result.source),
        "status": result.status if limited or not known else "no limit",
        "origin": origin if known else "",
        "reason": "" if known else _text(no_value),
    }


def _unit_of(result):
    """Return the unit of a result's limits, else the glossary's usual one, None where unknown."""
    for limit in (result.low, result.high):
        if limit is not None:
            return limit.units
    entry = rows("glossary", "name").get(result.name)
    if entry:
        return ureg.Unit("" if entry["unit"] == "1" else entry["unit"])
    return None if result.value is None else result.value.units


def _plain(unit):
    """Return a unit in plain letters, "1" for a ratio."""
    return f"{unit:~C}".replace("**", "^") or "1"


def _number(quantity, unit):
    """Return all digits of a quantity, "" for one that is not known."""
    if quantity is None:
        return ""
    size = float(quantity.m_as(unit))
    return "" if math.isnan(size) else repr(size)


def _text(text):
    """Return a text with one sort of line end, no zero byte, that no spreadsheet works out."""
    return inert(re.sub("\r\n?", "\n", str(text)).replace("\0", "\ufffd"))
