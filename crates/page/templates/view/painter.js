/* Everything of the view that lives on the graphics processor. While it moves an even share of the points is drawn at once, as
   many as there is time for; at rest the whole is drawn piece by piece, so that no frame takes long however many they are. */

/** Width of a point as it is drawn, in spacings: wide enough that sheet is closed. */
const SPLAT = 2.4;
/** How long a piece should take, and the least and most of it: points, and rows of the canvas. */
const PIECE_MS = 8;
const PIECES = { points: [4096, 1 << 20], rows: [8, 1 << 12] };

function program(gl, vertex, fragment) {
  const own = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(own, shader);
  }
  gl.linkProgram(own);
  if (!gl.getProgramParameter(own, gl.LINK_STATUS) && !gl.isContextLost()) {
    const logs = gl.getAttachedShaders(own).map((shader) => gl.getShaderInfoLog(shader));
    throw new Error([gl.getProgramInfoLog(own), ...logs].join("\n"));
  }
  const places = {};
  const count = gl.getProgramParameter(own, gl.ACTIVE_UNIFORMS) || 0;
  for (let i = 0; i < count; i++) {
    const { name } = gl.getActiveUniform(own, i);
    places[name] = gl.getUniformLocation(own, name);
  }
  return { own, places };
}

/** Everything that lives on the graphics processor; made anew when the browser has taken it away. */
class Painter {
  constructor(gl, model, data) {
    this.gl = gl;
    this.model = model;
    const placed = PLACED + CODE;
    this.discs = program(gl, placed, DISCS);
    this.squares = program(gl, placed, SQUARES);
    this.faces = program(gl, placed, FACES);
    this.finished = program(gl, WHOLE, FINISHED);
    this.mostDots = gl.getParameter(gl.ALIASED_POINT_SIZE_RANGE)[1];
    this.sets = {};
    for (const [name, set] of Object.entries(model.sets)) this.sets[name] = this.vertices(set);
    this.empty = gl.createVertexArray();
    this.ramp = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, this.ramp);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGB8, data.ramp.length, 1, 0, gl.RGB, gl.UNSIGNED_BYTE, new Uint8Array(data.ramp.flat()));
    this.plainly();
    /** Points and rows of pixels that are worked off at once while nothing moves. */
    this.piece = { points: 20_000, rows: 64 };
  }

  vertices(set) {
    const gl = this.gl, array = gl.createVertexArray();
    gl.bindVertexArray(array);
    const lists = [[set.places, 4, gl.UNSIGNED_SHORT, false], [set.normals, 4, gl.BYTE, true], [set.figures, 2, gl.SHORT, false]];
    lists.forEach(([list, size, kind, share], location) => {
      if (!list) return;
      gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ARRAY_BUFFER, list, gl.STATIC_DRAW);
      gl.enableVertexAttribArray(location);
      gl.vertexAttribPointer(location, size, kind, share, 0, 0);
    });
    if (set.faces) {
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, set.faces, gl.STATIC_DRAW);
    }
    gl.bindVertexArray(null);
    return array;
  }

  plainly() {
    const gl = this.gl;
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.NEAREST);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
  }

  /** A frame of its own, `wide` by `high`, that keeps what is drawn and depths. */
  target(wide, high, old) {
    const gl = this.gl;
    if (old && old.wide === wide && old.high === high) return old;
    if (old && old.frame) {
      gl.deleteFramebuffer(old.frame);
      gl.deleteTexture(old.colours);
      gl.deleteTexture(old.depths);
    }
    const texture = (inner, format, type) => {
      const own = gl.createTexture();
      gl.bindTexture(gl.TEXTURE_2D, own);
      gl.texImage2D(gl.TEXTURE_2D, 0, inner, wide, high, 0, format, type, null);
      this.plainly();
      return own;
    };
    const frame = gl.createFramebuffer();
    const colours = texture(gl.RGBA8, gl.RGBA, gl.UNSIGNED_BYTE);
    const depths = texture(gl.DEPTH_COMPONENT24, gl.DEPTH_COMPONENT, gl.UNSIGNED_INT);
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, colours, 0);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.DEPTH_ATTACHMENT, gl.TEXTURE_2D, depths, 0);
    return { wide, high, frame, colours, depths };
  }

  set(own, values) {
    const gl = this.gl;
    for (const [name, value] of Object.entries(values)) {
      const at = own.places[name];
      if (at === undefined) continue;
      if (value === true || value === false) gl.uniform1i(at, Number(value));
      else if (typeof value === "number") gl.uniform1f(at, value);
      else if (value.length === 9) gl.uniformMatrix3fv(at, false, value);
      else gl[`uniform${value.length}fv`](at, value);
    }
  }

  /** What is drawn of each set that is shown, when an even share of the whole is: its first points, or all its faces. */
  parts(look, share) {
    const shown = Object.entries(this.model.sets).filter(([name]) => look.shown[name]);
    return shown.map(([name, set]) => {
      const faces = set.faces !== null && share >= 1;
      return { name, set, faces, count: faces ? set.faces.length / 3 : Math.ceil(set.count * share) };
    });
  }

  /** A picture in the making, empty: which frame, what is to be seen, by which share of the points. */
  sheet(frame, look, camera, { share, square }) {
    const gl = this.gl, ratio = frame.wide / look.size[0];
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame.frame);
    gl.disable(gl.SCISSOR_TEST);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    // Fewer points are drawn larger, so that sheet stays closed; a disc of few pixels is a square.
    const grown = Math.sqrt(1 / share);
    const choose = (faces, dots) => (faces ? this.faces : square || dots < 3.5 ? this.squares : this.discs);
    return {
      frame, grown, choose, deep: camera.deep, square, dot: ratio / look.mm_per_pixel,
      look: { fine_dots: 1.6 * ratio, ...look, ...camera },
    };
  }

  /** Draws points or faces `from` to `to` of a set. */
  draw({ frame, grown, choose, dot, look }, { name, set, faces }, from, to) {
    const gl = this.gl, reference = name === "reference";
    const splat = reference ? SPLAT * this.model.spacing_mm * grown * dot : look.fine_dots * Math.min(grown, 2);
    const dots = clamp(splat, reference ? 1.5 : 1, this.mostDots), own = choose(faces, dots);
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame.frame);
    gl.viewport(0, 0, frame.wide, frame.high);
    gl.enable(gl.DEPTH_TEST);
    gl.useProgram(own.own);
    this.set(own, { ...look, low: set.low, step_mm: set.step, dots, radius_mm: dots / 2 / dot, faces, reference });
    gl.bindVertexArray(this.sets[name]);
    for (const location of [1, 2]) gl.vertexAttrib4f(location, 0, 0, location === 1 ? 1 : 0, 0);
    if (faces) gl.drawElements(gl.TRIANGLES, 3 * (to - from), gl.UNSIGNED_INT, 12 * from);
    else gl.drawArrays(gl.POINTS, from, to - from);
    gl.bindVertexArray(null);
    this.last = frame.frame;
  }

  /** Lays colours, patterns and outlines over the rows `from` to `to` of a frame, or of the canvas where it is null. */
  finishRows({ frame, grown, deep, square, look }, to_frame, [w, h], from, to) {
    const gl = this.gl;
    gl.bindFramebuffer(gl.FRAMEBUFFER, to_frame);
    gl.viewport(0, 0, w, h);
    gl.enable(gl.SCISSOR_TEST);
    gl.scissor(0, from, w, to - from);
    gl.disable(gl.DEPTH_TEST);
    const { own, places } = this.finished;
    gl.useProgram(own);
    [["metals", frame.colours], ["depths", frame.depths], ["ramp", this.ramp]].forEach(([name, texture], unit) => {
      gl.activeTexture(gl.TEXTURE0 + unit);
      gl.bindTexture(gl.TEXTURE_2D, texture);
      gl.uniform1i(places[name], unit);
    });
    gl.activeTexture(gl.TEXTURE0);
    this.set(this.finished, {
      ...look, size: [w, h], finer: Math.round(frame.wide / w), deep, pixel: look.size[0] / w, neighbours: square ? 4 : 8,
      // Squares do not lie in the metal: they stand out of it by their width.
      rise: Math.max(8 * look.size[0] / w * look.mm_per_pixel, (square ? 5 : 1.5) * this.model.spacing_mm * grown),
    });
    gl.bindVertexArray(this.empty);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
    gl.disable(gl.SCISSOR_TEST);
    this.last = to_frame;
  }

  /** Spreads a finished frame over the canvas. */
  show({ frame, wide, high }) {
    const gl = this.gl, { canvas } = gl;
    gl.bindFramebuffer(gl.READ_FRAMEBUFFER, frame);
    gl.bindFramebuffer(gl.DRAW_FRAMEBUFFER, null);
    const same = wide === canvas.width && high === canvas.height;
    gl.blitFramebuffer(0, 0, wide, high, 0, 0, canvas.width, canvas.height, gl.COLOR_BUFFER_BIT, same ? gl.NEAREST : gl.LINEAR);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    this.last = null;
  }

  sized(times) {
    const { canvas } = this.gl;
    return [canvas.width, canvas.height].map((length) => Math.max(Math.round(length * times), 1));
  }

  /** Draws an even share of the points at once, `scale` pixels for one of the canvas; waits until it is drawn. */
  quick(look, camera, share, scale) {
    const [wide, high] = this.sized(scale), spread = scale < 1;
    this.moving = this.target(wide, high, this.moving);
    const sheet = this.sheet(this.moving, look, camera, { share, square: spread || share < 1 });
    for (const part of this.parts(look, share)) this.draw(sheet, part, 0, part.count);
    if (spread) this.coarse = this.target(wide, high, this.coarse);
    this.finishRows(sheet, spread ? this.coarse.frame : null, [wide, high], 0, high);
    if (spread) this.show(this.coarse);
    this.finish();
  }

  /** Draws the same piece by piece beside the canvas, `finer` times finer, and shows it when it is whole; after each piece it
      says of which kind that was. */
  * fill(look, camera, share, finer) {
    const [wide, high] = this.sized(1);
    this.resting = this.target(wide * finer, high * finer, this.resting);
    this.done = this.target(wide, high, this.done);
    const sheet = this.sheet(this.resting, look, camera, { share, square: false });
    for (const part of this.parts(look, share)) {
      for (let from = 0, to; from < part.count; from = to) {
        to = Math.min(from + this.piece.points, part.count);
        this.draw(sheet, part, from, to);
        yield "points";
      }
    }
    for (let from = 0, to; from < high; from = to) {
      to = Math.min(from + this.piece.rows, high);
      this.finishRows(sheet, this.done.frame, [wide, high], from, to);
      yield "rows";
    }
    this.show(this.done);
  }

  /** Works on a picture for about so long; whether it is shown now. Pieces become as large as the machine is quick. */
  work(pieces, most_ms) {
    const begun = performance.now();
    for (let before = begun; before - begun < most_ms - PIECE_MS;) {
      const { value: kind, done } = pieces.next();
      if (done) return true;
      this.finish();
      const now = performance.now(), took = now - before, [least, most] = PIECES[kind];
      if (took > 1.5 * PIECE_MS) this.piece[kind] = Math.max(this.piece[kind] >> 1, least);
      else if (took < PIECE_MS / 2) this.piece[kind] = Math.min(this.piece[kind] * 2, most);
      before = now;
    }
    return false;
  }

  /** Waits until everything is drawn. */
  finish() {
    const gl = this.gl;
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.last);
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
  }
}
