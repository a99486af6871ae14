"""Textbook formulas of a car's loads, springs, tyres, brakes and turns: pure, scalars or NumPy arrays alike.

Each function states its equation and where it comes from. The chassis model (`engine.model`) and the tools
are built of them; `tests/test_worked_examples_*.py` hold them, and the model they make up, against published
worked examples. Some stand here only because a published chain of numbers runs through them.

Signs: left turn, so load moves from left to right and transfers are positive to the right; forward
acceleration and driving forces are positive; angles in rad, temperatures in K, accelerations of the car in g
where a name ends in `_g`. Any one system of units will do where no unit is named.
"""
