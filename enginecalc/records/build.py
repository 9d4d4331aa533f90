"""A build: a folder with an engine as planned and the ledger of what was measured on it."""

import math
import os
import re
import shutil
import tempfile
from collections import defaultdict
from pathlib import Path
from statistics import fmean

from enginecalc.cylinder import deck_clearance
from enginecalc.records import figures
from enginecalc.records.drops import replaced_drops
from enginecalc.records.engine import load_engine
from enginecalc.records.means import mean_of, text_of, where_from
from enginecalc.records.places import listed, mains, measurement, measurements, places_of
from enginecalc.records.readings import Readings
from enginecalc.records.reference import folder
from enginecalc.records.work_order import HOME, PISTON_HOME
from enginecalc.units import read, read_typed, to_si

# How far a piston at its top goes down or up with each length of its stack.
_STACK = {"crank.stroke": 0.5, "rod.length": 1, "piston.compression_height": 1,
          "block.deck_height": 1}  # fmt: skip


class Build:
    """An engine as planned, its readings, and the engine as measured cylinder by cylinder.

    Attributes
    ----------
    folder : Path
        Holds engine.toml, its lift tables and readings.csv; copying it hands the build over.
    engine : Engine
        As planned.
    readings : Readings
        The ledger.
    """

    def __init__(self, folder):
        self.folder = Path(folder)
        self.engine = load_engine(self.folder / "engine.toml")
        self.readings = Readings(self.folder / "readings.csv")
        self._made = {}

    @property
    def name(self):
        """The folder's name."""
        return self.folder.name

    @property
    def cylinders(self):
        """The numbers of the cylinders, as the engine file lists them."""
        return self.engine.layout.numbers

    def cylinder(self, text):
        """Return the number of a cylinder as the engine file has it, from that or its text.

        Raises
        ------
        ValueError
            When there is none; names those there are.
        """
        for number in self.cylinders:
            if str(number) == str(text):
                return number
        known = listed(self.cylinders)
        raise ValueError(f"{self.name} has no cylinder {text!r}; it has {known}")

    def kept(self, what, make):
        """Return what was made of the readings as they stand, making it anew when they changed."""
        version = self.readings.version
        if self._made.get("version") != version:
            self._made = {"version": version}
        if what not in self._made:
            self._made[what] = make()
        return self._made[what]

    def means(self):
        """Return {(part, feature, place): Mean} of everything that was measured."""
        return self.kept("means", self._means)

    def _means(self):
        sets = defaultdict(list)
        for row in self.readings.latest_cells():
            sets[row["part"], row["feature"], row["place"]].append(row)
        materials = {(each.part, each.feature): each.material for each in measurements()}
        made, homes = {}, self.homes()
        for key, found in sets.items():
            if key[:2] == ("piston", "below deck"):  # a trial's readings go once it is in for good
                later = [row for row in found if row["line"] > homes.get(key[2], 0)]
                found = later or found
            part = materials.get(key[:2], "")
            name = figures.field(self.engine, f"{part}.material") if part else None
            made[key] = mean_of(found, figures.material(name)[0])
        return made

    def homes(self):
        """Return {place: line of the ledger} of the pistons that went home."""
        return {row["place"]: row["line"] for row in self.readings.step_cells()
                if row["feature"] == PISTON_HOME and row["note"] == HOME}  # fmt: skip

    def mean(self, part, feature, place):
        """Return the `Mean` of a dimension at a place, or None."""
        return self.means().get((part, feature, str(place)))

    def measured(self, cylinder):
        """Return the engine in which everything measured stands in place of what was planned.

        Parameters
        ----------
        cylinder : int or str
            Its own bore, piston, rod, chamber and deck; the crank pin it sits on; the main
            bearings beside that pin.

        Raises
        ------
        ValueError
            When the parts as measured do not go together; names the cylinder.
        """
        cylinder = self.cylinder(cylinder)
        return self.kept(("measured", cylinder), lambda: self._measured(cylinder))

    def _measured(self, cylinder):
        changes = {path: text for path, (text, _) in self._replaced(cylinder).items()}
        if not changes:
            return self.engine
        try:
            return self.engine.altered(changes)
        except ValueError as fault:
            raise ValueError(
                "\n".join(
                    f"cylinder {cylinder} as measured: {line}" for line in str(fault).splitlines()
                )
            ) from None

    def _replaced(self, cylinder):
        """Return {field: (text for the engine file, where from)} for one cylinder."""
        cylinder = self.cylinder(cylinder)
        return self.kept(("replaced", cylinder), lambda: self._replacing(cylinder))

    def _replacing(self, cylinder):
        made = {}
        for what in measurements():
            if not what.field:
                continue
            found = [self.mean(what.part, what.feature, place)
                     for place in self._places(what, cylinder)]  # fmt: skip
            found = [each for each in found if each is not None]
            if not found:
                continue
            value, u = self._value(what, cylinder, found)
            unit = found[0].value.units
            made[what.field] = (text_of(value, u, unit), where_from(found))
        return self._with_deck(cylinder, made)

    def _places(self, what, cylinder):
        """Return the places that count for a cylinder."""
        layout = self.engine.layout
        seat = next(each for each in layout.cylinder if each.number == cylinder)
        if what.places == "cylinder":
            return [str(cylinder)]
        if what.places == "pin":
            return [f"pin {seat.pin}"]
        if what.places == "main":
            between = round(seat.pin * (mains(layout) - 1) / len(layout.crank_pins))
            return [f"main {max(between, 1)}", f"main {max(between, 1) + 1}"]
        if what.places == "bank":
            names = dict(zip(layout.by_bank(), places_of(layout, "bank"), strict=True))
            return [names[seat.bank]]
        return ["engine"]

    def own_half(self, cylinder):
        """Return the end of its crank pin on which a cylinder's rod sits, "" for a pin of its own.

        The first rod on a pin sits in front.
        """
        layout = self.engine.layout
        seat = next(each for each in layout.cylinder if each.number == cylinder)
        if sum(each.pin == seat.pin for each in layout.cylinder) == 1:
            return ""
        return layout.chamfers()[cylinder]  # it faces the cheek at its own end

    def _value(self, what, cylinder, found):
        """Return value and standard uncertainty in SI for one cylinder."""
        value = fmean(to_si(each.value) for each in found)
        half = self.own_half(cylinder) if what.places == "pin" else ""
        mine = [size for (_, end, _), size in found[0].spots.items() if half and end == half]
        value = fmean(mine) if mine else value
        u = math.hypot(*(to_si(each.u) for each in found)) / len(found)
        ends = {"front": [], "rear": []}
        if what.places == "bank":
            for (_, height, _), size in found[0].spots.items():
                ends.get(height, []).append(size)
            if all(ends.values()):
                part = self._along(cylinder)
                front, rear = map(fmean, ends.values())
                value = front + part * (rear - front)
        return value, u

    def _along(self, cylinder):
        """Return where a cylinder stands along its bank: 0 at the front end, 1 at the rear."""
        bank = next(each for each in self.engine.layout.by_bank().values() if cylinder in each)
        return (bank.index(cylinder) + 0.5) / len(bank)

    def deck_and_throw(self, cylinder):
        """Return deck height and half stroke of a cylinder in SI, measured where they were."""
        values, what = self.engine.values, measurement("deck", "height")
        (place,) = self._places(what, cylinder)
        mean = self.mean("deck", "height", place)
        deck = values["block.deck_height"]
        deck = deck if mean is None else self._value(what, cylinder, [mean])[0]
        found = self._replaced(cylinder).get("crank.stroke")
        stroke = values["crank.stroke"] if found is None else to_si(read(found[0], "length"))
        return deck, stroke / 2

    def _with_deck(self, cylinder, made):
        """Put in the deck height at which the piston stands where it was read at its top.

        With the piston, as read or as its parts add up, go the drops of its valves.
        """
        values, below = self.engine.values, self.mean("piston", "below deck", cylinder)

        def size(path):
            return to_si(read(made[path][0], "length")) if path in made else values[path]

        *stack, deck = map(size, _STACK)

        def stands(height):
            return deck_clearance.kernel(height, *stack, values["pin_axis_offset"])

        clearance, source = stands(deck), "deck clearance, as its parts were read"
        u = math.hypot(*(share * _u_of(made[path][0]) for path, share in _STACK.items()
                         if path in made))  # fmt: skip
        if below is not None:
            on_axis = [size for (end, _, _), size in below.spots.items() if "thrust" not in end]
            clearance, u = fmean(on_axis or below.spots.values()), to_si(below.u)
            planned, source = values["block.deck_height"], where_from([below])
            height = planned + clearance - stands(planned)
            text = text_of(height, u, below.value.units)
            made = {**made, "running.deck_from": ("measured", source)}
            source = f"piston below deck, {source}"
            made["block.deck_height"] = (text, source)
        lower = clearance - values["deck_clearance"]
        return {**made, **replaced_drops(self, cylinder, lower, u, source)}

    def fields_read(self, cylinder):
        """Return the fields of `measured(cylinder)` behind which a reading stands."""
        return self._replaced(cylinder).keys()

    def origin(self, path, cylinder):
        """Return where a figure of `measured(cylinder)` comes from.

        "planned", or "measured, n readings, date of the newest".
        """
        found = self._replaced(cylinder).get(path)
        return "planned" if found is None else f"measured, {found[1]}"


