/* What the graphics processor does for the view. */

/* What is drawn first is no colour but what the metal is there: a step of the ramp, a kind, its light. Colours, patterns and
   outlines are laid over each pixel once, afterwards; that is what a processor without graphics has time for. */
const PLACED = `#version 300 es
  precision highp float;
  layout(location = 0) in vec4 place;    // in steps, and the state
  layout(location = 1) in vec3 normal;
  layout(location = 2) in vec2 figure;   // deviation and ± in steps
  uniform vec3 low, middle;
  uniform float step_mm, deep, larger, dots, limit, end;
  uniform vec2 figure_steps, half_size;
  uniform mat3 turn;
  uniform vec4 cut;
  uniform bool unseen_too, faces, reference;
  out vec3 v_place;
  out vec4 v_figure;     // deviation and ± times seen, seen, beyond
  out vec3 v_code;
  out vec2 v_slope;
  out float v_light;
  vec3 code(float mm, float seen, float beyond);
  void main() {
    vec3 at = low + step_mm * place.xyz;
    float seen = place.w < 0.5 ? 1.0 : 0.0;
    v_place = at;
    v_figure = vec4(figure * figure_steps * seen, seen, place.w > 0.5 && place.w < 1.5 ? 1.0 : 0.0);
    vec3 n = turn * normal;
    vec3 facing = n.z < 0.0 ? -n : n;
    v_light = reference ? (0.72 + 0.28 * max(dot(facing, normalize(vec3(-0.45, 0.55, 0.7))), 0.0)) * (n.z < 0.0 ? 0.86 : 1.0) : 1.0;
    v_slope = n.xy / (max(facing.z, 0.35) * (n.z < 0.0 ? -1.0 : 1.0));
    v_code = code(v_figure.x, seen, v_figure.w);
    vec3 eye = turn * (at + normal * (larger * v_figure.x) - middle);
    gl_Position = vec4(eye.xy / half_size, -eye.z / deep, 1.0);
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
  uniform vec4 cut;
  uniform bool unseen_too, reference;
  uniform float limit, end;
  bool cut_off() { return dot(v_place, cut.xyz) > cut.w || (v_figure.z < 0.5 && !unseen_too); }
  // Each point is a small disc that lies in the metal: seen edge on it is narrow, and its far side is farther.
  uniform float radius_mm, deep;
  bool beside(out float depth) {
    vec2 d = vec2(2.0, -2.0) * (gl_PointCoord - 0.5);
    float fall = dot(v_slope, d);
    depth = gl_FragCoord.z + 0.5 * fall * radius_mm / deep;
    return dot(d, d) + fall * fall > 1.0;
  }`;

const SQUARES = LEFT_OUT + `
  out vec4 metal;
  void main() { metal = vec4(v_code.xy, v_light, 1.0); }`;

const DISCS = LEFT_OUT + `
  out vec4 metal;
  void main() {
    float depth;
    if (beside(depth)) discard;
    gl_FragDepth = depth;
    metal = vec4(v_code.xy, v_light, 1.0);
  }`;

const FACES = LEFT_OUT + CODE + `
  out vec4 metal;
  void main() {
    if (cut_off()) discard;
    metal = vec4(code(v_figure.x, v_figure.z, v_figure.w).xy, v_light, 1.0);
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
