"""Holds the settings of the built program against those of general-purpose libraries on sets whose motion is known.

    python tests/bench/judge.py target/release/witnessmark [--points N] [--seeds 1 2 3] [--threads N]

The Python must have numpy and scipy; small_gicp and Open3D are asked where they are there. Every column of the table is
one seeded case; every figure but the last of a column is how far the farthest corner of the measured set's box lands
from where it belongs, in mm. Ends with 1 if on named points without weights the program is more than 1e-6 mm from SciPy's
closed form, with 2 if the program could not do a case.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from importlib import import_module
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from peers import LEVELS_MM, MAX_STEPS, NEIGHBOURS, TUKEY_MM, Data, open3d_set, small_gicp_set
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

LENGTH_MM, WIDTH_MM, FLANGE_MM = 3000.0, 1300.0, 40.0
NOISE_MM, DENT_MM, POINT_NOISE_MM = 0.05, 4.0, 0.05
CLOSED_FORM_MM = 1e-6
AT_REST_MM = 1e-4


def rise(s: np.ndarray) -> np.ndarray:
    s = np.clip(s, 0.0, 1.0)
    return s * s * (3.0 - 2.0 * s)


def hump(s: np.ndarray) -> np.ndarray:
    return rise(1.0 - np.abs(s))


def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A sheet like a floor pan: bowed both ways, with a tunnel, swages along and one across."""
    z = 30.0 * np.sin(np.pi * x / LENGTH_MM) + 18.0 * ((y - 650.0) / 650.0) ** 2
    z += 120.0 * np.exp(-(((y - 650.0) / 110.0) ** 2)) * rise((x - 200.0) / 600.0)
    for start, end in ((150.0, 1350.0), (1600.0, 2850.0)):
        along = rise((x - start) / 40.0) * rise((end - x) / 40.0)
        for place in (120.0, 220.0, 320.0, 420.0, 880.0, 980.0, 1080.0, 1180.0):
            z += 8.0 * hump((y - place) / 22.0) * along
    return z + 10.0 * hump((x - 1475.0) / 30.0) * rise((y - 60.0) / 40.0) * rise((1240.0 - y) / 40.0)


def scan(random: np.random.Generator, count: int, dent: bool) -> np.ndarray:
    x, y = LENGTH_MM * random.random(count), WIDTH_MM * random.random(count)
    z = height(x, y)
    if dent:
        z -= DENT_MM * hump((x - 700.0) / 150.0) * hump((y - 1000.0) / 150.0)
    flange = random.random(count) < FLANGE_MM / (FLANGE_MM + WIDTH_MM)
    y[flange] = WIDTH_MM
    z[flange] = height(x, y)[flange] + FLANGE_MM * random.random(int(flange.sum()))
    return np.c_[x, y, z] + random.normal(0.0, NOISE_MM, (count, 3))


def motion_of(turn: Rotation, shift: np.ndarray) -> np.ndarray:
    motion = np.eye(4)
    motion[:3, :3], motion[:3, 3] = turn.as_matrix(), shift
    return motion


def known_motion(random: np.random.Generator) -> np.ndarray:
    """Reference from measured: up to 2 degrees about the middle of the sheet, and up to 20 mm."""
    axis = random.normal(size=3)
    turn = Rotation.from_rotvec(np.radians(random.uniform(0.5, 2.0)) * axis / np.linalg.norm(axis))
    middle = np.array([LENGTH_MM / 2, WIDTH_MM / 2, 60.0])
    return motion_of(turn, middle - turn.apply(middle) + random.uniform(-12.0, 12.0, 3))


def moved(motion: np.ndarray, points: np.ndarray) -> np.ndarray:
    return points @ motion[:3, :3].T + motion[:3, 3]


def corners(points: np.ndarray) -> np.ndarray:
    low, high = points.min(axis=0), points.max(axis=0)
    return np.array([[(low, high)[at >> axis & 1][axis] for axis in range(3)] for at in range(8)])


def apart(one: np.ndarray, other: np.ndarray, at: np.ndarray) -> float:
    return float(np.linalg.norm(moved(one, at) - moved(other, at), axis=1).max())


def closed_form(reference: np.ndarray, measured: np.ndarray, weights: np.ndarray) -> np.ndarray:
    middles = [np.average(points, axis=0, weights=weights) for points in (reference, measured)]
    turn, _ = Rotation.align_vectors(reference - middles[0], measured - middles[1], weights=weights)
    return motion_of(turn, middles[0] - turn.apply(middles[1]))


