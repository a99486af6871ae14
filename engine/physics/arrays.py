"""The number types of the formulas."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Num = float | Array
"""What a formula takes: a number or an array; arrays broadcast."""
