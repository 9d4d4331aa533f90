"""Engine geometry for people who build engines by hand.

Every formula lives in the module named for its part of the engine and is
imported from there: ``from enginecalc.crank import piston_position``.
"""
