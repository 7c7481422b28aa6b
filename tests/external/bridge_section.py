"""Slow flow along the channel between a corner's rounding and a wider bend in it, both tangent to the same walls: the
Poisson equation on the section, u = 0 on both faces, by linear finite elements and SciPy's sparse solver. Prints the
integral of u: flow is that / viscosity * pressure gradient.
Usage: bridge_section.py FACE GLASS TURN_DEG
"""
import sys

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

face, glass, turn = float(sys.argv[1]), float(sys.argv[2]), np.radians(float(sys.argv[3]))
secant, tangent, sine = 1 / np.cos(turn / 2), np.tan(turn / 2), np.sin(turn / 2)


def height(r, x):  # over the corner, at x beside the bisector
    x = np.abs(x)
    return np.where(x < r * sine, r * secant - np.sqrt(np.maximum(r * r - x * x, 0)), x * tangent)


nx, ny = 400, 20
x = np.linspace(-glass * sine, glass * sine, nx + 1)
low, high = height(face, x), height(glass, x)
t = np.linspace(0, 1, ny + 1)
px = np.repeat(x, ny + 1)
py = (low[:, None] + (high - low)[:, None] * t).ravel()
index = np.arange((nx + 1) * (ny + 1)).reshape(nx + 1, ny + 1)
a, b, c, d = (i.ravel() for i in (index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]))
triangles = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
X, Y = px[triangles], py[triangles]
dx, dy = X[:, [2, 0, 1]] - X[:, [1, 2, 0]], Y[:, [1, 2, 0]] - Y[:, [2, 0, 1]]
area = 0.5 * np.abs(dx[:, 2] * dy[:, 1] - dx[:, 1] * dy[:, 2])
keep = area > 1e-12 * area.max()  # none where the faces meet
triangles, dx, dy, area = triangles[keep], dx[keep], dy[keep], area[keep]
stiff = (dx[:, :, None] * dx[:, None, :] + dy[:, :, None] * dy[:, None, :]) / (4 * area)[:, None, None]
rows, columns = np.repeat(triangles, 3, 1).ravel(), np.tile(triangles, 3).ravel()
n = px.size
matrix = coo_matrix((stiff.ravel(), (rows, columns)), (n, n)).tocsr()
load = np.bincount(triangles.ravel(), np.repeat(area / 3, 3), n)
free = index[1:-1, 1:-1].ravel()
u = np.zeros(n)
u[free] = spsolve(matrix[free][:, free], load[free])
print(load @ u)
