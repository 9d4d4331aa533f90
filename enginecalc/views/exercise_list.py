"""The exercises: what is asked, how the answer is worked out, and what usual slips come to."""

from dataclasses import dataclass, field

import numpy as np

from enginecalc import crank, forces
from enginecalc.bob_weight import bob_weight
from enginecalc.records import folder, load_engine
from enginecalc.units import Q, to_si

_WITHIN = 0.01  # of the answer


@dataclass(frozen=True)
class Exercise:
    """A question about a demo engine; `answer` and what `slips` come to are worked out when asked.

    Attributes
    ----------
    question : str
        Holds every figure that is needed.
    answer : callable
        Returns a quantity.
    slips : dict
        {hint: callable returning what that slip comes to}.
    """

    question: str
    answer: object
    slips: dict = field(default_factory=dict)
    within: float = _WITHIN


def _v8():
    return load_engine(folder("engines") / "quarry-pump-v8.toml")


def _four():
    return load_engine(folder("engines") / "ferry-four.toml")


def _geometry(engine):
    return engine.crank.stroke, engine.rod.length


_SPEED = Q(6200, "rpm")


_DEG_AS_RAD = "did the calculator take the degrees for radians?"


_STROKE_FOR_RADIUS = "the crank's radius is half the stroke"


_RPM_FOR_RAD = "the speed goes into this formula in radians per second, one turn being 2π"


def _travel(angle, scale=1.0):
    stroke, rod = _geometry(_v8())
    return crank.piston_position(angle, scale * stroke, rod)


def _acceleration(speed, scale=1.0):
    stroke, rod = _geometry(_v8())
    return crank.piston_acceleration(Q(0, "deg"), scale * stroke, rod, speed)


def _tilt(sine):
    return Q(float(np.degrees(np.arcsin(sine))), "deg")


def _ratio():
    """Return the crank's radius over the rod's length."""
    stroke, rod = _geometry(_v8())
    return (stroke / 2 / rod).m_as("")


def _order_two(speed, radius_factor=1.0):
    engine = _four()
    ratio = (engine.crank.stroke / 2 / engine.rod.length).m_as("")
    radius = radius_factor * engine.crank.stroke / 2
    mass = forces.reciprocating_mass(
        engine.piston.mass, engine.piston.mass_pin, engine.piston.mass_rings,
        engine.piston.mass_locks, engine.rod.mass_small_end,
    )  # fmt: skip
    second = ratio + ratio**3 / 4 + 15 * ratio**5 / 128
    return (4 * mass * radius * Q(to_si(speed), "1/s") ** 2 * second).to("kN")


