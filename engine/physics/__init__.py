"""Textbook formulas of a car's loads, springs, tyres, brakes and turns: pure, SI, scalars or NumPy arrays
alike.

Each function states its equation and where it comes from. The chassis model (`engine.model`) is built of
them, and
`tests/test_worked_examples_*.py` hold them against published worked examples.

Signs: left turn, so load moves from left to right and transfers are positive to the right; forward
acceleration and driving forces are positive; angles in rad, temperatures in K, accelerations of the car in g
where a name ends in `_g`.
"""
