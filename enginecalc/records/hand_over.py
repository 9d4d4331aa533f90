"""All that goes over with a built engine, gathered from its build, and what is still open in it."""

from dataclasses import dataclass
from functools import cached_property

from enginecalc.limits import OUTSIDE, status
from enginecalc.records.assembly import ENGINE, WHAT, Assembly
from enginecalc.records.bob_card import bob_card
from enginecalc.records.bolt_faults import NOT_NAMED
from enginecalc.records.bolt_stretch import bolt_stretches
from enginecalc.records.bolts import bolt_card, bolt_results
from enginecalc.records.clearances import block_clearances
from enginecalc.records.decks import bank_planes, deck_readings
from enginecalc.records.doubts import cannot_be, reading_doubts, sure_fits
from enginecalc.records.fit_results import fit_results
from enginecalc.records.hand_gaps import hand_gaps
from enginecalc.records.matching import even_decks, match_pistons, match_rods
from enginecalc.records.places import boxes, listed, place_words
from enginecalc.records.results import results
from enginecalc.records.torque_log import torque_log
from enginecalc.records.work_order import FINAL
from enginecalc.units import to_si

FILE = "engine file"
VALVES, BLOCK = "chapter 04, piston to valve", "chapter 05, clearance in the block"
READ, BALANCE = "chapter 06, measure and match", "chapter 07, balance"
FIT, LAST = "chapter 08, assemble", "chapter 09, hand over"


@dataclass(frozen=True)
class Unread:
    """A measurement of which boxes are blank: how many there are, and the places of the blank."""

    name: str
    count: int
    blank: int
    places: tuple


