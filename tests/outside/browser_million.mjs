/* A made tub for the view, packed as a page packs its points; and what the view's order of points must hold. Lengths are mm. */

import { readFileSync } from "node:fs";
import { deflateRawSync } from "node:zlib";

/** Steps of places and of figures, mm. */
const PLACE_MM = 0.05, FIGURE_MM = 0.02;

/** Whole numbers, each as its difference from the one before with the sign in the last bit: a plane of bytes each. */
function differences(numbers, bytes = 2) {
  const planes = Array.from({ length: bytes }, () => Buffer.alloc(numbers.length));
  let before = 0;
  numbers.forEach((number, i) => {
    const apart = bytes === 2 ? (number - before) << 16 >> 16 : number - before;
    const signed = (apart << 1 ^ apart >> 31) >>> 0;
    planes.forEach((plane, k) => { plane[i] = signed >>> 8 * k; });
    before = number;
  });
  return planes;
}

/** The coordinates of a normal on an octahedron that is laid flat. */
function flat([x, y, z]) {
  const sum = Math.abs(x) + Math.abs(y) + Math.abs(z), side = (c) => (c < 0 ? -1 : 1);
  const [u, v] = [x / sum, y / sum];
  const both = z < 0 ? [(1 - Math.abs(v)) * side(u), (1 - Math.abs(u)) * side(v)] : [u, v];
  return both.map((c) => Math.round(127 * c));
}

/** As a page holds them: `points` are {at, normal, off, pm, state}, along a curve; `faces` name three of them each. */
export function packed(points, measured, spacing_mm, faces = []) {
  const low = [0, 1, 2].map((axis) => [...points, ...measured].reduce((least, p) => Math.min(least, p.at[axis]), Infinity));
  const set = (all) => (all.length ? { count: all.length, low, step: PLACE_MM } : undefined);
  const places = (all) => [0, 1, 2].flatMap((axis) => differences(all.map((p) => Math.round((p.at[axis] - low[axis]) / PLACE_MM))));
  const normals = points.map((p) => flat(p.normal));
  const bytes = (numbers) => Buffer.from(numbers.map((number, i) => number - (i ? numbers[i - 1] : 0) & 255));
  const figures = (figure) => differences(points.map((p) => (p.state ? 0 : Math.round(figure(p) / FIGURE_MM))));
  const most_mm = points.reduce((most, p) => Math.max(most, Math.abs(p.off)), 1);
  const head = Buffer.from(JSON.stringify({
    spacing_mm, most_mm, deviation_step_mm: FIGURE_MM, pm_step_mm: FIGURE_MM,
    reference: points.length ? { ...set(points), faces: faces.length } : undefined, measured: set(measured),
  }));
  const length = Buffer.alloc(4);
  length.writeUInt32LE(head.length);
  const body = !points.length ? [] : [...places(points), bytes(normals.map((n) => n[0])), bytes(normals.map((n) => n[1])),
    ...figures((p) => p.off), ...figures((p) => p.pm), Buffer.from(points.map((p) => p.state)), ...differences(points.map(() => 0)),
    ...differences(faces.flat(), 4)];
  return deflateRawSync(Buffer.concat([length, head, ...body, ...places(measured)])).toString("base64");
}

/** Where a square is met by a curve that fills it (Morton 1966): one in four from one cell to the next coarser. */
function along(index) {
  let x = 0, y = 0;
  for (let bit = 0; bit < 12; bit++) {
    x |= (index >> 2 * bit & 1) << bit;
    y |= (index >> 2 * bit + 1 & 1) << bit;
  }
  return [x, y];
}

const PATCH = { at: [600, 200], radius: 90 };
const offAt = (u, v) => 4 * Math.sin(9 * u) * Math.cos(4 * v);

/** A place of a trough 2400 by 1200 by 300 with a rib across every 200 mm, swellings, and one patch that was not seen. */
function troughAt(u, v) {
  const round = Math.PI * (v - 0.5), beside = (2400 * u) % 200 - 100, rib = 6 * Math.exp(-beside * beside / 144);
  const at = [2400 * u, 600 * Math.sin(round), 300 * (1 - Math.cos(round)) + rib];
  const across = [2 * beside / 144 * rib, -0.5 * Math.sin(round), Math.cos(round)], size = Math.hypot(...across);
  const state = Math.hypot(at[0] - PATCH.at[0], at[1] - PATCH.at[1]) < PATCH.radius ? 2 : 0;
  return { at, normal: across.map((c) => c / size), off: offAt(u, v), pm: 0.2 + 0.1 * u, state };
}

