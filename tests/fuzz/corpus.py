#!/usr/bin/env python3
"""Makes tests/fuzz/corpus again, but for what fuzzing found (files that begin neither with good- nor with bad-).

good-*: the least file of a format, which must be read. bad-*: what once crashed, went out of bounds, or took gigabytes
or minutes; it must be refused. The corpus of "page" is made by the test itself (page_seeds.cpp).
"""
import contextlib, hashlib, os, pathlib, shutil, sqlite3, struct, sys

here = pathlib.Path(__file__).resolve().parent / "corpus"


def write(name, content):
    path = here / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content.encode() if isinstance(content, str) else content)


def places(n=6):
    """A grid of n × n places, slightly curved, so that cleaning has neighbours."""
    return [(x, y, 0.01 * x * y) for x in range(n) for y in range(n)]


def packed(points, number="f", order="<"):
    return b"".join(struct.pack(order + 3 * number, *p) for p in points)


def lines(points, form="{} {} {}\n"):
    return "".join(form.format(*p) for p in points)


XYZ = "property float x\nproperty float y\nproperty float z\n"
FACES = "property list uchar int vertex_indices\n"


def ply_header(*elements, form="binary_little_endian"):
    body = "".join(f"element {name} {count}\n{properties}" for name, count, properties in elements)
    return f"ply\nformat {form} 1.0\n{body}end_header\n".encode()


def ply():
    p = places()
    n = len(p)
    write("ply/good-ascii", ply_header(("vertex", n, XYZ), form="ascii") + lines(p).encode())
    write("ply/good-little", ply_header(("vertex", n, XYZ)) + packed(p))
    write("ply/good-big", ply_header(("vertex", n, XYZ), form="binary_big_endian") + packed(p, "f", ">"))
    normals = "".join(f"property float n{k}\n" for k in "xyz")
    write("ply/good-normals", ply_header(("vertex", n, XYZ + normals), ("face", 1, FACES), form="ascii")
          + lines(p, "{} {} {} 0 0 1\n").encode() + b"3 0 1 2\n")
    write("ply/bad-no-properties", ply_header(("junk", 10**12, ""), ("vertex", 10**12, "")))
    write("ply/bad-many-promised", ply_header(("vertex", 10**12, XYZ)) + bytes(120))
    write("ply/bad-count-1e300", ply_header(("vertex", "1e300", XYZ)) + bytes(120))
    write("ply/bad-two-vertex", ply_header(("vertex", 2, XYZ), ("vertex", 2, XYZ)) + bytes(48))
    write("ply/bad-list-before", ply_header(("face", 1, FACES.replace("uchar", "uint")), ("vertex", 3, XYZ))
          + struct.pack("<I", 4 * 10**9) + bytes(36))


def painted():
    paint = "".join(f"property uchar {c}\n" for c in ("red", "green", "blue"))
    corners = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
    write("painted/good-vertices", ply_header(("vertex", 3, XYZ + paint), ("face", 1, FACES), form="ascii")
          + lines(corners, "{} {} {} 255 0 0\n").encode() + b"3 0 1 2\n")
    write("painted/good-faces", ply_header(("vertex", 3, XYZ), ("face", 1, FACES + paint)) + packed(corners)
          + struct.pack("<BiiiBBB", 3, 0, 1, 2, 9, 8, 7))
    write("painted/bad-no-properties", ply_header(("vertex", 3, XYZ), ("face", 10**12, ""), form="ascii")
          + lines(corners).encode())
    write("painted/bad-two-elements", ply_header(("vertex", 3, XYZ + paint), ("vertex", 1, XYZ), ("face", 1, FACES),
                                                 ("face", 1, FACES)) + bytes(200))
    write("painted/bad-list-4e9", ply_header(("vertex", 3, XYZ + paint), ("face", 1, FACES.replace("uchar", "uint")))
          + bytes(45) + struct.pack("<I", 0xFFFFFFF0))
    write("painted/bad-list-1e300", ply_header(("vertex", 3, XYZ + paint),
                                               ("face", 1, FACES.replace("uchar", "double")))
          + bytes(45) + struct.pack("<d", 1e300))
    write("painted/bad-corner", ply_header(("vertex", 3, XYZ + paint), ("face", 1, FACES))
          + bytes(45) + struct.pack("<Biii", 3, 0, 1, -1))


