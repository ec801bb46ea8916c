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
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

with contextlib.suppress(ImportError):  # the process that starts the peers can do without
    import numpy as np

Job = Callable[[], Any]  # the timed part of a peer; a registration returns its 4x4 motion

RUNS, ONE_RUN_OVER_S = 3, 20.0
LIMIT_S, OPTIONAL_LIMIT_S, LOADING_S = 900.0, 60.0, 30.0
THREAD_VARIABLES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "IGL_NUM_THREADS")
MODULES = {"scipy": "scipy.spatial", "pykdtree": "pykdtree.kdtree", "libigl": "igl"}  # others go by their package

NEIGHBOURS, VOXEL_MM, TUKEY_MM, MAX_STEPS = 20, 5.0, 0.5, 100
REACH_MM = 60.0  # points further apart than this are no pair
LEVELS_MM = ((20.0, REACH_MM), (8.0, 20.0), (0.0, 6.0))  # voxel edge (0 takes every point) and reach
GICP_STOP = {"max_iterations": MAX_STEPS, "rotation_epsilon": 1e-5, "translation_epsilon": 1e-3}


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
        taken = min(self.count or len(points), len(points))
        return points[np.arange(taken) * len(points) // taken]

    def mesh(self) -> tuple[np.ndarray, np.ndarray]:
        points = np.fromfile(self.folder / "mesh_points.f64", "<f8").reshape(-1, 3)
        return points, np.fromfile(self.folder / "mesh_faces.u32", "<u4").reshape(-1, 3)

    def corner_error(self, motion: np.ndarray) -> float:
        """The furthest that any corner of the measured set's box lands from where it belongs."""
        numbers = np.fromfile(self.folder / "truth.f64", "<f8")
        corners = np.c_[numbers[16:].reshape(8, 3), np.ones(8)]
        off = corners @ (np.asarray(motion) - numbers[:16].reshape(4, 4)).T
        return float(np.linalg.norm(off[:, :3], axis=1).max())


# Each function below gets the data and the peer's own module, loads its input untimed and returns the timed job.


def plyfile_read(data: Data, plyfile: Any) -> Job:
    def read() -> list[np.ndarray]:
        vertices = plyfile.PlyData.read(data.ply)["vertex"].data
        groups = (("x", "y", "z"), ("nx", "ny", "nz"), ("red", "green", "blue"))
        return [np.stack([vertices[name] for name in group], axis=1) for group in groups]

    return read


def open3d_read(data: Data, o3d: Any) -> Job:
    def read() -> list[np.ndarray]:
        point = o3d.t.io.read_point_cloud(str(data.ply)).point
        return [point[name].numpy() for name in ("positions", "normals", "colors")]

    return read


def trimesh_read(data: Data, trimesh: Any) -> Job:
    def read() -> list[np.ndarray]:
        cloud = trimesh.load(data.ply, process=False)
        raw = cloud.metadata["_ply_raw"]["vertex"]["data"]  # the only place that keeps a point cloud's normals
        normals = np.stack([raw[name] for name in ("nx", "ny", "nz")], axis=1)
        return [np.asarray(cloud.vertices), normals, np.asarray(cloud.colors)]

    return read


def scipy_nearest(data: Data, spatial: Any) -> Job:
    reference, queries = data.cloud("reference"), data.cloud("aligned")
    return lambda: spatial.cKDTree(reference).query(queries, workers=data.threads)


def pykdtree_nearest(data: Data, kdtree: Any) -> Job:
    reference, queries = data.cloud("reference"), data.cloud("aligned")
    return lambda: kdtree.KDTree(reference, leafsize=16).query(queries, k=1)


def small_gicp_nearest(data: Data, sg: Any) -> Job:
    reference, queries, cores = data.cloud("reference"), data.cloud("aligned"), {"num_threads": data.threads}
    return lambda: sg.KdTree(reference, **cores).batch_knn_search(queries, 1, **cores)


def open3d_clouds(data: Data, o3d: Any, *names: str) -> list[Any]:
    return [o3d.geometry.PointCloud(o3d.utility.Vector3dVector(data.cloud(name))) for name in names]


def open3d_nearest(data: Data, o3d: Any) -> Job:
    reference, queries = open3d_clouds(data, o3d, "reference", "aligned")
    return lambda: queries.compute_point_cloud_distance(reference)


def small_gicp_normals(data: Data, sg: Any) -> Job:
    cloud, cores = sg.PointCloud(data.cloud("reference")), {"num_threads": data.threads}
    return lambda: sg.estimate_normals(cloud, sg.KdTree(cloud, **cores), num_neighbors=NEIGHBOURS, **cores)


def open3d_normals(data: Data, o3d: Any) -> Job:
    (cloud,) = open3d_clouds(data, o3d, "reference")
    return lambda: cloud.estimate_normals(o3d.geometry.KDTreeSearchParamKNN(NEIGHBOURS))


def open3d_align(o3d: Any, source: Any, target: Any, reach: float, start: np.ndarray, tukey: bool) -> np.ndarray:
    icp = o3d.pipelines.registration
    plane = icp.TransformationEstimationPointToPlane(*[icp.TukeyLoss(TUKEY_MM)] * tukey)
    stop = icp.ICPConvergenceCriteria(1e-6, 1e-6, MAX_STEPS)
    return icp.registration_icp(source, target, reach, start, plane, stop).transformation


def open3d_set(data: Data, o3d: Any, tukey: bool = False) -> Job:
    clouds = open3d_clouds(data, o3d, "measured", "reference")

    def register() -> np.ndarray:
        clouds[1].estimate_normals(o3d.geometry.KDTreeSearchParamKNN(NEIGHBOURS))
        motion = np.eye(4)
        for voxel, reach in LEVELS_MM:
            source, target = [cloud.voxel_down_sample(voxel) for cloud in clouds] if voxel else clouds
            motion = open3d_align(o3d, source, target, reach, motion, tukey and not voxel)
        return motion

    return register


def open3d_thinned(data: Data, o3d: Any) -> Job:
    clouds = open3d_clouds(data, o3d, "measured", "reference")

    def register() -> np.ndarray:
        source, target = (cloud.voxel_down_sample(VOXEL_MM) for cloud in clouds)
        target.estimate_normals(o3d.geometry.KDTreeSearchParamKNN(NEIGHBOURS))
        return open3d_align(o3d, source, target, REACH_MM, np.eye(4), tukey=False)

    return register


def small_gicp_set(data: Data, sg: Any, voxel: float = 0.0, voxel_map: bool = False) -> Job:
    sets, cores = [data.cloud(name) for name in ("reference", "measured")], {"num_threads": data.threads}

    def prepared(points: np.ndarray) -> tuple[Any, Any]:
        if voxel:
            return sg.preprocess_points(points, voxel, num_neighbors=NEIGHBOURS, **cores)
        cloud = sg.PointCloud(points)
        tree = sg.KdTree(cloud, **cores)
        sg.estimate_covariances(cloud, tree, num_neighbors=NEIGHBOURS, **cores)
        return cloud, tree

    def register() -> np.ndarray:
        (target, tree), (source, _) = map(prepared, sets)
        options = {"max_correspondence_distance": REACH_MM, **GICP_STOP, **cores}
        if not voxel_map:
            return sg.align(target, source, tree, registration_type="GICP", **options).T_target_source
        cells = sg.GaussianVoxelMap(4 * voxel)
        cells.insert(target)
        return sg.align(cells, source, **options).T_target_source

    return register


def signed(offsets: np.ndarray, normals: np.ndarray) -> np.ndarray:
    """Distances with the side of the face, since counting ray crossings fails on an open sheet."""
    side = np.einsum("ij,ij->i", offsets, normals)
    return np.copysign(np.sqrt(np.einsum("ij,ij->i", offsets, offsets)), side)


def open3d_mesh(data: Data, o3d: Any) -> Job:
    (points, faces), queries = data.mesh(), data.cloud("aligned").astype(np.float32)
    corners, queries_tensor = o3d.core.Tensor(points.astype(np.float32)), o3d.core.Tensor(queries)

    def measure() -> np.ndarray:
        scene = o3d.t.geometry.RaycastingScene(nthreads=data.threads)
        scene.add_triangles(corners, o3d.core.Tensor(faces))
        hit = scene.compute_closest_points(queries_tensor, nthreads=data.threads)
        return signed(queries - hit["points"].numpy(), hit["primitive_normals"].numpy())

    return measure


def libigl_signed(data: Data, igl: Any) -> Job:
    (points, faces), queries = data.mesh(), data.cloud("aligned")
    faces, kind = faces.astype(np.int64), igl.SIGNED_DISTANCE_TYPE_PSEUDONORMAL
    return lambda: igl.signed_distance(queries, points, faces, sign_type=kind)[0]


def libigl_closest(data: Data, igl: Any) -> Job:
    (points, faces), queries = data.mesh(), data.cloud("aligned")
    faces = faces.astype(np.int64)

    def measure() -> np.ndarray:
        _, hit, closest = igl.point_mesh_squared_distance(queries, points, faces)
        a, b, c = (points[faces[:, corner]] for corner in range(3))
        return signed(queries - closest, np.cross(b - a, c - a)[hit])

    return measure


@dataclass(frozen=True)
class Peer:
    package: str
    method: str
    prepare: Callable[[Data, Any], Job]
    limit_s: float = LIMIT_S

    @property
    def name(self) -> str:
        try:
            return f"{self.package} {version(self.package)} {self.method}"
        except PackageNotFoundError:
            return f"{self.package} {self.method}"


PEERS = {
    "read": [
        Peer("numpy", "raw read", lambda data, numpy: lambda: numpy.fromfile(data.ply, numpy.uint8)),
        Peer("plyfile", "PlyData", plyfile_read),
        Peer("open3d", "tensor read_point_cloud", open3d_read),
        Peer("trimesh", "load", trimesh_read),
    ],
    "nearest": [
        Peer("scipy", "cKDTree", scipy_nearest),
        Peer("pykdtree", "KDTree", pykdtree_nearest),
        Peer("small_gicp", "KdTree", small_gicp_nearest),
        Peer("open3d", "legacy compute_point_cloud_distance", open3d_nearest, OPTIONAL_LIMIT_S),
    ],
    "normals": [
        Peer("small_gicp", "estimate_normals", small_gicp_normals),
        Peer("open3d", "legacy estimate_normals", open3d_normals),
    ],
    "set": [
        Peer("open3d", "plane, three levels", open3d_set),
        Peer("open3d", "plane, three levels, Tukey", partial(open3d_set, tukey=True)),
        Peer("small_gicp", "GICP", small_gicp_set, OPTIONAL_LIMIT_S),
    ],
    "set-thinned": [
        Peer("small_gicp", "GICP", partial(small_gicp_set, voxel=VOXEL_MM)),
        Peer("small_gicp", "VGICP", partial(small_gicp_set, voxel=VOXEL_MM, voxel_map=True)),
        Peer("open3d", "plane, one level", open3d_thinned),
    ],
    "mesh": [
        Peer("open3d", "RaycastingScene closest points, side from face", open3d_mesh),
        Peer("libigl", "signed_distance, pseudonormal", libigl_signed),
        Peer("libigl", "point_mesh_squared_distance, side from face", libigl_closest),
    ],
}


def time_peer(peer: Peer, data: Data, row: str) -> dict[str, Any]:
    module = import_module(MODULES.get(peer.package, peer.package))
    if row == "read":
        data.ply.read_bytes()  # the first run must not pay for a cold disk
    seconds: list[float] = []
    for _ in range(RUNS):
        job = peer.prepare(data, module)
        start = time.perf_counter()
        found = job()
        seconds.append(time.perf_counter() - start)
        if seconds[0] > ONE_RUN_OVER_S:
            break
    if seconds[0] > peer.limit_s:
        return {"failed": f"a run takes over {peer.limit_s:.0f} s"}
    error = data.corner_error(found) if row.startswith("set") else None
    return {"seconds": round(statistics.median(seconds), 4), "error_mm": error, "threads": data.threads}


def start_peer(index: int, peer: Peer, threads: int) -> dict[str, Any]:
    """Gives a peer a process of its own, so that one library's thread pool or crash leaves the others alone."""
    environment = os.environ | {name: str(threads) for name in THREAD_VARIABLES}
    command = [sys.executable, __file__, *sys.argv[1:], "--peer", str(index)]
    limit = peer.limit_s + LOADING_S
    try:
        done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=limit)
    except subprocess.TimeoutExpired:
        return {"failed": f"a run takes over {peer.limit_s:.0f} s"}
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
    for index, peer in enumerate(peers):
        print(json.dumps({"row": args.row, "peer": peer.name} | start_peer(index, peer, args.threads)), flush=True)


if __name__ == "__main__":
    main()
