"""One way of writing the model for single numbers and for thousands of drawn ones at once.

The model's functions take `ops`: `SCALAR` for plain floats, or the numpy module for arrays.
Both answer to the same names.
"""

import math
from types import SimpleNamespace

SCALAR = SimpleNamespace(
    exp=math.exp,
    log=math.log,
    sqrt=math.sqrt,
    sin=math.sin,
    cos=math.cos,
    tan=math.tan,
    radians=math.radians,
    maximum=max,
    minimum=min,
)
