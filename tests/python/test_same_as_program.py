"""The module computes what the program computes, to the last bit."""
import json
import math
import subprocess

import gapfront as gf
import numpy as np
import pytest
from conftest import program


def without_times(result):
    return {key: value for key, value in result.items() if key != "times_s"}


def test_inspect_gives_the_result_of_the_program(inspection, result):
    assert without_times(json.loads(gf.result_json(inspection))) == without_times(result)


def test_the_report_is_that_of_the_program_but_for_its_times(inspection, by_program, tmp_path):
    gf.write_report(inspection, tmp_path)
    written = sorted(f.name for f in by_program.iterdir())
    assert sorted(f.name for f in tmp_path.iterdir()) == written
    for name in written:
        if name not in ("result.json", "report.html", "checksums.sha256"):  # times stand in these
            assert (tmp_path / name).read_bytes() == (by_program / name).read_bytes(), name


def test_arrays_are_those_of_the_result(inspection, result):
    """The file has six decimals; all that stand there are the array's."""
    field = result["sheet"]["fields"]

    def numbers(name):
        return np.array([np.nan if v is None else v for v in field[name]], dtype=float)
    np.testing.assert_array_equal(inspection.gap.gap.round(6), numbers("gap_mm"))
    np.testing.assert_array_equal(inspection.verdict.deviation.round(6), numbers("deviation_mm"))


def same_gap(a, b):
    for name in ("gap", "U", "measured", "mid", "direction", "u_lower", "u_upper", "u_registration", "fit_area"):
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name), err_msg=name)


def test_stage_by_stage_from_arrays_gives_the_same_gap_and_verdict(measured, job):
    """Read with numpy in between: every half goes through an array of one's own."""
    halves, noise = [], []
    for file in (job.lower_file, job.upper_file):
        points = np.array(gf.read_scan(file, unit=1).points)
        scan, report = gf.clean(gf.Scan(points))
        halves.append(scan)
        noise.append(report)
    closed = gf.register_halves(*halves, job.align, lower_noise=noise[0].noise, upper_noise=noise[1].noise)
    np.testing.assert_array_equal(closed.covariance, measured.alignment.covariance)
    low, high = (
        gf.Surface(scan.points, spacing=report.spacing, noise=report.noise, pose=pose, shared=closed.shared_noise)
        for scan, report, pose in zip(halves, noise, (closed.lower_to_tool, closed.upper_to_tool))
    )
    sheet = gf.build_sheet(low, high, measured.job.sheet)
    np.testing.assert_array_equal(sheet.points, measured.sheet.points)
    np.testing.assert_array_equal(sheet.triangles, measured.sheet.triangles)
    gap = gf.measure_gap(sheet, low, high, closed, measured.job.gap)
    same_gap(gap, measured.gap)
    verdict = gf.judge(sheet, gap, measured.job.tolerance)
    np.testing.assert_array_equal(verdict.decision, measured.verdict.decision)
    assert (verdict.overall, verdict.mean) == (measured.verdict.overall, measured.verdict.mean)


def test_the_steps_come_to_what_inspect_gives(measured, inspection):
    predicted = gf.predict(measured)
    np.testing.assert_array_equal(predicted.filling.arrival, inspection.filling.arrival)
    np.testing.assert_array_equal(predicted.lead.seconds, inspection.lead.seconds)
    # The front by itself, from arrays.
    laminate = gf.evaluate_laminate(predicted.sheet, predicted.flow_gap, predicted.job.laminate)
    np.testing.assert_array_equal(laminate.conductance, predicted.laminate.conductance)
    filling = gf.fill(predicted.sheet, laminate, predicted.job.flow)
    np.testing.assert_array_equal(filling.arrival, predicted.filling.arrival)
    assert gf.result_json(gf.correct(predicted), False) == gf.result_json(inspection, False)


def test_a_result_is_read_back_as_it_was_written(inspection, by_program):
    text = (by_program / "result.json").read_text()
    again = gf.read_result(text)
    assert gf.result_json(again) == text
    np.testing.assert_array_equal(again.gap.gap, inspection.gap.gap.round(6))
    assert again.verdict.headline == inspection.verdict.headline


def test_characteristics_are_those_of_the_program(inspection, by_program):
    out = subprocess.run([program, "characteristics", by_program, "--json"], check=True, capture_output=True, text=True)
    listed = json.loads(out.stdout)["characteristics"]
    ours = gf.characteristics(inspection)
    assert [c.id for c in ours] == [c["id"] for c in listed]
    assert [None if math.isnan(c.measured) else round(c.measured, 6) for c in ours] == [
        c["measured_mm"] for c in listed
    ]
    assert [None if math.isnan(c.area) else round(c.area, 2) for c in ours] == [c["area_mm2"] for c in listed]
    assert [c.decision.name for c in ours] == [c["decision"].replace(" ", "_") for c in listed]


@pytest.mark.parametrize("job_text", ["[job]\n", "[job]\nname = 3\n", "[jbo]\n"])
def test_an_error_has_the_line_of_the_program(tmp_path, job_text):
    file = tmp_path / "bad.toml"
    file.write_text(job_text)
    run = subprocess.run([program, "inspect", file], capture_output=True, text=True)
    assert run.returncode == 1
    with pytest.raises(gf.InputError) as caught:
        gf.validate(gf.read_job(file))
    assert str(caught.value) in run.stderr
    assert "\n" not in str(caught.value)
