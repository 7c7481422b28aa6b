#!/usr/bin/env python3
"""Writes E57 files, after the public description of ASTM E2807 (D. Huber, Proc. SPIE 7864, 2011), not after the reader.

    e57_write.py FOLDER             the files that tests/external/e57.cpp reads, each with its points beside it (NAME.txt)
    e57_write.py OUT.e57 TEXT…      a scan of each text (x y z, mm, below a title), each in the axes of its own scanner
"""
import math, pathlib, random, struct, sys

PAGE = 1024
TABLE = []
for byte in range(256):
    for _ in range(8):
        byte = byte >> 1 ^ (0x82F63B78 if byte & 1 else 0)
    TABLE.append(byte)


def crc32c(data):
    c = 0xFFFFFFFF
    for byte in data:
        c = c >> 8 ^ TABLE[(c ^ byte) & 255]
    return c ^ 0xFFFFFFFF


assert crc32c(b"123456789") == 0xE3069283  # the check value of CRC-32C


def paged(logical):
    """Pages of 1020 bytes and their checksum, most significant byte first."""
    step = PAGE - 4
    logical += bytes(-len(logical) % step)
    parts = (logical[i:i + step] for i in range(0, len(logical), step))
    return b"".join(p + struct.pack(">I", crc32c(p)) for p in parts)


def physical(logical):
    return logical // (PAGE - 4) * PAGE + logical % (PAGE - 4)


