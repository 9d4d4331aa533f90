"""The box for a torque wrench with an adaptor on it: what to set it to."""

import ipywidgets as widgets

from enginecalc.records.wrench import wrench_setting
from enginecalc.units import read
from enginecalc.views.tables import note, paragraphs

_STYLE, _WIDE = {"description_width": "12em"}, {"width": "auto"}


class WrenchForm(widgets.VBox):
    """Type wrench and adaptor, get the setting; `asked()` returns the engine."""

    def __init__(self, asked):
        self._asked = asked
        self.torque = self._box("torque at the bolt", "", "the engine file's")
        self.reach = self._box("grip to square", "16 in")
        self.adaptor = self._box("square to bolt", "2 in")
        self.angle = self._box("adaptor's angle", "0 deg")
        self.button = widgets.Button(description="What to set", layout={"width": "auto"})
        self.button.layout.align_self = "flex-start"
        self.answer = widgets.HTML()
        self.button.on_click(self._clicked)
        boxes = [self.torque, self.reach, self.adaptor, self.angle]
        for box in boxes:
            box.observe(self.clear, "value")
        super().__init__([*boxes, self.button, self.answer])
        self.clear()

    def clear(self, *_):
        """Take the answer away: it was for something else."""
        self.answer.value = paragraphs(
            "0 deg is straight on from the wrench, 90 deg square to it, 180 deg folded back."
        )

    def _box(self, name, text, placeholder=""):
        return widgets.Text(
            text, description=name, placeholder=placeholder, continuous_update=False,
            style=_STYLE, layout=_WIDE,
        )  # fmt: skip

    def _clicked(self, _):
        try:
            typed = self.torque.value.strip()
            found = wrench_setting(
                self._asked(),
                read(typed, "torque") if typed else None,
                reach=self._read(self.reach, "length"),
                adaptor=self._read(self.adaptor, "length"),
                angle=self._read(self.angle, "angle"),
            )
        except ValueError as fault:
            self.answer.value = note(str(fault))
            return
        self.answer.value = note(f"{found.sentence[:1].upper()}{found.sentence[1:]}.")

    def _read(self, box, kind):
        try:
            return read(box.value, kind)
        except ValueError as fault:
            raise ValueError(f"{box.description}: {fault}") from None
