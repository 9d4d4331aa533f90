"""Rod bolts by their measured lengths: stretch, the preload it shows, and what stayed longer."""

from collections import defaultdict
from dataclasses import dataclass, replace

import numpy as np
import pint

from enginecalc import bolted_joint, fasteners
from enginecalc.records import figures
from enginecalc.records.bolt_faults import INTO_YIELD, bolt_pieces, piece_faults
from enginecalc.records.bolts import bolt_card
from enginecalc.records.doubts import numbered, row_of, slip
from enginecalc.records.means import mean_of
from enginecalc.records.places import boxes, measurement
from enginecalc.records.results import Result, limits_of
from enginecalc.units import Q, read, read_typed, to_si, ureg

_PART, _WHEN = "rod bolt", ("new", "tightened", "loosened")
_WARMER = 5.0  # K between two readings of a bolt that hold: steel grows 0.06 thou an inch


@dataclass(frozen=True)
class BoltStretch:
    """One rod bolt: its lengths as read, None where not, and what follows from them.

    `stretch` is held against the maker's limits in the engine file, else against what the torque
    is expected to give; `stayed_longer` against what a bolt may be longer than new. A result
    without a value says why in its `reason`.
    """

    cylinder: int
    bolt: str  # "tang side" or "other side"
    new: pint.Quantity | None
    tightened: pint.Quantity | None
    loosened: pint.Quantity | None
    stretch: Result
    preload: Result
    stayed_longer: Result

    @property
    def place(self):
        """Cylinder and bolt in words."""
        return f"cylinder {self.cylinder}, {self.bolt}"


@dataclass(frozen=True)
class BoltStretches:
    """Every rod bolt of a build, front to rear; how far their preloads scatter; what is doubtful.

    `scatter` is a standard deviation as a share of the mean, None with fewer than two preloads.
    """

    rows: tuple
    scatter: pint.Quantity | None
    doubts: tuple


def bolt_stretches(build, stretch_uncertainty=None):
    """Return the `BoltStretches` of a build, from the rod bolts' lengths in its ledger.

    A preload from a stretch needs no lubricant. Its uncertainty is that of the stretch, and of the
    elastic modulus where the engine file types limits with it.

    Parameters
    ----------
    build : Build
        With readings of rod bolt length new, tightened and loosened; one at least.
    stretch_uncertainty : quantity
        Standard uncertainty of a stretch. When not given, of two readings by their repeats and
        finest digit, without what the micrometer and the hand are off by.
    """
    engine, doubts = build.engine, []
    try:
        card = bolt_card(engine)
    except ValueError as fault:
        card = None
        doubts += str(fault).splitlines()
    found, rows = _lengths(build), []
    for box in boxes(engine.layout, measurement(_PART, "length new")) if found else ():
        lengths = {when: found.get((box.place, box.direction, when)) for when in _WHEN}
        rows.append(
            _row(engine, card, int(box.place), box.direction, lengths, doubts, stretch_uncertainty)
        )
    for row in rows:
        doubts += _doubts(row)
    preloads = [row.preload.value.m for row in rows if row.preload.value is not None]
    scatter = bolted_joint.preload_scatter(Q(np.array(preloads), "N")) if preloads[1:] else None
    return BoltStretches(tuple(rows), scatter, tuple(dict.fromkeys(doubts)))


@dataclass(frozen=True)
class _Length:
    """The readings of one length of a bolt: mean and its uncertainty, rows, how warm it was."""

    value: pint.Quantity
    u: pint.Quantity
    rows: list
    warm: float | None


def _lengths(build):
    """Return {(place, bolt, when): _Length} of all rod bolts that were read."""
    sets = defaultdict(list)
    for row in build.readings.latest_cells():
        if row["part"] == _PART and row["feature"].startswith("length "):
            when = row["feature"].removeprefix("length ")
            sets[row["place"], row["direction"], when].append(row)
    return {key: _length(build, found) for key, found in sets.items()}


def _length(build, found):
    mean, unit = mean_of(found, None), found[0]["unit"]
    system = "inch" if unit == "in" else "metric"
    what = measurement(_PART, found[0]["feature"])
    finest = to_si(read(f"{what.resolutions[system]} {what.units[system]}"))
    u = max(to_si(mean.u), finest / np.sqrt(12))  # no bolt is read finer, whatever the row says
    warm = [read(row["temperature"]).m_as("degC") for row in found if row["temperature"]]
    rows = [row_of(build, row) for row in found]
    return _Length(mean.value, Q(u, "m"), rows, float(np.mean(warm)) if warm else None)