def normals_of(points: np.ndarray, tree: cKDTree, threads: int) -> np.ndarray:
    around = points[tree.query(points, NEIGHBOURS, workers=threads)[1]]
    around -= around.mean(axis=1, keepdims=True)
    return np.linalg.eigh(np.einsum("nki,nkj->nij", around, around))[1][:, :, 0]


def scipy_plane(data: Data, tukey: bool) -> np.ndarray:
    """Point to plane on SciPy's tree, written out: the narrower reaches one after the other, all points in each."""
    reference, measured = data.cloud("reference"), data.cloud("measured")
    tree, far, motion = cKDTree(reference), corners(measured), np.eye(4)
    normals = normals_of(reference, tree, data.threads)
    for _, reach in LEVELS_MM:
        for _ in range(MAX_STEPS):
            at = moved(motion, measured)
            distance, index = tree.query(at, distance_upper_bound=reach, workers=data.threads)
            near = np.isfinite(distance)
            at, index = at[near], index[near]
            middle = at.mean(axis=0)
            rows = np.c_[np.cross(at - middle, normals[index]), normals[index]]
            off = np.einsum("ij,ij->i", normals[index], at - reference[index])
            weighted = rows
            if tukey and reach == LEVELS_MM[-1][1]:
                weighted = rows * np.clip(1.0 - (off / TUKEY_MM) ** 2, 0.0, None)[:, None] ** 2
            step = np.linalg.solve(weighted.T @ rows, -weighted.T @ off)
            turn = Rotation.from_rotvec(step[:3])
            last, motion = motion, motion_of(turn, middle - turn.apply(middle) + step[3:]) @ motion
            if apart(last, motion, far) < AT_REST_MM:
                break
    return motion


def small_gicp_plane(data: Data, sg: Any) -> np.ndarray:
    cores = {"num_threads": data.threads}
    clouds = [sg.PointCloud(data.cloud(name)) for name in ("reference", "measured")]
    trees = [sg.KdTree(cloud, **cores) for cloud in clouds]
    for cloud, tree in zip(clouds, trees, strict=True):
        sg.estimate_normals_covariances(cloud, tree, num_neighbors=NEIGHBOURS, **cores)
    options = {"max_correspondence_distance": LEVELS_MM[0][1], "max_iterations": MAX_STEPS, **cores}
    return sg.align(*clouds, trees[0], registration_type="PLANE_ICP", **options).T_target_source


# Each judge: package, what it does, and the motion it finds; SciPy is always there.
JUDGES: list[tuple[str, str, Callable[[Data, Any], np.ndarray]]] = [
    ("scipy", "plane", lambda data, _: scipy_plane(data, tukey=False)),
    ("scipy", "plane, Tukey", lambda data, _: scipy_plane(data, tukey=True)),
    ("small_gicp", "plane", small_gicp_plane),
    ("small_gicp", "GICP", lambda data, sg: small_gicp_set(data, sg)()),
    ("open3d", "plane", lambda data, o3d: open3d_set(data, o3d)()),
    ("open3d", "plane, Tukey", lambda data, o3d: open3d_set(data, o3d, tukey=True)()),
]


def write_ply(path: Path, points: np.ndarray) -> None:
    head = f"ply\nformat binary_little_endian 1.0\nelement vertex {len(points)}\n"
    head += "".join(f"property double {axis}\n" for axis in "xyz") + "end_header\n"
    path.write_bytes(head.encode() + points.astype("<f8").tobytes())


def write_table(path: Path, points: np.ndarray, weights: np.ndarray | None) -> None:
    lines = ["name,x,y,z" + (",pm" if weights is not None else "")]
    for index, point in enumerate(points):
        numbers = [*point, *([] if weights is None else [0.2 / np.sqrt(weights[index])])]
        lines.append(f"P{index}," + ",".join(repr(float(number)) for number in numbers))
    path.write_text("\n".join(lines) + "\n")


def ours(program: Path, folder: Path, threads: int, *how: str) -> np.ndarray:
    command = [program, "compare", "reference.ply", "measured.ply", "--units", "mm", "--quiet", "--out", "out"]
    command += ["--threads", str(threads), *how]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1):
        sys.stderr.write(f"{' '.join(map(str, command))}\n{done.stderr}")
        raise SystemExit(2)
    return np.array(json.loads((folder / "out" / "result.json").read_text())["setting"]["reference_from_measured"])


