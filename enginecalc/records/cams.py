"""The lobes of an engine: from its card, or from a lift table that lies beside its file."""

import functools
from pathlib import Path

import numpy as np
import pandas as pd

from enginecalc.lobes import CardLobe, SmoothLobe, card_lobe, concave_above, flattest, table_lobe
from enginecalc.units import Q, to_si

_card_lobe = functools.lru_cache(card_lobe)
_flattest = functools.lru_cache(flattest)
_UNITS = {"lift [in]": "inch", "lift [mm]": "mm"}


def lobes_of(engine, folder):
    """Return the lobes of an engine, and what is wrong with them.

    Parameters
    ----------
    engine : Engine
        As far as it reads.
    folder : path
        Where its lift tables lie.

    Returns
    -------
    lobes : dict
        "intake" and "exhaust", None where the file does not give one.
    faults : list of str
        Sentences for lobes that cannot be.
    """
    lobes, faults = {}, []
    for side in ("intake", "exhaust"):
        valve = getattr(engine, side)
        try:
            lobes[side] = _lobe(valve, folder)
        except (ValueError, OSError) as fault:
            lobes[side] = None
            where = "table" if valve.table else "duration"
            faults += [f"{side}.{where}: {line}" for line in str(fault).splitlines()]
        faults += _concave(engine, side, lobes[side])
    return lobes, faults


def _lobe(valve, folder):
    """Return the lobe that one side of the file describes, or None."""
    if valve.table is not None:
        if valve.lobe_lift is not None or valve.duration:
            raise ValueError("a lift table and a card's lobe_lift or duration; give one of the two")
        path = (Path(folder) / valve.table).resolve()
        if not path.is_file():
            raise ValueError(f"there is no file {valve.table} beside the engine file")
        return _table(path, path.stat().st_mtime_ns)
    pairs = valve.duration or []
    if valve.lobe_lift is None or not pairs or any(None in (p.angle, p.at_lift) for p in pairs):
        return None
    lift = to_si(valve.lobe_lift)
    at_lifts = tuple(to_si(pair.at_lift) for pair in pairs)
    if any(each >= lift for each in at_lifts):
        return None  # said by the faults of the fields
    if len(pairs) == 1:
        return SmoothLobe.through(lift, to_si(pairs[0].angle), at_lifts[0])
    return _card_lobe(lift, at_lifts, tuple(to_si(pair.angle) / 2 for pair in pairs))


@functools.lru_cache(maxsize=64)
def _table(path, _changed):
    """Return the lobe in a lift table; read anew when the file changed."""
    try:
        table = pd.read_csv(path, encoding="utf-8-sig", skipinitialspace=True)
    except (pd.errors.ParserError, pd.errors.EmptyDataError, UnicodeDecodeError):
        raise ValueError(
            f"{path.name} is not a table of two columns, angle [deg] and lift [in] or lift [mm]"
        ) from None
    lift = [name for name in table.columns if name in _UNITS]
    if "angle [deg]" not in table.columns or len(lift) != 1:
        raise ValueError(
            f"{path.name} needs the columns angle [deg] and lift [in] or lift [mm], it has"
            f" {', '.join(map(str, table.columns))}"
        )
    unit = _UNITS[lift[0]]
    angles, lifts = (
        pd.to_numeric(table[name], errors="coerce").to_numpy(float)
        for name in ("angle [deg]", lift[0])
    )
    return table_lobe(np.radians(angles), Q(lifts, unit).m_as("m"), unit=unit)


def _concave(engine, side, lobe):
    """Yield the fault of a lobe that a flat follower on this base circle cannot have made.

    Not of a measured one: the bend between its rows is mostly the rounding of the readings.
    """
    base = engine.camshaft.base_radius
    given = isinstance(lobe, SmoothLobe | CardLobe)
    if not given or base is None or engine.camshaft.follower != "flat":
        return
    if _flattest(lobe, to_si(base)) <= 0:
        most = Q(concave_above(lobe, to_si(base)), "m").to(base.units)
        yield (
            f"{side}.lobe_lift: lobe lift and base circle do not go together: the flank is concave"
            f" for a flat follower above {most.magnitude:.4f} {most.units:~P}"
        )


def lobe_remarks(lobes):
    """Yield sentences of doubt about measured lobes."""
    for side, lobe in lobes.items():
        for remark in getattr(lobe, "remarks", ()):
            yield f"{side} lift table: {remark}"
