"""Turning torque in words and tables: the log, a trace, and what binds by what it feels like."""

from enginecalc.records.drag_causes import causes, of_finished_engine
from enginecalc.records.torque_log import torque_log
from enginecalc.units import ureg
from enginecalc.views import tables

_TORQUE = {"inch": ("lbf·ft", 1, ureg.Unit("lbf*ft")), "metric": ("N·m", 1, ureg.Unit("N*m"))}


def torque_in(quantity, system):
    """Return a torque as a number in the unit of a system."""
    return quantity.m_as(_TORQUE[system][2])


def torque_unit(system):
    """Return the unit of torque of a system, and the decimals to show."""
    return _TORQUE[system][:2]


def torque_words(quantity, system):
    """Return a torque in words: "45 lbf·ft"."""
    unit, decimals = torque_unit(system)
    return f"{tables.number(torque_in(quantity, system), decimals).removesuffix('.0')} {unit}"


def log_bars(build, system):
    """Return what `TorqueSteps` draws: words, total, added or None, tight; and the log."""
    log = torque_log(build, torque_unit(system)[0])
    rows = [
        (each.words.replace("the crank alone", "crank").replace("cylinder", "cyl."),
         torque_in(each.torque, system),
         None if each.increment is None else torque_in(each.increment, system),
         each.tight)
        for each in log.entries
    ]  # fmt: skip
    return rows, log


def log_words(build, log):
    """Return what a log says, what is doubtful in it, and what to suspect, as HTML."""
    said = tables.paragraphs(sentences(log.words))
    said += "".join(tables.note(f"{tables.upper(each)}.") for each in log.doubts)
    if log.patterns:
        title = "What to suspect, by what it feels like when the crank is turned"
        table = causes_table(log.patterns)
        said += f"<details><summary>{title}</summary>{table}</details>"
    return said + tables.paragraphs(f"{tables.upper(of_finished_engine(build.engine))}.")


def causes_table(patterns):
    """Return the table of what to suspect for patterns of drag."""
    rows = [(row["pattern"], row["suspects"], row["look"]) for row in causes(*patterns)]
    heads = ("the torque is", "suspect first", "look at")
    caution = causes(*patterns)[0]["caution"]
    caption = f"What binds, by what it feels like (common practice, no source). {caution}"
    return (
        f'<div class="enginecalc-left">{tables.html_table(heads, rows, caption, words=True)}</div>'
    )


def sentences(words):
    """Return what a log or a trace says as sentences."""
    return " ".join(f"{tables.upper(each)}." for each in words)