def surfaces(seed: int, folder: Path, count: int, threads: int) -> Data:
    """Writes two scans of the sheet, the second dented and moved, as the program and as the judges read them."""
    random = np.random.default_rng(seed)
    truth = known_motion(random)
    reference = scan(random, count, dent=False)
    measured = moved(np.linalg.inv(truth), scan(random, count, dent=True))
    for name, points in (("reference", reference), ("measured", measured)):
        write_ply(folder / f"{name}.ply", points)
        points.astype("<f8").tofile(folder / f"{name}.f64")
    np.r_[truth.ravel(), corners(measured).ravel()].astype("<f8").tofile(folder / "truth.f64")
    return Data(folder, threads, None)


def asked(data: Data, package: str, find: Callable[[Data, Any], np.ndarray]) -> str:
    try:
        return f"{data.corner_error(find(data, import_module(package))):.4f}"
    except (ImportError, OSError):
        return "not there"


def named_points(seed: int, data: Data, run: Callable[..., np.ndarray], weighted: bool) -> tuple[list[str], float]:
    """The program and SciPy on twelve points of the two scans, each touched with its own error."""
    random = np.random.default_rng(1000 + seed)
    truth = np.fromfile(data.folder / "truth.f64", "<f8")[:16].reshape(4, 4)
    x, y = LENGTH_MM * random.random(12), WIDTH_MM * random.random(12)
    reference = np.c_[x, y, height(x, y)]
    measured = moved(np.linalg.inv(truth), reference) + random.normal(0.0, POINT_NOISE_MM, (12, 3))
    weights = random.uniform(0.2, 5.0, 12) if weighted else None
    write_table(data.folder / "reference.csv", reference, weights)
    write_table(data.folder / "measured.csv", measured, weights)
    tables = ("--points-reference", "reference.csv", "--points-measured", "measured.csv")
    found = run("--set-by", "points", *tables)
    judged = closed_form(reference, measured, np.ones(12) if weights is None else weights)
    gap = apart(found, judged, corners(data.cloud("measured")))
    return [f"{data.corner_error(found):.4f}", f"{data.corner_error(judged):.4f}"], gap


def show(columns: list[list[str]]) -> None:
    """One case a column, one judge a row; the first column says who."""
    widths = [max(map(len, column)) for column in columns]
    for who, *errors in zip(*columns, strict=True):
        cells = [error.rjust(width) for error, width in zip(errors, widths[1:], strict=True)]
        print("  ".join([who.ljust(widths[0]), *cells]))


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("program", metavar="PROGRAM", type=Path, help="the built program")
    parser.add_argument("--points", type=int, default=200_000, help="points of each scan")
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    parser.add_argument("--threads", type=int, default=os.cpu_count() or 1)
    args = parser.parse_args()
    program = args.program.resolve()
    said = subprocess.run([program, "--version"], capture_output=True, text=True, check=True).stdout.strip()

    def label(package: str, does: str) -> str:
        try:
            return f"{package} {version(package)} {does}"
        except ImportError:
            return f"{package} {does}"

    judges = [label(package, does) for package, does, _ in JUDGES]
    columns = [["far-corner error, mm", said, label("scipy", "align_vectors"), *judges, "ours from align_vectors"]]
    worst = 0.0
    for seed in args.seeds:
        with tempfile.TemporaryDirectory(prefix="witnessmark-judge-") as name:
            data = surfaces(seed, Path(name), args.points, args.threads)
            run = partial(ours, program, data.folder, args.threads)
            found = f"{data.corner_error(run('--set-by', 'all-over')):.4f}"
            judged = [asked(data, package, find) for package, _, find in JUDGES]
            columns.append([f"surface, seed {seed}", found, "", *judged, ""])
            for weighted in (False, True):
                errors, gap = named_points(seed, data, run, weighted)
                title = f"{'weighted' if weighted else 'named'}, seed {seed}"
                columns.append([title, *errors, *[""] * len(JUDGES), f"{gap:.1e}"])
                worst = worst if weighted else max(worst, gap)
    print(f"two scans of {args.points} points, {NOISE_MM} mm noise, the second dented by {DENT_MM} mm; 12 named points")
    show(columns)
    return int(worst > CLOSED_FORM_MM)


if __name__ == "__main__":
    sys.exit(main())
