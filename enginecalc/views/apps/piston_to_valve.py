"""Chapter 04: where valve and piston come closest, and what the cam's phase does to it."""

import ipywidgets as widgets
import numpy as np

from enginecalc import crank, valves
from enginecalc.records import clearances, results, valve_timing
from enginecalc.records.figures import VALVE_RESULTS
from enginecalc.units import Q, read, to_si
from enginecalc.views import tables, valve_words
from enginecalc.views.chapter import Chapter
from enginecalc.views.controls import plain_number
from enginecalc.views.print_form import PrintForm
from enginecalc.views.readings_entry import DegreeForm, StationForm
from enginecalc.views.valve_figures import GapByAdvance, PhasePicture, ValvePaths

_ANGLES = Q(np.linspace(-40.0, 40.0, 161), "deg")
_ADVANCES = Q(np.linspace(-20.0, 20.0, 81), "deg")
_SPREAD = np.linspace(-10.0, 10.0, 41)  # of the map, about where the cam is
_LENGTH = "length"


def _fields(side, low, high):
    return (
        (f"{side} valve",),
        (f"{side} centerline", f"{side}.centerline", "angle", Q(95, "deg"), Q(125, "deg")),
        (f"{side} drop", f"{side}.drop_at_tdc", _LENGTH, Q(0.1, "inch"), Q(0.4, "inch")),
        (f"{side} rocker ratio", f"{side}.rocker_ratio", "ratio", Q(low, ""), Q(high, "")),
        (f"{side} lash", f"{side}.lash", _LENGTH, Q(0, "inch"), Q(0.04, "inch")),
        (f"{side} valve angle", f"{side}.valve_angle", "angle", Q(0, "deg"), Q(30, "deg")),
    )


