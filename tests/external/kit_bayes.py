"""The posterior of a reinforcement's numbers after a bench, by Monte Carlo with NumPy: draws from the prior, weighted by
the likelihood (importance sampling, self-normalised). Written from the equations in include/gapfront/kit.hpp; nothing is
shared with the program. Prints mean and standard deviation of ln areal weight, ln loft, ln Vf at half an atmosphere, the
compaction exponent and ln permeability, as offsets from the library, and the worth of the draws (Kish 1965).

Usage: kit_bayes.py < JSON   with glass, pieces, presses, strips, options
"""
import json
import sys

import numpy as np

case = json.load(sys.stdin)
glass, o = case["glass"], case["options"]
pivot = 0.5 * 101325.0
n = 1_500_000
sigma = np.array([o["areal_weight"], o["loft"], o["vf"], o["exponent"], o["permeability"]])
x = np.random.default_rng(7).standard_normal((n, 5)) * sigma

areal = glass["areal_weight"] * np.exp(x[:, 0])
loft = glass["loft"] * np.exp(x[:, 1])
log = np.zeros(n)

weighed = np.log([w / a for a, w in case["pieces"]])
scatter = np.sqrt((4 * o["piece"] ** 2 + np.sum((weighed - weighed.mean()) ** 2)) / (4 + len(weighed) - 1))
for y in weighed:
    log -= 0.5 * ((y - np.log(areal)) / scatter) ** 2
for pressure, thickness, plies in case["presses"]:
    u = np.hypot(o["thickness"] / thickness, o["press"])
    if pressure > 0:
        vf = glass["compaction_a"] * pressure ** glass["compaction_b"] * np.exp(x[:, 2] + x[:, 3] * np.log(pressure / pivot))
        one = areal / glass["density"] / vf
    else:
        one = loft
    log -= 0.5 * (np.log(thickness / plies / one) / u) ** 2
for length, time, pressure, viscosity, gap, plies in case["strips"]:
    vf = plies * areal / glass["density"] / gap
    seen = (1 - vf) * viscosity * length**2 / (2 * pressure * time)
    law = glass["permeability_a"] * vf ** -glass["permeability_b"]
    # d ln(seen/law) / d ln gap: the porosity's and the law's share
    by_gap = vf / (1 - vf) - glass["permeability_b"]
    u = np.hypot(o["strip"], by_gap * 0.5 * o["thickness"] / gap)
    log -= 0.5 * ((np.log(seen / law) - x[:, 4]) / u) ** 2 + np.log(u)
w = np.exp(log - log.max())
w /= w.sum()
mean = w @ x
for k in range(5):
    print(mean[k], np.sqrt(w @ (x[:, k] - mean[k]) ** 2))
print(1 / np.sum(w**2), scatter)