def _u_of(text):
    u = read_typed(text).standard_uncertainty
    return 0.0 if u is None else to_si(u)


def load_build(path):
    """Return the `Build` in a folder, or of that name among the builds.

    Raises
    ------
    ValueError
        When there is no such folder, or its engine file cannot be read.
    """
    place = Path(path)
    if not place.is_dir():
        place = folder("builds") / str(path)
    if not (place / "engine.toml").is_file():
        raise ValueError(f"{path}: a build is a folder with an engine.toml in it")
    return Build(place)


def build_names():
    """Return the names of the builds there are."""
    try:
        return sorted(each.parent.name for each in folder("builds").glob("*/engine.toml"))
    except FileNotFoundError:
        return []


def new_build(name, engine):
    """Make the folder of a new build, without readings, and return the `Build`.

    Parameters
    ----------
    name : str
        Of the folder among the builds: letters, digits, spaces, - and _.
    engine : Engine
        As planned; its text and lift tables are copied.

    Raises
    ------
    ValueError
        When a folder cannot bear that name or there is one of it, or a lift table is not there.
    """
    beside = engine._path.parent if engine._path else Path()
    files = {"engine.toml": engine.text().encode()}
    for valve in filter(lambda each: each.table, (engine.intake, engine.exhaust)):
        if Path(valve.table).name != valve.table:
            raise ValueError(f"{valve.table}: a lift table must lie beside its engine file")
        files[valve.table] = (beside / valve.table).read_bytes()
    return put_build(name, files)


def put_build(name, files):
    """Put a build's files into a new folder among the builds, all or none; return the `Build`.

    Parameters
    ----------
    name : str
        As `new_build` takes it.
    files : dict
        {name of a file: bytes}, already known to make a build.

    Raises
    ------
    ValueError
        When a folder cannot bear that name or there is one of it.
    """
    name = name.strip()
    if not re.fullmatch(r"\w(?:[\w -]{0,58}\w)?", name):
        raise ValueError(
            f"name: {name!r} cannot name a folder; write letters, digits, spaces, - and _, at most"
            " 60 of them"
        )
    place = folder("builds") / name
    if name.lower() in {each.name.lower() for each in folder("builds").iterdir()}:
        raise ValueError(f"name: there is a build {name} already; type another name")
    made = Path(tempfile.mkdtemp(prefix=".new-", dir=place.parent))
    try:
        for file, data in files.items():
            (made / file).write_bytes(data)
        os.chmod(made, 0o755)
        os.rename(made, place)
    except BaseException:
        shutil.rmtree(made)
        raise
    return Build(place)