EXERCISES = {
    "rod ratio": Exercise(
        "The quarry pump V8 has a stroke of 3.640 in and rods of 5.960 in. What is its rod ratio?",
        lambda: crank.rod_ratio(*_geometry(_v8())),
        {
            "the rod ratio takes the whole stroke; over the crank's radius it comes to twice that":
                lambda: 2 * crank.rod_ratio(*_geometry(_v8())),
            "that is radius over rod, the books' lambda; here rod over stroke is asked":
                lambda: Q(_ratio(), ""),
        },
    ),
    "mean piston speed": Exercise(
        "How fast does its piston go on average at 6200 rpm?",
        lambda: crank.mean_piston_speed(_geometry(_v8())[0], _SPEED),
        {
            "a turn has two strokes": lambda: crank.mean_piston_speed(
                _geometry(_v8())[0], _SPEED / 2
            ),
            "the mean speed counts turns, not radians": lambda: crank.mean_piston_speed(
                _geometry(_v8())[0], 2 * np.pi * _SPEED
            ),
        },
    ),
    "travel at a right angle": Exercise(
        "How far below its top does the piston stand when the crank has turned 90°?",
        lambda: _travel(Q(90, "deg")),
        {
            "half the stroke is what a very long rod would give; this rod leans":
                lambda: _geometry(_v8())[0] / 2,
            _STROKE_FOR_RADIUS: lambda: _travel(Q(90, "deg"), 2),
            _DEG_AS_RAD: lambda: _travel(Q(90, "rad")),
        },
        0.002,
    ),
    "travel at ten degrees": Exercise(
        "And 10° after its top?",
        lambda: _travel(Q(10, "deg")),
        {_DEG_AS_RAD: lambda: _travel(Q(10, "rad"))},
    ),
    "greatest tilt": Exercise(
        "How far does the rod lean from the bore at most?",
        lambda: _tilt(_ratio()),
        {
            _STROKE_FOR_RADIUS: lambda: _tilt(2 * _ratio()),
            "that is the tangent's angle; the rod is the long side of the triangle, so take the"
            " sine": lambda: Q(float(np.degrees(np.arctan(_ratio()))), "deg"),
        },
        0.005,
    ),
    "angle of peak speed": Exercise(
        "At what crank angle after its top is the piston fastest?",
        lambda: crank.peak_speed_angle(*_geometry(_v8())),
        {
            "at 90° it has long been slowing down: the leaning rod adds to the speed before":
                lambda: Q(90, "deg"),
            "that is where crank and rod stand at a right angle: near, but not the place":
                lambda: Q(float(np.degrees(np.arctan(1 / _ratio()))), "deg"),
        },
        0.002,
    ),
    "peak acceleration": Exercise(
        "What is the piston's acceleration at the top at 6200 rpm?",
        lambda: _acceleration(_SPEED),
        {
            _STROKE_FOR_RADIUS: lambda: _acceleration(_SPEED, 2),
            _RPM_FOR_RAD: lambda: _acceleration(_SPEED / (2 * np.pi)),
            "r ω² alone is what a very long rod gives; this one leans and adds to it":
                lambda: _acceleration(_SPEED) / (1 + _ratio()),
            "at the bottom it is r ω² (1 − λ), at the top r ω² (1 + λ)":
                lambda: _acceleration(_SPEED) * (1 - _ratio()) / (1 + _ratio()),
        },
    ),
    "second order": Exercise(
        "How large is the second order of the piston's acceleration, in parts of r ω²?",
        lambda: Q(float(crank.acceleration_harmonics(*_geometry(_v8()))[1].m_as("")), ""),
        {
            "λ/4 is the second order of the travel; each turn of the derivative doubles it":
                lambda: Q(_ratio() / 4, ""),
            "λ is the first term of its series; the next ones come on top":
                lambda: Q(_ratio(), ""),
            "that is rod over radius; turn it over": lambda: Q(1 / _ratio(), ""),
        },
    ),
    "a shorter rod": Exercise(
        "Rods of 5.70 in instead of 6.20 in: by how many percent does the acceleration at the top"
        " rise?",
        lambda: Q(
            100 * ((1 + 1.82 / 5.70) / (1 + 1.82 / 6.20) - 1), ""
        ),
        {
            "that is the change of λ; the acceleration changes as 1 + λ":
                lambda: Q(100 * (6.20 / 5.70 - 1), ""),
            "write it in percent": lambda: Q((1 + 1.82 / 5.70) / (1 + 1.82 / 6.20) - 1, ""),
        },
        0.03,
    ),
    "shaking of the four": Exercise(
        "The ferry four has 89.2 mm of stroke, rods of 143 mm and 512.6 g to and fro in each"
        " cylinder. How large is its second-order shaking force at 7000 rpm?",
        lambda: _order_two(Q(7000, "rpm")),
        {
            "all four pistons shake together in the second order":
                lambda: _order_two(Q(7000, "rpm")) / 4,
            _STROKE_FOR_RADIUS: lambda: _order_two(Q(7000, "rpm"), 2),
            _RPM_FOR_RAD: lambda: _order_two(Q(7000 / (2 * np.pi), "rpm")),
            "the second order turns twice as fast, but its size already holds that: λ, not 4 λ":
                lambda: 4 * _order_two(Q(7000, "rpm")),
        },
        0.02,
    ),
    "bob weight": Exercise(
        "For the V8's bob weight half of what goes to and fro is balanced. A piston weighs 438 g,"
        " pin 128 g, rings 34 g, locks 3 g; small end 172 g, big end 426 g, shells 44 g a rod, oil"
        " 5 g a pin. Two rods share a pin. What must the bob weigh?",
        lambda: bob_weight(
            2, *(Q(grams, "g") for grams in (426, 44, 5)), 0.5,
            *(Q(grams, "g") for grams in (438, 128, 34, 3, 172)),
        ),
        {
            "two rods sit on a pin": lambda: Q(426 + 44 + 5 + 0.5 * 775, "g"),
            "the shells count for each rod, not once a pin": lambda: Q(1720 - 44, "g"),
            "only half of what goes to and fro is balanced": lambda: Q(2 * 470 + 5 + 2 * 775, "g"),
            "the small end goes to and fro with its piston": lambda: Q(1720 - 172, "g"),
        },
        0.002,
    ),
    "even firing": Exercise(
        "An eight-cylinder four-stroke engine fires evenly. How far does the crank turn from one"
        " firing to the next?",
        lambda: Q(90, "deg"),
        {
            "a cylinder fires every second turn": lambda: Q(45, "deg"),
            "that is for four cylinders": lambda: Q(180, "deg"),
        },
        1e-6,
    ),
}  # fmt: skip