def pcd_file(fields, size, kind, count, points, data, body=b"", width=None):
    return (f"VERSION .7\nFIELDS {fields}\nSIZE {size}\nTYPE {kind}\nCOUNT {count}\nWIDTH {width or points}\nHEIGHT 1\n"
            f"VIEWPOINT 0 0 0 1 0 0 0\nPOINTS {points}\nDATA {data}\n").encode() + body


def lzf_zeros(total):
    """`total` zeros, compressed as hard as the format allows: copies of 264 bytes in three."""
    out, done = bytearray([0, 0]), 1
    while done < total:
        n = min(264, total - done)
        out += bytes([n - 1]) + bytes(n) if n < 3 else bytes([(n - 2) << 5, 0]) if n < 9 else bytes([0xE0, n - 9, 0])
        done += n
    return bytes(out)


def pcd():
    plain = ("x y z", "4 4 4", "F F F", "1 1 1")
    p = places()
    n = len(p)
    write("pcd/good-ascii", pcd_file(*plain, n, "ascii", lines(p).encode()))
    write("pcd/good-binary", pcd_file(*plain, n, "binary", packed(p)))
    planes = b"".join(struct.pack("<f", q[k]) for k in range(3) for q in p)
    literal = b"".join(bytes([len(part) - 1]) + part for part in (planes[i:i + 32] for i in range(0, len(planes), 32)))
    write("pcd/good-compressed", pcd_file(*plain, n, "binary_compressed",
                                          struct.pack("<II", len(literal), len(planes)) + literal))
    write("pcd/bad-wraps", pcd_file(*plain, 2**52, "binary", bytes(120)))
    # A stride of 2^32: points × stride is 2^64, that is 0.
    write("pcd/bad-stride-wraps", pcd_file("x y z _", "4 4 4 65535", "F F F U", "1 1 1 65535", 2**50, "binary", bytes(120)))
    write("pcd/bad-compressed-wraps", pcd_file("x y z _", "4 4 4 4", "F F F U", "1 1 1 1", 2**52, "binary_compressed",
                                               struct.pack("<II", 20, 0) + bytes(20)))
    m = 340_000_000
    write("pcd/bad-bomb-promised", pcd_file(*plain, m, "binary_compressed",
                                            struct.pack("<II", 20, (m * 12) & 0xFFFFFFFF) + bytes(20)))
    # Sound, but all at one place: as large as the format can make it of its size.
    m = 20_000
    body = lzf_zeros(12 * m)
    write("pcd/bomb-sound", pcd_file(*plain, m, "binary_compressed", struct.pack("<II", len(body), 12 * m) + body))
    write("pcd/bad-size", pcd_file("x y z", "4 4 8", "F F I", "1 1 65535", 4, "binary", bytes(64)))
    write("pcd/bad-width-1e12", pcd_file(*plain, 10**12, "ascii", b"0 0 0\n"))


def stl_binary(triangles, count=None):
    out = bytes(80) + struct.pack("<I", len(triangles) if count is None else count)
    return out + b"".join(struct.pack("<12fH", 0, 0, 1, *(c for corner in t for c in corner), 0) for t in triangles)


