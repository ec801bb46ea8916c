/* From where the view is looked at. X rearward, Y right as seated, Z up; angles rad, lengths mm. */

const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const along = (a, k, b) => [a[0] + k * b[0], a[1] + k * b[1], a[2] + k * b[2]];
const away = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const clamp = (x, low, high) => Math.min(Math.max(x, low), high);

const DEGREE = Math.PI / 180;
/** Where the looker stands: round from the rear toward the right side, and how high; the keys 1 to 6. */
const STANDS = {
  Front: [180, 0], Rear: [0, 0], Left: [-90, 0], Right: [90, 0], Plan: [-90, 90], Below: [-90, -90],
};
const SIX = Object.keys(STANDS);

/** A turntable: Z stays up on the paper. */
class Camera {
  constructor(bounds) {
    this.bounds = bounds;
    this.radius = Math.hypot(...away(bounds.high, bounds.low)) / 2 + 1;
    Object.assign(this, { round: -128 * DEGREE, height: 40 * DEGREE, at: middleOf(bounds), mm_per_pixel: 1 });
  }

  axes() {
    const { round, height } = this;
    const right = [-Math.sin(round), Math.cos(round), 0];
    const toward = [Math.cos(height) * Math.cos(round), Math.cos(height) * Math.sin(round), Math.sin(height)];
    const up = [-Math.sin(height) * Math.cos(round), -Math.sin(height) * Math.sin(round), Math.cos(height)];
    return [right, up, toward];
  }

  /** What the shaders want; `slack_mm` is how far metal may be drawn beside its place. */
  uniforms([wide, high], slack_mm) {
    const [right, up, toward] = this.axes();
    return {
      turn: [0, 1, 2].flatMap((axis) => [right[axis], up[axis], toward[axis]]),
      middle: this.at,
      half_size: [wide / 2 * this.mm_per_pixel, high / 2 * this.mm_per_pixel],
      deep: Math.hypot(...away(this.at, middleOf(this.bounds))) + this.radius + slack_mm,
    };
  }

  turn(by_round, by_height) {
    this.round += by_round;
    this.height = clamp(this.height + by_height, -Math.PI / 2, Math.PI / 2);
  }

  /** Moves the paper by pixels to the right and down. */
  pan(x, y) {
    const [right, up] = this.axes();
    this.at = along(along(this.at, -x * this.mm_per_pixel, right), y * this.mm_per_pixel, up);
  }

  /** Makes a mm so many times smaller on the paper and keeps what lies `x` right of and `y` below the middle. */
  zoom(times, x, y) {
    const [right, up] = this.axes();
    const next = clamp(this.mm_per_pixel * times, 0.002, this.radius / 20);
    const gain = this.mm_per_pixel - next;
    this.at = along(along(this.at, x * gain, right), -y * gain, up);
    this.mm_per_pixel = next;
  }

  fit(bounds, [wide, high]) {
    const half = away(bounds.high, bounds.low).map((length) => length / 2);
    const [right, up] = this.axes().map((axis) => dot(axis.map(Math.abs), half));
    this.at = middleOf(bounds);
    this.mm_per_pixel = Math.max(2.2 * right / wide, 2.3 * up / high, 0.02);
  }

  /** Pixels right of and below the middle of the canvas. */
  onPaper(place_mm) {
    const d = away(place_mm, this.at), [right, up] = this.axes();
    return [dot(d, right) / this.mm_per_pixel, -dot(d, up) / this.mm_per_pixel];
  }

  /** Turns to metal whose outside looks along `normal`; `steepest` leaves something of the sides to be seen. */
  face(normal, steepest) {
    const length = Math.hypot(...normal);
    if (length < 0.3) return;
    const height = Math.asin(clamp(normal[2] / length, -1, 1));
    if (Math.abs(height) < 65 * DEGREE) this.round = Math.atan2(normal[1], normal[0]);
    this.height = clamp(height, -steepest * DEGREE, steepest * DEGREE);
  }
}

function middleOf({ low, high }) { return low.map((c, axis) => (c + high[axis]) / 2); }
