"""What others find in a PLY or VTU file: points, triangles and every field of the points, a line each.

VTK's readers do it all but for the fields of a PLY file, which its reader skips: NumPy reads those as the header says.
"""
import sys

import numpy
from vtkmodules.vtkIOPLY import vtkPLYReader
from vtkmodules.vtkIOXML import vtkXMLUnstructuredGridReader

file = sys.argv[1]
reader = vtkXMLUnstructuredGridReader() if file.endswith(".vtu") else vtkPLYReader()
reader.SetFileName(file)
reader.Update()
if reader.GetErrorCode():
    sys.exit(f"VTK's reader says error {reader.GetErrorCode()}")
data = reader.GetOutput()
print("points", *(v for i in range(data.GetNumberOfPoints()) for v in data.GetPoint(i)))
corners = []
for i in range(data.GetNumberOfCells()):
    cell = data.GetCell(i)
    corners += [cell.GetPointId(k) for k in range(cell.GetNumberOfPoints())]
print("triangles", *corners)
if file.endswith(".vtu"):
    fields = data.GetPointData()
    arrays = [fields.GetArray(k) for k in range(fields.GetNumberOfArrays())]
    for array in arrays:
        print(array.GetName(), *(array.GetTuple1(i) for i in range(array.GetNumberOfTuples())))
else:
    head, body = open(file, "rb").read().split(b"end_header\n", 1)
    vertex = head.decode().split("element vertex ")[1].split("element face")[0].splitlines()
    kinds = [(line.split()[2], {"float": "<f4", "double": "<f8"}[line.split()[1]]) for line in vertex[1:]]
    rows = numpy.frombuffer(body, dtype=kinds, count=int(vertex[0]))
    for name, _ in kinds[3:]:
        print(name, *rows[name])
