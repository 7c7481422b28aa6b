"""From two arrays to a verdict and a map: python3 two_arrays.py. Invented faces, in place of scans of one's own."""
import gapfront as gf
import numpy as np

x, y = (a.ravel() for a in np.meshgrid(np.arange(-10, 211.0), np.arange(-10, 71.0)))
lower = np.column_stack([x, y, 0.02 * x])
upper = np.column_stack([x + 0.5, y + 0.5, 0.02 * x + 3.1 + 0.4 * np.exp(-((x - 140) ** 2 + (y - 30) ** 2) / 300)])

# Ten lines: two arrays in the tool frame, closed, with spacing and noise of their points, mm.
low, high = (gf.Surface(points, spacing=1, noise=0.005) for points in (lower, upper))
sheet = gf.build_sheet(low, high, gf.SheetOptions(edge=4, seal=[[0, 0], [200, 0], [200, 60], [0, 60]]))
gap = gf.measure_gap(sheet, low, high, gf.Alignment(), gf.GapOptions(nominal=3))
verdict = gf.judge(sheet, gap, gf.ToleranceOptions(nominal=3, minus=0.3, plus=0.3))
print(verdict.headline)

import matplotlib.pyplot as plt
from matplotlib.colors import LinearSegmentedColormap
colours = LinearSegmentedColormap.from_list("deviation", ["#265591", "#f3f3f3", "#7f4622"])  # the report's
plt.tripcolor(*sheet.points[:, :2].T, sheet.triangles, verdict.deviation, cmap=colours, vmin=-0.5, vmax=0.5)
plt.colorbar(label="gap - nominal, mm"), plt.axis("equal")
plt.savefig("map.png")
