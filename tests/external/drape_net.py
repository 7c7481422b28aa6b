"""A net of threads over the surface z = x²/240 − y²/400 + x y/900 (mm), woven on the formula itself: two geodesics by SciPy's
initial value solver, then every crossing by its root finder, a cell from two that are known. No mesh, no nearest point.
Prints "i j angle" of each cell of the net: cells from the start along warp and weft, angle between its threads (rad).
Usage: drape_net.py X Y  DX DY  CELL COUNT
"""
import sys

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import fsolve

x0, y0, dx, dy, cell, count = map(float, sys.argv[1:])
count = int(count)


def at(x, y):
    return np.array([x, y, x * x / 240 - y * y / 400 + x * y / 900])


def slopes(x, y):
    return x / 120 + y / 900, -y / 200 + x / 900


SECOND = np.array([[1 / 120, 1 / 900], [1 / 900, -1 / 200]])


def geodesic(way):
    """Points a cell apart along the geodesic that leaves the start towards `way` (in the plane of x and y)."""
    def ahead(_, v):
        f = np.array(slopes(v[0], v[1]))
        bend = v[2:] @ SECOND @ v[2:] / (1 + f @ f)  # of a curve on a graph with no acceleration within it
        return [v[2], v[3], -f[0] * bend, -f[1] * bend]

    f = np.array(slopes(x0, y0))
    speed = np.sqrt(way @ way + (f @ way) ** 2)
    s = cell * np.arange(count + 1)
    found = solve_ivp(ahead, (0, s[-1]), [x0, y0, *(way / speed)], t_eval=s, rtol=1e-10, atol=1e-10)
    return [at(x, y) for x, y in found.y[:2].T]


f = np.array(slopes(x0, y0))
e1, e2 = np.array([1, 0, f[0]]), np.array([0, 1, f[1]])
normal = np.cross(e1, e2)
warp = np.array([dx, dy, f @ [dx, dy]])
weft = np.cross(normal, warp)
for along in (1, -1):
    for across in (1, -1):
        net = {}
        for k, p in enumerate(geodesic(along * warp[:2])):
            net[k, 0] = p
        for k, p in enumerate(geodesic(across * weft[:2])):
            net[0, k] = p
        for i in range(1, count + 1):
            for j in range(1, count + 1):
                a, b, c = net[i - 1, j], net[i, j - 1], net[i - 1, j - 1]
                guess = (a + b - c)[:2]
                xy = fsolve(lambda v: [((at(*v) - q) @ (at(*v) - q) - cell * cell) for q in (a, b)], guess, xtol=1e-11)
                p = net[i, j] = at(*xy)
                w, v = along * (b - c + p - a), across * (a - c + p - b)
                angle = np.arctan2(np.linalg.norm(np.cross(w, v)), w @ v)
                print(i - 1 if along > 0 else -i, j - 1 if across > 0 else -j, angle)
