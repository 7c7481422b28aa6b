"""What an independent reader (ezdxf) finds in a DXF file: its release, what its audit has to say, and every entity, a line
each: polyline LAYER closed x y x y …; point LAYER x y; text LAYER x y height words."""
import sys

import ezdxf

drawing = ezdxf.readfile(sys.argv[1])
audit = drawing.audit()
print("release", drawing.dxfversion)
print("faults", len(audit.errors) + len(audit.fixes))
for e in drawing.modelspace():
    if e.dxftype() == "POLYLINE":
        print("polyline", e.dxf.layer, int(e.is_closed), *(v for p in e.points() for v in (p.x, p.y)))
    elif e.dxftype() == "POINT":
        print("point", e.dxf.layer, e.dxf.location.x, e.dxf.location.y)
    elif e.dxftype() == "TEXT":
        print("text", e.dxf.layer, e.dxf.insert.x, e.dxf.insert.y, e.dxf.height, e.dxf.text)
    else:
        print("unknown", e.dxftype())
