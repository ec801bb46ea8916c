/* What lies under a spot of the view: worked out from all points as they are drawn, once for each click. Lengths are mm. */

/** The nearest to the looker of what covers the pixel `x`, `y` of the canvas, else what comes nearest to it within `slack` pixels;
    null where nothing does. The reference first: it has the figures; measured points answer where it is not shown. */
function pick(model, look, camera, [x, y], slack) {
  const { mm_per_pixel: mm, size: [wide, high] } = look;
  const spot = { right: (x - wide / 2) * mm, up: (high / 2 - y) * mm, slack: slack * mm };
  for (const [name, set] of Object.entries(model.sets)) {
    if (!look.shown[name]) continue;
    const seen = projection(model, set, look, camera, spot);
    const radius = set.normals ? Math.max(SPLAT * model.spacing_mm, 1.5 * mm) / 2 : 1.5 * mm;
    const found = set.faces ? nearestFace(set, seen, spot) : nearestDisc(set, seen, spot, radius);
    if (found) return { name, ...found };
  }
  return null;
}

/** A function that leaves in `at` how far right of the spot, above it and toward the looker a point is drawn; false for a point
    that is left out. */
function projection(model, set, look, camera, spot) {
  const axes = camera.axes(), { places, normals, figures, low, step } = set, { cut, larger } = look;
  const from = axes.map((axis) => dot(away(low, camera.at), axis)), by = axes.map((axis) => axis.map((c) => c * step));
  from[0] -= spot.right;
  from[1] -= spot.up;
  const edge = cut[3] - dot(low, cut), moved = larger * model.deviation_step_mm / 127, at = [0, 0, 0];
  const project = (i) => {
    const px = places[4 * i], py = places[4 * i + 1], pz = places[4 * i + 2], unseen = places[4 * i + 3] > 0;
    if ((px * cut[0] + py * cut[1] + pz * cut[2]) * step > edge || (unseen && !look.unseen_too)) return false;
    for (let k = 0; k < 3; k++) at[k] = from[k] + px * by[k][0] + py * by[k][1] + pz * by[k][2];
    if (moved && normals && !unseen) {
      const far = moved * figures[2 * i];
      for (let k = 0; k < 3; k++) {
        at[k] += far * (normals[4 * i] * axes[k][0] + normals[4 * i + 1] * axes[k][1] + normals[4 * i + 2] * axes[k][2]);
      }
    }
    return true;
  };
  return { project, at, axes };
}

/** Of two that are found, the one that covers the spot nearest to the looker, else the one that comes nearest to it. */
const better = (far, toward, best) => !best || far < best.far || (far === best.far && toward > best.toward);

function nearestDisc(set, { project, at, axes }, spot, radius) {
  const reach = radius + spot.slack, { normals } = set;
  let best = null;
  for (let i = 0; i < set.count; i++) {
    if (!project(i) || Math.abs(at[0]) > reach || Math.abs(at[1]) > reach) continue;
    const d = [-at[0] / radius, -at[1] / radius], slope = [0, 0];
    if (normals) {
      const n = axes.map((axis) => (axis[0] * normals[4 * i] + axis[1] * normals[4 * i + 1] + axis[2] * normals[4 * i + 2]) / 127);
      const facing = Math.max(Math.abs(n[2]), 0.35) * (n[2] < 0 ? -1 : 1);
      slope[0] = n[0] / facing;
      slope[1] = n[1] / facing;
    }
    const fall = slope[0] * d[0] + slope[1] * d[1], within = Math.hypot(d[0], d[1], fall);
    const far = within <= 1 ? 0 : Math.hypot(at[0], at[1]) * (1 - 1 / within);
    if (far <= spot.slack && better(far, at[2] - fall * radius, best)) best = { far, toward: at[2] - fall * radius, index: i };
  }
  return best && { index: best.index, state: set.places[4 * best.index + 3] || 0 };
}

function nearestFace(set, { project, at }, spot) {
  const { faces, count } = set, drawn = new Float32Array(3 * count), whole = new Uint8Array(count);
  for (let i = 0; i < count; i++) {
    whole[i] = project(i) ? 1 : 0;
    drawn.set(at, 3 * i);
  }
  let best = null;
  for (let f = 0; f < faces.length; f += 3) {
    const own = [faces[f], faces[f + 1], faces[f + 2]];
    const x = own.map((i) => drawn[3 * i]), y = own.map((i) => drawn[3 * i + 1]);
    if (Math.min(...x) > spot.slack || Math.max(...x) < -spot.slack || Math.min(...y) > spot.slack || Math.max(...y) < -spot.slack) continue;
    if (!own.every((i) => whole[i])) continue;
    const shares = sharesOf(x, y), far = Math.hypot(mixed(shares, x), mixed(shares, y));
    const toward = mixed(shares, own.map((i) => drawn[3 * i + 2])), apart = far < 1e-6 * (spot.slack + 1) ? 0 : far;
    if (apart <= spot.slack && better(apart, toward, best)) best = { far: apart, toward, own, shares, right: mixed(shares, x), up: mixed(shares, y) };
  }
  return best && figured(set, best, spot);
}

const mixed = (shares, values) => shares.reduce((sum, share, k) => sum + share * values[k], 0);

/** The shares of the corners in the point of a triangle that lies nearest to the origin of its plane. */
function sharesOf(x, y) {
  const area = (x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0]);
  if (area) {
    const inside = [[1, 2], [2, 0], [0, 1]].map(([a, b]) => (x[a] * y[b] - x[b] * y[a]) / area);
    if (inside.every((share) => share >= 0)) return inside;
  }
  const sides = [[0, 1], [1, 2], [2, 0]].map(([a, b]) => {
    const dx = x[b] - x[a], dy = y[b] - y[a], square = dx * dx + dy * dy;
    const t = square ? clamp(-(x[a] * dx + y[a] * dy) / square, 0, 1) : 0, shares = [0, 0, 0];
    shares[a] = 1 - t;
    shares[b] = t;
    return shares;
  });
  const apart = (shares) => Math.hypot(mixed(shares, x), mixed(shares, y));
  return sides.reduce((least, shares) => (apart(shares) < apart(least) ? shares : least));
}

/** Between the corners of a face their figures are mixed, as the colours are: of those that have one. */
function figured(set, { own, shares, right, up, toward }, spot) {
  const states = own.map((i) => set.places[4 * i + 3]), part = (state) => mixed(shares, states.map((s) => Number(s === state)));
  const seen = part(0), figure = (which) => mixed(shares, own.map((i, k) => (states[k] ? 0 : set.figures[2 * i + which]))) / Math.max(seen, 1e-6);
  return {
    index: own[shares.indexOf(Math.max(...shares))], state: seen >= 0.5 ? 0 : part(1) > 0.5 * (1 - seen) ? 1 : 2,
    figures: [figure(0), figure(1)], eye: [spot.right + right, spot.up + up, toward],
  };
}