class HandOver:
    """What a build comes to, each part worked out when it is first asked for.

    Make another one for a later state of the ledger.

    Parameters
    ----------
    build : Build
        With or without readings.
    torque_unit : str or pint.Unit
        Of the turning torque; that of its first row when there is none.
    """

    def __init__(self, build, torque_unit=None):
        self.build, self.torque_unit = build, torque_unit
        self.engine = build.engine
        self.assembly = Assembly(build)

    # --- what was worked out -------------------------------------------------------------------

    @cached_property
    def planned(self):
        """{name: `Result`} of the engine as planned."""
        return {each.name: each for each in results(self.engine)}

    @cached_property
    def measured(self):
        """{cylinder: {name: `Result`}} of every cylinder with readings that go together."""
        return self._measured[0]

    @property
    def faults(self):
        """Sentences on cylinders whose parts as measured do not go together."""
        return self._measured[1]

    @cached_property
    def _measured(self):
        made, faults = {}, []
        for number in self.build.cylinders:
            try:
                engine = self.build.measured(number)
            except ValueError as fault:
                faults += str(fault).splitlines()
                continue
            if engine is not self.engine:
                made[number] = {each.name: each for each in results(engine)}
        return made, faults

    @cached_property
    def fits(self):
        """The list of `Fit`."""
        return fit_results(self.build)

    @cached_property
    def doubts(self):
        """Sentences on what is doubtful in the readings."""
        return reading_doubts(self.build, self.fits)

    @cached_property
    def decks(self):
        """The lists of `DeckReading` and of `BankPlane`."""
        return deck_readings(self.build), bank_planes(self.build)

    @cached_property
    def hand_gaps(self):
        """The list of `HandGap`."""
        return hand_gaps(self.build)

    @cached_property
    def block(self):
        """The table of `block_clearances`."""
        return block_clearances(self.engine)

    @cached_property
    def block_pairs(self):
        """{pair: its rows of `block`, one for each cylinder}."""
        made = {}
        for row in self.block.itertuples():
            made.setdefault(row.pair, []).append(row)
        return made

    @cached_property
    def torque(self):
        """The `TorqueLog`."""
        return torque_log(self.build, self.torque_unit)

    @cached_property
    def bolts(self):
        """The `BoltCard` or None, its list of `Result`, and why there is none."""
        try:
            card = bolt_card(self.engine)
        except ValueError as fault:
            return None, [], str(fault).splitlines()
        return card, bolt_results(self.engine, card), []

    @cached_property
    def stretches(self):
        """The `BoltStretches`."""
        return bolt_stretches(self.build)

    @cached_property
    def no_card(self):
        """Why there is no bob-weight card, "" where there is one."""
        try:
            bob_card(self.engine, self.engine.layout.cylinder[0].pin)
        except ValueError as fault:
            return str(fault)
        return ""

    @cached_property
    def matchings(self):
        """{what was matched: `Matching`, or the sentence why there is none}."""
        made = {}
        ways = {"rods to crank pins": match_rods, "pistons to bores": match_pistons,
                "rods and pistons to even decks": even_decks}  # fmt: skip
        if fitted := self.assembly.fitted():  # too late: these would move what is in
            said = f"not proposed any more, as cylinders {listed(fitted)} have their pistons"
            return dict.fromkeys(ways, said)
        for name, way in ways.items():
            try:
                made[name] = way(self.build)
            except ValueError as fault:
                made[name] = str(fault)
        return made

    @cached_property
    def unread(self):
        """The list of `Unread` of every measurement with blank boxes, in the order of taking."""
        read, made = self.assembly.newest_rows(), []
        for what in WHAT.values():
            asked = boxes(self.engine.layout, what)
            blank = [each.place for each in asked if tuple(each.key.values()) not in read]
            if blank:
                places = tuple(dict.fromkeys(blank))
                made.append(Unread(what.name, len(asked), len(blank), places))
        return made

    # --- what is open --------------------------------------------------------------------------

    @cached_property
    def warnings(self):
        """[(what is wrong, outside or doubtful, where to look)], the worst first."""
        wrong = [(each.wrong, f"{LAST if each.step.stage == FINAL else FIT}: {_step(each)}")
                 for each in self.assembly.wrong()]  # fmt: skip
        # a tight piston read both ways stands among the wrong steps already
        log = [each for each in self.torque.entries if not (each.tight and each.way == "both")]
        found = [*wrong, *((each.said, FIT) for each in log if each.said)]
        found += [(said, READ) for said in self.faults]
        found += self._outside()
        found += [(said, FIT) for said in self.torque.doubts]
        found += [(said, READ) for said in self.doubts]
        card, _, why_not = self.bolts
        bolts = [*why_not, *(card.doubts if card else ()), *self.stretches.doubts]
        found += [(said, FIT) for said in bolts if said != NOT_NAMED]
        found += [(said, FILE) for said in self.engine.remarks]
        return list({said: (said, where) for said, where in reversed(found)}.values())[::-1]

    def _outside(self):
        """Yield every result, fit and gap outside its limits."""
        for name, plan in self.planned.items():
            by_place = {f"cylinder {number}": some[name] for number, some in self.measured.items()}
            yield from _said(name, by_place, READ)
            if len(by_place) < len(self.build.cylinders):  # the plan stands for the others
                yield from _said(name, {"the plan": plan}, FILE)
        sure = sure_fits(self.build, self.fits)
        for name in dict.fromkeys(fit.result.name for fit in self.fits):
            mine = {fit.place + " on readings in doubt" * (fit not in sure): fit.result
                    for fit in self.fits if fit.result.name == name}  # fmt: skip
            yield from _said(name, mine, READ)
        for each in self.hand_gaps:
            by_hand = {f"cylinder {each.cylinder} as read by hand": each.result}
            yield from _said(each.result.name, by_hand, VALVES)
        for row in self.decks[0]:
            if row.off:
                yield f"cylinder {row.cylinder} stands off the line of its bank's deck", READ
        for pair, mine in self.block_pairs.items():
            short = [each.cylinder for each in mine
                     if status(to_si(each.clearance), to_si(each.limit)) == OUTSIDE]  # fmt: skip
            if short:
                source = self.block.attrs["sources"][pair]
                numbers = f"cylinder{'s' * (len(short) > 1)} {listed(short)}"
                yield f"{pair}, {numbers}: less than its limit ({source})", BLOCK
        for each in self.bolts[1]:
            yield from _said(each.name, {"the plan": each}, FILE)

    @cached_property
    def blanks(self):
        """[(what is not known or not done, where to do it)]."""
        found = [(brief(each.reason), FILE) for each in self.planned.values() if each.value is None]
        found += [(brief(why), FILE) for why in self.block.attrs["not_measured"].values()]
        card, _, why_not = self.bolts
        found += [(why, FILE) for why in why_not if why == NOT_NAMED]
        found += [(brief(why), FILE) for why in (card.reasons.values() if card else ())]
        found += [(brief(why), BALANCE) for why in filter(None, [self.no_card])]
        found += [(f"{fit.place}: {fit.result.reason}", READ) for fit in self.fits
                  if fit.result.value is None and not cannot_be(fit.result)]  # fmt: skip
        for name in dict.fromkeys(fit.result.name for fit in self.fits
                                  if {fit.result.low, fit.result.high} == {None}):  # fmt: skip
            words = name.replace("_", " ")
            found.append((f"{words} has no limit: write limits.{name} and its source", FILE))
        found += [(each.result.reason, VALVES) for each in self.hand_gaps if each.result.reason]
        for each in self.unread:
            where = next((where for word, where in _TAKEN if word in each.name), READ)
            found.append((f"{each.name}: {each.blank} of {each.count} places not read", where))
        for section in self.assembly.sections():
            if left := self.assembly.open_steps(section):
                done = f"{len(left)} of {len(section.steps)} steps open"
                where = LAST if section.title == FINAL else FIT
                found.append((f"{section.title}: {done}", where))
        return list(dict.fromkeys(found))


def sheet_gaps(build):
    """Return the list of (what is open or missing, where to do it) of a build, the worst first."""
    found = HandOver(build)
    return [*found.warnings, *found.blanks]


def brief(reason):
    """Return which fields something needs, without where to measure each."""
    name, needs, fields = reason.partition(": ")[0].partition(" needs ")
    return f"{name.replace('_', ' ')}{needs}{fields}"


_TAKEN = ((" valve ", VALVES), ("turning torque", FIT))


def _step(entry):
    where = "" if entry.place == ENGINE else f"{place_words(entry.place)}, "
    return f"{where}{entry.step.name}"


def _said(name, by_place, where):
    """Yield a sentence for the places at which a result is outside its limits, or cannot be."""
    words = name.replace("_", " ")
    outside = [place for place, each in by_place.items() if each.status == OUTSIDE]
    if outside:
        source = by_place[outside[0]].source
        yield f"{words} is outside its limits: {', '.join(outside)} ({source})", where
