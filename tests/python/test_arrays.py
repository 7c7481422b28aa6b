"""Arrays in and out: shapes, views, owners; and what is refused."""
import ast
import gc
import pathlib
import runpy
import sys
import unittest.mock

import gapfront as gf
import numpy as np
import pytest
from conftest import root


def strip(z, shift=0.0):
    """A flat face of 60 mm by 40 mm, a point every millimetre."""
    x, y = np.meshgrid(np.arange(-10, 71.0) + shift, np.arange(-10, 51.0) + shift)
    return np.column_stack([x.ravel(), y.ravel(), np.full(x.size, z)])


@pytest.fixture(scope="module")
def faces():
    return [gf.Surface(strip(z, s), spacing=1, noise=0.005) for z, s in ((0, 0), (3.2, 0.5))]


@pytest.fixture(scope="module")
def sheet(faces):
    return gf.build_sheet(*faces, gf.SheetOptions(edge=4, seal=[[0, 0], [60, 0], [60, 40], [0, 40]]))


def test_two_flat_faces_have_the_gap_between_them(faces, sheet):
    gap = gf.measure_gap(sheet, *faces, gf.Alignment(), gf.GapOptions(nominal=3))
    assert gap.measured.all()
    np.testing.assert_allclose(gap.gap, 3.2, atol=1e-6)
    verdict = gf.judge(sheet, gap, gf.ToleranceOptions(nominal=3, minus=0.3, plus=0.3))
    assert verdict.overall == gf.Conformity.conforming
    assert (verdict.decision == gf.Conformity.conforming).all()
    assert verdict.fraction[gf.Conformity.conforming] == 1


def test_no_place_in_the_gap_is_zero_where_nothing_was_measured(job_file, tmp_path):
    fine = tmp_path / "fine.toml"  # the hole in the scan is 16 mm wide: no node of the coarse sheet has to lie in it
    fine.write_text(job_file.read_text().replace('edge = "20 mm"', 'edge = "6 mm"'))
    measured = gf.measure(gf.read_job(fine))
    missing = ~measured.gap.measured
    assert missing.any()
    assert np.isnan(measured.gap.gap[missing]).all() and np.isnan(measured.gap.U[missing]).all()


def test_arrays_are_read_only_views_that_keep_their_owner(faces):
    sheet = gf.build_sheet(*faces, gf.SheetOptions(edge=6, seal=[[0, 0], [60, 0], [60, 40], [0, 40]]))
    points, area, n = sheet.points, sheet.area, len(sheet)
    assert np.shares_memory(points, sheet.points)
    assert points.shape == (n, 3) and area.shape == (n,) and sheet.triangles.dtype == np.int32
    with pytest.raises(ValueError):
        points[0, 0] = 1
    total = area.sum()
    del sheet
    gc.collect()
    [strip(0) for _ in range(20)]  # what was freed would be written over
    assert area.sum() == total and np.isfinite(points).all()


def test_a_view_into_an_inspection_outlives_its_name(job):
    arrival = gf.fill(*_simple_filling()).arrival
    gc.collect()
    assert np.isfinite(arrival).all()


def _simple_filling():
    low, high = (gf.Surface(strip(z, s), spacing=1, noise=0.005) for z, s in ((0, 0), (3, 0.5)))
    sheet = gf.build_sheet(low, high, gf.SheetOptions(edge=6, seal=[[0, 0], [60, 0], [60, 40], [0, 40]]))
    mat = gf.find_reinforcement("chopped strand mat 450")
    glass = gf.evaluate_laminate(sheet, np.full(len(sheet), 3.0), gf.LaminateOptions(plies=[gf.Ply(reinforcement=mat, count=2)]))
    ports = gf.FlowOptions(inlets=[gf.Inlet(name="end", path=[[0, 0, 0], [0, 40, 0]], radius=1)],
                           vents=[gf.Vent(name="far", path=[[60, 0, 0], [60, 40, 0]], radius=1)])
    return sheet, glass, ports


def test_points_that_are_no_numbers_are_left_out_and_counted():
    points = strip(0)
    points[7] = np.nan
    scan = gf.Scan(points / 25.4, unit=25.4)
    assert (len(scan), scan.nonfinite_dropped) == (len(points) - 1, 1)
    np.testing.assert_allclose(scan.points, np.delete(points, 7, 0), atol=1e-12)
    before = scan.points.copy()
    cleaned, report = gf.clean(scan)
    assert report.kept == len(cleaned) and report.spacing == pytest.approx(1, rel=0.05)
    np.testing.assert_array_equal(scan.points, before)  # clean() leaves its scan alone


