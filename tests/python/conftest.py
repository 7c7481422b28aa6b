"""One demo job, coarse so that it is quick, inspected by the program and by the module."""
import json
import os
import pathlib
import subprocess

import gapfront as gf
import pytest

root = pathlib.Path(__file__).resolve().parents[2]
program = os.environ["GAPFRONT_PROGRAM"]


@pytest.fixture(scope="session")
def job_file(tmp_path_factory):
    text = (root / "scans/new-tool.toml").read_text()
    for old, new in {
        'file = "': f'file = "{root}/scans/',
        'edge = "6 mm"': 'edge = "20 mm"',
        "[flow]": "[flow]\nensemble = 4",
        "[correct]": "[correct]\ntouch_tool = false",
    }.items():
        assert old in text
        text = text.replace(old, new)
    file = tmp_path_factory.mktemp("job") / "coarse.toml"
    file.write_text(text)
    return file


@pytest.fixture(scope="session")
def job(job_file):
    return gf.read_job(job_file)


@pytest.fixture(scope="session")
def measured(job):
    return gf.measure(job)


@pytest.fixture(scope="session")
def inspection(job):
    return gf.inspect(job)


@pytest.fixture(scope="session")
def by_program(job_file, tmp_path_factory):
    """The folder that the program wrote."""
    out = tmp_path_factory.mktemp("report")
    subprocess.run([program, "inspect", job_file, "--output", out], check=True, capture_output=True)
    return out


@pytest.fixture(scope="session")
def result(by_program):
    return json.loads((by_program / "result.json").read_text())
