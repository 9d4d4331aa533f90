"""Chapter 04: where valve and piston come closest, and what the cam's phase does to it."""

import ipywidgets as widgets
import numpy as np

from enginecalc import crank, valves
from enginecalc.records import clearances, results
from enginecalc.records.figures import VALVE_RESULTS
from enginecalc.units import Q, read, to_si
from enginecalc.views import tables
from enginecalc.views.chapter import Chapter
from enginecalc.views.readings_entry import DegreeForm, StationForm
from enginecalc.views.valve_figures import GapByAdvance, PhasePicture, ValvePaths

_UNIT = {"inch": ("in", 3), "metric": ("mm", 2)}
_ANGLES = Q(np.linspace(-40.0, 40.0, 161), "deg")
_ADVANCES = Q(np.linspace(-20.0, 20.0, 81), "deg")
_SPREAD = np.linspace(-10.0, 10.0, 41)  # of the map, about where the cam is
_EVENT_LIFT = {"inch": "0.050 in", "metric": "1 mm"}
_ONE_SIDED_95 = 1.645  # of a normal distribution, [gum] G.1.3 in spirit: 95 % lie above
_CAUTION = (
    "Turn by hand with the plugs out and stop at the first resistance. A computed gap replaces no"
    " clay: check the first cylinder with clay or solder and light springs, and every cylinder"
    " whose deck differs. After the cam is moved, check again. The cam maker's figures win."
)
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
        self.head_cut = widgets.Text(
            "0.020 in", description="heads cut by", continuous_update=False,
            style={"description_width": "initial"}, layout=widgets.Layout(width="auto"),
        )  # fmt: skip
        self.ratio = widgets.Text(
            "1.65", description="rockers of", continuous_update=False,
            style={"description_width": "initial"}, layout=widgets.Layout(width="auto"),
        )  # fmt: skip
        for control in (self.advance, self.head_cut, self.ratio):
            control.observe(self.refresh, "value")
        self.stations = StationForm(self._stations)
        self.degrees = DegreeForm()
        fields = (*_fields("intake", 1.0, 2.0), *_fields("exhaust", 1.0, 2.0))
        return [
            self.group("cam phase, + earlier"),
            self.advance,
            *(self.field(*each) if len(each) > 1 else self.group(*each) for each in fields),
            self.group("changes tried"),
            self.ratio,
            self.head_cut,
            self.group("stations measured by hand"),
            self.stations,
            self.group("degreeing the cam"),
            self.degrees,
        ]

    def _stations(self, side, readings):
        """Mark the hand's stations in the picture: where the valve met the piston."""
        unit = _UNIT[self.system.value][0]
        angle, drop, _ = readings or (Q(np.array([]), "deg"), Q(np.array([]), "m"), None)
        self.paths.stations(side, angle.m_as("deg"), drop.m_as(tables.UNITS[unit]), unit)
        self.refresh()

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
            side: limits[side] and clearances.advance_to_limit(engine, side, limits[side])
            for side in clearances.VALVES
        }
        return {
            "engine": engine,
            "named": named,
            "limits": limits,
            "least": least,
            "by_advance": by_advance,
            "reached": reached,
            "map": self._map(engine),
            "tried": self._tried(engine),
            "paths": {side: self._paths(engine, side, advance) for side in clearances.VALVES},
        }

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
        cut, ratio = read(self.head_cut.value, "length"), float(self.ratio.value.replace(",", "."))
        ratios = {f"{side}.rocker_ratio": ratio for side in clearances.VALVES}
        earlier = Q(4, "deg")
        return clearances.changes_tried(
            engine,
            {
                f"rockers of {ratio:g}": (ratios, None, None),
                f"heads cut by {self.head_cut.value}": ({}, cut, None),
                "cam 4° earlier": ({}, None, earlier),
                "cam 4° later": ({}, None, -earlier),
                "both: 4° earlier and heads cut": ({}, cut, earlier),
                "no lash": ({f"{side}.lash": "0 mm" for side in clearances.VALVES}, None, None),
            },
        )

    def _paths(self, engine, side, advance):
        """Return net lift, room, and both where they come closest, along the valve."""
        lobe, center, train = clearances.valve_train(engine, side)
        geometry = train["stroke"], train["rod_length"], train["pin_offset"]
        zero = crank.tdc_angle.kernel(*geometry)
        least = clearances.least_piston_to_valve(engine, side, advance).crank_angle

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
        unit, decimals = _UNIT[system]
        to = tables.UNITS[unit]

        def say(quantity):
            return f"{tables.number(quantity.m_as(to), decimals)} {unit}"

        for side, ((lift, room), least) in found["paths"].items():
            gap = found["least"][side]
            label = f"least gap {say(gap.clearance)} at {_side_of_top(gap.crank_angle)}"
            self.paths.place(side, _ANGLES, lift, room, least, label, unit)
        self.gaps.place(_ADVANCES, found["by_advance"], found["limits"], self.advance.value, unit)
        grid, here = found["map"]
        room = [
            getattr(grid, side).m_as("m") - (0.0 if low is None else low.m_as("m"))
            for side, low in found["limits"].items()
        ]
        self.picture.place(
            grid.advance, grid.lobe_separation, Q(np.minimum(*room), "m"), here, unit
        )
        self.numbers.value = self._numbers(found, say)
        answer = self._answer(found, say)
        return answer, [
            f"Valve and piston paths near overlap top dead center. {answer}",
            "Least gap of both valves against cam advance, and the phases that keep both limits.",
        ]

    def _answer(self, found, say):
        said = []
        for side in clearances.VALVES:
            gap, limit = found["least"][side], found["limits"][side]
            text = f"{side} {say(gap.clearance)} at {_side_of_top(gap.crank_angle)}"
            if limit is not None:
                word = "within" if gap.clearance >= limit else "OUTSIDE"
                text += f", {word} its limit of {say(limit)}"
            running = found["named"][f"{side}_piston_to_valve_running"].value
            if running is not None and not self.advance.value:
                text += f", {say(running)} running"
            said.append(text)
        moves = " and ".join(
            f"{abs(angle.m):.1f}° {'earlier' if angle.m > 0 else 'later'} ({side})"
            for side, angle in found["reached"].items()
            if angle is not None
        )
        answer = f"Least gaps: {'; '.join(said)}."
        return answer + (
            f" From the file's phase the cam reaches a limit {moves}." if moves else ""
        )

    def _numbers(self, found, say):
        system, engine = self.system.value, found["engine"]
        unit, decimals = _UNIT[system]
        per_degree = "; ".join(
            f"{side} "
            + tables.number(gap.per_degree.m_as(tables.UNITS[unit] / tables.UNITS["deg"]),
                            decimals + 1, signed=True)
            + f" {unit}"
            for side, gap in found["least"].items()
        )  # fmt: skip
        tried = found["tried"]
        rows = [
            (name, *(say(each) for each in row[:2]), *(_change(each, say) for each in row[2:]),
             self._verdict(found, row))
            for name, row in zip(tried.index, tried.to_numpy(), strict=True)
        ]  # fmt: skip
        lift = _EVENT_LIFT[system]
        timing = []
        for side, (first, last) in {
            "intake": ("before TDC", "after BDC"), "exhaust": ("before BDC", "after TDC")
        }.items():  # fmt: skip
            opening, closing, duration = clearances.events(engine, side, read(lift))
            timing.append((side, f"{opening.m:.1f}° {first}", f"{closing.m:.1f}° {last}",
                           f"{duration.m:.1f}°"))  # fmt: skip
        return (
            tables.results_table(
                found["named"].values(), system, "Where the file has the cam"
            )
            + tables.paragraphs(
                f"One degree of cam advance changes the gaps by: {per_degree}.",
                *self._sure(found, say),
            )
            + tables.html_table(
                ("", "intake", "exhaust", "change", "change", "both limits"), rows,
                "Changes tried, one by one",
            )
            + tables.html_table(
                ("", "opens", "closes", "duration"), timing, f"Events at {lift} of lobe lift"
            )
            + tables.paragraphs(*self._not_known(found), _CAUTION)
        )  # fmt: skip

    def _sure(self, found, say):
        for side in clearances.VALVES:
            result = found["named"][f"{side}_piston_to_valve"]
            if result.u is not None:
                low = result.value - _ONE_SIDED_95 * result.u
                yield (
                    f"How sure: the {side} gap lies above {say(low)} with 95 % probability; it is"
                    f" unsure by {tables.main_causes(result)}."
                )

    def _not_known(self, found):
        for result in found["named"].values():
            if result.reason:
                yield f"Not worked out: {result.reason}."

    def _verdict(self, found, row):
        kept = [
            low is None or each >= low
            for each, low in zip(row[:2], found["limits"].values(), strict=True)
        ]
        return "kept" if all(kept) else "NOT kept"


def _side_of_top(angle):
    """Return "7.8° after TDC"."""
    return f"{abs(angle.m_as('deg')):.1f}° {'after' if angle.m >= 0 else 'before'} TDC"


def _change(quantity, say):
    return ("+" if quantity.m > 0 else "") + say(quantity)
