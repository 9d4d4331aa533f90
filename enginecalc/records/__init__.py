"""What is written down: engines, their results, and the tables of reference data."""

from enginecalc.records.build import Build, build_names, load_build
from enginecalc.records.clearances import block_clearances, least_piston_to_valve, phase_map
from enginecalc.records.engine import Engine, load_engine, save_engine
from enginecalc.records.plan import compare, find_dimension
from enginecalc.records.reference import folder
from enginecalc.records.results import Result, results

__all__ = [
    "Build",
    "Engine",
    "Result",
    "block_clearances",
    "build_names",
    "compare",
    "find_dimension",
    "folder",
    "least_piston_to_valve",
    "load_build",
    "load_engine",
    "phase_map",
    "results",
    "save_engine",
]
