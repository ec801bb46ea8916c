/* The view that turns: draws the points of witnessmark's .glb file with WebGL2 and says what is found at a spot.
   Lengths are mm, angles rad; X rearward, Y right as seated, Z up. The view is parallel, so that its scale holds everywhere. */
globalThis.witnessmarkView = (() => {
  "use strict";

  const INCH = 25.4;
  /** Width of a point as it is drawn, in spacings: wide enough that sheet is closed. */
  const SPLAT = 2.4;
  const MINUS = "\u2212";
  const EMPTY_SENTENCE = "The view that turns needs WebGL2, which this browser does not offer. The pictures above show the same.";

  // ---- lengths in the shop's words ----------------------------------------------------------------------------------

  /** A length without its sign, in inches to the nearest 1/parts: 3/16, 1-1/4, 0. */
  function fraction(mm, parts) {
    const steps = Math.round(Math.abs(mm) / INCH * parts);
    const whole = Math.floor(steps / parts);
    let above = steps % parts, below = parts;
    while (above > 0 && above % 2 === 0) { above /= 2; below /= 2; }
    if (above === 0) return String(whole);
    return (whole ? whole + "-" : "") + above + "/" + below;
  }

  /** As `fraction`, in 64ths where a 32nd would say it too roughly. */
  function fine(mm) {
    const steps = Math.abs(mm) / INCH * 32;
    return fraction(mm, Math.abs(steps - Math.round(steps)) > 0.1 * steps ? 64 : 32);
  }

  function signOf(mm) { return mm < 0 ? MINUS : "+"; }

  function signed(mm) {
    const inches = fraction(mm, 32);
    const size = Math.abs(mm).toFixed(1), sign = size === "0.0" ? "" : signOf(mm);
    return (inches === "0" ? "nil" : sign + inches + " in") + ` (${sign}${size} mm)`;
  }

  function plusMinus(mm) {
    const inches = fraction(mm, 64);
    return (inches === "0" ? "± under 1/64 in" : `± ${inches} in`) + ` (${mm.toFixed(1)} mm)`;
  }

  function place(mm) { return (mm < 0 && fraction(mm, 32) !== "0" ? MINUS : "") + fraction(mm, 32); }

  // ---- small vectors ------------------------------------------------------------------------------------------------

  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const along = (a, k, b) => [a[0] + k * b[0], a[1] + k * b[1], a[2] + k * b[2]];
  const away = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
  const clamp = (x, low, high) => Math.min(Math.max(x, low), high);

  // ---- the file -----------------------------------------------------------------------------------------------------

  const ARRAYS = { 5120: Int8Array, 5121: Uint8Array, 5122: Int16Array, 5123: Uint16Array, 5125: Uint32Array };
  const SIZES = { SCALAR: 1, VEC2: 2, VEC3: 3, VEC4: 4 };

  function bytesOf(base64) {
    const text = atob(base64);
    const bytes = new Uint8Array(text.length);
    for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
    return bytes.buffer;
  }

  /** The sets of a file: their attributes as arrays, their place in the frame, and what the root says of them. */
  function readGlb(file) {
    const words = new DataView(file);
    if (words.getUint32(0, true) !== 0x46546c67) throw new Error("this is no glTF binary");
    const length = words.getUint32(12, true);
    const json = JSON.parse(new TextDecoder().decode(new Uint8Array(file, 20, length)));
    const numbers = file.slice(28 + length);

    const list = (index) => {
      const own = json.accessors[index], view = json.bufferViews[own.bufferView];
      const Kind = ARRAYS[own.componentType], size = SIZES[own.type];
      const stride = view.byteStride || size * Kind.BYTES_PER_ELEMENT;
      return {
        array: new Kind(numbers, view.byteOffset, view.byteLength / Kind.BYTES_PER_ELEMENT),
        step: stride / Kind.BYTES_PER_ELEMENT,
        offset: view.byteOffset, stride, size, component: own.componentType,
        normalised: Boolean(own.normalized), count: own.count, low: own.min, high: own.max,
      };
    };
    const sets = {};
    for (const node of json.nodes) {
      if (node.mesh === undefined) continue;
      const primitive = json.meshes[node.mesh].primitives[0], named = primitive.attributes;
      const set = { low: node.translation, step: node.scale[0], places: list(named.POSITION) };
      set.count = set.places.count;
      if (named.NORMAL !== undefined) {
        set.normals = list(named.NORMAL);
        set.figures = list(named._DEVIATION_AND_PM);
        set.states = list(named._STATE_AND_REGION);
      }
      if (primitive.indices !== undefined) set.faces = list(primitive.indices);
      sets[node.name] = set;
    }
    return { sets, numbers, extras: json.nodes[0].extras };
  }

  function placeOf(set, i) {
    const { array, step } = set.places;
    return [0, 1, 2].map((axis) => set.low[axis] + array[i * step + axis] * set.step);
  }

  function normalOf(set, i) {
    const { array, step } = set.normals;
    return [0, 1, 2].map((axis) => array[i * step + axis] / 127);
  }

  // ---- what the graphics processor does -----------------------------------------------------------------------------

  /* What is drawn first is no colour but what the metal is there: a step of the ramp, a kind, its light. Colours, patterns and
     outlines are laid over each pixel once, afterwards; that is what a processor without graphics has time for. */
  const PLACED = `#version 300 es
    precision highp float;
    layout(location = 0) in vec3 place;
    layout(location = 1) in vec3 normal;
    layout(location = 2) in vec2 figure;
    layout(location = 3) in vec2 state;
    uniform vec3 low, middle;
    uniform float step_mm, deep, larger, dots, limit, end;
    uniform vec2 scales, half_size, shift;
    uniform mat3 turn;
    uniform vec4 cut;
    uniform bool unseen_too, faces, reference;
    out vec3 v_place;
    out vec4 v_figure;     // deviation and ± times seen, seen, beyond
    out vec3 v_code;
    out vec2 v_slope;
    out float v_light;
    flat out uint v_index;
    vec3 code(float mm, float seen, float beyond);
    void main() {
      vec3 at = low + step_mm * place;
      float seen = state.x < 0.5 ? 1.0 : 0.0;
      v_place = at;
      v_figure = vec4(figure * scales * seen, seen, state.x > 0.5 && state.x < 1.5 ? 1.0 : 0.0);
      v_index = uint(gl_VertexID);
      vec3 n = turn * normal;
      vec3 facing = n.z < 0.0 ? -n : n;
      v_light = reference ? (0.72 + 0.28 * max(dot(facing, normalize(vec3(-0.45, 0.55, 0.7))), 0.0)) * (n.z < 0.0 ? 0.86 : 1.0) : 1.0;
      v_slope = n.xy / (max(facing.z, 0.35) * (n.z < 0.0 ? -1.0 : 1.0));
      v_code = code(v_figure.x, seen, v_figure.w);
      vec3 eye = turn * (at + normal * (larger * v_figure.x) - middle);
      gl_Position = vec4(eye.xy / half_size + shift, -eye.z / deep, 1.0);
      gl_PointSize = dots;
      // Points are left out here, which is quick; faces are cut pixel by pixel.
      bool out_of_it = dot(at, cut.xyz) > cut.w || (seen < 0.5 && !unseen_too);
      if (!faces && out_of_it) gl_Position = vec4(0.0, 0.0, 2.0, 1.0);
    }`;

  /* Step of the ramp and kind: 1 within, 2 on the ramp, 3 not measured, 4 beyond the edge, 5 plain, 6 measured. */
  const CODE = `
    uniform bool coloured;
    vec3 code(float mm, float seen, float beyond) {
      if (!reference) return vec3(0.0, 6.0, 0.0) / 255.0;
      if (!coloured) return vec3(0.0, 5.0, 0.0) / 255.0;
      if (seen < 0.5) return vec3(0.0, beyond > 0.5 * (1.0 - seen) ? 4.0 : 3.0, 0.0) / 255.0;
      mm /= seen;
      if (abs(mm) <= limit) return vec3(0.0, 1.0, 0.0) / 255.0;
      float far = floor(127.0 * clamp((abs(mm) - limit) / max(end - limit, 1e-6), 0.0, 1.0) + 0.5);
      return vec3(mm > 0.0 ? 128.0 + far : 127.0 - far, 2.0, 0.0) / 255.0;
    }`;

  const LEFT_OUT = `#version 300 es
    precision highp float;
    in vec3 v_place;
    in vec4 v_figure;
    in vec3 v_code;
    in vec2 v_slope;
    in float v_light;
    flat in uint v_index;
    uniform vec4 cut;
    uniform bool unseen_too, reference;
    uniform float limit, end;
    bool cut_off() { return dot(v_place, cut.xyz) > cut.w || (v_figure.z < 0.5 && !unseen_too); }
    // Each point is a small disc that lies in the metal; seen edge on it is narrow.
    bool beside() {
      vec2 d = vec2(2.0, -2.0) * (gl_PointCoord - 0.5);
      float rise = dot(v_slope, d);
      return dot(d, d) + rise * rise > 1.0;
    }`;

  const SQUARES = LEFT_OUT + `
    out vec4 metal;
    void main() { metal = vec4(v_code.xy, v_light, 1.0); }`;

  const DISCS = LEFT_OUT + `
    out vec4 metal;
    void main() {
      if (beside()) discard;
      metal = vec4(v_code.xy, v_light, 1.0);
    }`;

  const FACES = LEFT_OUT + CODE + `
    out vec4 metal;
    void main() {
      if (cut_off()) discard;
      metal = vec4(code(v_figure.x, v_figure.z, v_figure.w).xy, v_light, 1.0);
    }`;

  const NUMBERED = LEFT_OUT + `
    uniform bool faces;
    out uvec4 found;
    void main() {
      if (faces ? cut_off() : beside()) discard;
      float seen = max(v_figure.z, 1e-6);
      uint state = v_figure.z >= 0.5 ? 0u : v_figure.w > 0.5 * (1.0 - v_figure.z) ? 1u : 2u;
      found = uvec4((v_index + 1u) * 4u + state, floatBitsToUint(v_figure.x / seen), floatBitsToUint(v_figure.y / seen),
        floatBitsToUint(gl_FragCoord.z));
    }`;

  const WHOLE = `#version 300 es
    void main() { gl_Position = vec4(vec2(gl_VertexID % 2, gl_VertexID / 2) * 4.0 - 1.0, 0.0, 1.0); }`;

  /* Dots say proud and lines say shy, hatching says that there is no figure: so they are told apart without colour too.
     Darker where the metal beside it lies much higher or ends (the idea of eye-dome lighting, Boucheny 2009). */
  const FINISHED = `#version 300 es
    precision highp float;
    uniform sampler2D metals, ramp;
    uniform highp sampler2D depths;
    uniform vec2 size;
    uniform float finer, pixel, deep, rise, neighbours;
    uniform vec3 within, plain, unseen, not_measured, beyond_edge, ink, paper, measured;
    out vec4 colour;
    vec3 tone(int kind, int step, vec2 at) {
      if (kind == 1) return within;
      if (kind == 5) return plain;
      if (kind == 6) return measured;
      float slant = mod(at.x - at.y, 9.0), other = mod(at.x + at.y, 9.0);
      if (kind == 3) return slant < 2.0 ? not_measured : unseen;
      if (kind == 4) return slant < 1.5 || other < 1.5 ? beyond_edge : unseen;
      vec3 ground = texelFetch(ramp, ivec2(step, 0), 0).rgb;
      vec2 d = vec2(mod(at.x + 4.0 * mod(floor(at.y / 8.0), 2.0), 8.0), mod(at.y, 8.0)) - 4.0;
      bool marked = step >= 128 ? dot(d, d) <= 1.75 : mod(at.y, 7.0) < max(pixel, 1.0);
      if (!marked) return ground;
      bool dark = dot(ground, vec3(0.299, 0.587, 0.114)) < 0.41;
      return dark ? mix(ground, vec3(1.0), 0.6) : mix(ground, ink, 0.55);
    }
    float depth_at(ivec2 at) { return texelFetch(depths, clamp(at, ivec2(0), textureSize(depths, 0) - 1), 0).r; }
    float outline(ivec2 at, float here) {
      int far = max(int(1.5 * finer + 0.5), 1), near = max(int(finer + 0.5), 1);
      ivec2 around[8] = ivec2[8](ivec2(far, 0), ivec2(-far, 0), ivec2(0, far), ivec2(0, -far),
        ivec2(near, near), ivec2(-near, near), ivec2(near, -near), ivec2(-near, -near));
      float dark = 0.0;
      int count = int(neighbours);
      for (int k = 0; k < count; k++) {
        float there = depth_at(at + around[k]);
        dark += there >= 1.0 ? 0.8 : clamp(2.0 * deep * (here - there) / rise - 0.4, 0.0, 1.0);
      }
      return exp(-1.28 / neighbours * dark);
    }
    void main() {
      int many = finer > 1.5 ? 2 : 1;
      ivec2 first = ivec2(gl_FragCoord.xy / size * vec2(textureSize(metals, 0) / many)) * many;
      vec3 sum = vec3(0.0);
      for (int k = 0; k < many * many; k++) {
        ivec2 at = first + ivec2(k % many, k / many);
        vec4 metal = texelFetch(metals, at, 0);
        int kind = int(metal.g * 255.0 + 0.5);
        if (kind == 0) { sum += paper; continue; }
        sum += tone(kind, int(metal.r * 255.0 + 0.5), gl_FragCoord.xy * pixel) * metal.b * outline(at, depth_at(at));
      }
      colour = vec4(sum / float(many * many), 1.0);
    }`;

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
      this.numbered = program(gl, placed, NUMBERED);
      this.finished = program(gl, WHOLE, FINISHED);
      this.mostDots = gl.getParameter(gl.ALIASED_POINT_SIZE_RANGE)[1];
      const buffer = gl.createBuffer();
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      gl.bufferData(gl.ARRAY_BUFFER, model.numbers, gl.STATIC_DRAW);
      this.sets = {};
      for (const [name, set] of Object.entries(model.sets)) {
        // Every second, fourth or eighth point is an even choice too, since the points lie along a curve that fills the metal.
        const steps = set.faces ? [1] : [1, 2, 4, 8];
        this.sets[name] = new Map(steps.map((step) => [step, this.vertices(set, buffer, step)]));
      }
      this.empty = gl.createVertexArray();
      this.ramp = gl.createTexture();
      gl.bindTexture(gl.TEXTURE_2D, this.ramp);
      gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGB8, data.ramp.length, 1, 0, gl.RGB, gl.UNSIGNED_BYTE, new Uint8Array(data.ramp.flat()));
      this.plainly();
      this.picture = { wide: 0, high: 0 };
    }

    vertices(set, buffer, step) {
      const gl = this.gl, array = gl.createVertexArray();
      gl.bindVertexArray(array);
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      [set.places, set.normals, set.figures, set.states].forEach((list, location) => {
        if (!list) return;
        gl.enableVertexAttribArray(location);
        gl.vertexAttribPointer(location, list.size, list.component, list.normalised, list.stride * step, list.offset);
      });
      if (set.faces) {
        gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
        gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, set.faces.array, gl.STATIC_DRAW);
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

    /** A frame of its own, `wide` by `high`, that keeps numbers of the given format and depths. */
    target(wide, high, old, [inner, format, type]) {
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
      const colours = texture(inner, format, type);
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

    /** Draws the sets that are shown with what `choose` picks for each; `dot` is the width in pixels of one mm. */
    drawSets(choose, look, dot, step) {
      const gl = this.gl;
      gl.enable(gl.DEPTH_TEST);
      for (const [name, set] of Object.entries(this.model.sets)) {
        if (!look.shown[name]) continue;
        const reference = name === "reference", every = set.faces ? 1 : step;
        const splat = reference ? SPLAT * this.model.extras.spacing_mm * Math.sqrt(every) * dot : look.fine_dots;
        const dots = clamp(splat, reference ? 1.5 : 1, this.mostDots), own = choose(set, dots);
        gl.useProgram(own.own);
        this.set(own, { ...look, low: set.low, step_mm: set.step, dots, faces: Boolean(set.faces), reference });
        gl.bindVertexArray(this.sets[name].get(every));
        for (const location of [1, 2, 3]) gl.vertexAttrib4f(location, 0, 0, location === 1 ? 1 : 0, 0);
        if (set.faces) gl.drawElements(gl.TRIANGLES, set.faces.count, set.faces.component, 0);
        else gl.drawArrays(gl.POINTS, 0, Math.floor((set.count - 1) / every) + 1);
      }
      gl.bindVertexArray(null);
    }

    /** Draws the whole at a level: pixels drawn for one of the canvas, every how many points, whether they may be squares. */
    paint(look, camera, [finer, step, square]) {
      const gl = this.gl, canvas = gl.canvas, many = finer > 1.5 ? 2 : 1;
      const [w, h] = [canvas.width, canvas.height].map((length) => Math.max(Math.round(length * finer / many), 1));
      const wide = w * many, high = h * many;
      this.picture = this.target(wide, high, this.picture, [gl.RGBA8, gl.RGBA, gl.UNSIGNED_BYTE]);
      gl.bindFramebuffer(gl.FRAMEBUFFER, this.picture.frame);
      gl.viewport(0, 0, wide, high);
      gl.clearColor(0, 0, 0, 0);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      const ratio = wide / look.size[0];
      // A disc of so few pixels is a square.
      const choose = (set, dots) => (set.faces ? this.faces : square || dots < 3.5 ? this.squares : this.discs);
      this.drawSets(choose, { ...look, ...camera, shift: [0, 0], fine_dots: 1.6 * ratio }, ratio / look.mm_per_pixel, step);
      // A coarse picture is finished as it is and spread over the canvas afterwards.
      const spread = w !== canvas.width || h !== canvas.height;
      if (spread) this.coarse = this.target(w, h, this.coarse, [gl.RGBA8, gl.RGBA, gl.UNSIGNED_BYTE]);
      gl.bindFramebuffer(gl.FRAMEBUFFER, spread ? this.coarse.frame : null);
      gl.viewport(0, 0, w, h);
      gl.disable(gl.DEPTH_TEST);
      const { own, places } = this.finished;
      gl.useProgram(own);
      [["metals", this.picture.colours], ["depths", this.picture.depths], ["ramp", this.ramp]].forEach(([name, texture], unit) => {
        gl.activeTexture(gl.TEXTURE0 + unit);
        gl.bindTexture(gl.TEXTURE_2D, texture);
        gl.uniform1i(places[name], unit);
      });
      gl.activeTexture(gl.TEXTURE0);
      this.set(this.finished, {
        ...look, size: [w, h], finer: many, deep: camera.deep, pixel: look.size[0] / w, neighbours: square ? 4 : 8,
        rise: Math.max(8 * look.mm_per_pixel, 1.5 * this.model.extras.spacing_mm),
      });
      gl.bindVertexArray(this.empty);
      gl.drawArrays(gl.TRIANGLES, 0, 3);
      if (!spread) return;
      gl.bindFramebuffer(gl.READ_FRAMEBUFFER, this.coarse.frame);
      gl.bindFramebuffer(gl.DRAW_FRAMEBUFFER, null);
      gl.blitFramebuffer(0, 0, w, h, 0, 0, canvas.width, canvas.height, gl.COLOR_BUFFER_BIT, gl.LINEAR);
    }

    /** Waits until everything is drawn. */
    finish() {
      const gl = this.gl;
      gl.bindFramebuffer(gl.FRAMEBUFFER, null);
      gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
    }

    /** What lies under a pixel of the page, or within `slack` pixels of it; null where nothing does. */
    pick(look, camera, x, y, slack) {
      const gl = this.gl;
      const dot = 1 / look.mm_per_pixel;
      const half = Math.min(Math.ceil(SPLAT * this.model.extras.spacing_mm * dot / 2) + slack, 127), wide = 2 * half + 1;
      this.numbers = this.target(wide, wide, this.numbers, [gl.RGBA32UI, gl.RGBA_INTEGER, gl.UNSIGNED_INT]);
      gl.bindFramebuffer(gl.FRAMEBUFFER, this.numbers.frame);
      gl.viewport(0, 0, wide, wide);
      gl.clearBufferuiv(gl.COLOR, 0, new Uint32Array(4));
      gl.clear(gl.DEPTH_BUFFER_BIT);
      // Only the window around the pixel is drawn, spread over the whole frame.
      const [w, h] = look.size;
      const window = {
        ...look, ...camera, fine_dots: 3,
        half_size: [camera.half_size[0] * wide / w, camera.half_size[1] * wide / h],
        shift: [-(2 * x - w) / wide, -(h - 2 * y) / wide],
      };
      const found = new Uint32Array(4 * wide * wide), floats = new Float32Array(found.buffer);
      const nearest = () => {
        gl.readPixels(0, 0, wide, wide, gl.RGBA_INTEGER, gl.UNSIGNED_INT, found);
        let best = -1, least = slack * slack + 1;
        for (let i = 0; i < wide * wide; i++) {
          const far = (i % wide - half) ** 2 + (Math.floor(i / wide) - half) ** 2;
          if (found[4 * i] && far < least) { best = i; least = far; }
        }
        return best;
      };
      // The reference first: it has the figures. The measured points answer where it is not shown.
      for (const name of ["reference", "measured"]) {
        if (!look.shown[name]) continue;
        this.drawSets(() => this.numbered, { ...window, shown: { [name]: true } }, dot, 1);
        const i = nearest();
        if (i < 0) continue;
        const right = x + (i % wide - half) - w / 2, up = h / 2 - y + (Math.floor(i / wide) - half);
        return {
          name, index: Math.floor(found[4 * i] / 4) - 1, state: found[4 * i] % 4, deviation: floats[4 * i + 1],
          pm: floats[4 * i + 2], eye: [right * look.mm_per_pixel, up * look.mm_per_pixel, (1 - 2 * floats[4 * i + 3]) * camera.deep],
        };
      }
      return null;
    }
  }

  // ---- from where it is looked at -----------------------------------------------------------------------------------

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

  function boundsOf(sets) {
    const bounds = { low: [Infinity, Infinity, Infinity], high: [-Infinity, -Infinity, -Infinity] };
    for (const set of Object.values(sets)) {
      for (let axis = 0; axis < 3; axis++) {
        const at = (steps) => set.low[axis] + steps * set.step;
        bounds.low[axis] = Math.min(bounds.low[axis], at(set.places.low[axis]));
        bounds.high[axis] = Math.max(bounds.high[axis], at(set.places.high[axis]));
      }
    }
    return bounds;
  }

  // ---- the page around it -------------------------------------------------------------------------------------------

  function make(tag, attributes, ...children) {
    const own = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes || {})) {
      if (name.startsWith("on")) own.addEventListener(name.slice(2), value);
      else if (value === true) own.setAttribute(name, "");
      else if (value !== false && value !== undefined) own.setAttribute(name, value);
    }
    own.append(...children);
    return own;
  }

  const KINDS = {
    hole: "Holes", place: "Named places", pad: "Pads", edge: "Edges", spot: "Spots", bead: "Beads", recess: "Recesses",
  };
  const SECTIONS = ["none", "front to rear (X)", "left to right (Y)", "up and down (Z)"];
  /** While it moves: pixels drawn for one of the canvas, every how many points, and whether they may be squares. */
  const LEVELS = [[1, 1, false], [1, 1, true], [0.75, 2, true], [0.5, 4, true], [0.4, 8, true]];
  const REST_MS = 180;
  let views = 0;

  class View {
    constructor(element, file, data) {
      this.data = data;
      this.model = readGlb(file);
      const { extras, sets } = this.model;
      this.camera = new Camera(boundsOf(sets));
      this.number = ++views;
      this.state = {
        shown: { reference: true, measured: !sets.reference }, coloured: true, unseen_too: true,
        limit: data.limit_mm, end: data.end_mm, larger: 0, axis: 0, offset: 0, other: false,
      };
      this.slack = 50 * extras.deviation_scale_mm;
      this.level = 0;
      this.frames = 0;
      this.fingers = new Map();
      this.build(element);
      this.begin();
      this.listen();
      this.resize();
      this.camera.fit(this.camera.bounds, this.size);
      this.relimit();
      this.draw(performance.now());
    }

    /** Takes hold of the graphics processor, at the start and after the browser has taken it away. */
    begin() {
      const gl = this.canvas.getContext("webgl2", { antialias: false, alpha: false, depth: false, powerPreference: "high-performance" });
      if (!gl) throw new Error(EMPTY_SENTENCE);
      this.painter = new Painter(gl, this.model, this.data);
    }

    build(element) {
      const id = (word) => `wm-${word}-${this.number}`;
      this.canvas = make("canvas", {
        class: "wm-canvas", tabindex: 0, role: "img", "aria-describedby": id("help"),
        "aria-label": "The metal in its colours: pale within the limit, orange with dots proud, purple with lines shy, hatched not measured.",
      });
      this.over = make("canvas", { class: "wm-over", "aria-hidden": "true" });
      this.stamp = make("div", { class: "wm-stamp", hidden: true });
      this.stage = make("div", { class: "wm-stage" }, this.canvas, this.over, this.stamp);
      this.said = make("div", { class: "wm-figure", role: "status", "aria-live": "polite" });
      this.say(null, ["Click or touch a spot of the metal, or press Enter for the one at the cross, and its figure is said here."]);
      this.bar = make("canvas", { class: "wm-bar", "aria-hidden": "true" });
      this.ends = [make("span", {}), make("span", {}), make("span", {})];
      const legend = make("div", { class: "wm-legend" }, this.bar, make("div", { class: "wm-ends" }, ...this.ends),
        make("div", { class: "wm-keys" },
          make("span", { class: "wm-key wm-not-measured" }, "not measured"),
          make("span", { class: "wm-key wm-beyond" }, "beyond the edge of the measured set"),
          make("span", { class: "wm-key wm-measured" }, "measured points")));
      const help = make("p", { class: "wm-help", id: id("help") },
        "Drag or arrow keys turn it. Right drag, shift and drag, shift and arrows, or two fingers move it. Wheel, pinch, + and " +
        "\u2212 bring it nearer. 1 front, 2 rear, 3 left, 4 right, 5 plan, 6 below, 0 all. Enter says the figure at the middle.");
      const panel = make("div", { class: "wm-panel" }, this.said, this.stands(), ...this.lists(), this.switches(),
        this.limits(), this.movement(), this.section(), help);
      this.root = make("div", { class: "wm-view" }, make("div", { class: "wm-picture" }, this.stage, legend), panel);
      element.replaceChildren(this.root);
    }

    group(title, ...children) {
      return make("fieldset", { class: "wm-group" }, make("legend", {}, title), ...children);
    }

    button(words, act, label) {
      return make("button", { type: "button", class: "wm-button", "aria-label": label, onclick: act }, words);
    }

    stands() {
      return this.group("Look from", ...SIX.map((name) => this.button(name, () => this.stand(name))),
        this.button("All", () => this.all()), this.button("+", () => this.nearer(1 / 1.3), "nearer"),
        this.button(MINUS, () => this.nearer(1.3), "farther"));
    }

    check(words, on, act) {
      const box = make("input", { type: "checkbox", onchange: () => { act(box.checked); this.request(); } });
      box.checked = on;
      return make("label", { class: "wm-check" }, box, words);
    }

    switches() {
      const { state } = this, { sets } = this.model;
      const rows = [];
      if (sets.reference) {
        rows.push(this.check("Reference", true, (on) => { state.shown.reference = on; }));
      }
      if (sets.measured) rows.push(this.check("Measured", state.shown.measured, (on) => { state.shown.measured = on; }));
      if (sets.reference) {
        rows.push(this.check("Deviation", true, (on) => { state.coloured = on; }),
          this.check("Not measured", true, (on) => { state.unseen_too = on; }));
      }
      return this.group("Shown", ...rows);
    }

    /** A range with its words beside it; returns the row, and what moves it from outside. */
    range(words, [low, high, step, value], say, act) {
      const out = make("output", {});
      const input = make("input", { type: "range", min: low, max: high, step });
      const tell = () => {
        out.textContent = say(Number(input.value));
        input.setAttribute("aria-valuetext", out.textContent);
      };
      input.addEventListener("input", () => { act(Number(input.value)); tell(); this.request(); });
      input.value = value;
      tell();
      const move = (next) => { input.value = next; tell(); };
      return { row: make("label", { class: "wm-range" }, make("span", {}, words), out, input), move, input, tell };
    }

    limits() {
      const { state, data } = this, parts = INCH / 64;
      const widest = Math.max(32, Math.ceil(4 * data.limit_mm / parts));
      const say = (mm) => `${fine(mm)} in (${mm.toFixed(1)} mm)`;
      // A limit in millimetres stays as it was compared until the slider is moved.
      const limit = this.range("Limit ±", [1, widest, 1, Math.round(state.limit / parts)], () => say(state.limit), (steps) => {
        state.limit = steps * parts;
        state.end = Math.max(state.end, state.limit + parts);
        this.relimit();
      });
      const end = this.range("Darkest from", [2, Math.max(64, 2 * widest), 1, Math.round(state.end / parts)], () => say(state.end), (steps) => {
        state.end = steps * parts;
        state.limit = Math.min(state.limit, state.end - parts);
        this.relimit();
      });
      this.afterLimit = () => {
        limit.move(Math.round(state.limit / parts));
        end.move(Math.round(state.end / parts));
      };
      const back = this.button("As compared", () => {
        Object.assign(state, { limit: data.limit_mm, end: data.end_mm });
        this.relimit();
        this.request();
      });
      return this.group("Limit", limit.row, end.row, back);
    }

    movement() {
      const say = (k) => (k === 0 ? "not drawn" : k === 1 ? "as it is" : `${k} × larger`);
      const larger = this.range("Drawn", [0, 50, 1, 0], say, (k) => {
        this.state.larger = k;
        this.stamp.hidden = k <= 1;
        this.stamp.textContent = `movement drawn ${k} × larger`;
      });
      return this.group("Movement to the measured metal", larger.row);
    }

    section() {
      const { state } = this, { low, high } = this.camera.bounds, parts = INCH / 16;
      const say = (steps) => (state.axis ? `${"XYZ"[state.axis - 1]} ${place(steps * parts)} in` : "");
      const slider = this.range("Plane at", [0, 1, 1, 0], say, (steps) => { state.offset = steps * parts; });
      slider.input.disabled = true;
      const choice = make("select", { onchange: () => {
        state.axis = Number(choice.value);
        slider.input.disabled = state.axis === 0;
        if (state.axis) {
          slider.input.min = Math.floor(low[state.axis - 1] / parts);
          slider.input.max = Math.ceil(high[state.axis - 1] / parts);
          slider.move(Math.round((low[state.axis - 1] + high[state.axis - 1]) / 2 / parts));
          state.offset = Number(slider.input.value) * parts;
        } else slider.tell();
        this.request();
      } }, ...SECTIONS.map((words, value) => make("option", { value }, words)));
      return this.group("Section", make("label", { class: "wm-range" }, make("span", {}, "Cut"), choice), slider.row,
        this.check("Keep the other side", false, (on) => { state.other = on; }));
    }

    lists() {
      const row = (id, name, beside, words) => make("li", {}, make("button", { type: "button", class: "wm-go", onclick: () => this.fly(id) },
        make("b", {}, name), beside ? make("span", { class: "wm-verdict" }, beside) : "", words ? make("small", {}, words) : ""));
      const list = (title, rows, open) => make("details", { class: "wm-list", open }, make("summary", {}, `${title} (${rows.length})`), make("ul", {}, ...rows));
      const found = [];
      const { regions, marks } = this.data;
      // On a narrow screen a long list would push everything else away.
      const room = !matchMedia("(max-width: 52rem)").matches;
      // What is in comes last: he looks for what is not.
      const inLast = [...regions].sort((a, b) => Number(a.verdict === "in") - Number(b.verdict === "in"));
      if (regions.length) found.push(list("Regions", inLast.map((r) => row(r.id, r.name, r.verdict, r.words)), room));
      for (const [kind, title] of Object.entries(KINDS)) {
        const own = marks.filter((mark) => mark.kind === kind);
        if (own.length) found.push(list(title, own.map((m) => row(m.id, m.name, "", m.words)), false));
      }
      return found;
    }

    // -- hands ----------------------------------------------------------------------------------------------------------

    listen() {
      const { canvas } = this;
      const spot = (event) => {
        const box = canvas.getBoundingClientRect();
        return [event.clientX - box.left, event.clientY - box.top];
      };
      canvas.addEventListener("contextmenu", (event) => event.preventDefault());
      canvas.addEventListener("pointerdown", (event) => {
        canvas.setPointerCapture(event.pointerId);
        this.settle();
        this.fingers.set(event.pointerId, spot(event));
        this.still = this.fingers.size === 1 && event.button === 0 && !event.shiftKey ? spot(event) : null;
        this.slides = event.button > 0 || event.shiftKey;
      });
      canvas.addEventListener("pointermove", (event) => {
        if (this.fingers.has(event.pointerId)) this.dragged(event.pointerId, spot(event));
      });
      const up = (event) => {
        this.fingers.delete(event.pointerId);
        if (event.type === "pointerup" && this.still) this.ask(...this.still, event.pointerType === "touch" ? 14 : 5);
        this.still = null;
      };
      canvas.addEventListener("pointerup", up);
      canvas.addEventListener("pointercancel", up);
      canvas.addEventListener("wheel", (event) => {
        event.preventDefault();
        const lines = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? 400 : 1;
        const [x, y] = spot(event);
        this.nearer(Math.exp(clamp(event.deltaY * lines, -300, 300) * 0.0015), x - this.size[0] / 2, y - this.size[1] / 2);
      }, { passive: false });
      canvas.addEventListener("keydown", (event) => { if (this.key(event)) event.preventDefault(); });
      for (const kind of ["focus", "blur"]) canvas.addEventListener(kind, () => this.request());
      canvas.addEventListener("webglcontextlost", (event) => { event.preventDefault(); this.painter = null; });
      canvas.addEventListener("webglcontextrestored", () => { this.begin(); this.request(); });
      new ResizeObserver(() => { this.resize(); this.relimit(); this.request(); }).observe(this.stage);
      matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { this.resize(); this.request(); });
    }

    dragged(id, [x, y]) {
      const before = this.fingers.get(id);
      const [dx, dy] = [x - before[0], y - before[1]];
      // A finger that trembles does not turn the metal.
      if (this.still && Math.hypot(x - this.still[0], y - this.still[1]) < 5) return;
      this.still = null;
      if (this.fingers.size === 2) {
        const other = [...this.fingers].find(([key]) => key !== id)[1];
        const apart = (a) => Math.max(Math.hypot(a[0] - other[0], a[1] - other[1]), 10);
        this.camera.pan(dx / 2, dy / 2);
        this.camera.zoom(apart(before) / apart([x, y]), (x + other[0]) / 2 - this.size[0] / 2, (y + other[1]) / 2 - this.size[1] / 2);
      } else if (this.slides) this.camera.pan(dx, dy);
      else this.camera.turn(-dx * 0.4 * DEGREE, dy * 0.4 * DEGREE);
      this.fingers.set(id, [x, y]);
      this.request();
    }

    /** Whether a key is ours. */
    key(event) {
      if (event.ctrlKey || event.metaKey || event.altKey) return false;
      const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
      this.settle();
      if (arrows[event.key]) {
        const [x, y] = arrows[event.key];
        if (event.shiftKey) this.camera.pan(40 * x, 40 * y);
        else this.camera.turn(-5 * x * DEGREE, 5 * y * DEGREE);
        this.request();
      } else if (event.key === "+" || event.key === "=") this.nearer(1 / 1.2);
      else if (event.key === "-" || event.key === MINUS) this.nearer(1.2);
      else if (event.key === "0") this.all();
      else if (event.key >= "1" && event.key <= "6") this.stand(SIX[Number(event.key) - 1]);
      else if (event.key === "Enter") this.ask(this.size[0] / 2, this.size[1] / 2, 5);
      else return false;
      return true;
    }

    nearer(times, x = 0, y = 0) {
      this.settle();
      this.camera.zoom(times, x, y);
      this.request();
    }

    stand(name) {
      const [round, height] = STANDS[name];
      this.glideTo((to) => {
        Object.assign(to, { round: round * DEGREE, height: height * DEGREE });
        to.fit(to.bounds, this.size);
      });
    }

    all() { this.glideTo((to) => to.fit(to.bounds, this.size)); }

    // -- flying ---------------------------------------------------------------------------------------------------------

    glideTo(change) {
      this.settle();
      const to = Object.assign(Object.create(Camera.prototype), this.camera);
      change(to);
      const from = { ...this.camera };
      // The shorter way round.
      from.round = to.round - (((to.round - from.round) / Math.PI + 1) % 2 + 2) % 2 * Math.PI + Math.PI;
      this.glide = { from, to, start: performance.now() };
      if (this.level > 1 || matchMedia("(prefers-reduced-motion: reduce)").matches) this.settle();
      this.request();
    }

    /** Ends a glide where it leads. */
    settle() {
      if (this.glide) Object.assign(this.camera, this.glide.to);
      this.glide = null;
    }

    glideOn(now) {
      const { from, to, start } = this.glide, share = clamp((now - start) / 300, 0, 1), s = share * share * (3 - 2 * share);
      const mix = (a, b) => a + (b - a) * s;
      Object.assign(this.camera, {
        round: mix(from.round, to.round), height: mix(from.height, to.height), at: from.at.map((c, axis) => mix(c, to.at[axis])),
        mm_per_pixel: from.mm_per_pixel * (to.mm_per_pixel / from.mm_per_pixel) ** s,
      });
      if (share >= 1) this.settle();
      this.request();
    }

    /** Where the points of each region lie and which way their outside looks; worked out when first asked for. */
    regions() {
      if (this.known) return this.known;
      const set = this.model.sets.reference;
      this.known = this.data.regions.map(() => ({ low: [1e9, 1e9, 1e9], high: [-1e9, -1e9, -1e9], normal: [0, 0, 0], count: 0 }));
      for (let i = 0; set && i < set.count; i++) {
        const own = this.known[set.states.array[i * set.states.step + 1] - 1];
        if (!own) continue;
        const at = placeOf(set, i);
        own.low = own.low.map((c, axis) => Math.min(c, at[axis]));
        own.high = own.high.map((c, axis) => Math.max(c, at[axis]));
        own.normal = along(own.normal, 1, normalOf(set, i));
        own.count++;
      }
      return this.known;
    }

    normalNear(place_mm) {
      const set = this.model.sets.reference;
      let sum = [0, 0, 0], count = 0;
      for (let i = 0; set && i < set.count; i++) {
        if (Math.hypot(...away(placeOf(set, i), place_mm)) > 40) continue;
        sum = along(sum, 1, normalOf(set, i));
        count++;
      }
      return sum.map((c) => c / Math.max(count, 1));
    }

    /** Flies to a region or a mark by its id; false where there is none. */
    fly(id) {
      const index = this.data.regions.findIndex((r) => r.id === id || r.id === id.replace(/^folds\//, "regions/"));
      const mark = this.data.marks.find((m) => m.id === id);
      if (mark) {
        const normal = this.normalNear(mark.at), reach = Math.max(100, this.camera.radius / 12);
        this.glideTo((to) => {
          to.face(normal, 84);
          to.fit({ low: mark.at.map((c) => c - reach), high: mark.at.map((c) => c + reach) }, this.size);
        });
        this.point = { at: mark.at, words: mark.name };
        this.say(mark.name, [mark.words, this.placeWords(mark.at)]);
      } else if (index >= 0) {
        const region = this.data.regions[index], own = this.regions()[index];
        const bounds = own.count ? own : region.low ? region : this.camera.bounds;
        this.glideTo((to) => {
          if (own.count) to.face(own.normal.map((c) => c / own.count), 66);
          to.fit(bounds, this.size);
        });
        this.point = null;
        this.say(region.name, [region.verdict, region.words]);
      } else return false;
      return true;
    }

    // -- figures --------------------------------------------------------------------------------------------------------

    placeWords(at) { return `X ${place(at[0])}, Y ${place(at[1])}, Z ${place(at[2])} in`; }

    /** The figure at a pixel of the canvas, or null where there is no metal. */
    figureAt(x, y, slack = 5) {
      this.settle();
      if (!this.painter) return null;
      const found = this.painter.pick(this.look(), this.cameraNow(), x, y, slack);
      if (!found) return null;
      const set = this.model.sets[found.name], i = found.index;
      let at = placeOf(set, i);
      const figure = { set: found.name, index: i, deviation_mm: null, pm_mm: null, state: null, region: null };
      if (found.name === "reference") {
        const list = set.figures, { extras } = this.model;
        const [off, pm] = set.faces
          ? [found.deviation, found.pm]
          : [list.array[i * list.step] / 32767 * extras.deviation_scale_mm, list.array[i * list.step + 1] / 32767 * extras.pm_scale_mm];
        if (set.faces) {
          // Between the corners of a face the spot itself counts, brought back by how far it was drawn beside its place.
          const axes = this.camera.axes();
          at = found.eye.reduce((sum, c, k) => along(sum, c, axes[k]), this.camera.at);
          at = along(at, -this.state.larger * (found.state === 0 ? off : 0), normalOf(set, i));
        }
        figure.state = ["distance", "beyond the edge", "not measured"][found.state];
        if (found.state === 0) Object.assign(figure, { deviation_mm: off, pm_mm: pm < 0 ? null : pm });
        const region = this.data.regions[set.states.array[i * set.states.step + 1] - 1];
        figure.region = region ? region.name : null;
      }
      figure.at_mm = at;
      figure.words = this.figureWords(figure);
      return figure;
    }

    figureWords(figure) {
      const words = [];
      if (figure.state === null) words.push("a measured point");
      else if (figure.state === "beyond the edge") words.push("beyond the edge of the measured set: no figure");
      else if (figure.state === "not measured") words.push("not measured here: no figure");
      else {
        const { deviation_mm: off, pm_mm: pm } = figure;
        words.push(signed(off) + (pm === null ? ", ± not known" : ", " + plusMinus(pm)), this.judged(off, pm));
      }
      words.push(this.placeWords(figure.at_mm));
      return words;
    }

    judged(off, pm) {
      const side = off < 0 ? "shy" : "proud", size = Math.abs(off), { limit } = this.state;
      if (size + (pm || 0) <= limit) return pm !== null && size <= pm ? "within the limit: nil, its own ± hides it" : `within the limit, ${side}`;
      return size - (pm || 0) > limit ? `beyond the limit, ${side}` : `too close to call, ${side}`;
    }

    ask(x, y, slack) {
      const figure = this.figureAt(x, y, slack);
      if (!figure) {
        this.point = null;
        this.say(null, ["No metal there."]);
      } else {
        this.point = { at: this.drawnAt(figure), words: figure.words[0] };
        this.asked = figure;
        this.say(figure.region || (figure.set === "reference" ? "in no region" : "measured"), figure.words);
      }
      this.request();
    }

    /** Where a place is drawn while the movement is drawn larger. */
    drawnAt(figure) {
      if (figure.deviation_mm === null) return figure.at_mm;
      return along(figure.at_mm, this.state.larger * figure.deviation_mm, normalOf(this.model.sets.reference, figure.index));
    }

    say(title, lines) {
      this.said.replaceChildren(...(title ? [make("b", {}, title)] : []), ...lines.filter(Boolean).map((line) => make("div", {}, line)));
    }

    // -- drawing --------------------------------------------------------------------------------------------------------

    resize() {
      this.ratio = clamp(window.devicePixelRatio || 1, 1, 2);
      this.size = [Math.max(this.stage.clientWidth, 50), Math.max(this.stage.clientHeight, 50)];
      for (const canvas of [this.canvas, this.over]) {
        const [wide, high] = this.size.map((length) => Math.round(length * this.ratio));
        if (canvas.width !== wide || canvas.height !== high) Object.assign(canvas, { width: wide, height: high });
      }
      const style = getComputedStyle(this.stage);
      const rgb = (text) => text.match(/[\d.]+/g).slice(0, 3).map((c) => Number(c) / 255);
      this.paper = rgb(style.backgroundColor);
      this.ink = style.color;
      this.measured = rgb(style.color).map((c, k) => 0.62 * c + 0.38 * this.paper[k]);
    }

    look() {
      const { state, data, model } = this;
      const share = (colour) => colour.map((c) => c / 255);
      const sign = state.other ? -1 : 1;
      const cut = [0, 0, 0, 1];
      if (state.axis) {
        cut[state.axis - 1] = sign;
        cut[3] = sign * state.offset;
      }
      return {
        shown: state.shown, coloured: state.coloured, unseen_too: state.unseen_too, limit: state.limit, end: state.end,
        larger: state.larger, cut, size: this.size, mm_per_pixel: this.camera.mm_per_pixel, paper: this.paper, measured: this.measured,
        scales: [model.extras.deviation_scale_mm, model.extras.pm_scale_mm], within: share(data.within), plain: share(data.plain),
        unseen: share(data.unseen), not_measured: share(data.not_measured), beyond_edge: share(data.beyond_edge), ink: share(data.ink),
      };
    }

    cameraNow() { return this.camera.uniforms(this.size, this.slack); }

    /** Asks for a frame, quickly drawn; when nothing more is asked for a fine one follows. */
    request() {
      if (this.waiting) return;
      this.waiting = requestAnimationFrame((now) => {
        this.waiting = 0;
        this.draw(now);
      });
    }

    draw(now) {
      clearTimeout(this.rest);
      if (!this.painter) return;
      if (this.glide) this.glideOn(now);
      this.paint(LEVELS[this.level]);
      this.rest = setTimeout(() => {
        if (this.painter) this.paint([this.ratio < 1.5 && this.level < 2 ? 2 : 1, 1, false]);
      }, REST_MS);
    }

    paint(level) {
      const begun = performance.now();
      this.painter.paint(this.look(), this.cameraNow(), level);
      this.annotate();
      // Now and then it is awaited, to see whether frames must be drawn more roughly while it moves.
      if (level === LEVELS[this.level] && this.frames++ % 4 === 0) {
        this.painter.finish();
        const took = performance.now() - begun;
        if (took > 60 && this.level < LEVELS.length - 1) this.level++;
        else if (took < 15 && this.level > 0) this.level--;
      }
    }

    annotate() {
      const page = this.over.getContext("2d"), [wide, high] = this.size;
      page.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
      page.clearRect(0, 0, wide, high);
      page.font = "13px system-ui, sans-serif";
      page.lineCap = "round";
      const paper = `rgb(${this.paper.map((c) => Math.round(255 * c)).join()})`;
      const halo = (draw) => {
        for (const [colour, more] of [[paper, 3], [this.ink, 0]]) {
          page.strokeStyle = page.fillStyle = colour;
          draw(more);
        }
      };
      const write = (words, x, y) => halo((more) => {
        page.lineWidth = more;
        if (more) page.strokeText(words, x, y);
        else page.fillText(words, x, y);
      });
      const line = (more, width, ...places) => {
        page.lineWidth = width + more;
        page.beginPath();
        places.forEach(([x, y], k) => (k ? page.lineTo(x, y) : page.moveTo(x, y)));
        page.stroke();
      };
      this.cross(halo, line, write, [86, high - 66]);
      this.scale(halo, line, write, [wide - 24, high - 22]);
      if (this.canvas.matches(":focus-visible")) {
        const [x, y] = [wide / 2, high / 2];
        halo((more) => { line(more, 1.5, [x - 9, y], [x + 9, y]); line(more, 1.5, [x, y - 9], [x, y + 9]); });
      }
      if (this.point && !this.cutAway(this.point.at)) {
        const [dx, dy] = this.camera.onPaper(this.point.at), [x, y] = [wide / 2 + dx, high / 2 + dy];
        halo((more) => {
          page.lineWidth = 2 + more;
          page.beginPath();
          page.arc(x, y, 9, 0, 2 * Math.PI);
          page.stroke();
        });
        // A plate of its own: over dots and lines words are hard to read.
        const length = page.measureText(this.point.words).width, room = length + 22;
        const left = x + room > wide ? Math.max(x - room, 7) : x + 16, base = clamp(y - 19, 17, high - 8);
        page.lineWidth = 1;
        page.fillStyle = paper;
        page.strokeStyle = this.ink;
        page.fillRect(left - 6, base - 15, length + 12, 21);
        page.strokeRect(left - 5.5, base - 14.5, length + 11, 20);
        page.fillStyle = this.ink;
        page.fillText(this.point.words, left, base);
      }
    }

    /** Whether the section leaves a place out. */
    cutAway(at) {
      const { axis, offset, other } = this.state;
      return axis > 0 && (at[axis - 1] - offset) * (other ? -1 : 1) > 0;
    }

    /** Which way is what. */
    cross(halo, line, write, [x, y]) {
      const axes = this.camera.axes();
      const arms = [["front", 0, -1], ["right", 1, 1], ["up", 2, 1]].map(([words, axis, sign]) => {
        const [u, v] = [sign * axes[0][axis], -sign * axes[1][axis]];
        return { words, u, v, length: Math.hypot(u, v) };
      });
      const covered = (arm) => arms.some((other) => other.length > arm.length && Math.hypot(other.u - arm.u, other.v - arm.v) < 0.6);
      for (const arm of arms) {
        // One that points at the looker, or along a longer one, says nothing.
        if (arm.length < 0.15 || covered(arm)) continue;
        const [u, v] = [arm.u / arm.length, arm.v / arm.length], tip = [x + 40 * arm.u, y + 40 * arm.v];
        const barb = (side) => [tip[0] - 7 * u + side * 4 * v, tip[1] - 7 * v - side * 4 * u];
        halo((more) => { line(more, 2, [x, y], tip); line(more, 2, barb(1), tip, barb(-1)); });
        write(arm.words, tip[0] + 9 * u - (u < -0.3 ? 28 : u > 0.3 ? 0 : 10), tip[1] + 12 * v + 4);
      }
    }

    scale(halo, line, write, [x, y]) {
      const inch = INCH / this.camera.mm_per_pixel;
      const lengths = [1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1, 2, 4, 6, 12, 24, 36, 72];
      const length = lengths.filter((l) => l * inch <= 150).pop() || lengths[0];
      const left = x - length * inch;
      halo((more) => { line(more, 2, [left, y - 6], [left, y + 6], [left, y], [x, y], [x, y - 6], [x, y + 6]); });
      write(`${fraction(length * INCH, 32)} in (${(length * INCH).toFixed(length < 1 ? 1 : 0)} mm)`, x - Math.max(length * inch, 96), y - 12);
    }

    /** The legend and the sliders after a limit was changed; the spot that was asked about is judged anew. */
    relimit() {
      this.afterLimit();
      const { limit, end } = this.state, { data, bar } = this;
      const wide = Math.round(Math.max(bar.clientWidth, 100) * this.ratio), high = Math.round(20 * this.ratio);
      Object.assign(bar, { width: wide, height: high });
      const page = bar.getContext("2d");
      const edge = (1 + limit / end) / 2 * wide, r = this.ratio;
      const ground = (x) => {
        const mm = ((x + 0.5) / wide * 2 - 1) * end, size = Math.abs(mm);
        const step = Math.round(127 * clamp((size - limit) / Math.max(end - limit, 1e-6), 0, 1));
        return size <= limit ? data.within : data.ramp[mm > 0 ? 128 + step : 127 - step];
      };
      // The same dots and lines as over the metal: pale where it is dark.
      const marked = ([red, green, blue]) => (0.299 * red + 0.587 * green + 0.114 * blue < 105 ? "rgba(255, 255, 255, 0.6)" : "rgba(28, 28, 30, 0.55)");
      for (let x = 0; x < wide; x++) {
        page.fillStyle = `rgb(${ground(x).join()})`;
        page.fillRect(x, 0, 1, high);
        page.fillStyle = marked(ground(x));
        for (let y = 3 * r; x < wide - edge && y < high; y += 7 * r) page.fillRect(x, y, 1, r);
      }
      for (let x = edge + 4 * r, k = 0; x < wide - 3 * r; x += 4 * r, k++) {
        page.fillStyle = marked(ground(x));
        for (let y = (k % 2 ? 3 : 7) * r; y < high; y += 8 * r) page.fillRect(x, y, 2 * r, 2 * r);
      }
      this.ends[0].textContent = `${MINUS} shy, ${MINUS}${fine(end)} in (${MINUS}${end.toFixed(1)} mm)`;
      this.ends[1].textContent = `within ±${fine(limit)} in (${limit.toFixed(1)} mm)`;
      this.ends[2].textContent = `+ proud, +${fine(end)} in (+${end.toFixed(1)} mm)`;
    }
  }

  // ---- the door -----------------------------------------------------------------------------------------------------

  let view = null, ready = Promise.resolve(false);

  /** Builds the view inside `element`; `ready` becomes true when it is drawn, false where it can't be. */
  function start(element, glbBase64, data) {
    ready = new Promise((resolve) => {
      // Let the page appear before the points are unpacked.
      setTimeout(() => {
        try {
          view = new View(element, bytesOf(glbBase64), data);
        } catch (error) {
          view = null;
          const words = error.message === EMPTY_SENTENCE ? EMPTY_SENTENCE : `The view that turns could not be drawn (${error.message}). The pictures above show the same.`;
          element.replaceChildren(make("p", { class: "wm-missing" }, words));
        }
        resolve(view !== null);
      }, 0);
    });
    return ready;
  }

  function fly(id) { return view !== null && view.fly(id); }

  function figureAt(x, y) { return view === null ? null : view.figureAt(x, y); }

  // How many frames were drawn and how roughly, for whoever measures the speed.
  function told() { return view && { frames: view.frames, level: view.level }; }

  return { start, fly, figureAt, told, get ready() { return ready; } };
})();
