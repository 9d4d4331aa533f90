"""What the tests of an assembly share: a build on which every step is answered, right or not."""

from dataclasses import replace

from enginecalc.records.answers import answers_to, right_answer
from enginecalc.records.assembly import ENGINE, Assembly
from enginecalc.records.build import load_build
from enginecalc.records.torque_log import torque_log
from enginecalc.records.work_order import LAST_TURNS, SIGNATURE, order_of_work
from tests.figures import WORKED

STEP = {each.name: each for each in order_of_work()}
USUAL = (1.9, 1.8, 2.0, 1.8)  # lbf·ft that a piston adds, over and over: the worked log's
TIGHT = WORKED["trq.inc"][4]
BY = "A. Mason"
_FIGURES = {"torque": "70 lbf·ft", "length": "0.006 in", "angle": "105 deg"}
_WORDS = {"chamfer": "front", "lubricant": "engine oil"}  # where the engine file says nothing
_SIGNED = {"builder signs": "Anna Mason", "second person signs": "Bert Keel"}
_READ = {"crank end play": "0.006 in", "piston below deck": "0.015 in"}
_FILED = {"top": 0.0050, "second": 0.0055}  # of the bore, a tenth over the usual least


def build_with(folder, engine):
    """Return a build of any engine, without readings."""
    (folder / "engine.toml").write_text(engine.text(), encoding="utf-8")
    return load_build(folder)


def assemble(build, leave_out=(), backwards=(), tight=(), final=True):
    """Answer every step of a build in the order of the work, and return its `Assembly`.

    Parameters
    ----------
    leave_out, backwards, tight : collection
        Cylinders that are not fitted, whose rod's chamfer is seen on the wrong side, and whose
        piston adds 4.1 lbf·ft.
    final : bool
        Whether the final checks are answered too.
    """
    assembly, torque, count = Assembly(build), 1.0, 0
    *sections, last = assembly.sections()
    for section in [*sections, *[last] * final]:
        mine = {number for number in build.cylinders if str(number) == section.place}
        if mine & {*leave_out}:
            continue
        if mine:
            torque += TIGHT if mine & {*tight} else USUAL[count % len(USUAL)]
            count += 1
        answer(assembly, section, torque, backwards=bool(mine & {*backwards}))
    return assembly


def finish(build):
    """Take a tight piston out, do all that is open in a begun build, and return its `Assembly`."""
    assembly, (usual, *_) = Assembly(build), USUAL
    for each in torque_log(build).entries:
        if each.tight:
            assembly.take_out(each.place, by=BY)
    for section in assembly.sections():
        left = replace(section, steps=tuple(assembly.open_steps(section)))
        answer(assembly, left, torque_log(build).entries[-1].torque.m_as("lbf*ft") + usual)
    return assembly


def answer(assembly, section, torque, *, backwards=False):
    """Answer every step of a section; `torque` in lbf·ft turns the crank after it."""
    for step in section.steps:
        if step.asks == "crank turning torque":
            turn(assembly, section.place, torque)
        elif step.kind == "reading":
            for box in assembly.boxes_of(step, section.place):
                assembly.append(box, _read(assembly.build, box), "", by=BY)
        else:
            said = right(assembly, step, section.place)
            if backwards and step.asks == "chamfer":
                said = {"front": "rear", "rear": "front"}[said]
            assembly.enter(section.place, step, said, by=BY)


def turn(assembly, place, torque):
    """Log a running torque in lbf·ft, alike both ways, after a piston or of the crank alone."""
    step = STEP["bare crank" if place == ENGINE else "two turns"]
    for box in assembly.boxes_of(step, place):
        assembly.append(box, f"{torque:.2f}", "lbf·ft", by=BY)


def right(assembly, step, place):
    """Return an answer that holds at a step that is not a reading."""
    if said := right_answer(assembly.build, step, place):
        return said
    if step.name == LAST_TURNS:
        return f"{torque_log(assembly.build).entries[-1].torque.m_as('lbf*ft'):.2f} lbf·ft"
    if step.kind == "figure":
        return _FIGURES[step.asks]
    if step.asks == SIGNATURE:
        return _SIGNED[step.name]
    return _WORDS.get(step.asks) or answers_to(assembly.build, step)[0]


def _read(build, box):
    if box.part == "ring":
        bore = build.engine.block.bore
        return f"{_FILED[box.height] * bore.m:.4f} {bore.units:~C}"
    return _READ[f"{box.part} {box.feature}"]