@pytest.mark.parametrize("points, says", [
    (np.zeros((5, 2)), r"^points: an array of shape \(N, 3\) is needed, not \(5, 2\); "),
    (np.zeros((2, 5, 3)), r"not \(2, 5, 3\); "),
    ([[1, 2, 3], [1, 2]], "^points: is no array of numbers; "),
    (np.full((3, 3), np.nan), "^array: no finite point among 3; scan again$"),
])
def test_an_array_of_another_shape_is_refused_in_one_line(points, says):
    with pytest.raises(gf.InputError, match=says) as caught:
        gf.Scan(points)
    assert "\n" not in str(caught.value)


def test_a_pose_that_is_no_rigid_motion_is_refused():
    with pytest.raises(gf.InputError, match="pose: is no rigid motion"):
        gf.Surface(strip(0), spacing=1, noise=0, pose=np.diag([2.0, 1, 1, 1]))


def test_triangles_without_their_points_are_refused():
    with pytest.raises(gf.InputError, match="triangles: there is no point 3; give indices from 0 to 2"):
        gf.Mesh(np.eye(3), [[0, 1, 3]])


def test_what_stands_in_a_list_is_not_changed_in_place(job):
    vents = job.flow.vents
    with pytest.raises(AttributeError, match="use replace"):
        vents[0].radius = 9
    with pytest.raises(AttributeError):
        job.flow.vents.append(vents[0])
    job.flow.vents = [v.replace(radius=9) for v in vents]
    assert job.flow.vents[0].radius == 9 and vents[0].radius == 5
    job.flow.vents = vents
    assert job.flow.vents[0].radius == 5


def test_a_value_that_there_is_not_is_refused():
    with pytest.raises(TypeError, match="GapOptions: has no value named nominl"):
        gf.GapOptions(nominl=3)
    with pytest.raises(AttributeError):
        gf.GapOptions().nominl = 3


def test_progress_is_told_and_can_cancel(faces):
    seen = []
    gf.build_sheet(*faces, gf.SheetOptions(edge=6), lambda stage, done: seen.append(done))
    assert seen and all(0 <= d <= 1 for d in seen)
    with pytest.raises(gf.Cancelled):
        gf.build_sheet(*faces, gf.SheetOptions(edge=6), lambda stage, done: False)
    with pytest.raises(ZeroDivisionError):
        gf.build_sheet(*faces, gf.SheetOptions(edge=6), lambda stage, done: 1 / 0)


def test_the_stubs_name_all_there_is_and_nothing_else():
    stub = ast.parse((root / "src/python/gapfront/__init__.pyi").read_text())
    names = {n.name: n for n in stub.body if isinstance(n, (ast.ClassDef, ast.FunctionDef)) and n.name[0] != "_"}
    assert set(names) == set(gf.__all__)

    def members(node):
        out = {t.target.id for t in node.body if isinstance(t, ast.AnnAssign)}
        out |= {t.targets[0].id for t in node.body if isinstance(t, ast.Assign)}
        return out | {t.name for t in node.body if isinstance(t, (ast.FunctionDef, ast.ClassDef)) and t.name[0] != "_"}

    for name, node in names.items():
        there = getattr(gf, name)
        if isinstance(there, type) and not issubclass(there, Exception):
            ours = {m for m in vars(there) if m[0] != "_"} - {"replace"}
            if hasattr(there, "__members__"):
                ours = set(there.__members__)
            assert ours == members(node), name


def test_the_example_runs(tmp_path, monkeypatch, capsys):
    try:
        import matplotlib
        matplotlib.use("Agg")
    except ImportError:  # the map is left out; the numbers are not
        drawn = unittest.mock.MagicMock()
        monkeypatch.setitem(sys.modules, "matplotlib", drawn)
        monkeypatch.setitem(sys.modules, "matplotlib.pyplot", drawn.pyplot)
        monkeypatch.setitem(sys.modules, "matplotlib.colors", drawn.colors)
    monkeypatch.chdir(tmp_path)
    runpy.run_path(str(root / "tools/examples/two_arrays.py"))
    assert "onconforming" in capsys.readouterr().out
    if not isinstance(sys.modules["matplotlib"], unittest.mock.MagicMock):
        assert pathlib.Path("map.png").stat().st_size > 5000