def meshes():
    grid = places(5)
    triangles = [(grid[5 * i + j], grid[5 * i + 5 + j], grid[5 * i + j + 1]) for i in range(4) for j in range(4)]
    ascii_stl = "solid a\n" + "".join("facet normal 0 0 1\nouter loop\n" + lines(t, "vertex {} {} {}\n")
                                      + "endloop\nendfacet\n" for t in triangles) + "endsolid a\n"
    obj = lines(grid, "v {} {} {}\n") + "".join(f"f {5*i+j+1} {5*i+j+6}/2 -1\n" for i in range(4) for j in range(4))
    for folder in ("stl", "mesh_stl"):
        write(folder + "/good-binary", stl_binary(triangles))
        write(folder + "/good-ascii", ascii_stl)
        write(folder + "/bad-count-4e9", stl_binary(triangles[:1], 0xFFFFFFFF) + bytes(500))
        write(folder + "/bad-nan", stl_binary([((float("nan"),) * 3,) * 3]))
    for folder in ("obj", "mesh_obj"):
        write(folder + "/good", obj)
        write(folder + "/good-normals", "v 0 0 0\nv 1 0 0\nv 0 1 0\nvn 0 0 1\nf 1//1 2//1 3//1\n")
        write(folder + "/bad-number", "v 0 0 0\nv 1 0 zero\nv 0 1 0\nf 1 2 3\n")
    for name, face in (("negative", "-5 -9999999999 1"), ("far", "1 2 99999999999999999999"), ("1e308", "1 2 1e308")):
        write("mesh_obj/bad-" + name, f"v 0 0 0\nv 1 0 0\nv 0 1 0\nf {face}\n")


def texts():
    p = places()
    write("text/good-plain", lines(p))
    write("text/good-titled", "x [in]; y [in]; z [in]\n" + lines(p, "{};{};{}\n").replace(".", ","))
    write("text/good-probe", "x,y,z,i,j,k\n" + lines(p, "{},{},{},0,0,1\n"))
    write("text/bad-nan", "nan nan nan\n" * 50)
    # Two clusters 1e9 mm apart: once quadratic.
    write("text/far", lines(places(20)) + lines([(x + 1e9, y, z) for x, y, z in places(20)]))
    write("text/1e308", lines([(1e308 * (x - 2), y, z) for x, y, z in p]))
    write("places/good", "x,y,z,thickness\n" + lines(p, "{},{},{},3.1\n"))
    write("places/good-plain", lines(p, "{} {} {} 3.0\n"))
    write("places/bad-few", "0 0 0 3\n1 0 0 3\n")
    write("places/bad-nan", "0 0 0 nan\n" * 4)


JOB = '''[lower]
file = "lower.ply"
[upper]
file = "upper.ply"
unit = "in"
[align]
method = "given"
[cavity]
nominal = "3 mm"
tolerance = "0.3 mm"
[laminate]
[[laminate.ply]]
glass = "own"
count = 2
areal_weight = "450 g/m2"
loft = "1.5 mm"
permeability = { law = "power", a = "1e-10 m2", b = 2.5 }
compaction = { law = "power", a = 0.02, b = 0.2 }
[flow]
viscosity = "200 cP"
cavity_pressure = "0.5 bar absolute"
[[flow.inlet]]
perimeter = true
[[flow.vent]]
at = "0, 0, -40 mm"
'''


