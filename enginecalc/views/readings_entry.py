"""Small forms for readings at the bench: stations of drop and lift, and a degree wheel."""

import ipywidgets as widgets
import numpy as np

from enginecalc.camshaft import centerline_from_pairs, true_tdc_from_stop
from enginecalc.units import Q, read
from enginecalc.valve_gaps import gap_from_stations
from enginecalc.views import tables

_NARROW = {"width": "8.5em"}


class Readings(widgets.VBox):
    """A grid of typed readings; a row counts when all its cells are filled.

    Parameters
    ----------
    heads : sequence of (str, kind, example)
        The columns.
    count : int
        How many rows.
    told : callable
        Called when anything was typed.
    """

    def __init__(self, heads, count, told):
        self.heads = heads
        self.cells = [
            [
                widgets.Text(placeholder=example, continuous_update=False, layout=_NARROW,
                             tooltip=f"{name}, row {row + 1}")
                for name, _, example in heads
            ]
            for row in range(count)
        ]  # fmt: skip
        for row in self.cells:
            for cell in row:
                cell.observe(told, "value")
        titles = [widgets.Label(name, layout=_NARROW) for name, _, _ in heads]
        super().__init__([widgets.HBox(each) for each in (titles, *self.cells)])

    def columns(self):
        """Return a quantity array for each column, of the rows that are filled.

        Raises
        ------
        ValueError
            Naming the row and column of what cannot be read, or is still missing.
        """
        rows = []
        for at, cells in enumerate(self.cells, 1):
            texts = [cell.value.strip() for cell in cells]
            if not any(texts):
                continue
            row = []
            for text, (name, kind, _) in zip(texts, self.heads, strict=True):
                if not text:
                    raise ValueError(f"row {at}: {name} is not filled in")
                try:
                    row.append(read(text, kind))
                except ValueError as fault:
                    raise ValueError(f"row {at}: {name}: {fault}") from None
            rows.append(row)
        if not rows:
            return None
        return [
            Q(np.array([row[at].m_as(rows[0][at].units) for row in rows]), rows[0][at].units)
            for at in range(len(self.heads))
        ]


class StationForm(widgets.VBox):
    """Drop and lift at stations of the crank, by hand, to a least gap.

    `told(side, readings)` is called with (angle, drop, lift) arrays, or None, for the picture.
    """

    def __init__(self, told):
        self._told = told
        self.side = widgets.Dropdown(options=("intake", "exhaust"), description="valve")
        self.readings = Readings(
            (("after TDC", "angle", "-5 deg"), ("drop", "length", "0.221 in"),
             ("valve lift", "length", "0.100 in")),
            9,
            self.work_out,
        )  # fmt: skip
        self.answer = widgets.HTML()
        self.side.observe(self.work_out, "value")
        self.answer.value = tables.note("Fill in three rows or more, angles rising.")
        super().__init__([self.side, self.readings, self.answer])

    def work_out(self, *_):
        """Say the least gap of the stations, or what is still wrong with them."""
        readings = None
        try:
            columns = self.readings.columns()
            if columns is not None and len(columns[0]) >= 3:
                found = gap_from_stations(*columns)
                readings = columns
                self.answer.value = tables.note(
                    f"{self.side.value}: {found.gap.m:.4f} {found.gap.units:~P} at"
                    f" {found.after_tdc.m:.1f}° after TDC; {found.sentence}."
                    " Use a solid follower and light springs, and take the springs out afterwards."
                )
            else:
                self.answer.value = tables.note("Fill in three rows or more, angles rising.")
        except ValueError as fault:
            self.answer.value = tables.note(str(fault))
        self._told(self.side.value, readings)


class DegreeForm(widgets.VBox):
    """True top dead center from a positive stop, and a lobe's centerline from pairs of readings."""

    def __init__(self):
        wide = {"width": "auto"}

        def box(name, example):
            made = widgets.Text(description=name, placeholder=example, continuous_update=False,
                                layout=wide, style={"description_width": "11em"})  # fmt: skip
            made.observe(self.work_out, "value")
            return made

        self.side = widgets.Dropdown(options=("intake", "exhaust"), description="lobe")
        self.before = box("stop, before TDC", "327.4 deg")
        self.after = box("stop, after TDC", "35.6 deg")
        self.card = box("card's centerline", "105 deg")
        self.pairs = Readings(
            (("below the nose", "length", "0.050 in"), ("opening side", "angle", "67.2 deg"),
             ("closing side", "angle", "145.8 deg")),
            4,
            self.work_out,
        )  # fmt: skip
        self.answer = widgets.HTML()
        self.side.observe(self.work_out, "value")
        super().__init__([self.side, self.before, self.after, self.card, self.pairs, self.answer])
        self.work_out()

    def work_out(self, *_):
        """Say where true top dead center and the lobe stand, as far as the readings go."""
        try:
            said = self._said()
        except ValueError as fault:
            said = str(fault)
        self.answer.value = tables.note(said)

    def _said(self):
        if not (self.before.value.strip() and self.after.value.strip()):
            return (
                "Bring the piston by hand to a fixed stop from both sides and fill in both wheel"
                " readings. Heads on: rockers slack first, an open valve can strike the stop. Take"
                " the stop out before the crank makes a full turn."
            )
        zero = true_tdc_from_stop(read(self.before.value, "angle"), read(self.after.value, "angle"))
        said = f"True top dead center is at {zero.m_as('deg'):.2f}° on the wheel"
        columns = self.pairs.columns()
        if columns is None:
            return f"{said}. Now fill in wheel readings at equal lifts either side of the nose."
        heights, opening, closing = columns
        found = centerline_from_pairs(heights, opening, closing, zero, self.side.value)
        top = "after" if self.side.value == "intake" else "before"
        said += (
            f"; the {self.side.value} centerline is {found.centerline.m_as('deg'):.2f}° {top} it"
        )
        if not np.isnan(found.slope.m):
            drift = found.slope.m_as("deg/inch") * 0.1
            said += f", its middle drifts {drift:+.1f}° per 0.100 in below the nose"
        if not np.isnan(found.scatter.m):
            said += f", scatter {found.scatter.m_as('deg'):.2f}°"
        if self.card.value.strip():
            said += f": {found.against(read(self.card.value, 'angle'))}"
        return f"{said}."