class PistonToValveChapter(Chapter):
    """Least gap of both valves, by crank angle and by cam phase, against its limits."""

    figure_sizes = ((6.4, 5.8), (6.4, 3.6))

    def build(self):
        paths, phases = self.figures
        self.paths = ValvePaths(paths.subplots(2, 1))
        left, right = phases.subplots(1, 2)
        self.gaps, self.picture = GapByAdvance(left), PhasePicture(right)
        self.advance = widgets.FloatSlider(
            description="cam advance [deg]", min=-20, max=20, step=0.5,
            style={"description_width": "initial"}, layout=widgets.Layout(width="auto"),
        )  # fmt: skip
        self.ratio = _box("rockers of", "1.65")
        self.head_cut = _box("heads cut by", "0.020 in")
        self.face = _box("intake face from vertical", "55 deg")
        self.mismatch = _box("pocket floor off by", "2 deg")
        for control in (self.advance, self.ratio, self.head_cut, self.face, self.mismatch):
            control.observe(self.refresh, "value")
        self._measured = "intake", None
        self.stations = StationForm(self._stations)
        self.degrees = DegreeForm()
        self.prints = PrintForm(self._to_print)
        self.put_below(
            stations_measured_by_hand=[self.stations],
            degreeing_the_cam=[self.degrees],
            wheel_and_tape_to_print=[self.prints],
        )
        fields = (*_fields("intake", 1.0, 2.0), *_fields("exhaust", 1.0, 2.0))
        return [
            self.group("cam phase, + earlier"),
            self.advance,
            *(self.field(*each) if len(each) > 1 else self.group(*each) for each in fields),
            self.group("changes to try"),
            self.ratio,
            self.head_cut,
            self.face,
            self.mismatch,
        ]

    def _stations(self, side, readings):
        """Keep the hand's stations for the picture of that valve; None for none."""
        self._measured = side, readings
        self.refresh()

    def _to_print(self):
        """Return name, rotation and events of the engine now on the page."""
        engine = self.base_engine().altered(self.typed())
        lift = read(valve_words.EVENT_LIFT[self.system.value])
        events = valve_timing.events_of_wheel(engine, lift, Q(float(self.advance.value), "deg"))
        return engine.name, engine.layout.rotation, events

    # --- results ---

    def results(self, engine):
        advance = Q(float(self.advance.value), "deg")
        named = {each.name: each for each in results(engine, VALVE_RESULTS)}
        limits = {side: named[f"{side}_piston_to_valve"].low for side in clearances.VALVES}
        least = {
            side: clearances.least_piston_to_valve(engine, side, advance)
            for side in clearances.VALVES
        }
        by_advance = {
            side: clearances.clearance_by_advance(engine, side, _ADVANCES)
            for side in clearances.VALVES
        }
        reached = {
            side: None if low is None else clearances.advance_to_limit(engine, side, low)
            for side, low in limits.items()
        }
        return {
            "engine": engine,
            "advance": advance,
            "head cut": self.head_cut.value,
            "manifold": self._manifold(engine),
            "pocket off": self._mismatch(),
            "named": named,
            "limits": limits,
            "least": least,
            "by_advance": by_advance,
            "reached": reached,
            "map": self._map(engine),
            "tried": self._tried(engine),
            "paths": {
                side: self._paths(engine, side, advance, gap.crank_angle)
                for side, gap in least.items()
            },
        }

    def _manifold(self, engine):
        """Return what both heads cut ask of a V engine's manifold: drop and cut; else None."""
        if engine.layout.kind != "V":
            return None
        face = _typed(self.face, "angle")
        place = _typed(self.head_cut, "length"), engine.layout.bank_angle / 2, face
        try:
            return valves.manifold_drop(*place), valves.manifold_side_cut(*place)
        except ValueError as fault:
            raise ValueError(f"{self.face.description}: {fault}") from None

    def _mismatch(self):
        """Return by how much a pocket's floor is off the valve's angle."""
        off = _typed(self.mismatch, "angle")
        if not abs(off.m_as("deg")) < 45:
            raise ValueError(f"{self.mismatch.description}: must be under 45 deg, got {off:~P}")
        return off

    def _map(self, engine):
        """Return the phase map about the file's cam, and where the cam is on it."""
        intake, exhaust = (
            np.degrees(engine.values[f"{side}.centerline"]) for side in clearances.VALVES
        )
        separation, installed = (intake + exhaust) / 2, (exhaust - intake) / 2
        grid = clearances.phase_map(
            engine, Q(installed + _SPREAD, "deg"), Q(separation + _SPREAD, "deg")
        )
        here = Q(installed + self.advance.value, "deg"), Q(separation, "deg")
        return grid, here

    def _tried(self, engine):
        """Return the table of changes tried; a refused one is refused like any other figure."""
        cut, ratio = _typed(self.head_cut, "length"), _typed(self.ratio, None)
        ratios = {f"{side}.rocker_ratio": ratio for side in clearances.VALVES}
        earlier = Q(4, "deg")
        return valve_timing.changes_tried(
            engine,
            {
                f"rockers of {ratio:g}": (ratios, None, None),
                f"heads cut by {self.head_cut.value}": ({}, cut, None),
                "cam 4° earlier": ({}, None, earlier),
                "cam 4° later": ({}, None, -earlier),
                "both: 4° earlier and heads cut": ({}, cut, earlier),
                "no lash": ({f"{side}.lash": "0 mm" for side in clearances.VALVES}, None, None),
                "wrong: lift read at the cam": (
                    {
                        f"{side}.{key}": value
                        for side in clearances.VALVES
                        for key, value in (("rocker_ratio", 1.0), ("lash", "0 mm"))
                    },
                    None,
                    None,
                ),
            },
        )

    def _paths(self, engine, side, advance, least):
        """Return net lift, room, and both where they come closest, along the valve."""
        lobe, center, train = clearances.valve_train(engine, side)
        geometry = train["stroke"], train["rod_length"], train["pin_offset"]
        zero = crank.tdc_angle.kernel(*geometry)

        def both(after_tdc):
            lift = valves.net_valve_lift.kernel(
                lobe, after_tdc, center - to_si(advance), train["rocker_ratio"], train["lash"]
            )
            depth = crank.piston_position.kernel(zero + after_tdc, *geometry)
            room = train["drop_at_tdc"] + depth * np.cos(train["valve_angle"])
            return Q(lift, "m"), Q(room, "m")

        return both(_ANGLES.m_as("rad")), (least, *both(least.m_as("rad")))

    # --- drawing ---

    def draw(self, found):
        system = self.system.value
        unit = {"inch": "in", "metric": "mm"}[system]

        def say(quantity):
            return tables.length(quantity, system)

        for side, ((lift, room), least) in found["paths"].items():
            gap = found["least"][side]
            at = valve_words.side_of_top(gap.crank_angle)
            label = f"least gap {say(gap.clearance)} at {at}"
            self.paths.place(side, _ANGLES, lift, room, least, label, unit)
        for side in clearances.VALVES:
            here = self._measured[1] if side == self._measured[0] else None
            angle, drop, lift = here or (Q(np.array([]), each) for each in ("deg", "m", "m"))
            to = tables.UNITS[unit]
            self.paths.stations(side, angle.m_as("deg"), drop.m_as(to), lift.m_as(to))
        self.gaps.place(_ADVANCES, found["by_advance"], found["limits"], self.advance.value, unit)
        grid, here = found["map"]
        room = [
            getattr(grid, side).m_as("m") - (0.0 if low is None else low.m_as("m"))
            for side, low in found["limits"].items()
        ]
        self.picture.place(
            grid.advance, grid.lobe_separation, Q(np.minimum(*room), "m"), here, unit
        )
        self.numbers.value = valve_words.numbers(found, system)
        answer = valve_words.answer(found, system)
        return answer, [
            f"Valve and piston paths near overlap top dead center. {answer}",
            f"Least gap of both valves against cam advance, and the phases that keep both limits."
            f" {answer}",
        ]


def _typed(box, kind):
    """Return what a box holds, a plain ratio without a kind; a refusal names the box."""
    try:
        if kind is not None:
            return read(box.value, kind)
        ratio = plain_number(box.value)
        if not 0.5 <= ratio <= 3:
            raise ValueError(f"no rocker has a ratio of {ratio:g}; write one from 0.5 to 3")
        return ratio
    except ValueError as fault:
        raise ValueError(f"{box.description}: {fault}") from None


def _box(description, text):
    return widgets.Text(
        text,
        description=description,
        continuous_update=False,
        style={"description_width": "initial"},
        layout=widgets.Layout(width="auto"),
    )
