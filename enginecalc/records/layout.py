"""Cylinders, banks and crank pins: which cylinder sits where, and when it is at its top."""

import functools
import itertools
from typing import Annotated, Any

import numpy as np
from pydantic import PlainValidator

from enginecalc.balance import firing_angles, tdc_angles
from enginecalc.records.reference import table
from enginecalc.records.schema import Angle, Table, Whole, _choice
from enginecalc.units import Q, to_si, ureg

_DEG = ureg.Unit("deg")
_SIDES = {"left": 1, "right": -1, "inline": 0}


@functools.lru_cache(maxsize=64)  # a slider seldom changes the layout
def _tops(banks, leads, turn):
    """Return the cylinders' tops in degrees from bank angles and leads in rad."""
    return np.degrees(tdc_angles.kernel(np.array(banks), np.array(leads), turn)).tolist()


def _read_number(number):
    if isinstance(number, bool) or not isinstance(number, int | str) or not str(number).strip():
        raise ValueError(f'{number!r} is not a cylinder number; write it like 1 or "1L"')
    return number


Number = Annotated[Any, PlainValidator(_read_number)]


class Cylinder(Table):
    number: Number = None
    bank: _choice("left", "right", "inline") = None
    pin: Whole = None
    chamfer: _choice("front", "rear") = None


class Layout(Table):
    """Left and right bank are named as seen from the flywheel end."""

    kind: _choice("inline", "V", "flat") = None
    bank_angle: Angle = None
    crank_pins: list[Angle] | None = None
    firing_order: list[Number] | None = None
    rotation: _choice("standard", "reverse") = "standard"
    cylinder: list[Cylinder] | None = None

    @property
    def turn(self):
        """+1 for standard rotation, clockwise from the front; -1 for reverse."""
        return -1 if self.rotation == "reverse" else 1

    @property
    def numbers(self):
        """The cylinders' numbers, as the file lists them."""
        return [cylinder.number for cylinder in self.cylinder]

    def bank_angles(self):
        """Return each cylinder's bank angle, clockwise from vertical in the front view."""
        half = {"V": self.bank_angle and self.bank_angle.m_as(_DEG) / 2, "flat": 90.0}
        side = np.array([_SIDES[each.bank] for each in self.cylinder])
        return Q(side * half.get(self.kind, 0.0), _DEG)

    def pin_angles(self):
        """Return where each crank pin lies, clockwise from vertical, the first cylinder at its top.

        Notes
        -----
        bank 1 + rotation (lead - lead of cylinder 1's pin).
        """
        leads = np.array([each.m_as(_DEG) for each in self.crank_pins])
        first = self.cylinder[0].pin - 1
        return self.bank_angles()[0] + Q(self.turn * (leads - leads[first]), _DEG)

    def tdc_angles(self):
        """Return {number: crank angle at its top, from the first cylinder's}, in degrees."""
        pins = [to_si(pin) for pin in self.crank_pins]
        leads = tuple(pins[each.pin - 1] for each in self.cylinder)
        half = {"V": self.bank_angle and to_si(self.bank_angle) / 2, "flat": np.pi / 2}
        side = half.get(self.kind, 0.0)
        banks = tuple(_SIDES[each.bank] * side for each in self.cylinder)
        return dict(zip(self.numbers, _tops(banks, leads, self.turn), strict=True))

    def firing_angles(self):
        """Return {number: crank angle at which it fires}, in firing order, in degrees."""
        tops = self.tdc_angles()
        in_order = Q(np.array([tops[number] for number in self.firing_order]), _DEG)
        fires = firing_angles(in_order).m_as(_DEG).tolist()
        return dict(zip(self.firing_order, fires, strict=True))

    def chamfers(self):
        """Return {number: "front" or "rear"}: the cheek that the rod's chamfer should face.

        The first rod on a pin sits in front and faces the front cheek, the second the rear one.
        """
        seen, made = set(), {}
        for each in self.cylinder:
            made[each.number] = "rear" if each.pin in seen else "front"
            seen.add(each.pin)
        return made

    def by_bank(self):
        """Return {bank: numbers of its cylinders, front to rear}, the left bank first."""
        order = sorted(self.cylinder, key=lambda each: each.pin)
        banks = [bank for bank in _SIDES if any(each.bank == bank for each in order)]
        return {bank: [each.number for each in order if each.bank == bank] for bank in banks}

    def companions(self):
        """Return the groups of cylinders that reach their top together."""
        groups = {}
        for number, angle in self.tdc_angles().items():
            groups.setdefault(round(angle, 6) % 360, []).append(number)
        return [group for group in groups.values() if len(group) > 1]