/** The trough in `count` points along a curve. */
export function tub(count) {
  const side = 2 ** Math.ceil(Math.log2(count) / 2), points = [];
  for (let k = 0; k < count; k++) {
    const [i, j] = along(Math.floor(k * side * side / count));
    points.push(troughAt((i + 0.5) / side, (j + 0.5) / side));
  }
  return { points, spacing_mm: Math.sqrt(2400 * 1500 / count) };
}

/** The trough as a mesh of `side` by `side` points. */
function mesh(side) {
  const points = [], faces = [];
  for (let j = 0; j < side; j++) {
    for (let i = 0; i < side; i++) {
      const k = j * side + i;
      points.push(troughAt(i / (side - 1), j / (side - 1)));
      if (i && j) faces.push([k - side - 1, k - side, k], [k - side - 1, k, k - 1]);
    }
  }
  return { points, faces, spacing_mm: 2400 / side };
}

/** Whether every beginning of the view's order is an even choice of the whole: the longest step between neighbours, as a
    multiple of the mean one. */
export function unevenness(progressive, count) {
  const kept = progressive(count), met = new Array(count);
  kept.forEach((place, i) => { met[place] = i; });
  let worst = 0;
  for (let beginning = 1; beginning <= count; beginning = Math.ceil(1.3 * beginning)) {
    const taken = met.slice(0, beginning).sort((a, b) => a - b);
    if (new Set(taken).size !== beginning || taken.some((i) => i === undefined)) return Infinity;
    const steps = taken.map((i, k) => (k + 1 < beginning ? taken[k + 1] : count) - i);
    worst = Math.max(worst, Math.max(...steps) / (count / beginning));
  }
  return worst;
}

/** That the view's points come in such an order. */
export function evenly(tell) {
  const text = readFileSync(new URL("../../crates/page/templates/view/points.js", import.meta.url), "utf8");
  const progressive = new Function(`${text}; return progressive;`)();
  const worst = Math.max(...[1, 2, 3, 1000, 4096, 12345].map((count) => unevenness(progressive, count)));
  tell("every beginning of the points is an even choice", worst < 2, `steps of at most ${worst.toFixed(2)} times the mean`);
}

/** That between the corners of a mesh the figure of the spot itself is said, and none where it was not seen. */
export async function meshed({ open, started, tell }, path, viewport) {
  const page = await open(path, viewport, { reducedMotion: "reduce" });
  const { points, faces, spacing_mm } = mesh(121);
  await filled(page, packed(points, [], spacing_mm, faces));
  await started(page);
  await page.getByRole("button", { name: "Plan", exact: true }).click();
  await page.waitForFunction(() => witnessmarkView.told().whole, null, { timeout: 60_000 });
  const found = await page.evaluate(() => {
    const { width, height } = document.querySelector(".wm-canvas").getBoundingClientRect();
    const all = [];
    for (let k = 1; k < 300; k++) all.push(witnessmarkView.figureAt(width * (k * 0.7548776662 % 1), height * (k * 0.5698402910 % 1), 0));
    return all.filter(Boolean);
  });
  let worst = 0, wrong = 0;
  for (const { at_mm: [x, y], deviation_mm: off, state } of found) {
    const apart = Math.hypot(x - PATCH.at[0], y - PATCH.at[1]) - PATCH.radius;
    if (Math.abs(apart) < 30) continue;
    if ((state === "distance") !== apart > 0) wrong++;
    else if (apart > 0) worst = Math.max(worst, Math.abs(off - offAt(x / 2400, Math.asin(Math.max(Math.min(y / 600, 1), -1)) / Math.PI + 0.5)));
  }
  tell("a mesh says the figure of the spot between its corners", found.length > 100 && !wrong && worst < 0.05, `${found.length} spots, ${wrong} wrongly seen or unseen, ${worst.toFixed(3)} mm off at most`);
  await page.context().close();
}

