"""A panel filled from a part of its left edge through a hose, standing on edge, by resin that thickens: finite volumes on
a fine grid, resin tracked as a share per cell, pressure by SciPy's sparse direct solver, viscosity taken anew in every
step. Nothing is shared with the program: other mesh, other unknowns, other steps. Prints "x y arrival" per line.
Usage: panel.py LENGTH WIDTH INLET HEIGHT K PHI VISCOSITY PRESSURE  HOSE GX GY DOUBLES
(mm, mm2, Pa s, Pa; HOSE: pressure per viscosity and rate, 1/mm3; GX, GY: weight of the resin, Pa/mm; DOUBLES: time in
which the viscosity has doubled, s, 0: never; the inlet is y < INLET)
"""
import sys

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

length, width, inlet, height, k, phi, fresh, pressure, hose, gx, gy, doubles = map(float, sys.argv[1:])
nx, ny = 40, 20
dx, dy = length / nx, width / ny
volume = phi * height * dx * dy
tx, ty = k * height * dy / dx, k * height * dx / dy
y = (np.arange(ny) + 0.5) * dy
fed = y < inlet
number = np.arange(nx * ny).reshape(nx, ny)
head = gy * (y - 0.5 * inlet)  # in the inlet the resin stands in one body
links = [(np.s_[:-1, :], np.s_[1:, :], tx, gx * dx), (np.s_[:, :-1], np.s_[:, 1:], ty, gy * dy)]


def solve(wet):
    """Pressures of the wet cells, and of the inlet's middle last."""
    n = nx * ny + 1
    rows, cols, values = [], [], []
    diagonal, rhs = np.where(wet, 0.0, 1.0), np.zeros((nx, ny))
    for a, b, t, drop in links:
        for i, j, sign in ((a, b, 1), (b, a, -1)):
            diagonal[i] += np.where(wet[i], t, 0)
            both = wet[i] & wet[j]
            rows.append(number[i][both]), cols.append(number[j][both]), values.append(np.full(both.sum(), -t))
            rhs[i] -= np.where(wet[i], sign * t * drop, 0)
    # Half a cell from the edge: 2 tx (p_in + head + half the cell's drop − p).
    at = number[0][fed & wet[0]]
    diagonal[0] += np.where(fed & wet[0], 2 * tx, 0)
    extra = head + 0.5 * gx * dx
    rhs[0] += np.where(fed & wet[0], 2 * tx * extra, 0)
    rows.append(at), cols.append(np.full(len(at), n - 1)), values.append(np.full(len(at), -2.0 * tx))
    # p_in = pressure − hose · Σ 2 tx (p_in + extra − p), over dry cells of the inlet's row with p = 0.
    rows.append([n - 1]), cols.append([n - 1]), values.append([1 + hose * 2 * tx * fed.sum()])
    rows.append(np.full(len(at), n - 1)), cols.append(at), values.append(np.full(len(at), -hose * 2.0 * tx))
    last = pressure - hose * 2 * tx * extra[fed].sum()
    rows.append(number.ravel()), cols.append(number.ravel()), values.append(diagonal.ravel())
    matrix = coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))), (n, n)).tocsc()
    p = spsolve(matrix, np.append(rhs.ravel(), last))
    return p[:-1].reshape(nx, ny), p[-1]


def inflow(p, p_in, wet):
    """Into each cell times the viscosity; where neither end is wet nothing flows, and out of a dry cell neither."""
    q = np.zeros((nx, ny))
    for a, b, t, drop in links:
        flow = np.where(wet[a] | wet[b], t * (p[a] - p[b] + drop), 0)
        flow = np.where(~wet[a], np.minimum(flow, 0), flow)
        flow = np.where(~wet[b], np.maximum(flow, 0), flow)
        q[b] += flow
        q[a] -= flow
    q[0] += np.where(fed, 2 * tx * (p_in + head + 0.5 * gx * dx - p[0]), 0)
    return q


filled, arrival = np.zeros((nx, ny)), np.full((nx, ny), np.inf)
wet, time = np.zeros((nx, ny), bool), 0.0
while not wet.all():
    viscosity = fresh * (2 ** (time / doubles) if doubles > 0 else 1)
    p, p_in = solve(wet)
    q = inflow(np.where(wet, p, 0), p_in, wet) / viscosity
    front = ~wet & (q > 0)
    if not front.any():
        break
    rest = np.where(front, (volume - filled) / np.where(front, q, 1), np.inf)
    step = rest.min() * (1 + 1e-3)  # cells that are full at almost the same time are so together
    before = filled.copy()
    filled = np.where(front, np.minimum(filled + q * step, volume), filled)
    wet |= front & (filled >= volume * (1 - 1e-9))
    now = (before < 0.5 * volume) & (filled >= 0.5 * volume)
    arrival[now] = time + step * (0.5 * volume - before)[now] / (filled - before)[now]
    time += step

for i in range(nx // 6, nx, nx // 6):
    for j in range(ny // 8, ny, ny // 4):
        print((i + 0.5) * dx, (j + 0.5) * dy, arrival[i, j])
