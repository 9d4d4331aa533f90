"""The assembly of a build: what was done, what does not hold and what is left, from its ledger."""

import hashlib
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, replace

from enginecalc.records.answers import answer_in, wrong_reading, wrong_step
from enginecalc.records.doubts import impossible
from enginecalc.records.entry_round import say
from enginecalc.records.ledger_rows import KEY, figure
from enginecalc.records.orientation import next_angle, sequence
from enginecalc.records.places import boxes, measurement, measurements
from enginecalc.records.work_order import (
    DECKS_READ,
    HOME,
    PISTON_HOME,
    SIDE_PLAY,
    SIGNATURE,
    Step,
    order_of_work,
    steps_of,
)

ENGINE = "engine"
WHAT = {each.name: each for each in measurements()}
_FILE = " · engine file "  # between a signature and the mark of the file that was signed
_TIGHTENED = "rod bolt length tightened"
_MANY = 4  # readings of a step that are shown one by one


@dataclass(frozen=True)
class Entry:
    """A step as it was entered.

    `wrong` says why it does not hold, "" where it does; `line` is its row in the ledger, the
    newest of a reading's.
    """

    step: Step
    place: str
    said: str
    by: str
    time: str
    line: int
    wrong: str


@dataclass(frozen=True)
class Section:
    """Steps that belong together: the engine before its pistons, a cylinder, the final checks."""

    title: str
    place: str  # "engine" or a cylinder's number
    steps: tuple