def _row(engine, card, cylinder, bolt, lengths, doubts, own_u):
    where = f"cylinder {cylinder}, {bolt}"
    new, tightened, loosened = lengths.values()
    stretch = _longer(where, new, tightened, "tightened", doubts, own_u)
    stayed = _longer(where, new, loosened, "loosened", doubts, own_u)
    stretch = _held(engine, "rod_bolt_stretch", *stretch)
    if stretch.low is None and stretch.high is None and card is not None and card.stretch:
        low, _, high = card.friction
        source = f"what the torque gives with {card.lubricant} at friction {low:g} to {high:g}"
        window = {"low": card.stretch.least, "high": card.stretch.most, "source": source}
        stretch = replace(stretch, **window)
    preload = _held(engine, "rod_bolt_preload", *_preload(engine, stretch))
    stayed = _held(engine, "rod_bolt_set", *stayed)
    values = (None if each is None else each.value for each in lengths.values())
    return BoltStretch(cylinder, bolt, *values, stretch, preload, stayed)


def _held(engine, name, value, u, reason):
    unit = figures.BOLT_UNITS[name]
    return Result(name, value, u, *limits_of(engine, name, ureg.Unit(unit)), reason)


def _longer(where, new, other, when, doubts, own_u):
    """Return how much longer a bolt is than new, its uncertainty, and the reason without a value.

    A reading in another unit gives no value, and a sentence for the page.
    """
    lacking = [f"length {name}" for name, each in (("new", new), (when, other)) if each is None]
    if lacking:
        return None, None, f"{where}: needs a reading of {' and of '.join(lacking)}"
    if not all(each.rows[0].is_length for each in (new, other)):
        return None, None, f"{where}: a length new or {when} is in a unit that is no length"
    for row in other.rows:
        if said := slip(row, to_si(new.value), f"new, {new.rows[0].text(to_si(new.value))}"):
            doubts.append(f"{numbered([row.line])}: {row.said} {said}")
            return None, None, f"{where}: length {when} {said}"
    longer = Q(to_si(other.value) - to_si(new.value), "m")
    u = Q(np.hypot(new.u.m, other.u.m), "m") if own_u is None else own_u
    if when == "tightened" and longer.m <= 0:
        lines = numbered([row.line for row in (*new.rows, *other.rows)])
        said = "tightened is not longer than new: exchanged, or not tightened?"
        doubts.append(f"{lines}: {where}, {said}")
        return None, None, f"{where}: {said}"
    if None not in (new.warm, other.warm) and abs(new.warm - other.warm) > _WARMER:
        doubts.append(
            f"{where}: read at {new.warm:.0f} °C new and at {other.warm:.0f} °C {when}; warmth"
            " lengthens a bolt too, so let both be alike"
        )
    return longer, u, ""


def _preload(engine, stretch):
    """Return the preload of a measured stretch, its uncertainty, and the reason without a value."""
    bolt = engine.rod_bolt
    if stretch.value is None:
        return None, None, stretch.reason
    if bolt.yield_tightened:
        return None, None, INTO_YIELD
    if faults := list(piece_faults(bolt)):
        return None, None, "; ".join(faults)
    lacking = [path for path in ("rod_bolt.shank", "rod_bolt.elastic_modulus")
               if not figures.field(engine, path)]  # fmt: skip
    if lacking:
        where = "; ".join(filter(None, map(figures.where_to_measure, lacking)))
        return None, None, f"rod_bolt_preload needs {', '.join(lacking)}: {where}"
    lengths, areas = bolt_pieces(bolt)
    preload = fasteners.preload_from_stretch(stretch.value, lengths, areas, bolt.elastic_modulus)
    text = engine.text_at("rod_bolt.elastic_modulus")
    typed = read_typed(text).standard_uncertainty if isinstance(text, str) else None
    modulus = 0.0 if typed is None else (typed / bolt.elastic_modulus).m_as("")
    share = np.hypot((stretch.u / stretch.value).m_as(""), modulus)
    return preload, preload * share, ""


def _doubts(row):
    """Yield a sentence for a bolt out of its window, and for one that stayed longer."""
    stretch, stayed = row.stretch, row.stayed_longer
    if stretch.status == "outside":
        way = "less" if stretch.low is not None and stretch.value < stretch.low else "more"
        yield (
            f"{row.place}: stretched {_said(stretch.value, row.new)}, {way} than"
            f" {_window(stretch, row.new)} ({stretch.source})"
        )
    if stayed.status == "outside":
        yield (
            f"{row.place}: {_said(stayed.value, row.new)} longer than new, more than"
            f" {_said(stayed.high, row.new)} ({stayed.source})"
        )


def _window(result, like):
    ends = [_said(each, like) for each in (result.low, result.high) if each is not None]
    return " to ".join(ends)


def _said(length, like):
    digits = 4 if like.units == ureg.Unit("inch") else 3
    return f"{length.m_as(like.units):.{digits}f} {like.units:~P}"
