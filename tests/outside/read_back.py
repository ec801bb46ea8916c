"""Reads what a comparison wrote with libraries that know nothing of the program, and prints what they found as JSON.

    python tests/outside/read_back.py RESULTS

tables.xlsx by openpyxl, the tables beside it by csv, page.pdf and bench.pdf by pypdf, view.glb and deviation.ply by
trimesh.
"""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pypdf
import trimesh

# From millimetres with X rearward, Y right and Z up to metres with Y up and the front of the car toward +Z: a turn.
AS_GLTF = np.array([[0.0, -1.0, 0.0], [0.0, 0.0, 1.0], [-1.0, 0.0, 0.0]]) / 1000.0


def workbook(path: Path) -> dict[str, Any]:
    found = {}
    for sheet in openpyxl.load_workbook(path):
        cells = [cell for row in sheet for cell in row]
        found[sheet.title] = {
            "rows": list(sheet.iter_rows(values_only=True)),
            "frozen": sheet.freeze_panes,
            "formulas": sum(cell.data_type == "f" for cell in cells),
            "errors": sum(cell.data_type == "e" for cell in cells),
        }
    return found


def tables(folder: Path) -> dict[str, list[list[str]]]:
    found = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as lines:
            found[path.stem] = list(csv.reader(lines))
    return found


def fonts(page: Any) -> list[tuple[str, bool]]:
    """Every font of a page, and whether it is embedded (ISO 32000-1, 9.9)."""
    found = []
    for named in (page["/Resources"].get("/Font") or {}).values():
        font = named.get_object()
        inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        about = inner.get("/FontDescriptor", {})
        found.append((str(font["/BaseFont"]), any(key.startswith("/FontFile") for key in about.get_object())))
    return found


def printed(path: Path) -> dict[str, Any]:
    reader = pypdf.PdfReader(path, strict=True)
    return {
        "pages": len(reader.pages),
        "text": " ".join(" ".join(page.extract_text().split()) for page in reader.pages),
        "fonts": [font for page in reader.pages for font in fonts(page)],
    }


def nearest(wanted: np.ndarray, among: np.ndarray) -> np.ndarray:
    """The nearest of some places to each wanted one, by trying all."""
    return np.array([np.argmin(((among - place) ** 2).sum(axis=1)) for place in wanted])


def columns(cloud: trimesh.PointCloud) -> dict[str, np.ndarray]:
    data = cloud.metadata["_ply_raw"]["vertex"]["data"]
    return {name: np.asarray(data[name]).ravel().astype(float) for name in data.dtype.names}


def deviation(read: dict[str, np.ndarray]) -> dict[str, Any]:
    """What it says of the flat sheet in the middle of the raised piece, and far from it."""
    is_told = (read["state"] == 0) & (read["nz"] > 0.5)
    x, y, rise = read["x"], read["y"], read["deviation_mm"] / read["nz"]
    raised = is_told & (x > 285) & (x < 315) & (y > 215) & (y < 245)
    left = is_told & (x > 40) & (x < 200) & (y > 40) & (y < 130)
    return {
        "points": len(x),
        "states": sorted(set(read["state"])),
        "raised_mm": [float(rise[raised].min()), float(rise[raised].max())],
        "left_mm": [float(rise[left].min()), float(rise[left].max())],
    }


def document_of(path: Path) -> tuple[dict[str, Any], bytes]:
    """The two chunks of a .glb (glTF 2.0, 4.4)."""
    content = path.read_bytes()
    end = 20 + int.from_bytes(content[12:16], "little")
    return json.loads(content[20:end]), content[end + 8 :]


def attribute(path: Path, mesh: str, name: str) -> np.ndarray:
    """Numbers of a mesh that trimesh leaves aside: two shorts a place (glTF 2.0, 3.6.2.2)."""
    document, numbers = document_of(path)
    own = next(m for m in document["meshes"] if m["name"] == mesh)["primitives"][0]["attributes"][name]
    accessor = document["accessors"][own]
    packed = document["bufferViews"][accessor["bufferView"]]
    assert accessor["type"] == "VEC2" and packed["byteStride"] == 4
    shorts = {5122: "<i2", 5123: "<u2"}[accessor["componentType"]]
    begin = packed["byteOffset"] + accessor.get("byteOffset", 0)
    values = np.frombuffer(numbers, shorts, 2 * accessor["count"], begin).reshape(-1, 2)
    return np.maximum(values / 32767.0, -1.0) if accessor["normalized"] else values.astype(float)


def view(path: Path, read: dict[str, np.ndarray]) -> dict[str, Any]:
    """The solid view, whose deviations are averaged ones, against the reference's points as deviation.ply has them."""
    scene = trimesh.load(path, process=False)
    places = {}
    for node in scene.graph.nodes_geometry:
        turned, name = scene.graph[node]
        places[node] = trimesh.transform_points(scene.geometry[name].vertices, turned)
    shown = places["reference"]
    expected = np.column_stack([read["x"], read["y"], read["z"]]) @ AS_GLTF.T
    own = nearest(shown, expected)
    extras = document_of(path)[0]["nodes"][0]["extras"]
    shares = attribute(path, "reference", "_DEVIATION_AND_PM")[:, 0]
    states = attribute(path, "reference", "_STATE_AND_REGION")[:, 0]
    figures = {name: column[own] for name, column in read.items()}
    is_left_out = (states == 2) & (figures["state"] == 0)
    figures |= {"deviation_mm": shares * extras["deviation_scale_mm"], "state": states}
    return {
        "nodes": sorted(places),
        "points": len(shown),
        "distinct": len(set(own.tolist())),
        "bounds_m": [shown.min(axis=0).tolist(), shown.max(axis=0).tolist()],
        "expected_m": [expected.min(axis=0).tolist(), expected.max(axis=0).tolist()],
        "places_off_mm": float(1000.0 * np.abs(shown - expected[own]).max()),
        "states_off": int(((states != read["state"][own]) & ~is_left_out).sum()),
        "deviation": deviation(figures),
        "rounding_mm": extras["rounding_mm"],
    }


if __name__ == "__main__":
    results = Path(sys.argv[1])
    read = columns(trimesh.load(results / "deviation.ply", process=False))
    found = {
        "workbook": workbook(results / "tables.xlsx"),
        "tables": tables(results),
        "printed": {name: printed(results / name) for name in ("page.pdf", "bench.pdf")},
        "deviation": deviation(read),
        "view": view(results / "view.glb", read),
    }
    print(json.dumps(found))
