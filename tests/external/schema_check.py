"""result SCHEMA RESULT...: each RESULT is valid; then, in the last, no key of any object can go or be added.
job SCHEMA SOURCE_DIR: the demo jobs are valid, an unknown key is not, and the schema's keys are those that src/job reads.
values SCHEMA JOB PROGRAM: of the job's quantities the schema refuses below nothing, nothing and a decimal comma where
the program does, and nowhere else; and of dates and pressures what the program refuses.
"""
import copy
import glob
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import tomllib

import jsonschema

failures = []
schema = json.load(open(sys.argv[2]))
jsonschema.Draft202012Validator.check_schema(schema)
validator = jsonschema.Draft202012Validator(schema)


def expect(good, what):
    if not good:
        failures.append(what)


def objects(value, path=()):
    """The path of every object; of a list its first and last items stand for all."""
    if isinstance(value, dict):
        yield path
        for key, inner in value.items():
            yield from objects(inner, path + (key,))
    elif isinstance(value, list):
        for i in sorted({0, len(value) - 1}) if value else []:
            yield from objects(value[i], path + (i,))


def at(value, path):
    for step in path:
        value = value[step]
    return value


def check_result(files):
    for file in files:
        for error in validator.iter_errors(json.load(open(file))):
            failures.append(f"{file}: {error.json_path}: {error.message[:200]}")
    result = json.load(open(files[-1]))
    free = {("times_s",), ("sheet", "fields")}  # keys by stage; fields that an older program did not have
    asked_for = {("front", "residual_air")}  # there only where the job asks for it
    tried = 0
    for path in list(objects(result)):
        there = at(result, path)
        for key in list(there) if path not in free else []:
            if path == () and key not in schema["required"]:
                continue
            if path + (key,) in asked_for:
                continue
            if path[:2] == ("verdict", "not_measured") and key in ("nodes", "reach_mm"):  # files of before lack them
                continue
            held = there.pop(key)
            expect(not validator.is_valid(result), f"{path} without {key} passes")
            there[key] = held
            tried += 1
        if path != ("times_s",):
            there["unheard_of"] = 1
            expect(not validator.is_valid(result), f"{path} with an unknown key passes")
            del there["unheard_of"]
    expect(tried > 60, f"only {tried} keys tried")
    expect(validator.is_valid(result), "the result was changed by the trials")