def layout_faults(layout, reported=lambda path: False):
    """Yield a sentence for everything in the layout that cannot be, each naming its cylinder.

    `reported(path)` says whether a field was complained of already.
    """
    cylinders = layout.cylinder or []
    for at, each in enumerate(cylinders, 1):
        for field in ("number", "bank", "pin"):
            if getattr(each, field) is None:
                if not reported(f"layout.cylinder.row {at}.{field}"):
                    yield f"layout.cylinder.row {at}: {field} is missing"
                return
    if None in (layout.kind, layout.crank_pins, layout.firing_order, layout.cylinder):
        return
    if layout.kind == "V" and layout.bank_angle is None:
        if not reported("layout.bank_angle"):
            yield 'layout.bank_angle is missing: the angle between the banks, like "90 deg"'
        return
    if None in layout.crank_pins:
        at = layout.crank_pins.index(None) + 1
        yield f'layout.crank_pins.row {at} is blank; write it like "90 deg"'
        return
    known = ("inline",) if layout.kind == "inline" else ("left", "right")
    seats = {}
    wrong = False
    for each in cylinders:
        where = f"layout.cylinder {each.number}"
        if each.bank not in known:
            yield f"{where}: bank {each.bank} does not fit kind {layout.kind}; write {known[0]}"
            wrong = True
        if each.pin > len(layout.crank_pins):
            yield f"{where}: pin {each.pin} is not one of the {len(layout.crank_pins)} crank_pins"
            wrong = True
        other = seats.setdefault((each.pin, each.bank), each.number)
        if other != each.number:
            yield f"{where}: shares pin {each.pin} and bank with cylinder {other}"
            wrong = True
        elif layout.kind == "flat" and len({bank for pin, bank in seats if pin == each.pin}) > 1:
            yield (
                f"{where}: both banks on pin {each.pin}; that is a 180° V; a boxer has a pin per"
                " cylinder"
            )
            wrong = True
    numbers = layout.numbers
    for number in sorted({str(each) for each in numbers if numbers.count(each) > 1}):
        yield f"layout.cylinder {number}: is listed twice"
        wrong = True
    order = layout.firing_order
    missing = [str(each) for each in numbers if each not in order]
    strange = [repr(each) for each in order if each not in numbers]
    if missing or strange or len(order) != len(numbers):
        twice = sorted({str(each) for each in order if order.count(each) > 1})
        said = [
            f"{verb} {', '.join(which)}"
            for verb, which in (("leaves out", missing), ("names", strange), ("repeats", twice))
            if which
        ]
        yield f"layout.firing_order {' and '.join(said)}; every cylinder stands in it once"
        wrong = True
    if wrong:
        return
    late = [number for number, angle in layout.firing_angles().items() if angle > 719.999]
    if late:
        at = layout.firing_angles()[late[0]]
        yield (
            f"layout.firing_order: firing order needs more than 720 degrees: cylinder {late[0]}"
            f" would fire at {at:.0f}; look at crank_pins (leads), banks and rotation. The same"
            " crank turned the other way? Then the leads change sign and the order runs backwards"
        )


def layout_remarks(layout):
    """Yield sentences of doubt about a layout that can be."""
    tops = layout.tdc_angles()
    order = layout.firing_order
    for one, other in itertools.pairwise(order):
        if abs(tops[one] - tops[other]) < 1e-6:
            yield (
                f"cylinders {one} and {other} follow in the order and share a top: together, or a"
                " turn apart? Taken as a turn apart"
            )


def layout_names():
    """Return the names of the layouts one can start from, each once."""
    return list(dict.fromkeys(table("layouts")["name"]))


def layout_numberings(name):
    """Return how the cylinders of a layout can be numbered."""
    return [row["numbering"] for row in table("layouts").to_dict("records") if row["name"] == name]


def layout_table(name, numbering="along the crank"):
    """Return the ``[layout]`` table of a well-known layout, as plain values for an engine file.

    Raises
    ------
    ValueError
        When there is no such layout or numbering; names those there are.
    """
    if name not in layout_names():
        raise ValueError(f"layout {name!r} is not known; take one of {'; '.join(layout_names())}")
    if numbering not in layout_numberings(name):
        raise ValueError(
            f"numbering {numbering!r} is not known for {name}; take"
            f" {' or '.join(layout_numberings(name))}"
        )
    row = next(
        row
        for row in table("layouts").to_dict("records")
        if (row["name"], row["numbering"]) == (name, numbering)
    )

    def label(text):
        return int(text) if text.isdigit() else text

    made = {"kind": row["kind"]}
    if row["kind"] == "V":
        made["bank_angle"] = f"{row['bank_angle_deg']} deg"
    made["crank_pins"] = [f"{angle} deg" for angle in row["crank_pins_deg"].split()]
    made["firing_order"] = [label(each) for each in row["firing_order"].split()]
    made["rotation"] = "standard"
    made["cylinder"] = [
        {"number": label(number), "bank": bank, "pin": int(pin)}
        for number, bank, pin in (each.split(":") for each in row["cylinders"].split())
    ]
    return made
