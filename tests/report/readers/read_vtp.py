"""The toolpath as VTK reads it: cells, lengths and sums held against moves.csv."""
import csv
import math
import sys

from vtkmodules.vtkIOXML import vtkXMLPolyDataReader

folder = sys.argv[1]
with open(f"{folder}/moves.csv", newline="") as file:
    moves = list(csv.DictReader(file))
names = []
for move in moves:
    if move["setup"] not in names:
        names.append(move["setup"])
for number, name in enumerate(names, 1):
    mine = [m for m in moves if m["setup"] == name]
    reader = vtkXMLPolyDataReader()
    reader.SetFileName(f"{folder}/setup-{number}-path.vtp")
    reader.Update()
    data = reader.GetOutput()
    assert data.GetNumberOfLines() == len(mine) > 0, (data.GetNumberOfLines(), len(mine))
    arrays = data.GetCellData()
    for i, move in enumerate(mine):
        points = data.GetCell(i).GetPoints()
        places = [points.GetPoint(k) for k in range(points.GetNumberOfPoints())]
        length = sum(math.dist(a, b) for a, b in zip(places, places[1:]))
        told = float(move["length"])
        assert abs(length - told) <= 2e-3 * told + 2e-3, (i, length, told)
        for key in ("line", "tool"):
            assert arrays.GetArray(key).GetValue(i) == int(move[key]), (i, key)
        assert arrays.GetArray("rapid").GetValue(i) == int(move["kind"] == "rapid"), i
    removed = sum(arrays.GetArray("removed_mm3").GetValue(i) for i in range(len(mine)))
    told = sum(float(m["removed_mm3"]) for m in mine)
    assert abs(removed - told) <= 1e-4 * told + 1e-4, (removed, told)