def names(value):
    """The property names of a schema."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key == "properties":
                yield from inner
            yield from names(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from names(inner)


def check_job(root):
    jobs = sorted(glob.glob(root + "/scans/*.toml"))
    expect(len(jobs) >= 3, "no demo jobs")
    for file in jobs:
        job = tomllib.load(open(file, "rb"))
        job = json.loads(json.dumps(job, default=str))
        for error in validator.iter_errors(job):
            failures.append(f"{file}: {error.json_path}: {error.message[:200]}")
        for section in job:
            wrong = copy.deepcopy(job)
            wrong[section]["unheard_of"] = 1
            expect(not validator.is_valid(wrong), f"{file}: [{section}] with an unknown key passes")
    bare = copy.deepcopy(job)
    bare["cavity"]["nominal"] = 3.0
    expect(not validator.is_valid(bare), "a bare number passes for a length")
    read = set()
    for file in set(glob.glob(root + "/src/job/read_*.cpp")) - {root + "/src/job/read_study.cpp"}:  # its file is no job
        text = open(file).read()
        calls = r"(?:text|word|flag|number|quantity|need_positive|point|points|quantities|texts|table|tables|pairs|with_suffix|file|length|whole|hours)"
        read |= set(re.findall(calls + r'\("(\w+)"', text))
        read |= set(re.findall(r'(?:read_regions|read_polygon|read_vacuum|read_pressure_fraction|need_section|read_file|read_spread|packing_of)\(\*?\w+, "(\w+)"', text))
    known = set(names(schema))
    expect(read == known, f"read but not in the schema: {sorted(read - known)}; the other way: {sorted(known - read)}")


# What a person may type by mistake, and what should stand there.
MISTYPED = [
    (r'date = ".*"', 'date = "31.12.2026"'),
    (r'cavity_pressure = ".*"', 'cavity_pressure = "0.5 bar"'),
    (r'cavity_pressure = ".*"', 'vacuum = "90 %"'),
    (r'pressure_limit = ".*"', 'pressure_limit = "1.2 bar"'),
    (r'viscosity = ".*"', 'viscosity = "0,3 Pa.s"'),
    (r'viscosity = ".*"', 'viscosity = "0.3 Pa.s"\nsurface_tension = "35"'),
    (r'viscosity = ".*"', 'viscosity = "0.3 Pa.s"\nsurface_tension = "-35 mN/m"'),
    (r'viscosity = ".*"', 'viscosity_table = [["18 C", "-0.28 Pa.s"], ["25 C", "0.2 Pa.s"]]\ntemperature = "20 C"'),
    (r'viscosity = ".*"', 'viscosity = "0.3 Pa.s"\nageing = { curve = [{ viscosity = [["1 min", "0 Pa.s"], ["9 min", "0.4 Pa.s"]] }] }'),
] + [
    (r"(?m)^compaction = .*", 'compaction = { law = "table", table = ' + table + " }")
    for table in (
        '[["0.1", "-10 kPa"], ["0.2", "80 kPa"]]',
        '[["0.1", "0 kPa"], ["0.2", "80 kPa"]]',
        '[["0.1", 10000], ["0.2", 80000]]',
        '[["0", "10 kPa"], ["0.2", "80 kPa"]]',
        '[["0.1", true], ["0.2", {}]]',
    )
]
# What the schema must not refuse.
WELL_TYPED = [
    (r'viscosity = ".*"', 'viscosity = "0.3 Pa.s"\nsurface_tension = "35 mN/m"'),
    (r'viscosity = ".*"', 'viscosity_table = [["18 C", "0.28 Pa.s"], ["25 C", "0.2 Pa.s"]]\ntemperature = "20 C"'),
    (r'viscosity = ".*"', 'viscosity = "0.3 Pa.s"\nageing = { curve = [{ viscosity = [["1 min", "0.3 Pa.s"], ["9 min", "0.4 Pa.s"]] }] }'),
    (r"(?m)^compaction = .*", 'compaction = { law = "table", table = [[0.1, "10 kPa"], ["20 %", "80 kPa"]] }'),
]


def check_values(job, program):
    # Scans that are not there: what the program says of them comes after it has read the job.
    text = re.sub(r'file = "[^"]*"', 'file = "nowhere.ply"', open(job).read())

    def compare(changed, line):
        with tempfile.TemporaryDirectory() as folder:
            file = pathlib.Path(folder) / "job.toml"
            file.write_text(changed)
            run = subprocess.run([program, "inspect", file, "--output", folder + "/out"], capture_output=True, text=True)
        reads = "nowhere.ply: no such file" in run.stderr
        knows = validator.is_valid(json.loads(json.dumps(tomllib.loads(changed), default=str)))
        expect(reads == knows, f"{line}: the program {'reads' if reads else 'refuses'} it, the schema does not: {run.stderr}")
        return reads

    expect(compare(text, "unchanged"), "the job itself is refused")
    lines = text.split("\n")
    tried = 0
    for i, line in enumerate(lines):
        found = re.match(r'(\s*\w+ = ")([0-9.]+)( ?[A-Za-z%][^",]*".*)', line)
        if not found:
            continue
        before, number, after = found.groups()
        for other in ("-" + number, "0", number.replace(".", ",") if "." in number else number + ",5"):
            compare("\n".join(lines[:i] + [before + other + after] + lines[i + 1 :]), before + other + after)
            tried += 1
    expect(tried > 50, f"only {tried} values were tried")
    for pattern, wrong in MISTYPED:
        changed, count = re.subn(pattern, wrong, text, count=1)
        expect(count == 1 and not compare(changed, wrong), f"{wrong}: it should be refused")
    for pattern, right in WELL_TYPED:
        changed, count = re.subn(pattern, right, text, count=1)
        expect(count == 1 and compare(changed, right), f"{right}: it should be read")


if sys.argv[1] == "result":
    check_result(sys.argv[3:])
elif sys.argv[1] == "job":
    check_job(sys.argv[3])
else:
    check_values(sys.argv[3], sys.argv[4])
for line in failures[:40]:
    print(line)
sys.exit(min(len(failures), 100))
