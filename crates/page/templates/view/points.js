/* The points of the view as they come in the page, and as they are kept here. Lengths are mm.

   They come deflated, along a curve that fills the metal, each number as its difference from the one before: so neighbours tell
   little that is new. They are kept in an order of which every beginning is an even choice of the whole: so as many can be
   drawn as there is time for. */

const NO_WEBGL = "The view that turns needs WebGL2, which this browser does not offer. The pictures above show the same.";

/** The bytes that were deflated and written as base64. */
async function inflated(base64) {
  if (typeof DecompressionStream === "undefined") throw new Error("this browser is older than 2023");
  const text = atob(base64), bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"))).arrayBuffer();
}

/** Where each of `count` points along a curve is kept: every beginning of that order takes the curve in even steps, and no
    step is longer than twice the least that so many points allow (the sequence of van der Corput 1935, by whole numbers). */
function progressive(count) {
  const kept = new Uint32Array(count);
  let half = 1;
  while (half < count) half *= 2;
  for (let next = 0, at = 0; next < count;) {
    if (at < count) kept[at] = next++;
    // One is added to the number whose binary digits are read backwards.
    let digit = half >> 1;
    while (digit && at & digit) { at ^= digit; digit >>= 1; }
    at |= digit;
  }
  return kept;
}

/** The sets of a packed file. Of each place: x, y, z in whole steps and its state (0 a distance, 1 beyond the edge, 2 not
    measured); of the reference also normal, deviation and ± in whole steps (a ± of -1 is not known), region and faces. */
function unpacked(file) {
  const length = new DataView(file).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(file, 4, length)));
  let read = 4 + length;
  const plane = (count) => new Uint8Array(file, (read += count) - count, count);

  /** Numbers of two bytes, each with its sign in the last bit of its difference: all low bytes, then all high bytes. */
  const differences = (kept, out, step, offset) => {
    const low = plane(kept.length), high = plane(kept.length);
    for (let i = 0, now = 0; i < kept.length; i++) {
      const signed = low[i] | high[i] << 8;
      now += (signed >>> 1) ^ -(signed & 1);
      out[kept[i] * step + offset] = now;
    }
  };
  const places = ({ count }, kept) => {
    const out = new Uint16Array(4 * count);
    for (const axis of [0, 1, 2]) differences(kept, out, 4, axis);
    return out;
  };
  const sets = {};
  for (const name of ["reference", "measured"]) {
    const own = head[name];
    if (!own) continue;
    const { count } = own, kept = progressive(count);
    const set = { ...own, places: places(own, kept), faces: null };
    sets[name] = set;
    if (name === "measured") continue;
    set.normals = normals(plane(count), plane(count), kept);
    set.figures = new Int16Array(2 * count);
    for (const which of [0, 1]) differences(kept, set.figures, 2, which);
    const states = plane(count);
    for (let i = 0; i < count; i++) set.places[4 * kept[i] + 3] = states[i];
    set.regions = new Uint16Array(count);
    differences(kept, set.regions, 1, 0);
    if (own.faces) set.faces = corners(Array.from({ length: 4 }, () => plane(3 * own.faces)), kept);
  }
  return { ...head, sets };
}

/** Normals from the two coordinates of an octahedron that is laid flat (Meyer et al. 2010), in 127 steps to each side. */
function normals(first, second, kept) {
  const out = new Int8Array(4 * kept.length);
  for (let i = 0, u = 0, v = 0; i < kept.length; i++) {
    u = (u + first[i]) << 24 >> 24;
    v = (v + second[i]) << 24 >> 24;
    let x = u, y = v;
    const z = 127 - Math.abs(u) - Math.abs(v);
    if (z < 0) {
      x = (127 - Math.abs(v)) * (u < 0 ? -1 : 1);
      y = (127 - Math.abs(u)) * (v < 0 ? -1 : 1);
    }
    const scale = 127 / Math.hypot(x, y, z), at = 4 * kept[i];
    out[at] = Math.round(scale * x);
    out[at + 1] = Math.round(scale * y);
    out[at + 2] = Math.round(scale * z);
  }
  return out;
}

function corners(planes, kept) {
  const out = new Uint32Array(planes[0].length);
  for (let i = 0, now = 0; i < out.length; i++) {
    const signed = (planes[0][i] | planes[1][i] << 8 | planes[2][i] << 16 | planes[3][i] << 24) >>> 0;
    now += (signed >>> 1) ^ -(signed & 1);
    out[i] = kept[now];
  }
  return out;
}

function placeOf(set, i) { return [0, 1, 2].map((axis) => set.low[axis] + set.places[4 * i + axis] * set.step); }

function normalOf(set, i) { return [0, 1, 2].map((axis) => set.normals[4 * i + axis] / 127); }

/** The corners of the box around all sets. */
function boundsOf(sets) {
  const low = [Infinity, Infinity, Infinity], high = low.map((c) => -c);
  for (const set of Object.values(sets)) {
    const { places, step } = set;
    for (let axis = 0; axis < 3; axis++) {
      let least = 65535, most = 0;
      for (let i = axis; i < places.length; i += 4) {
        least = Math.min(least, places[i]);
        most = Math.max(most, places[i]);
      }
      low[axis] = Math.min(low[axis], set.low[axis] + least * step);
      high[axis] = Math.max(high[axis], set.low[axis] + most * step);
    }
  }
  return { low, high };
}
