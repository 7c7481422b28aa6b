"""An open channel over glass, each with a front of its own, along a line: resin runs in the channel and soaks the glass
below from there. Finite volumes; pressure by SciPy's banded solver; the glass's wet depth by its own law in each cell.
Nothing is shared with the program, which takes one front for both and reckons the soaking from its pressures. Prints the
time at which the channel is full, how long the stack is then dry over what part of its thickness at each "place share".
Usage: two_layers.py LENGTH  CHANNEL LOFT  K K_THROUGH PHI  VISCOSITY PRESSURE
"""
import sys

import numpy as np
from scipy.linalg import solve_banded

length, channel, loft, k, through, phi, viscosity, pressure = map(float, sys.argv[1:])
n = 100
dx = length / n
depth, filled = np.zeros(n), np.zeros(n)
wet, time, level = 0, 0.0, 1e-3 * loft  # a first film, so that the law z' ~ 1/z can begin
while wet < n:
    t = np.where(np.arange(n + 1) < wet + 1, channel**3 / 12 + k * np.append(depth, 0), 0) / dx
    q = None
    if wet:
        sink = np.where(depth[:wet] < loft, through / np.maximum(depth[:wet], level), 0) * dx
        a, b = t[:wet] * np.where(np.arange(wet) == 0, 2, 1), t[1:wet + 1]
        diagonal = a + b + sink
        bands = np.zeros((3, wet))
        bands[1], bands[0, 1:], bands[2, :-1] = diagonal, -b[:-1], -a[1:]
        rhs = np.zeros(wet)
        rhs[0] = a[0] * pressure
        p = solve_banded((1, 1), bands, rhs)
        q = b[-1] * p[-1] / viscosity
    else:
        p, q = np.zeros(0), 2 * t[0] * pressure / viscosity
    step = (channel * dx - filled[wet]) / q
    # No cell's depth grows by more than a twentieth of the loft in a step, and the front's is one cell at the most.
    if wet:
        grows = through * p / (viscosity * phi * np.maximum(depth[:wet], level))
        step = min(step, np.min(0.05 * loft / np.maximum(grows, 1e-300)))
        depth[:wet] = np.minimum(loft, np.sqrt(depth[:wet] ** 2 + 2 * through * p / (viscosity * phi) * step))
    filled[wet] += q * step
    time += step
    if filled[wet] >= channel * dx * (1 - 1e-9):
        wet += 1
print(time)
for i in range(n // 10, n, n // 10):
    print((i + 0.5) * dx, 1 - depth[i] / loft)
