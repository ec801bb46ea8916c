/* The figures that a page's view may show, worked out once more from the deviation.ply beside it. Lengths are mm. */

import { readFileSync } from "node:fs";

/** The vertices of a binary PLY file, each property as an array, and whether it has faces. */
export function readPly(path) {
  const bytes = readFileSync(path), end = bytes.indexOf("end_header\n") + 11;
  const kinds = { double: [8, "getFloat64"], float: [4, "getFloat32"], uchar: [1, "getUint8"] };
  const own = [];
  let element = "", count = 0, faces = false;
  for (const line of bytes.toString("latin1", 0, end).split("\n").map((text) => text.split(" "))) {
    if (line[0] === "element") {
      element = line[1];
      if (element === "vertex") count = Number(line[2]);
      else faces = Number(line[2]) > 0;
    } else if (line[0] === "property" && element === "vertex") own.push([line[2], ...kinds[line[1]]]);
  }
  const words = new DataView(bytes.buffer, bytes.byteOffset + end);
  const found = { count, faces };
  for (const [name] of own) found[name] = new Float64Array(count);
  for (let i = 0, at = 0; i < count; i++) {
    for (const [name, size, read] of own) {
      found[name][i] = words[read](at, true);
      at += size;
    }
  }
  return found;
}

function medianOf(values) {
  const sorted = [...values].sort((a, b) => a - b), middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}

/** The figures that the view may show at a place: deviation.ply has those of single points, the view (as the pictures do) their
    running median over 6 mm or two spacings, of points that face the same way. So it is worked out here once more. Those of
    the nearest point, or of all between the corners of a face. */
export function figuresNear(ply, place, spacing_mm) {
  const radius = Math.max(6, 2 * spacing_mm);
  const apart = (i, [x, y, z]) => Math.hypot(ply.x[i] - x, ply.y[i] - y, ply.z[i] - z);
  const around = (at, far) => Array.from(ply.x.keys()).filter((i) => Math.abs(ply.x[i] - at[0]) <= far && apart(i, at) <= far);
  const near = around(place, 4 * spacing_mm);
  const least = near.reduce((least, i) => Math.min(least, apart(i, place)), Infinity);
  const reach = ply.faces ? 2 * spacing_mm : least + 0.05;
  const found = [];
  for (const i of near.filter((i) => ply.state[i] === 0 && apart(i, place) <= reach)) {
    const facing = (j) => ply.nx[i] * ply.nx[j] + ply.ny[i] * ply.ny[j] + ply.nz[i] * ply.nz[j] > 0.5;
    const own = around([ply.x[i], ply.y[i], ply.z[i]], radius).filter((j) => facing(j) && ply.state[j] === 0);
    found.push({ off: medianOf(own.map((j) => ply.deviation_mm[j])), pm: medianOf(own.map((j) => ply.pm_mm[j])) });
  }
  return { least, found };
}