def e57s():
    sys.path.insert(0, str(here.parents[2] / "tests/external"))
    import e57_write as w
    p = [(x / 1000, y / 1000, z / 1000) for x, y, z in places()]
    n = len(p)
    whole = w.coordinates(p, "ScaledInteger")
    state = (w.Field("cartesianInvalidState", "Integer", 0, 2), [k % 5 // 4 for k in range(n)])
    write("e57/good-single", w.e57([{"fields": w.coordinates(p, "single")}], 300))
    around = w.spherical(p)
    around.insert(1, (w.Field("sphericalInvalidState", "Integer", 0, 2), [k % 5 // 4 for k in range(n)]))
    write("e57/good-spherical", w.e57([{"translation": (0.0, 0.0, 0.5), "fields": around}], 300))
    two = [{"name": "a", "rotation": (1.0, 0.0, 0.0, 0.0), "translation": (0.0, 0.0, 0.5), "fields": [*whole, state]},
           {"name": "b", "rotation": (0.5, 0.5, 0.5, 0.5), "fields": w.coordinates(p, "double")}]
    good = w.e57(two, 200, True)
    write("e57/good-two", good)

    def changed(name, old, new):
        write("e57/" + name, w.e57(two, 200, True, edit=lambda xml: xml.replace(old, new)))

    changed("bad-records-1e19", 'recordCount="36"', 'recordCount="18446744073709551615"')
    changed("bad-offset", 'fileOffset="48"', 'fileOffset="18446744073709551615"')
    changed("bad-range", "minimum=", 'minimum="-9223372036854775808" ignored=')
    changed("bad-quaternion", ">0.5<", ">1e300<")
    changed("bad-deep", "<data3D", "<a>" * 5000 + "<data3D")
    changed("many-empty-scans", "</data3D>", "<vectorChild/>" * 3000 + "</data3D>")
    # Points without a bit; the same points hundreds of times.
    nothing = [(w.Field("cartesian" + a, "Integer", 1, 1), [1] * n) for a in "XYZ"]
    write("e57/bad-no-bits", w.e57([{"fields": nothing}], edit=lambda xml: xml.replace('"36"', '"99999999999"')))
    many = [{"fields": w.coordinates(100 * p, "ScaledInteger")}]
    write("e57/bad-shared", w.e57(many, edit=lambda xml: xml.replace(
        xml[xml.index("<vectorChild"):xml.index("</data3D>")],
        100 * xml[xml.index("<vectorChild"):xml.index("</data3D>")])))


def jobs():
    write("job/good-least", JOB)
    for demo in ("new-tool", "worn-tool-3", "dry-spot"):
        write("job/good-" + demo, (here.parents[2] / "scans" / f"{demo}.toml").read_bytes())
    deep = 2000
    write("job/bad-nested-lists", "a = " + "[" * deep + "]" * deep + "\n")
    write("job/bad-nested-tables", "a = " + "{a=" * deep + "1" + "}" * deep + "\n")
    write("job/bad-nested-header", "[" + ".".join(["a"] * deep) + "]\n")
    write("job/bad-nested-key", ".".join(["a"] * deep) + " = 1\n")
    write("job/bad-nested-quoted", ".".join(['"a"'] * deep) + " = 1\n")
    write("job/bad-tool-path", '[job]\ntool = "../../../x"\n' + JOB)
    # Read, and refused by the stages later.
    write("job/count-huge", JOB.replace("count = 2", "count = 9223372036854775807"))
    write("job/1e308", JOB.replace('"3 mm"', '"1e308 m"'))
    write("job/bad-nan", JOB.replace("a = 0.02", "a = nan"))
    write("job/bad-control", JOB.replace("own", "o\x1b[31mn"))


# As History makes it; layout 3 (src/history/store.cpp), with journal_mode delete, so that one file is all.
LAYOUT = '''CREATE TABLE about(key TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE sheet(id INTEGER PRIMARY KEY, mesh BLOB NOT NULL, sha256 TEXT NOT NULL);
CREATE TABLE inspection(
  id INTEGER PRIMARY KEY, sheet INTEGER NOT NULL REFERENCES sheet(id), date TEXT NOT NULL, cycles REAL NOT NULL,
  name TEXT NOT NULL, note TEXT NOT NULL, verdict TEXT NOT NULL, version TEXT NOT NULL,
  job_sha256 TEXT NOT NULL, lower_sha256 TEXT NOT NULL, upper_sha256 TEXT NOT NULL,
  fill_time REAL NOT NULL, dry_area REAL NOT NULL, last_to_vent REAL NOT NULL,
  fields BLOB NOT NULL, fields_sha256 TEXT NOT NULL, instrument TEXT NOT NULL DEFAULT '',
  fit_areas BLOB NOT NULL DEFAULT x'', fit_areas_sha256 TEXT NOT NULL DEFAULT '');
CREATE TABLE datum(
  inspection INTEGER NOT NULL REFERENCES inspection(id) ON DELETE CASCADE, name TEXT NOT NULL,
  lx REAL, ly REAL, lz REAL, ux REAL, uy REAL, uz REAL, u_lower REAL, u_upper REAL, PRIMARY KEY(inspection, name));'''


def history_file(name, *changes):
    """Two inspections on a square of four nodes, then each of `changes`, SQL."""
    doubles = lambda *v: struct.pack(f"<{len(v)}d", *v)
    corners = [(0, 0, 0), (10, 0, 0), (10, 10, 0), (0, 10, 0)]
    mesh = struct.pack("<QQ", 4, 2) + packed(corners, "d") + struct.pack("<6Q", 0, 1, 2, 0, 2, 3)
    node = lambda gap: doubles(1, 20, gap, gap, 0, 0, 0, 0, 0, 1, .01, .01, .005, .01, 0, .04)
    path = here / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.unlink(missing_ok=True)
    digest = lambda b: hashlib.sha256(b).hexdigest()
    with contextlib.closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA page_size = 512")
        db.executescript(LAYOUT + f"PRAGMA user_version = 3; PRAGMA application_id = {0x67706672};")
        db.execute("INSERT INTO about VALUES('tool', 'T')")
        db.execute("INSERT INTO sheet VALUES(1, ?, ?)", (mesh, digest(mesh)))
        for k, cycles in enumerate((0.0, 500.0)):
            fields = struct.pack("<Q", 4) + doubles(1, 0, *(3 * [0]), *(36 * [0])) + 4 * node(3 + 0.1 * k)
            areas = doubles(4, 4, 4, 4)
            db.execute("INSERT INTO inspection VALUES(" + ",".join(19 * "?") + ")",
                       (k + 1, 1, f"2026-0{k+1}-01", cycles, "T", "", "conforming", "0", "a", "b", "c", 100, 0, 2,
                        fields, digest(fields), "", areas, digest(areas)))
            db.execute("INSERT INTO datum VALUES(?, 'B1', 1, 2, 3, 1, 2, 3.01, 0.004, 0.005)", (k + 1,))
        db.commit()
        for change in changes:
            db.executescript(change)
        db.execute("VACUUM")


def histories():
    history_file("history/good")
    history_file("history/bad-mesh-wraps",
                 "UPDATE sheet SET mesh = x'0100000000000020' || x'0000000000000000' || zeroblob(24)")
    history_file("history/bad-mesh-node",
                 "UPDATE sheet SET mesh = substr(mesh, 1, length(mesh) - 8) || x'0900000000000000'")
    history_file("history/bad-fields-count", "UPDATE inspection SET fields = x'ffffffffffffff0f'")
    history_file("history/bad-fields-many", "UPDATE inspection SET fields = x'00ca9a3b00000000' || zeroblob(400)")
    history_file("history/bad-version", "PRAGMA user_version = -7")
    history_file("history/bad-view",
                 "ALTER TABLE about RENAME TO other; CREATE VIEW about AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL "
                 "SELECT i + 1 FROM n) SELECT i AS key, i AS value FROM n;")
    # A value that the file computes: gigabytes from a line.
    history_file("history/bad-computed",
                 "DROP TABLE about; CREATE TABLE about(key TEXT, value TEXT GENERATED ALWAYS AS "
                 "(zeroblob(400000000)) VIRTUAL); INSERT INTO about(key) VALUES('tool');")
    history_file("history/another-sheet", "UPDATE inspection SET sheet = 7 WHERE id = 2")
    write("history/bad-text", "this is no database, only some text that is long enough to be read as one\n" * 20)


if __name__ == "__main__":
    for folder in sorted(here.glob("*")):
        for old in [*folder.glob("good*"), *folder.glob("bad-*")]:
            old.unlink()
    for make in (ply, painted, pcd, meshes, texts, e57s, jobs, histories):
        make()
