"""VTK's iterative closest point of moving.txt on fixed.obj; writes the 4 x 4 matrix to pose.txt."""
import sys
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkIterativeClosestPointTransform, vtkPolyData
from vtkmodules.vtkIOGeometry import vtkOBJReader

folder = sys.argv[1]
reader = vtkOBJReader()
reader.SetFileName(folder + "/fixed.obj")
reader.Update()
points, cells = vtkPoints(), vtkCellArray()
points.SetDataTypeToDouble()
for line in open(folder + "/moving.txt"):
    i = points.InsertNextPoint(*map(float, line.split()))
    cells.InsertNextCell(1, [i])
moving = vtkPolyData()
moving.SetPoints(points)
moving.SetVerts(cells)
icp = vtkIterativeClosestPointTransform()
icp.SetSource(moving)
icp.SetTarget(reader.GetOutput())
icp.GetLandmarkTransform().SetModeToRigidBody()
icp.SetMaximumNumberOfLandmarks(points.GetNumberOfPoints())
icp.SetMaximumNumberOfIterations(300)
icp.CheckMeanDistanceOn()
icp.SetMaximumMeanDistance(1e-6)
icp.Update()
m = icp.GetMatrix()
with open(folder + "/pose.txt", "w") as out:
    out.write(" ".join(repr(m.GetElement(r, c)) for r in range(4) for c in range(4)))
