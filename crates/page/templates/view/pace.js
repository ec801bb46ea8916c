/* How much of the view is drawn while it moves, by how long the frames before took. */

/** How long a frame should take, ms; about 30 a second. */
const MOVING_MS = 30;
/** Points of the first frame, and the least to which their number goes down before pixels are made coarser. */
const FIRST = 40_000, LEAST = 30_000;
/** Pixels drawn for one of the canvas. */
const SCALES = [1, 0.75, 0.5, 0.35];

class Pace {
  constructor() { Object.assign(this, { total: 1, count: FIRST, level: 0, before: 0 }); }

  /** Of the `total` points that are shown. */
  get share() { return Math.min(this.count / Math.max(this.total, 1), 1); }

  get scale() { return SCALES[this.level]; }

  /** Takes in how long a frame took; one slow frame alone may be another program's doing. */
  took(ms) {
    const slow = Math.min(ms, this.before);
    this.before = ms;
    if (slow > 1.3 * MOVING_MS) {
      if (this.count > LEAST && this.total > LEAST) this.count = Math.max(Math.min(this.count, this.total) / 2, LEAST);
      else if (this.level < SCALES.length - 1) this.level++;
      // What comes next is judged anew.
      this.before = 0;
    } else if (ms < 0.6 * MOVING_MS) {
      if (this.level > 0 && ms < 0.35 * MOVING_MS) this.level--;
      else this.count = Math.min(1.4 * this.count, Math.max(this.total, FIRST));
    }
  }
}
