"""Bubbles behind a straight front that comes through a hose, by SciPy: the front as an ordinary differential equation, and
each of many bubbles as one of its own, dx/dt = m · front's speed, from where and when the front has left it. Nothing is
shared with the program, which carries gas from cell to cell. Gas left per mm: 3 % of the pores for each tenfold of Ca*
below 1e-3, at the vents' pressure; at the end by Boyle at the pressure there. Prints all gas (Pa mm3), and for tenths of
the length "share of the gas, share of the volume".
Usage: bubbles.py LENGTH WIDTH THICKNESS  K PHI VISCOSITY  INLET VENT (Pa absolute)  HOSE (1/mm3)  TENSION (N/mm) MOBILITY
"""
import sys

import numpy as np
from scipy.integrate import solve_ivp

length, width, h, k, phi, viscosity, inlet, vent, hose, tension, mobility = map(float, sys.argv[1:])


def speed(x):
    return (inlet - vent) / (viscosity * (x / (k * h * width) + hose)) / (phi * h * width)


def over(_, x):
    return x[0] - length


over.terminal = True
front = solve_ivp(lambda _, x: [speed(x[0])], (0, 1e9), [1e-9], events=over, rtol=1e-10, atol=1e-10, dense_output=True,
                  max_step=1e9)
end = front.t[-1]
n = 200
starts = (np.arange(n) + 0.5) * length / n
times = np.interp(starts, front.sol(np.linspace(0, end, 20001))[0], np.linspace(0, end, 20001))
places, gas = [], []
for x0, t0 in zip(starts, times):
    way = solve_ivp(lambda t, _: [mobility * speed(front.sol(t)[0])], (t0, end), [x0], rtol=1e-8, atol=1e-8)
    places.append(way.y[0, -1])
    left = 0.03 * max(0.0, -3 - np.log10(1e-6 * viscosity * speed(x0) / tension))
    gas.append(left * vent * phi * h * width * length / n)
places, gas = np.array(places), np.array(gas)
print(gas.sum())
drop = (inlet - vent) * (length / (k * h * width)) / (length / (k * h * width) + hose)
for i in range(10):
    here = (places >= i * length / 10) & (places < (i + 1) * length / 10)
    pressure = vent + drop * (1 - places[here] / length)
    print(gas[here].sum() / gas.sum(), (gas[here] / pressure).sum() / (h * width * length / 10))
