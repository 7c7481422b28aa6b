#!/usr/bin/env python3
"""A Gaussian process with the covariance in closed form, dense, for readings on a flat plate:

    readings_gp.py FOLDER SHORTEST LONGEST      all lengths mm

reads FOLDER/readings.txt (x y deviation u) and nodes.txt (x y), and writes gp.txt: mean and standard uncertainty per node,
averaged over length and size by their likelihood, and first the most likely length and size. The covariance is Matérn's of
order 1, (kd) K1(kd) with k = sqrt(8)/length; a constant mean that nothing is known of.
"""
import sys
import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.special import kv


def matern(a, b, length):
    d = np.sqrt(8) / length * np.linalg.norm(a[:, None] - b[None], axis=2)
    with np.errstate(invalid="ignore"):
        return np.where(d > 1e-9, d * kv(1, np.maximum(d, 1e-9)), 1.0)


folder, shortest, longest = sys.argv[1], float(sys.argv[2]), float(sys.argv[3])
readings, nodes = np.loadtxt(folder + "/readings.txt"), np.loadtxt(folder + "/nodes.txt")
at, y, r = readings[:, :2], readings[:, 2], readings[:, 3] ** 2
spread = np.sqrt(max(np.var(y), np.mean(r)))
flat = 100.0 ** 2
found = []
for length in np.geomspace(shortest, longest, 9):
    among, with_nodes = matern(at, at, length), matern(nodes, at, length)
    for sigma in spread * np.geomspace(0.05, 5, 15):
        factor = cho_factor(sigma**2 * among + np.diag(r) + flat, lower=True)
        alpha = cho_solve(factor, y)
        likelihood = -0.5 * y @ alpha - np.log(np.diag(factor[0])).sum()
        k = sigma**2 * with_nodes + flat
        variance = sigma**2 + flat - np.einsum("ij,ji->i", k, cho_solve(factor, k.T))
        found.append((likelihood, length, sigma, k @ alpha, variance))
best = max(found, key=lambda f: f[0])
w = np.exp([f[0] - best[0] for f in found])
w /= w.sum()
mean = sum(a * f[3] for a, f in zip(w, found))
variance = sum(a * (f[4] + f[3] ** 2) for a, f in zip(w, found)) - mean**2
np.savetxt(folder + "/gp.txt", np.vstack([[best[1], best[2]], np.column_stack([mean, np.sqrt(variance)])]))
