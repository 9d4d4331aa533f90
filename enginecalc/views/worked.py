"""Published problems worked again: the printed figure beside ours, as a table of plain text."""

import math
from decimal import Decimal

_HEADINGS = ("what", "printed", "ours", "unit", "differs by", "may differ by")
_LEFT = {0, 3}  # words to the left, figures to the right
_MORE = 2  # decimals that ours shows beyond the printed ones
_SLACK = 1 + 1e-6  # half a digit itself still agrees: 318.75 is printed as 318.8


def compare_with_print(rows):
    """Return a table of printed figures beside ours; refuse one that is further off than allowed.

    Parameters
    ----------
    rows : list of tuple
        What it is, the printed figure as text ("85.36"), ours as a quantity or a number in the
        unit, the unit as text ("" for a ratio), and if print and ours may differ by more than
        half of the last printed digit, by how much: "0.3" in the unit, or "2 %" of the printed.

    Returns
    -------
    Comparison
        Shows itself as text that is the same whatever the versions of the libraries.

    Raises
    ------
    ValueError
        Naming every figure that does not agree, and by how much it may differ.

    Examples
    --------
    >>> from enginecalc.units import Q
    >>> compare_with_print([("piston speed", "17.20", Q(62, "km/hour"), "m/s", "0.5 %")])
    what          printed     ours  unit  differs by  may differ by
    piston speed    17.20  17.2222  m/s      +0.0222          0.5 %
    """
    lines, faults = [], []
    for what, printed, ours, unit, *allowed in rows:
        value = ours.m_as(unit) if hasattr(ours, "m_as") else ours
        value = float(value)
        text, most = _allowance(printed, *allowed)
        off = value - float(printed)
        decimals = max(-_exponent(printed), 0) + _MORE
        lines.append(
            (what, printed, _figure(value, decimals), unit, _figure(off, decimals, "+"), text)
        )
        if not abs(off) <= most * _SLACK:
            faults.append(
                f"{what} must agree with the printed {printed} {unit}".rstrip()
                + f" to within {text}, got {_figure(value, decimals)}"
            )
    if faults:
        raise ValueError(f"compare_with_print: {'; '.join(faults)}.")
    return Comparison(text_table(_HEADINGS, lines, _LEFT))


class Comparison:
    """A table that shows itself as it is, and as nothing but text."""

    def __init__(self, text):
        self.text = text

    def __repr__(self):
        return self.text


def text_table(headings, rows, left=()):
    """Return a table as lines of text, its columns two spaces apart.

    Parameters
    ----------
    headings : sequence of str
        Of the columns.
    rows : sequence of sequence of str
        One text for each column.
    left : collection of int
        The columns that begin at their left edge; all others end at their right one.
    """
    table = [headings, *rows]
    widths = [max(map(len, column)) for column in zip(*table, strict=True)]
    lines = (
        "  ".join(
            f"{text:{'<' if at in left else '>'}{width}}"
            for at, (text, width) in enumerate(zip(row, widths, strict=True))
        )
        for row in table
    )
    return "\n".join(line.rstrip() for line in lines)


def _exponent(printed):
    """Return the power of ten of a printed figure's last digit: -2 of "85.36"."""
    return Decimal(printed).as_tuple().exponent


def _allowance(printed, allowed=None):
    """Return by how much ours may differ, as text and as a number in the unit."""
    if allowed is None:
        half = Decimal(5).scaleb(_exponent(printed) - 1)
        return f"{half:f}", float(half)
    number, percent, _ = allowed.partition("%")
    share = abs(float(printed)) / 100 if percent else 1.0
    return allowed, float(number) * share


def _figure(value, decimals, sign=""):
    """Return a number as text, never "-0.00"."""
    if not math.isfinite(value):
        return str(value)
    value = round(value, decimals) + 0.0
    return f"{value:{sign}.{decimals}f}" if value else f"{0.0:.{decimals}f}"
