"""A strip pressed evenly into a corner of two walls without friction, at its true turn: the elastica, by SciPy's boundary
value solver. It leaves each wall without a moment and without tension; the pressure follows it. For
each turn in degrees it prints the free length and the height of its middle over the corner, as multiples of (G/p)^(1/3),
and the area between strip and walls, of that squared.
Usage: bridge_elastica.py TURN...
"""
import sys

import numpy as np
from scipy.integrate import solve_bvp


def strip(turn):
    # From the middle along half the length L: direction a, its curvature k, shear q and tension n of the section; x, y.
    def ahead(t, v, p):
        a, k, q, n, x, y = v
        return p[0] * np.vstack([k, -q, 1 - k * n, k * q, np.cos(a), np.sin(a)])

    def ends(first, last, p):
        return np.array([first[0], first[2], first[4], first[5], last[0] - turn / 2, last[1], last[3]])

    half = 0.5 * np.cbrt(12 * turn)  # of the linear beam
    t = np.linspace(0, 1, 41)
    s = half * t
    k = 0.5 * (half**2 - s**2)
    guess = np.vstack([0.5 * (half**2 * s - s**3 / 3), k, s, 0 * s, s, 0 * s])
    found = solve_bvp(ahead, ends, t, guess, [half], tol=1e-8, max_nodes=20000)
    if not found.success:
        sys.exit(found.message)
    x, y = found.y[4, -1], found.y[5, -1]
    px, py = found.sol(np.linspace(0, 1, 2001))[4:]
    below = y - x * np.tan(turn / 2)  # where the walls meet, seen from the middle
    return 2 * found.p[0], -below, 2 * np.trapz(py - (below + px * np.tan(turn / 2)), px)


for degrees in sys.argv[1:]:
    print(degrees, *strip(np.radians(float(degrees))))
