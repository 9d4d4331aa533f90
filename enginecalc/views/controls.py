"""Typed fields. The typed text is the state; a slider only writes into it."""

import math

import ipywidgets as widgets

from enginecalc.units import Q, Typed, read_typed, ureg
from enginecalc.views.tables import UNITS

# kind: unit and decimals of the slider by unit system, and which written units belong to which
_SLIDES = {
    "length": {"inch": ("in", 3), "metric": ("mm", 2)},
    "volume": {"inch": ("cc", 1), "metric": ("cc", 1)},
    "angle": {"inch": ("deg", 1), "metric": ("deg", 1)},
    "turning speed": {"inch": ("rpm", 0), "metric": ("rpm", 0)},
    "ratio": {"inch": ("", 2), "metric": ("", 2)},
}
_OWN = {
    "inch": {"inch", "thou"},
    "metric": {"millimeter", "centimeter", "micrometer", "meter"},
}


class TypedField(widgets.VBox):
    """A box of text that belongs to one place of the engine file, and who is told of its changes.

    A kind of field says what it shows, `stated` and `show`, and what a text means, `meant`.
    """

    def __init__(self, label, path, box, *below):
        self.label, self.path, self.text, self.box = label, path, "", box
        self._told, self._setting = [], False
        box.observe(self._typed, "value")
        super().__init__([box, *below])
        self.add_class("enginecalc-field")

    def tell(self, told):
        """Call `told(field)` after a person changed the text."""
        self._told.append(told)

    def type(self, text):
        """Do as a person who types `text` and presses Enter."""
        self.box.value = text

    def mark(self, wrong):
        """Mark the box as the one that was refused, or take the mark away."""
        (self.box.add_class if wrong else self.box.remove_class)("enginecalc-wrong")

    def lock(self, locked):
        """Let nothing be typed while no engine is open, or let it again."""
        for control in self.children:
            control.disabled = locked

    def _tell(self):
        for told in self._told:
            told(self)


class Field(TypedField):
    """One dimension: label and typed text, the slider below it.

    `text` is what was typed, in the unit it was typed in, and "" when nothing was. The box shows
    it as it is, or converted when the chapter speaks the other unit system; only typing or sliding
    changes `text`, so switching units to and fro changes nothing.

    Parameters
    ----------
    label : str
        What a person calls it.
    path : str
        Where it stands in the engine file, "crank.stroke".
    kind : str
        One of `enginecalc.units.KINDS` that has a slider here, or "ratio" for a plain number.
    low, high : quantity
        Ends of the slider; a value beyond them widens it.
    """

    def __init__(self, label, path, kind, low, high):
        self.kind, self.system = kind, "inch"
        self._base = low.units  # the slider's own, whatever system the page speaks
        box = widgets.Text(
            description=label,
            continuous_update=False,
            tooltip=path,
            style={"description_width": "10.8em"},
            layout=widgets.Layout(width="auto"),
        )
        self._low, self._high = low.magnitude, high.m_as(low.units)
        decimals = {ureg.Unit("mm"): 2, ureg.Unit("inch"): 3}.get(
            self._base, _SLIDES[kind]["inch"][1]
        )
        # counts steps between ends of its own: told new ends, a browser answers with a slide
        self._steps = round((self._high - self._low) * 10**decimals)
        self.slider = widgets.IntSlider(
            max=self._steps,
            readout=False,
            tooltip=f"{label}, {path}",
            layout=widgets.Layout(width="auto", height="24px", margin="0 18px 2px 12.6em"),
        )
        self.slider.observe(self._slid, "value")
        super().__init__(label, path, box, self.slider)

    def show(self, text, system):
        """Put a text into the field without telling anybody."""
        self.text, self.system = text, system
        self._setting = True
        try:
            self.box.value = self._in_system()
            self._move_slider()
        finally:
            self._setting = False

    def stated(self, given):
        """Return the text to show for what the engine file says, "" for nothing."""
        return "" if given is None else str(given)

    def meant(self, text):
        """Return what a text says to the engine file, None for a blank."""
        return plain_number(text) if text and self.kind == "ratio" else text or None

    def _unit(self):
        unit, decimals = _SLIDES[self.kind][self.system]
        return unit, UNITS[unit], decimals

    def _in_system(self):
        """Return the text to show: as typed, or in the other system's unit."""
        try:
            typed = _read(self.text, self.kind)
        except ValueError:
            return self.text
        foreign = _OWN["metric" if self.system == "inch" else "inch"]
        if self.kind != "length" or str(typed.value.units) not in foreign:
            return self.text
        name, unit, decimals = self._unit()
        return _written(typed.value.m_as(unit), typed, name, unit, decimals + 1)

    def _move_slider(self):
        """Set the slider to the typed value, widening it first where it must be."""
        try:
            at = _read(self.text, self.kind).value.m_as(self._base)
        except ValueError:
            at = self._low
        if not math.isfinite(at):
            return
        self._low, self._high = min(self._low, at), max(self._high, at)
        self.slider.value = round(self._steps * ((at - self._low) / (self._high - self._low)))

    def _typed(self, change):
        if self._setting:
            return
        self.show(change["new"].strip(), self.system)
        self._tell()

    def _slid(self, change):
        if self._setting:
            return
        name, unit, decimals = self._unit()
        try:
            typed = _read(self.text, self.kind)
        except ValueError:
            typed = None
        at = self._low + (self._high - self._low) * change["new"] / self._steps
        value = Q(at, self._base).m_as(unit)
        self.text = _written(value, typed, name, unit, decimals)
        self._setting = True
        try:
            self.box.value = self.text
        finally:
            self._setting = False
        self._tell()


def plain_number(text):
    """Return a number typed without a unit, "1.55" or "1,55"."""
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        raise ValueError(f'"{text}" is not a number; write it like 1.55') from None


def _read(text, kind):
    return Typed(text, Q(plain_number(text), "")) if kind == "ratio" else read_typed(text, kind)


def _written(value, typed, name, unit, decimals):
    """Return a value as one would type it, with the limits that stood beside it."""
    text = f"{round(value, decimals) + 0.0:.{decimals}f}"
    if typed is not None and typed.plus is not None:
        plus, minus = (
            Q(each.magnitude, each.units).m_as(unit) for each in (typed.plus, typed.minus)
        )
        same = abs(plus - minus) < 1e-12
        text += f" ± {plus:.3g}" if same else f" +{plus:.3g}/-{minus:.3g}"
    return f"{text} {name}".rstrip()
