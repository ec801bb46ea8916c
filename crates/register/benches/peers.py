"""Times general-purpose Python libraries on the files a bench has written and prints one JSON line per library."""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

with contextlib.suppress(ImportError):  # the process that starts the peers can do without
    import numpy as np

Job = Callable[[], Any]  # the timed part of a peer; a registration returns its 4x4 motion

RUNS = 3
ONE_RUN_IF_OVER_S = 20.0
OPTIONAL_LIMIT_S = 60.0
LIMIT_S = 900.0
LOADING_S = 30.0
THREAD_VARIABLES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "IGL_NUM_THREADS")

NEIGHBOURS = 20
VOXEL_MM = 5.0
REACH_MM = 60.0  # a pair further apart than this is no pair
TUKEY_MM = 0.5
MAX_STEPS = 100
# One level each: voxel edge (0 takes every point) and reach.
LEVELS_MM = ((20.0, REACH_MM), (8.0, 20.0), (0.0, 6.0))
GICP_STOP = {
    "max_correspondence_distance": REACH_MM,
    "max_iterations": MAX_STEPS,
    "rotation_epsilon": 1e-6,
    "translation_epsilon": 1e-4,
}


@dataclass(frozen=True)
class Data:
    """The files of one bench; `count` spreads that many points evenly over each cloud's own order."""

    folder: Path
    threads: int
    count: int | None

    @property
    def ply(self) -> Path:
        return self.folder / "set.ply"

    def cloud(self, name: str) -> np.ndarray:
        points = np.fromfile(self.folder / f"{name}.f64", "<f8").reshape(-1, 3)
        if self.count is None or self.count >= len(points):
            return points
        return points[np.arange(self.count) * len(points) // self.count]

    def mesh(self) -> tuple[np.ndarray, np.ndarray]:
        points = np.fromfile(self.folder / "mesh_points.f64", "<f8").reshape(-1, 3)
        return points, np.fromfile(self.folder / "mesh_faces.u32", "<u4").reshape(-1, 3)

    def corner_error(self, motion: np.ndarray) -> float:
        """The furthest that any corner of the measured set's box lands from where it belongs."""
        numbers = np.fromfile(self.folder / "truth.f64", "<f8")
        corners = np.c_[numbers[16:].reshape(8, 3), np.ones(8)]
        off = corners @ (np.asarray(motion) - numbers[:16].reshape(4, 4)).T
        return float(np.linalg.norm(off[:, :3], axis=1).max())


@dataclass(frozen=True)
class Peer:
    package: str
    method: str
    prepare: Callable[[Data], Job]  # loads the input in the library's own form, untimed
    limit_s: float

    @property
    def name(self) -> str:
        try:
            return f"{self.package} {version(self.package)} {self.method}"
        except PackageNotFoundError:
            return f"{self.package} {self.method}"


PEERS: dict[str, list[Peer]] = {}


def peer(row: str, package: str, method: str, limit_s: float = LIMIT_S) -> Callable:
    def add(prepare: Callable[[Data], Job]) -> Callable[[Data], Job]:
        PEERS.setdefault(row, []).append(Peer(package, method, prepare, limit_s))
        return prepare

    return add


def columns(vertices: np.ndarray) -> list[np.ndarray]:
    groups = (("x", "y", "z"), ("nx", "ny", "nz"), ("red", "green", "blue"))
    return [np.stack([vertices[name] for name in group], axis=1) for group in groups]


@peer("read", "numpy", "raw read")
def raw_read(data: Data) -> Job:
    return lambda: np.fromfile(data.ply, np.uint8)


@peer("read", "plyfile", "PlyData")
def plyfile_read(data: Data) -> Job:
    from plyfile import PlyData

    return lambda: columns(PlyData.read(data.ply)["vertex"].data)


@peer("read", "open3d", "tensor read_point_cloud")
def open3d_read(data: Data) -> Job:
    import open3d as o3d

    def read() -> list[np.ndarray]:
        point = o3d.t.io.read_point_cloud(str(data.ply)).point
        return [point[name].numpy() for name in ("positions", "normals", "colors")]

    return read


@peer("read", "trimesh", "load")
def trimesh_read(data: Data) -> Job:
    import trimesh

    def read() -> list[np.ndarray]:
        # A trimesh point cloud has no normals of its own; they stay in the raw element.
        cloud = trimesh.load(data.ply, process=False)
        raw = cloud.metadata["_ply_raw"]["vertex"]["data"]
        normals = np.stack([raw[name] for name in ("nx", "ny", "nz")], axis=1)
        return [np.asarray(cloud.vertices), normals, np.asarray(cloud.colors)]

    return read


@peer("nearest", "scipy", "cKDTree")
def scipy_nearest(data: Data) -> Job:
    from scipy.spatial import cKDTree

    reference, queries = data.cloud("reference"), data.cloud("aligned")
    return lambda: cKDTree(reference).query(queries, workers=data.threads)


@peer("nearest", "pykdtree", "KDTree")
def pykdtree_nearest(data: Data) -> Job:
    from pykdtree.kdtree import KDTree

    reference, queries = data.cloud("reference"), data.cloud("aligned")
    return lambda: KDTree(reference, leafsize=16).query(queries, k=1)


@peer("nearest", "small_gicp", "KdTree")
def small_gicp_nearest(data: Data) -> Job:
    import small_gicp as sg

    reference, queries, threads = data.cloud("reference"), data.cloud("aligned"), data.threads
    return lambda: sg.KdTree(reference, num_threads=threads).batch_knn_search(queries, 1, num_threads=threads)


def open3d_cloud(points: np.ndarray) -> Any:
    import open3d as o3d

    return o3d.geometry.PointCloud(o3d.utility.Vector3dVector(points))


@peer("nearest", "open3d", "legacy compute_point_cloud_distance", OPTIONAL_LIMIT_S)
def open3d_nearest(data: Data) -> Job:
    reference, queries = open3d_cloud(data.cloud("reference")), open3d_cloud(data.cloud("aligned"))
    return lambda: queries.compute_point_cloud_distance(reference)


@peer("normals", "small_gicp", "estimate_normals")
def small_gicp_normals(data: Data) -> Job:
    import small_gicp as sg

    cloud, threads = sg.PointCloud(data.cloud("reference")), data.threads

    def estimate() -> None:
        tree = sg.KdTree(cloud, num_threads=threads)
        sg.estimate_normals(cloud, tree, num_neighbors=NEIGHBOURS, num_threads=threads)

    return estimate


def open3d_estimate_normals(cloud: Any) -> None:
    import open3d as o3d

    cloud.estimate_normals(o3d.geometry.KDTreeSearchParamKNN(NEIGHBOURS))


@peer("normals", "open3d", "legacy estimate_normals")
def open3d_normals(data: Data) -> Job:
    cloud = open3d_cloud(data.cloud("reference"))
    return lambda: open3d_estimate_normals(cloud)


def open3d_plane_step(source: Any, target: Any, reach: float, start: np.ndarray, tukey: bool = False) -> np.ndarray:
    from open3d.pipelines import registration as reg

    loss = (reg.TukeyLoss(TUKEY_MM),) if tukey else ()
    plane = reg.TransformationEstimationPointToPlane(*loss)
    stop = reg.ICPConvergenceCriteria(1e-6, 1e-6, MAX_STEPS)
    return reg.registration_icp(source, target, reach, start, plane, stop).transformation


def open3d_levels(data: Data, tukey: bool) -> Job:
    target, source = open3d_cloud(data.cloud("reference")), open3d_cloud(data.cloud("measured"))

    def register() -> np.ndarray:
        open3d_estimate_normals(target)
        motion = np.eye(4)
        for voxel, reach in LEVELS_MM:
            thin = [cloud.voxel_down_sample(voxel) if voxel else cloud for cloud in (source, target)]
            motion = open3d_plane_step(*thin, reach, motion, tukey and not voxel)
        return motion

    return register


peer("set", "open3d", "plane, three levels")(partial(open3d_levels, tukey=False))
peer("set", "open3d", "plane, three levels, Tukey")(partial(open3d_levels, tukey=True))


@peer("set", "small_gicp", "GICP", OPTIONAL_LIMIT_S)
def small_gicp_set(data: Data) -> Job:
    import small_gicp as sg

    clouds, threads = [sg.PointCloud(data.cloud(name)) for name in ("reference", "measured")], data.threads

    def register() -> np.ndarray:
        trees = [sg.KdTree(cloud, num_threads=threads) for cloud in clouds]
        for cloud, tree in zip(clouds, trees):
            sg.estimate_covariances(cloud, tree, num_neighbors=NEIGHBOURS, num_threads=threads)
        found = sg.align(*clouds, trees[0], registration_type="GICP", num_threads=threads, **GICP_STOP)
        return found.T_target_source

    return register


def small_gicp_thinned(data: Data, voxels: bool) -> Job:
    import small_gicp as sg

    sets, threads = [data.cloud(name) for name in ("reference", "measured")], data.threads

    def register() -> np.ndarray:
        (target, tree), (source, _) = (
            sg.preprocess_points(points, VOXEL_MM, num_neighbors=NEIGHBOURS, num_threads=threads) for points in sets
        )
        if not voxels:
            found = sg.align(target, source, tree, registration_type="GICP", num_threads=threads, **GICP_STOP)
            return found.T_target_source
        voxel_map = sg.GaussianVoxelMap(4 * VOXEL_MM)
        voxel_map.insert(target)
        return sg.align(voxel_map, source, num_threads=threads, **GICP_STOP).T_target_source

    return register


peer("set-thinned", "small_gicp", "GICP")(partial(small_gicp_thinned, voxels=False))
peer("set-thinned", "small_gicp", "VGICP")(partial(small_gicp_thinned, voxels=True))


@peer("set-thinned", "open3d", "plane, one level")
def open3d_thinned(data: Data) -> Job:
    clouds = [open3d_cloud(data.cloud(name)) for name in ("measured", "reference")]

    def register() -> np.ndarray:
        source, target = (cloud.voxel_down_sample(VOXEL_MM) for cloud in clouds)
        open3d_estimate_normals(target)
        return open3d_plane_step(source, target, REACH_MM, np.eye(4))

    return register


def signed(offsets: np.ndarray, normals: np.ndarray) -> np.ndarray:
    """Distances that carry the side of the face; counting ray crossings fails on an open sheet."""
    side = np.einsum("ij,ij->i", offsets, normals)
    return np.copysign(np.sqrt(np.einsum("ij,ij->i", offsets, offsets)), side)


@peer("mesh", "open3d", "RaycastingScene closest points, side from face")
def open3d_mesh(data: Data) -> Job:
    import open3d as o3d

    points, faces = data.mesh()
    points, queries = points.astype(np.float32), data.cloud("aligned").astype(np.float32)

    def measure() -> np.ndarray:
        scene = o3d.t.geometry.RaycastingScene(nthreads=data.threads)
        scene.add_triangles(o3d.core.Tensor(points), o3d.core.Tensor(faces))
        hit = scene.compute_closest_points(o3d.core.Tensor(queries), nthreads=data.threads)
        return signed(queries - hit["points"].numpy(), hit["primitive_normals"].numpy())

    return measure


@peer("mesh", "libigl", "signed_distance, pseudonormal")
def libigl_signed(data: Data) -> Job:
    import igl

    (points, faces), queries = data.mesh(), data.cloud("aligned")
    faces, kind = faces.astype(np.int64), igl.SIGNED_DISTANCE_TYPE_PSEUDONORMAL
    return lambda: igl.signed_distance(queries, points, faces, sign_type=kind)[0]


@peer("mesh", "libigl", "point_mesh_squared_distance, side from face")
def libigl_closest(data: Data) -> Job:
    import igl

    (points, faces), queries = data.mesh(), data.cloud("aligned")
    faces = faces.astype(np.int64)

    def measure() -> np.ndarray:
        _, hit, closest = igl.point_mesh_squared_distance(queries, points, faces)
        a, b, c = (points[faces[:, corner]] for corner in range(3))
        return signed(queries - closest, np.cross(b - a, c - a)[hit])

    return measure


def time_peer(chosen: Peer, data: Data, row: str) -> dict[str, Any]:
    """Runs in a process of its own, so that one library's thread pool or crash leaves the others alone."""
    if row == "read":
        data.ply.read_bytes()  # the first run must not pay for a cold disk
    seconds: list[float] = []
    for _ in range(RUNS):
        job = chosen.prepare(data)
        start = time.perf_counter()
        found = job()
        seconds.append(time.perf_counter() - start)
        if seconds[0] > ONE_RUN_IF_OVER_S:
            break
    if seconds[0] > chosen.limit_s:
        return {"failed": f"a run takes over {chosen.limit_s:.0f} s"}
    error = data.corner_error(found) if row.startswith("set") else None
    return {"seconds": round(statistics.median(seconds), 4), "error_mm": error, "threads": data.threads}


def start_peer(index: int, chosen: Peer, threads: int) -> dict[str, Any]:
    environment = os.environ | {name: str(threads) for name in THREAD_VARIABLES}
    command = [sys.executable, __file__, *sys.argv[1:], "--peer", str(index)]
    try:
        done = subprocess.run(
            command, env=environment, capture_output=True, text=True, timeout=chosen.limit_s + LOADING_S
        )
    except subprocess.TimeoutExpired:
        return {"failed": f"a run takes over {chosen.limit_s:.0f} s"}
    lines = [line for line in done.stdout.splitlines() if line.startswith("{")]
    if done.returncode == 0 and lines:
        return json.loads(lines[-1])
    if done.returncode < 0:
        return {"failed": f"ended by signal {-done.returncode}"}
    return {"failed": (done.stderr.strip().splitlines() or [f"exit status {done.returncode}"])[-1]}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", metavar="DATA_DIR", type=Path)
    parser.add_argument("row", metavar="ROW", choices=list(PEERS), help=", ".join(PEERS))
    parser.add_argument("threads", metavar="THREADS", type=int)
    parser.add_argument("count", metavar="N", type=int, nargs="?", help="points to take of each cloud (all of them)")
    parser.add_argument("--peer", type=int, help=argparse.SUPPRESS)
    args = parser.parse_args()
    peers = PEERS[args.row]
    if args.peer is not None:
        print(json.dumps(time_peer(peers[args.peer], Data(args.folder, args.threads, args.count), args.row)))
        return
    if hasattr(os, "sched_setaffinity"):  # some thread pools read no variable, but all obey the cores they are given
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[-args.threads :])
    for index, chosen in enumerate(peers):
        print(json.dumps({"row": args.row, "peer": chosen.name} | start_peer(index, chosen, args.threads)), flush=True)


if __name__ == "__main__":
    main()