/** Other points in the place of the page's own, before its view has begun. */
async function filled(page, points) {
  await page.evaluate((text) => { document.getElementById("view-points").textContent = text; }, points);
}

const MANY = 1_000_000, FEW = 50_000;
/** A frame with many points may take so many times as long as the longest with few, or this long where that is little, ms. */
const STALL = 3, STALL_MS = 120;

/** How long frames take while the view is dragged with the mouse and while it comes to rest, with so many points in the page. */
async function dragged(open, started, path, viewport, count) {
  const page = await open(path, viewport);
  const { points, spacing_mm } = tub(count);
  await filled(page, packed(points, [], spacing_mm));
  const seconds = await started(page);
  const whole = () => page.waitForFunction(() => witnessmarkView.told().whole, null, { timeout: 60_000 });
  await whole();
  await page.evaluate(() => {
    const frames = globalThis.frameTimes = [];
    let before = performance.now(), drawn = 0;
    requestAnimationFrame(function next() {
      const now = performance.now(), all = witnessmarkView.told().frames;
      frames.push({ took: now - before, moved: all > drawn });
      [before, drawn] = [now, all];
      requestAnimationFrame(next);
    });
  });
  const times = () => page.evaluate(() => frameTimes.splice(0));
  const box = await page.locator(".wm-canvas").boundingBox();
  const at = (k) => [box.x + box.width / 2 + 150 * Math.sin(k / 9), box.y + box.height / 2 + 80 * Math.sin(k / 23)];
  const before = (await page.evaluate(() => witnessmarkView.told())).frames;
  for (let k = 0; k < 10; k++) await page.mouse.move(...at(k));
  const idle = (await page.evaluate(() => witnessmarkView.told())).frames - before;
  await page.mouse.move(...at(0));
  await page.mouse.down();
  // It learns how much there is time for.
  for (let k = 0; k < 30; k++) await page.mouse.move(...at(k));
  await times();
  for (let k = 30; k < 80; k++) await page.mouse.move(...at(k));
  const turning = (await times()).filter((frame) => frame.moved), moved = await page.evaluate(() => witnessmarkView.told());
  await page.mouse.up();
  const begun = Date.now();
  await whole();
  const rest = (Date.now() - begun) / 1000, filling = await times(), told = await page.evaluate(() => witnessmarkView.told());
  const pick_ms = await page.evaluate(([x, y]) => {
    const begun = performance.now();
    return witnessmarkView.figureAt(x, y) ? performance.now() - begun : null;
  }, [box.width / 2, box.height / 2]);
  await page.context().close();
  return { seconds, idle, turning, moved, rest, filling, told, pick_ms };
}

const longest = (frames) => Math.max(...frames.map((frame) => frame.took));
const usual = (frames) => frames.map((frame) => frame.took).sort((a, b) => a - b)[frames.length >> 1];
const ms = (time) => `${Math.round(time)} ms`;

/** Holds the view with a million points against the view with few, in the same browser on the same machine. */
export async function million({ open, started, tell }, path, viewport) {
  const few = await dragged(open, started, path, viewport, FEW), many = await dragged(open, started, path, viewport, MANY);
  const told = ({ turning, moved }) => `${ms(usual(turning))} a frame, ${ms(longest(turning))} at most, of ${(100 * moved.share).toFixed(1)} % of the points`;
  const most = Math.max(STALL * longest([...few.turning, ...few.filling]), STALL_MS);
  tell("a million points are drawn", Number.isFinite(many.seconds), `${many.seconds.toFixed(2)} s after it was scrolled to; ${FEW}: ${few.seconds.toFixed(2)} s`);
  tell("a million points turn without stalling", many.turning.length && longest(many.turning) < most, `${told(many)}; ${FEW}: ${told(few)}`);
  tell("and come to rest without stalling", longest(many.filling) < most, `${ms(longest(many.filling))} at most, whole after ${many.rest.toFixed(2)} s`);
  tell("at rest all of them are drawn", many.told.points === MANY && many.told.share === 1 && many.told.whole, JSON.stringify(many.told));
  tell("the mouse alone draws nothing anew", many.idle === 0, many.idle);
  tell("a click among a million is answered soon", many.pick_ms !== null && many.pick_ms < most, many.pick_ms === null ? "no metal" : ms(many.pick_ms));
}
