#!/usr/bin/env python3
"""The pictures of README and documentation, made of a demo job with the Python module and matplotlib.

  PYTHONPATH=build/python python3 tools/manual/pictures.py REPORT FIRST LAST FOLDER

REPORT: a folder that `gapfront inspect scans/new-tool.toml` wrote; FIRST, LAST: those that `gapfront recheck` wrote of
scans/worn-tool-1.toml and, after -2, of worn-tool-3.toml. The colours are those of src/report/colour.cpp.
"""
import pathlib
import sys

import gapfront as gf
import matplotlib
import numpy as np
from matplotlib.colors import ListedColormap

matplotlib.use("Agg")
import matplotlib.pyplot as plt

root = pathlib.Path(__file__).resolve().parents[2]


def srgb(lightness, chroma, hue):
    """CIELAB (D65) by lightness, chroma and hue to sRGB, 0 to 1."""
    def linear(f):
        return np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29))
    y, angle = (lightness + 16) / 116, np.radians(hue)
    xyz = np.stack([0.95047 * linear(y + chroma * np.cos(angle) / 500), linear(y),
                    1.08883 * linear(y - chroma * np.sin(angle) / 200)], -1)
    rgb = np.clip(xyz @ np.array([[3.2404542, -1.5371385, -0.4985314], [-0.9692660, 1.8760108, 0.0415560],
                                  [0.0556434, -0.2040259, 1.0572252]]).T, 0, 1)
    return np.where(rgb <= 0.0031308, 12.92 * rgb, 1.055 * rgb ** (1 / 2.4) - 0.055)


def straight(dark, light, swell):
    t = np.linspace(0, 1, 256)
    mix = [a + t * (b - a) for a, b in zip(dark, light)]
    return ListedColormap(srgb(mix[0], mix[1] + swell * np.sin(np.pi * t), mix[2]))


T = np.linspace(-1, 1, 256)
DIVERGING = ListedColormap(srgb(96 - 60 * abs(T), 38 * np.sin(np.pi / 2 * abs(T)), np.where(T < 0, 278.0, 56.0)))
SEQUENCE = straight((22, 14, 222), (93, 14, 95), 17)
AMOUNT = straight((20, 12, 282), (94, 12, 330), 32)
plt.rcParams.update({"font.size": 8, "font.family": "DejaVu Sans", "savefig.dpi": 90})


def save(folder, name):
    plt.savefig(folder / f"{name}.png", bbox_inches="tight", pil_kwargs={"optimize": True})
    plt.close()


def plan(i, values, colours, label, low, high, contours=None):
    x, y = i.sheet.points[:, 0], i.sheet.points[:, 1]
    _, axes = plt.subplots(figsize=(5.2, 3.6))
    shown = np.ma.masked_invalid(values)
    triangles = i.sheet.triangles[~np.ma.getmaskarray(shown)[i.sheet.triangles].any(1)]
    axes.set_facecolor("#d9d9d9")
    drawn = axes.tripcolor(x, y, triangles, shown.filled(0), cmap=colours, vmin=low, vmax=high, shading="gouraud")
    if contours is not None:
        axes.tricontour(x, y, triangles, shown.filled(0), contours, colors="black", linewidths=0.4)
    plt.colorbar(drawn, label=label, shrink=0.8)
    axes.set_aspect("equal"), axes.set_xlabel("x, mm"), axes.set_ylabel("y, mm")
    return axes


def maps(i, folder):
    most = float(np.nanpercentile(abs(i.verdict.deviation), 99))
    axes = plan(i, i.verdict.deviation, DIVERGING, "gap − nominal, mm", -most, most)
    for region in i.verdict.regions:
        axes.plot(region.outline[:, 0], region.outline[:, 1], "k-", linewidth=0.8)
        axes.annotate(region.name, region.centre[:2], ha="center")
    save(folder, "gap")
    plan(i, i.gap.U * 1000, AMOUNT.reversed(), "U, µm", 0, float(np.nanpercentile(i.gap.U, 99)) * 1000)
    save(folder, "u")
    vf = np.where(i.gap.measured, i.laminate.vf * 100, np.nan)
    plan(i, vf, SEQUENCE, "fibre volume fraction, %", *np.nanpercentile(vf, (1, 99)))
    save(folder, "vf")
    end = i.nominal_filling.fill_time
    plan(i, i.filling.arrival, SEQUENCE, "arrival, s", 0, end, np.linspace(0, end, 11)[1:-1])
    save(folder, "arrival")
    most = float(np.nanpercentile(abs(i.lead.seconds), 99))
    plan(i, i.lead.seconds, DIVERGING, "lead, s (positive: early)", -most, most)
    save(folder, "lead")
    decision = np.sort(i.verdict.decision[i.sheet.triangles], axis=1)[:, 1]  # of each triangle: that of the middle corner
    _, axes = plt.subplots(figsize=(5.2, 3.6))
    drawn = axes.tripcolor(*i.sheet.points[:, :2].T, i.sheet.triangles, facecolors=decision.astype(float),
                           cmap=ListedColormap(["#f2f2f2", "#9aa7b5", "#3c2f4d", "#d9b48f"]), vmin=-0.5, vmax=3.5)
    bar = plt.colorbar(drawn, shrink=0.8)
    bar.set_ticks([0, 1, 2, 3], labels=["conforming", "undecided", "nonconforming", "not measured"])
    axes.set_aspect("equal"), axes.set_xlabel("x, mm"), axes.set_ylabel("y, mm")
    save(folder, "decision")


def halves(folder):
    job = gf.read_job(root / "scans/new-tool.toml")
    scans, reports = zip(*(gf.clean(gf.read_scan(f, unit=1)) for f in (job.lower_file, job.upper_file)))
    figure = plt.figure(figsize=(6.4, 3))
    for k, (scan, name) in enumerate(zip(scans, ("lower half", "upper half"))):
        axes = figure.add_subplot(1, 2, k + 1, projection="3d")
        p = scan.points[:: len(scan) // 9000]
        axes.scatter(*p.T, s=0.3, c=p[:, 2], cmap=SEQUENCE, linewidths=0)
        axes.set_title(name), axes.tick_params(labelsize=5), axes.set_box_aspect(np.ptp(p, axis=0))
    save(folder, "scans")
    closed = gf.register_halves(*scans, job.align, lower_noise=reports[0].noise, upper_noise=reports[1].noise)
    _, axes = plt.subplots(figsize=(6.4, 2.2))
    for scan, pose, colour, name in ((scans[0], closed.lower_to_tool, "#1f3a5f", "lower half"),
                                     (scans[1], closed.upper_to_tool, "#b5703c", "upper half")):
        p = scan.points @ pose[:3, :3].T + pose[:3, 3]
        near = p[abs(p[:, 1] - 10) < 0.8]
        axes.plot(near[:, 0], near[:, 2], ".", markersize=0.8, color=colour, label=name)
    axes.set_aspect("equal"), axes.set_xlabel("x, mm"), axes.set_ylabel("z, mm"), axes.legend(markerscale=8)
    save(folder, "closed")


def drift(first, last, folder):
    """A re-check is measured on the sheet of the first inspection, node by node."""
    plan(last, last.gap.gap - first.gap.gap, DIVERGING, "change of the gap, mm", -0.5, 0.5)
    save(folder, "drift")


def main():
    report, first, last = (gf.read_result((pathlib.Path(f) / "result.json").read_text()) for f in sys.argv[1:4])
    folder = pathlib.Path(sys.argv[4])
    maps(report, folder)
    drift(first, last, folder)
    halves(folder)


main()
