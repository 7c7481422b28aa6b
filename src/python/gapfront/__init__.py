"""Mold-gap metrology for closed-mold composites: two scans in, one verdict out.

The functions are those of the C++ library, by the same names without the stage's; what they take and give is in
__init__.pyi. Lengths are mm, times s, pressures Pa, masses g, forces Pa mm2. Arrays that come out are read-only views
of what the library holds, without a copy; .copy() makes one of your own. What is refused raises InputError or
MeasurementError, with the one line that the program would print.
"""
from . import _gapfront
from ._gapfront import *  # noqa: F403
from ._gapfront import __version__

__all__ = [name for name in dir(_gapfront) if not name.startswith("_")]


def _values(self):
    """As it would be made."""
    names = [n for n, v in vars(type(self)).items() if isinstance(v, property)]
    return f"{type(self).__name__}({', '.join(f'{n}={getattr(self, n)!r}' for n in names)})"


for _name in __all__:
    _thing = getattr(_gapfront, _name)
    if isinstance(_thing, type):
        _thing.__module__ = "gapfront"
        if hasattr(_thing, "replace") or _name.endswith("Options"):
            _thing.__repr__ = _values
del _name, _thing
