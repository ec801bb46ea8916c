/* Holds the pages against a browser: what they show, what they say, who can work them, that they fetch nothing, and that a
   million points in the view turn without stalling.

   node browser.mjs NODE RESULTS PAGE [PICTURES]
     NODE      a folder whose node_modules hold playwright-core and axe-core
     RESULTS   a folder of results: page.html, result.json, deviation.ply
     PAGE      the page.html of the whole job
     PICTURES  where pictures of the view are left to be looked at; none are where it is not given

   WITNESSMARK_CHROMIUM names the browser, /usr/bin/chromium if not set. One line of JSON is printed for each check:
   {check, ok, said}; the exit code is 1 where one does not hold. Lengths are mm. */

import { existsSync, mkdirSync, readFileSync, statSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { figuresNear, readPly } from "./browser_figures.mjs";
import { evenly, meshed, million } from "./browser_million.mjs";

const [node, results, jobPage, pictures] = process.argv.slice(2).map((path) => resolve(path));
if (!jobPage) throw new Error("usage: node browser.mjs NODE RESULTS PAGE [PICTURES]");
const require = createRequire(join(node, "node_modules", "x.js"));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const MOST_BYTES = 8e6;
const MOST_SECONDS = 20;
/** What rounding in the page's points may change, mm. */
const ROUNDING_MM = 0.02;
const WIDE = { width: 1600, height: 1000 }, NARROW = { width: 390, height: 844 };
const SPOTS = 8;
const MINUS = "\u2212";

let failed = 0;

function tell(check, ok, said = "") {
  if (!ok) failed++;
  console.log(JSON.stringify({ check, ok: Boolean(ok), said: String(said) }));
}

const few = (list, most = 8) => list.slice(0, most).join("; ") + (list.length > most ? `; and ${list.length - most} more` : "");

// ---- the browser ----------------------------------------------------------------------------------------------------

const browser = await chromium.launch({
  executablePath: process.env.WITNESSMARK_CHROMIUM || "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
    "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
const asked = [], troubles = [];

/** A page in a window of its own; everything that it asks for and complains of is kept. */
async function open(path, viewport, more = {}, first = null) {
  const page = await (await browser.newContext({ viewport, ...more })).newPage();
  page.on("request", (request) => asked.push(request.url()));
  page.on("pageerror", (error) => troubles.push(error.message));
  page.on("console", (message) => { if (message.type() === "error") troubles.push(message.text()); });
  if (first) await page.addInitScript(first);
  await page.goto(pathToFileURL(path).href, { waitUntil: "load" });
  return page;
}

async function close(page) { await page.context().close(); }

/** Starts the view and waits until it is drawn: seconds. */
async function started(page) {
  const begun = Date.now();
  await page.locator("#view3d").scrollIntoViewIfNeeded();
  await page.waitForSelector("#view3d .wm-canvas, #view3d .wm-missing", { timeout: 60_000 });
  const drawn = await page.evaluate(() => witnessmarkView.ready);
  return drawn ? (Date.now() - begun) / 1000 : Infinity;
}

/** The view as it stands once nothing moves, as PNG. */
async function seen(page) {
  const stage = page.locator(".wm-stage");
  await page.waitForFunction(() => witnessmarkView.told().whole, null, { timeout: 60_000 });
  let before = null;
  for (let k = 0; k < 40; k++) {
    const now = await stage.screenshot({ animations: "disabled" });
    if (before && before.equals(now)) return now;
    before = now;
    await page.waitForTimeout(350);
  }
  return before;
}

const beside = await (await browser.newContext()).newPage();

/** The share of pixels that differ between two pictures. */
function differing(a, b) {
  return beside.evaluate(async (both) => {
    const [one, other] = await Promise.all(both.map(async (base64) => {
      const image = new Image();
      image.src = `data:image/png;base64,${base64}`;
      await image.decode();
      const page = new OffscreenCanvas(image.width, image.height).getContext("2d");
      page.drawImage(image, 0, 0);
      return page.getImageData(0, 0, image.width, image.height).data;
    }));
    if (one.length !== other.length) return 1;
    let count = 0;
    for (let i = 0; i < one.length; i += 4) count += one[i] !== other[i] || one[i + 1] !== other[i + 1] || one[i + 2] !== other[i + 2];
    return count / (one.length / 4);
  }, [a.toString("base64"), b.toString("base64")]);
}

const share = (x) => `${(100 * x).toFixed(2)} % of the pixels`;

// ---- the checks -----------------------------------------------------------------------------------------------------

const page_html = join(results, "page.html");
const record = JSON.parse(readFileSync(join(results, "result.json"), "utf8"));

function sizes() {
  for (const path of [page_html, jobPage]) {
    const { size } = statSync(path);
    tell("small enough to be sent by mail", size < MOST_BYTES, `${path}: ${(size / 1e6).toFixed(2)} MB`);
  }
}

async function quickly(page) {
  const paint = await page.evaluate(() => performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? null);
  tell("the page is painted soon", paint !== null && paint < 1000 * MOST_SECONDS, `${Math.round(paint)} ms`);
  const image = await page.evaluate(async () => {
    const first = document.querySelector("figure img");
    if (!first) return null;
    await first.decode();
    return [performance.now(), first.naturalWidth];
  });
  tell("the first picture is there", image && image[1] > 0, image && `${Math.round(image[0])} ms, ${image[1]} pixels wide`);
  const took = await started(page);
  tell("the view is drawn", took < MOST_SECONDS, `${took.toFixed(2)} s after it was scrolled to`);
}

/** Spots of the canvas with a figure, spread over it. */
function spots(page) {
  return page.evaluate((most) => {
    const { width, height } = document.querySelector(".wm-canvas").getBoundingClientRect();
    const found = [];
    for (let k = 1; k < 400 && found.length < most; k++) {
      // Fractions of two irrational numbers fall evenly.
      const [x, y] = [width * (k * 0.7548776662 % 1), height * (k * 0.5698402910 % 1)].map(Math.round);
      const figure = witnessmarkView.figureAt(x, y);
      if (figure && figure.state === "distance") found.push({ x, y, figure });
    }
    return found;
  }, SPOTS);
}

function spread(found) {
  const all = found.map(({ figure }) => figure.deviation_mm);
  return `${all.length} spots from ${Math.min(...all).toFixed(2)} to ${Math.max(...all).toFixed(2)} mm`;
}

async function figures(page) {
  await page.getByRole("button", { name: "Plan", exact: true }).click();
  const ply = readPly(join(results, "deviation.ply"));
  const found = await spots(page);
  tell("spots with a figure are found", found.length === SPOTS, found.length);
  const wrong = [], unsaid = [];
  let worst = 0;
  for (const { x, y, figure } of found) {
    await page.locator(".wm-canvas").click({ position: { x, y } });
    const told = await page.locator(".wm-figure").innerText();
    const { deviation_mm: off, pm_mm: pm } = figure;
    const tenths = Math.abs(off).toFixed(1), sign = tenths === "0.0" ? "" : off < 0 ? MINUS : "+";
    const must = [`(${sign}${tenths} mm)`, ...figure.words, ...(figure.region ? [figure.region] : [])];
    if (must.some((words) => !told.includes(words))) unsaid.push(`${must.join(" | ")} for ${told}`);
    const { least, found: may } = figuresNear(ply, figure.at_mm, record.reference.spacing_mm);
    const outside = (value, all) => Math.max(Math.min(...all) - value, value - Math.max(...all), 0);
    const nearest = ply.faces
      ? Math.max(outside(off, may.map((m) => m.off)), outside(pm ?? 0, may.map((m) => m.pm)))
      : Math.min(...may.map((m) => Math.max(Math.abs(off - m.off), Math.abs((pm ?? m.pm) - m.pm))));
    if (may.length) worst = Math.max(worst, nearest);
    if (!may.length || nearest > ROUNDING_MM || (!ply.faces && least > 0.1)) {
      wrong.push(`at ${figure.at_mm.map((c) => c.toFixed(1))} it says ${off.toFixed(3)} ± ${pm}, the file ${JSON.stringify(may.slice(0, 3))}, ${least.toFixed(3)} mm away`);
    }
  }
  tell("a click says the figure of the spot", !unsaid.length, few(unsaid) || `${found.length} spots`);
  tell("the figures are those of deviation.ply, smoothed", !wrong.length, few(wrong) || `${spread(found)}, ${worst.toFixed(4)} mm apart at most`);
}

async function regions(page) {
  const words = { within: "in", outside: record.mirror ? "differs" : "OUT", "too-close": "too close to call" };
  const wrong = [];
  for (const region of record.regions) {
    const flew = await page.evaluate((id) => witnessmarkView.fly(id), `regions/${region.name}`);
    const told = await page.locator(".wm-figure").innerText();
    const verdict = region.withheld ? "withheld" : words[region.verdict] || "not measured";
    const must = [region.name, verdict, region.move ? region.move.words : ""];
    if (!flew || must.some((one) => !told.includes(one))) wrong.push(`${must.join(" | ")} for ${told}`);
  }
  tell("each region says the verdict and the move of result.json", record.regions.length && !wrong.length, few(wrong) || `${record.regions.length} regions`);
  const lost = await page.evaluate(() => [...document.querySelectorAll("[data-fly]")].map((link) => link.dataset.fly).filter((id) => !witnessmarkView.fly(id)));
  const links = await page.locator("[data-fly]").count();
  await page.locator(".wm-view select").selectOption("1");
  await page.evaluate((id) => witnessmarkView.fly(id), `regions/${record.regions[0].name}`);
  const cut = await page.locator(".wm-view select").inputValue();
  tell("whoever is led to a place sees it uncut", cut === "0", cut);
  await page.locator(".wm-view select").selectOption("1");
  await page.locator(".wm-range input").first().press("ArrowLeft");
  await page.evaluate(() => document.querySelector(".wm-list .wm-go").click());
  const listed = await page.locator(".wm-view select").inputValue(), asAgreed = await page.locator(".wm-stamp", { hasText: "agreed" }).isHidden();
  tell("and so does he who takes it from the list, at the agreed limit", listed === "0" && asAgreed, `cut ${listed}`);
  tell("every link to the view leads to a place in it", links && !lost.length, few(lost) || `${links} links`);
}

/** The view worked by keys alone: sliders, turning, the stands, and the figure at the middle. */
async function keys(page) {
  // What stays in sight while the page scrolls lies between pixels now and then.
  const still = await page.addStyleTag({ content: ".wm-picture { position: static !important; }" });
  await page.getByRole("button", { name: "Plan", exact: true }).click();
  const before = await seen(page);
  const slider = page.locator(".wm-range input").first();
  const legend = await page.locator(".wm-ends").innerText();
  await slider.focus();
  for (let k = 0; k < 3; k++) await page.keyboard.press("ArrowLeft");
  const recoloured = await differing(before, await seen(page));
  tell("the limit's slider, moved by keys, colours the metal anew", recoloured > 0.001, share(recoloured));
  tell("and the legend says the new limit", legend !== await page.locator(".wm-ends").innerText(), legend.replace(/\n/g, " "));
  const badge = page.locator(".wm-stamp", { hasText: "agreed" });
  tell("a limit other than the agreed one is said over the metal", await badge.isVisible(), await badge.textContent());
  await page.getByRole("button", { name: "As compared" }).click();
  tell("and no longer at the agreed one", await badge.isHidden());
  const back = await differing(before, await seen(page));
  // Its rim may lie between pixels otherwise than before.
  tell("as compared it looks as before", back < Math.min(recoloured / 4, 0.005), share(back));
  const canvas = page.locator(".wm-canvas");
  let last = before;
  for (const key of ["ArrowLeft", "ArrowUp", "Shift+ArrowDown", "+", "-", "0", "1", "2", "3", "4", "5", "6"]) {
    await canvas.focus();
    await page.keyboard.press(key);
    const now = await seen(page), turned = await differing(last, now);
    tell(`the key ${key} moves it`, turned > 0.001, share(turned));
    last = now;
  }
  await still.evaluate((style) => style.remove());
  await page.keyboard.press("Enter");
  const told = await page.locator(".wm-figure").innerText();
  tell("Enter says what is at the middle", /no figure|No metal|mm\)|measured point/.test(told), told.replace(/\n/g, ", "));
  const begun = Date.now(), frames = (await page.evaluate(() => witnessmarkView.told())).frames;
  const box = await canvas.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  for (let k = 0; k < 60; k++) await page.mouse.move(box.x + box.width / 2 + 4 * k, box.y + box.height / 2);
  await page.mouse.up();
  const after = await page.evaluate(() => witnessmarkView.told());
  const rate = (after.frames - frames) / (Date.now() - begun) * 1000;
  tell("it can be dragged", after.frames > frames, `${rate.toFixed(1)} frames a second without a graphics processor, of ${Math.round(100 * after.share)} % of the points`);
}

/** The browser takes the graphics processor away and gives it back. */
async function restored(page) {
  const before = await seen(page);
  await page.evaluate(async () => {
    const lose = document.querySelector(".wm-canvas").getContext("webgl2").getExtension("WEBGL_lose_context");
    const wait = (ms) => new Promise((done) => setTimeout(done, ms));
    lose.loseContext();
    await wait(300);
    lose.restoreContext();
    await wait(300);
  });
  const changed = await differing(before, await seen(page));
  tell("the view comes back when the graphics processor does", changed < 0.05, share(changed));
}

/** What can be reached by a key, of all that can be worked, whether it shows where it is, and whether it can be seen there. */
async function reached(page, name, key = "Tab") {
  const controls = await page.evaluate(() => {
    for (const details of document.querySelectorAll("details")) details.open = true;
    const select = document.querySelector(".wm-view select");
    if (select) { select.value = "1"; select.dispatchEvent(new Event("change")); }
    const all = [...document.querySelectorAll("a[href], button, input, select, summary, .wm-canvas, [tabindex='0']")];
    globalThis.controls = all.filter((one) => one.checkVisibility() && !one.disabled);
    document.activeElement.blur();
    window.scrollTo(0, 0);
    return globalThis.controls.map((one) => `${one.localName} ${(one.getAttribute("aria-label") || one.textContent || one.type).trim().slice(0, 40)}`);
  });
  const met = new Set(), bare = new Set(), covered = new Set();
  for (let k = 0; k < Math.max(400, controls.length + 20) && met.size < controls.length; k++) {
    await page.keyboard.press(key);
    const [index, outlined, hidden] = await page.evaluate(() => {
      const own = document.activeElement, style = getComputedStyle(own), box = own.getClientRects()[0] ?? own.getBoundingClientRect();
      // A table or a picture may be larger than the screen: what is to be seen of it is what counts.
      const within = (low, high, most) => (Math.max(low, 0) + Math.min(high, most)) / 2;
      const top = document.elementFromPoint(within(box.left, box.right, innerWidth), within(box.top, box.bottom, innerHeight));
      const covered = !top || !(own.contains(top) || top.contains(own));
      return [globalThis.controls.indexOf(own), style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 1, covered];
    });
    if (index < 0) continue;
    met.add(index);
    if (!outlined) bare.add(controls[index]);
    if (hidden) covered.add(controls[index]);
  }
  const missed = controls.filter((_, index) => !met.has(index));
  tell(`${name}: ${key} reaches everything`, controls.length && !missed.length, few(missed) || `${controls.length} of ${controls.length}`);
  tell(`${name}: what ${key} reaches is outlined`, !bare.size, few([...bare]));
  tell(`${name}: what ${key} reaches can be seen`, !covered.size, few([...covered]));
}

async function judged(path, name, withView) {
  for (const [width, viewport] of [["1600", WIDE], ["390", NARROW]]) {
    for (const colorScheme of ["light", "dark"]) {
      const page = await open(path, viewport, { colorScheme, reducedMotion: "reduce" });
      if (withView) await started(page);
      await page.evaluate(() => { for (const details of document.querySelectorAll("details")) details.open = true; });
      await page.addScriptTag({ content: axe });
      const { violations, passes } = await page.evaluate(() => axe.run(document, { resultTypes: ["violations"] }));
      const told = violations.map((v) => `${v.impact} ${v.id} ×${v.nodes.length} (${v.nodes[0].target.join(" ")})`);
      const grave = violations.some((v) => v.impact === "serious" || v.impact === "critical");
      tell(`${name}: axe-core at ${width} px, ${colorScheme}`, !grave && passes.length > 10, few(told) || `nothing, by ${passes.length} rules`);
      if (width === "390") {
        const wide = await page.evaluate(() => {
          for (const button of document.querySelectorAll(".columns")) button.click();
          return document.documentElement.scrollWidth;
        });
        tell(`${name}: nothing sticks out sideways at 390 px, ${colorScheme}`, wide <= 390, `${wide} px`);
      }
      if (withView && pictures) await photographed(page, `${width}-${colorScheme}`);
      await close(page);
    }
  }
}

async function photographed(page, name) {
  mkdirSync(pictures, { recursive: true });
  await seen(page);
  await page.locator(".part.view").screenshot({ path: join(pictures, `view-${name}.png`) });
  if (name !== "1600-light") return;
  const session = await page.context().newCDPSession(page);
  for (const type of ["deuteranopia", "protanopia", "achromatopsia"]) {
    await session.send("Emulation.setEmulatedVisionDeficiency", { type });
    await page.locator(".part.view").screenshot({ path: join(pictures, `view-${type}.png`) });
  }
}

async function printed(path, name) {
  const page = await open(path, WIDE);
  const pdf = await page.pdf({ preferCSSPageSize: true });
  const sheets = (pdf.toString("latin1").match(/\/Type\s*\/Page\b(?!s)/g) || []).length;
  tell(`${name}: it can be printed`, sheets >= 1, `${sheets} sheets, ${(pdf.length / 1e6).toFixed(2)} MB`);
  await close(page);
}

async function without() {
  const scriptless = await open(page_html, WIDE, { javaScriptEnabled: false });
  const text = await scriptless.locator("#main").innerText();
  tell("it can be read without scripts", text.includes("What was found") && text.includes("the pictures show the same"), `${text.length} letters`);
  await close(scriptless);
  const plain = await open(page_html, WIDE, {}, () => {
    const own = HTMLCanvasElement.prototype.getContext;
    HTMLCanvasElement.prototype.getContext = function get(kind, ...more) { return kind === "webgl2" ? null : own.call(this, kind, ...more); };
  });
  await started(plain);
  const words = await plain.locator("#view3d").innerText();
  tell("where WebGL2 is missing it says so", words.includes("WebGL2"), words);
  await close(plain);
}

async function jobsPage() {
  const page = await open(jobPage, WIDE, { reducedMotion: "reduce" });
  const title = await page.locator("h1").innerText();
  tell("the job's page has its title", title.trim().length > 0, title);
  const links = await page.evaluate(() => [...new Set([...document.querySelectorAll("a[href]")].map((a) => a.href))].filter((href) => !href.includes("#")));
  const lost = links.filter((href) => !href.startsWith("file:") || !existsSync(fileURLToPath(href)));
  tell("its links lead to pages that are there", links.length && !lost.length, few(lost) || `${links.length} links from ${dirname(jobPage)}`);
  await reached(page, "job's page");
  await close(page);
}

// ---- all of them ----------------------------------------------------------------------------------------------------

try {
  sizes();
  const page = await open(page_html, WIDE, { reducedMotion: "reduce" });
  await quickly(page);
  await figures(page);
  await regions(page);
  await keys(page);
  await restored(page);
  await reached(page, "page");
  await close(page);
  const narrow = await open(page_html, NARROW, { reducedMotion: "reduce" });
  await started(narrow);
  for (const key of ["Tab", "Shift+Tab"]) await reached(narrow, "page at 390 px", key);
  await close(narrow);
  await judged(page_html, "page", true);
  await judged(jobPage, "job's page", false);
  await printed(page_html, "page");
  await printed(jobPage, "job's page");
  await without();
  await jobsPage();
  evenly(tell);
  await meshed({ open, started, tell }, page_html, WIDE);
  await million({ open, started, tell }, page_html, WIDE);
} catch (trouble) {
  tell("the checks ran to their end", false, trouble.stack);
}
const fetched = asked.filter((url) => !/^(file|data|blob):/.test(url));
const files = new Set(asked.filter((url) => url.startsWith("file:")));
tell("nothing is fetched but the pages themselves", !fetched.length && files.size === 2, few([...fetched, ...(files.size === 2 ? [] : files)]) || `${asked.length} requests, of file: ${files.size} different`);
tell("the browser complains of nothing", !troubles.length, few(troubles));
await browser.close();
process.exitCode = failed ? 1 : 0;