class Field:
    """One value of a record; `put` gives its stream's bytes for all values."""

    def __init__(self, name, kind, low=0, high=0, scale=1.0, offset=0.0):
        self.name, self.kind, self.low, self.high, self.scale, self.offset = name, kind, low, high, scale, offset

    def xml(self):
        if self.kind in ("single", "double"):
            return f'<{self.name} type="Float" precision="{self.kind}"/>'
        scaled = f' scale="{self.scale!r}" offset="{self.offset!r}"' if self.kind == "ScaledInteger" else ""
        return f'<{self.name} type="{self.kind}" minimum="{self.low}" maximum="{self.high}"{scaled}>{self.low}</{self.name}>'

    def put(self, values):
        if self.kind in ("single", "double"):
            return struct.pack(f"<{len(values)}{'f' if self.kind == 'single' else 'd'}", *values)
        bits = (self.high - self.low).bit_length()
        number = 0
        for k, v in enumerate(values):
            raw = round((v - self.offset) / self.scale) if self.kind == "ScaledInteger" else v
            assert self.low <= raw <= self.high
            number |= (raw - self.low) << (k * bits)
        return number.to_bytes((len(values) * bits + 7) // 8, "little")


def packets(streams, largest, between):
    """Data packets, each with a piece of every stream, of about the same share; `between`: an empty one among them."""
    out = b""
    steps = max(1, -(-sum(map(len, streams)) // largest))
    for k in range(steps):
        pieces = [s[len(s) * k // steps:len(s) * (k + 1) // steps] for s in streams]
        body = struct.pack(f"<H{len(pieces)}H", len(pieces), *map(len, pieces)) + b"".join(pieces)
        body += bytes(-len(body) % 4)
        out += struct.pack("<BBH", 1, 0, len(body) + 3) + body
        if between and k == 0:
            out += struct.pack("<BBH", 2, 0, 7) + bytes(4)
    return out


def e57(scans, largest=5000, between=False, edit=lambda xml: xml):
    """scans: dicts of fields [(Field, values)…] and, if wanted, name, rotation (w, x, y, z), translation, metres.
    `edit` may change the XML part before it is written."""
    logical, children = bytes(48), ""
    for scan in scans:
        fields = scan["fields"]
        count = len(fields[0][1])
        data = packets([f.put(v) for f, v in fields], largest, between)
        at = len(logical)
        index = struct.pack("<BBHHB9xQQ", 0, 0, 31, 1, 0, 0, physical(at + 32))
        logical += struct.pack("<B7xQQQ", 1, 32 + len(data) + len(index), physical(at + 32), physical(at + 32 + len(data)))
        logical += data + index
        pose = ""
        if "rotation" in scan:
            pose += "<rotation type=\"Structure\">" + "".join(
                f'<{a} type="Float">{v!r}</{a}>' for a, v in zip("wxyz", scan["rotation"])) + "</rotation>"
        if "translation" in scan:
            pose += "<translation type=\"Structure\">" + "".join(
                f'<{a} type="Float">{v!r}</{a}>' for a, v in zip("xyz", scan["translation"])) + "</translation>"
        children += ('<vectorChild type="Structure"><guid type="String"><![CDATA[{g-' + str(at) + '}]]></guid>'
                     + f'<name type="String"><![CDATA[{scan.get("name", "")}]]></name>'
                     + (f'<pose type="Structure">{pose}</pose>' if pose else "")
                     + f'<points type="CompressedVector" fileOffset="{physical(at)}" recordCount="{count}">'
                     + '<prototype type="Structure">' + "".join(f.xml() for f, _ in fields)
                     + '</prototype><codecs type="Vector" allowHeterogeneousChildren="1"/></points></vectorChild>\n')
    xml = edit('<?xml version="1.0" encoding="UTF-8"?>\n<e57Root type="Structure" '
           'xmlns="http://www.astm.org/COMMIT/E57/2010-e57-v1.0">\n<formatName type="String">'
           '<![CDATA[ASTM E57 3D Imaging Data File]]></formatName><guid type="String"><![CDATA[{f}]]></guid>'
           '<versionMajor type="Integer">1</versionMajor><versionMinor type="Integer"/>\n'
           '<data3D type="Vector" allowHeterogeneousChildren="1">\n' + children
           + '</data3D><images2D type="Vector" allowHeterogeneousChildren="1"/></e57Root>\n').encode()
    at = len(logical)
    logical += xml
    pages = -(-len(logical) // (PAGE - 4))
    return paged(struct.pack("<8sIIQQQQ", b"ASTM-E57", 1, 0, pages * PAGE, physical(at), len(xml), PAGE) + logical[48:])


def coordinates(points, kind):
    if kind != "ScaledInteger":
        return [(Field("cartesian" + a, kind), [p[k] for p in points]) for k, a in enumerate("XYZ")]
    # Micrometres; a different number of bits for each.
    out = []
    for k, a in enumerate("XYZ"):
        v = [round((p[k] - 0.25) / 1e-6) for p in points]
        out.append((Field("cartesian" + a, kind, min(v), max(v) + 3 ** k, 1e-6, 0.25), [p[k] for p in points]))
    return out


def spherical(points):
    each = [(math.dist(p, (0, 0, 0)), math.atan2(p[1], p[0]), math.atan2(p[2], math.hypot(p[0], p[1]))) for p in points]
    names = ("Range", "Azimuth", "Elevation")
    return [(Field("spherical" + a, "double"), [v[k] for v in each]) for k, a in enumerate(names)]


def turned(q, p):
    w, x, y, z = q
    return (p[0] * (1 - 2 * (y * y + z * z)) + p[1] * 2 * (x * y - w * z) + p[2] * 2 * (x * z + w * y),
            p[0] * 2 * (x * y + w * z) + p[1] * (1 - 2 * (x * x + z * z)) + p[2] * 2 * (y * z - w * x),
            p[0] * 2 * (x * z - w * y) + p[1] * 2 * (y * z + w * x) + p[2] * (1 - 2 * (x * x + y * y)))


def panel(n, seed):
    """Random points of a curved panel, metres; rounded so that single precision holds them."""
    r = random.Random(seed)
    flat = [(r.uniform(-0.3, 0.3), r.uniform(-0.2, 0.2)) for _ in range(n)]
    return [tuple(struct.unpack("<3f", struct.pack("<3f", x, y, 0.1 * x * x - 0.05 * x * y))) for x, y in flat]


def as_scanned(points, k):
    """A scan of these points, from where the k-th scanner stands."""
    c = math.cos(0.4 + k)
    axis = (0.6, 0.0, 0.8) if k else (0.0, 1.0, 0.0)
    q = (c, *(math.sin(0.4 + k) * a for a in axis))
    t = (0.5 * k, -0.25, 1.5)
    back = [turned((q[0], -q[1], -q[2], -q[3]), tuple(a - b for a, b in zip(x, t))) for x in points]
    return {"name": f"station {k + 1}", "rotation": q, "translation": t, "fields": coordinates(back, "double")}


def from_texts(out, texts):
    read = lambda f: [tuple(float(v) / 1000 for v in line.split()) for line in open(f).readlines()[1:]]
    pathlib.Path(out).write_bytes(e57([as_scanned(read(f), k) for k, f in enumerate(texts)], 60000))


def main(folder):
    folder = pathlib.Path(folder)
    n = 5000

    def save(name, scans, points, between=False):
        (folder / (name + ".e57")).write_bytes(e57(scans, between=between))
        (folder / (name + ".txt")).write_text("".join(f"{1e3 * x!r} {1e3 * y!r} {1e3 * z!r}\n" for x, y, z in points))

    for kind in ("single", "double", "ScaledInteger"):
        p = panel(n, kind)
        save(kind.lower(), [{"fields": coordinates(p, kind)}], p)
    save("between", [{"fields": coordinates(p, "single")}], p, True)  # web-e57 does not read such packets
    # Other fields before and between, and points that are marked invalid.
    p = panel(n, "marked")
    state = [(7 * k) % 11 % 3 for k in range(n)]
    f = coordinates(p, "ScaledInteger")
    save("marked", [{"fields": [(Field("intensity", "Integer", 0, 4095), [k % 4096 for k in range(n)]), f[0], f[1],
                                (Field("cartesianInvalidState", "Integer", 0, 2), state), f[2],
                                (Field("timeStamp", "double"), [0.5 * k for k in range(n)])]}],
         [q for q, s in zip(p, state) if s == 0])
    # Range, azimuth and elevation (radians), as a scanner 1.5 m above the panel has them; the state 1 is a direction
    # without a range, 2 nothing at all.
    p = panel(n, "spherical")
    f = spherical([(x, y, z - 1.5) for x, y, z in p])
    save("spherical", [{"translation": (0, 0, 1.5),
                        "fields": [f[0], (Field("sphericalInvalidState", "Integer", 0, 2), state), f[1], f[2]]}],
         [q for q, s in zip(p, state) if s == 0])
    # Two scans of the panel, each in the axes of its scanner.
    all_points, scans = [], []
    for k in range(2):
        kept = [(x + 0.1 * k, y, z) for x, y, z in panel(n, f"pose {k}")]
        scans.append(as_scanned(kept, k))
        all_points += kept
    save("poses", scans, all_points)


if __name__ == "__main__":
    from_texts(sys.argv[1], sys.argv[2:]) if sys.argv[2:] else main(sys.argv[1])