class Assembly:
    """A build on the bench: steps go in as rows of its ledger, and all that is shown comes from it.

    Nothing is done that was not entered, and an entry that cannot be right is kept and says so:
    its step stays open.
    """

    def __init__(self, build):
        self.build = build

    # --- what there is to do -------------------------------------------------------------------

    def sections(self):
        """Return the list of `Section` in the order of the work."""
        cylinders = [str(each) for each, _ in sequence(self.build.engine)]
        return [
            Section("before the pistons", ENGINE, steps_of("engine")),
            *(Section(f"cylinder {each}", each, steps_of("cylinder")) for each in cylinders),
            Section("final checks", ENGINE, steps_of("engine", final=True)),
        ]

    def section_of(self, place, final=False):
        """Return the `Section` of a place."""
        wanted = steps_of("engine" if place == ENGINE else "cylinder", final)
        return next(each for each in self.sections()
                    if each.place == place and each.steps == wanted)  # fmt: skip

    def entries(self):
        """Return {(place, step's name): `Entry`} of every step that was entered."""
        return self.build.kept("assembly", self._entries)

    def entry(self, place, name):
        """Return the `Entry` of a step by its place and name, None where it was not entered."""
        return self.entries().get((place, name))

    def _entries(self):
        known = {each.name: each for each in order_of_work()}
        made, marks = {}, {}
        for row in self.build.readings.step_cells():
            step, place = known.get(row["feature"]), row["place"]
            if step is None or place not in self._places(step):
                continue  # a step of a person's own
            said = say(row) if row["value"] else row["note"]
            said, _, marks[step.name] = said.partition(_FILE)
            wrong = wrong_step(self.build, step, place, said)
            made[place, step.name] = Entry(
                step, place, said, row["by"], row["time"], row["line"], wrong
            )
        for step in (each for each in order_of_work() if each.kind == "reading"):
            for place in self._places(step):
                rows = self.rows_of(step, place)
                if rows and all(rows.values()):
                    last = max(rows.values(), key=lambda row: row["line"])
                    said = " · ".join(f"{box.direction or box.height} {say(row)}".lstrip()
                                      for box, row in rows.items())  # fmt: skip
                    said = said if len(rows) <= _MANY else f"{len(rows)} readings"
                    wrong = wrong_reading(self.build, step, place)
                    made[place, step.name] = Entry(
                        step, place, said, last["by"], last["time"], last["line"], wrong
                    )
        return {**made, **self._signatures(made, marks)}

    def mark(self):
        """Return what tells the engine file from a changed one; a signature carries it."""
        return hashlib.sha256(self.build.engine.text().encode()).hexdigest()[:8]

    def _signatures(self, entries, marks):
        """Return the signatures among some entries that a later row, or each other, makes void."""
        signed = [each for each in entries.values() if each.step.asks == SIGNATURE]
        if not signed:
            return {}
        rows = self.build.readings.rows()
        signing = [each.name for each in order_of_work() if each.asks == SIGNATURE]
        (last,) = rows[~rows["feature"].isin(signing)].tail(1).to_dict("records") or [{"line": 0}]
        open_ = sum(
            (section.place, step.name) not in entries
            or bool(entries[section.place, step.name].wrong)
            for section in self.sections()
            for step in section.steps
            if step.asks != SIGNATURE
        )
        void, held = {}, Counter()
        for each in signed:
            wrong = ""
            if open_:
                wrong = f"{open_} step{' is' if open_ == 1 else 's are'} open; sign when all hold."
            elif marks[each.step.name] != self.mark():
                wrong = "the engine file was changed since; sign again."
            elif last["line"] > each.line:
                what = " ".join(filter(None, (last["part"], last["feature"]))) or last["act"]
                wrong = f"{what}, line {last['line']} of the ledger, came after it; sign again."
            else:
                held[_name(each)] += 1
            void[each] = wrong
        for each in signed:
            if held[_name(each)] > 1 and not void[each]:
                void[each] = f"{each.said} has signed twice; another person must."
        return {(each.place, each.step.name): replace(each, wrong=f"{each.step.name}: {wrong}")
                for each, wrong in void.items() if wrong}  # fmt: skip

    def _places(self, step):
        return [ENGINE] if step.scope == "engine" else [str(each) for each in self.build.cylinders]

    def boxes_of(self, step, place):
        """Return the list of `Place` that a reading asks for; of the whole engine, all of them."""
        asked = boxes(self.build.engine.layout, WHAT[step.asks])
        own = [each for each in asked if each.place == place]
        return own or asked

    def rows_of(self, step, place):
        """Return {`Place`: row of the ledger or None} of a reading, the first repeat of each.

        A deck that was read before its piston went in is not one of the final checks.
        """
        newest = self.newest_rows()
        if step.name == DECKS_READ:
            homes = self.build.homes()
            newest = {tuple(row[name] for name in KEY[:-1]): row
                      for row in self.build.readings.latest_cells()
                      if row["line"] > homes.get(row["place"], row["line"])}  # fmt: skip
        return {each: newest.get(tuple(each.key.values())) for each in self.boxes_of(step, place)}

    def newest_rows(self):
        """Return {the six words of a `Place`: row of the ledger} of every first repeat read."""
        return self.build.kept("newest rows", self._newest_rows)

    def _newest_rows(self):
        rows = sorted(self.build.readings.latest_cells(), key=lambda row: int(row["repeat"]),
                      reverse=True)  # the first repeat stays  # fmt: skip
        return {tuple(row[name] for name in KEY[:-1]): row for row in rows}

    def open_steps(self, section):
        """Return the steps of a section that are not entered, or do not hold."""
        found = {step: self.entry(section.place, step.name) for step in section.steps}
        return [step for step, entry in found.items() if entry is None or entry.wrong]

    def done(self, section):
        """Say whether every step of a section is entered and holds."""
        return not self.open_steps(section)

    def fitted(self):
        """Return the numbers of the cylinders whose piston went in, in the order of fitting."""
        homes = [(entry.line, place) for (place, name), entry in self.entries().items()
                 if name == PISTON_HOME and entry.said == HOME]  # fmt: skip
        return [self.build.cylinder(place) for _, place in sorted(homes)]

    def next_cylinder(self):
        """Return (cylinder, crank angle to set) that turns the crank least, None when all are in.

        The angle counts from where the file's first cylinder is at its top, and puts the pin at
        its bottom.
        """
        fitted, engine = self.fitted(), self.build.engine
        at = dict(sequence(engine)).get(fitted[-1]) if fitted else None
        return next_angle(engine, fitted, at)

    def wrong(self):
        """Return the list of `Entry` that do not hold, in the order of the ledger."""
        return sorted((each for each in self.entries().values() if each.wrong),
                      key=lambda each: each.line)  # fmt: skip

    # --- what is entered -----------------------------------------------------------------------

    def enter(self, place, step, text, *, by):
        """Save what was found at a step, and return its `Entry`.

        Parameters
        ----------
        place : str
            "engine" or a cylinder's number.
        step : Step
            Of the kinds done, word and figure; readings have `append`.
        text : str
            "done", one of the step's answers, its beginning or its number among them, or a figure
            with its unit.
        by : str
            Who did it.

        Raises
        ------
        ValueError
            When nobody's name stands with it, or the text is no answer: nothing was saved.
        """
        places = self._places(step)
        if place not in places:
            raise ValueError(f"{step.name}: place must be {' or '.join(places)}, got {place!r}")
        try:
            text = answer_in(self.build, step, text)
        except ValueError as fault:
            raise ValueError(f"{fault}; nothing was saved") from None
        _must_name(by, step.name)
        if step.asks == SIGNATURE:
            text = f"{text}{_FILE}{self.mark()}"
        if step.kind == "figure":
            self.build.readings.step(place, step.name, text, by=by)
        else:
            self.build.readings.step(place, step.name, by=by, note=text)
        return self.entries()[place, step.name]

    def append(self, box, text, unit, *, by, **cells):
        """Save a figure of a reading at a `Place`, and return the row."""
        _must_name(by, box.words)
        size = 1.0
        with suppress(ValueError):  # what cannot be read is refused below, in the ledger's words
            size = float(figure(text.strip(), unit)[0])
        if wrong := impossible(measurement(box.part, box.feature), size):
            raise ValueError(f"{box.words}: {text.strip()} {wrong}; nothing was saved")
        return self.build.readings.append(text, unit, **box.key, by=by, **cells)._asdict()

    def take_out(self, cylinder, *, by, note=""):
        """Take back every step and turning torque of a cylinder from its piston on.

        With them go the lengths of its bolts as tightened, the side play of the rods on its pin,
        and the final checks but for the signatures, which are void by that.

        Returns
        -------
        int
            How many rows were taken back; its filed rings stay.
        """
        _must_name(by, f"cylinder {cylinder}")
        later = {each.name for each in steps_of("cylinder") if each.stage != "rings"}
        steps = self.build.readings.steps(place=cylinder).to_dict("records")
        rows = [row for row in steps if row["feature"] in later]
        read = [WHAT[each.asks] for each in steps_of("cylinder")
                if each.kind == "reading" and each.name in later]  # fmt: skip
        for what in read:
            rows += self._repeats(cylinder, what)
        if not rows:
            raise ValueError(f"cylinder {cylinder}: there is no piston in it to take out")
        rows += self._repeats(cylinder, WHAT[_TIGHTENED])
        final = {each.name for each in steps_of("engine", final=True) if each.asks != SIGNATURE}
        layout = self.build.engine.layout
        pin = next(each.pin for each in layout.cylinder if str(each.number) == str(cylinder))
        mates = {str(each.number) for each in layout.cylinder if each.pin == pin} - {str(cylinder)}
        rows += [row for row in self.build.readings.step_cells()
                 if (row["place"] == ENGINE and row["feature"] in final)
                 or (row["place"] in mates and row["feature"] == SIDE_PLAY)]  # fmt: skip
        return len(self.build.readings.withdraw_many(rows, by=by, note=note))

    def _repeats(self, place, what):
        """Return every repeat of a measurement at a place."""
        found = self.build.readings.latest(place=place, part=what.part, feature=what.feature)
        return found.to_dict("records")


def _name(signature):
    return " ".join(signature.said.split()).casefold()


def _must_name(by, what):
    if not by.strip():
        raise ValueError(f"{what}: say by whom first; nothing was saved")
