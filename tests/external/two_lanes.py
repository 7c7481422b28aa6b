"""Two lanes side by side with exchange between them, filled on a fine grid: finite volumes, resin tracked as a share per
cell, pressure by SciPy's sparse direct solver. Nothing is shared with the program: other mesh, other unknowns, other
steps. Prints "lane distance arrival" per line.
Usage: two_lanes.py LENGTH WIDTH LANE  HEIGHT  K1 PHI1  K2 PHI2  VISCOSITY PRESSURE  (mm, mm2, Pa s, Pa; lane 1: y < LANE)
"""
import sys

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

length, width, lane, height, k1, phi1, k2, phi2, viscosity, pressure = map(float, sys.argv[1:])
nx, ny = 120, 24
dx, dy = length / nx, width / ny
y = (np.arange(ny) + 0.5) * dy
k = np.where(y < lane, k1, k2)
volume = np.tile(np.where(y < lane, phi1, phi2) * height * dx * dy, (nx, 1))
tx = np.tile(k * height * dy / dx, (nx, 1))
half = 0.5 * dy / (k * height * dx)
ty = np.tile(1 / (half[:-1] + half[1:]), (nx, 1))  # across the lanes, in series
filled = np.zeros((nx, ny))
arrival = np.full((nx, ny), np.inf)
time = 0.0
index = np.arange(nx * ny).reshape(nx, ny)


def inflow(p, wet):
    """Into each cell, mm3/s; p counts in wet cells only, dry ones are at the vent's pressure."""
    p = np.where(wet, p, 0)
    q = np.zeros_like(p)
    flow = tx[1:] * (p[:-1] - p[1:]) / viscosity
    q[1:] += flow
    q[:-1] -= flow
    q[0] += 2 * tx[0] * (pressure - p[0]) / viscosity  # half a cell from the edge
    flow = ty * (p[:, :-1] - p[:, 1:]) / viscosity
    q[:, 1:] += flow
    q[:, :-1] -= flow
    return q


def solve(wet):
    n = nx * ny
    diagonal, rhs = np.where(wet, 0.0, 1.0), np.zeros((nx, ny))
    rows, cols, values = [], [], []
    for a, b, t in ((np.s_[:-1, :], np.s_[1:, :], tx[1:]), (np.s_[:, :-1], np.s_[:, 1:], ty)):
        for i, j in ((a, b), (b, a)):
            diagonal[i] += np.where(wet[i], t, 0)
            both = wet[i] & wet[j]
            rows.append(index[i][both]), cols.append(index[j][both]), values.append(-t[both])
    diagonal[0] += np.where(wet[0], 2 * tx[0], 0)
    rhs[0] += np.where(wet[0], 2 * tx[0] * pressure, 0)
    rows.append(index.ravel()), cols.append(index.ravel()), values.append(diagonal.ravel())
    matrix = coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))), (n, n)).tocsc()
    return spsolve(matrix, rhs.ravel()).reshape(nx, ny)


wet = np.zeros((nx, ny), bool)
while not wet.all():
    q = inflow(solve(wet) if wet.any() else np.zeros((nx, ny)), wet)
    front = ~wet & (q > 0)
    rest = np.where(front, (volume - filled) / np.where(front, q, 1), np.inf)
    # A quarter of the front's cells at a time: the pressure is taken anew long before it has changed.
    step = np.sort(rest[front])[front.sum() // 4]
    before = filled.copy()
    filled = np.where(front, filled + q * step, filled)
    over = np.maximum(filled - volume, 0)
    full = front & (filled >= volume * (1 - 1e-9))
    filled = np.minimum(filled, volume)
    wet |= full
    # What a full cell could not take goes on to the dry cell ahead.
    ahead = np.zeros_like(over)
    ahead[1:] = over[:-1]
    filled = np.where(~wet, np.minimum(filled + ahead, volume), filled)
    # The front stands at the cell's centre when half of the cell is filled.
    now = (before < 0.5 * volume) & (filled >= 0.5 * volume)
    arrival[now] = time + step * (0.5 * volume - before)[now] / (filled - before)[now]
    time += step

for name, row in (("1", int(0.5 * lane / dy)), ("2", int((lane + 0.75 * (width - lane)) / dy))):
    for i in range(nx // 5, nx, nx // 10):
        print(name, (i + 0.5) * dx, (row + 0.5) * dy, arrival[i, row])
