// @ts-check
/** The programs of the wrapped view, GLSL ES 3.00. Light hangs on the camera, so the shape always reads. */

const LIGHT = `
uniform vec3 eye, camRight, camUp, camBack, warm;
vec3 lit(vec3 albedo, vec3 n, vec3 p, float gloss, float sharp) {
  vec3 v = normalize(eye - p);
  vec3 key = normalize(-0.52 * camRight + 0.58 * camUp + 0.72 * camBack);
  vec3 rim = normalize(0.9 * camRight + 0.15 * camUp - 0.42 * camBack);
  float up = dot(n, camUp) * 0.5 + 0.5;
  vec3 sky = mix(vec3(0.20, 0.18, 0.165), vec3(0.42, 0.44, 0.47), up) * warm;
  float wrapLight = max(0.0, (dot(n, key) + 0.22) / 1.22);
  vec3 h = normalize(key + v);
  float spec = pow(max(dot(n, h), 0.0), sharp) * gloss;
  float broad = pow(max(dot(n, h), 0.0), 7.0) * gloss * 0.22;
  float edge = pow(1.0 - max(dot(n, v), 0.0), 4.0);
  vec3 c = albedo * (sky + vec3(1.0, 0.965, 0.91) * wrapLight);
  c += albedo * vec3(0.62, 0.70, 0.80) * max(dot(n, rim), 0.0) * 0.34;
  c += vec3(1.0, 0.97, 0.92) * (spec + broad) + vec3(0.5, 0.52, 0.55) * edge * 0.10;
  return c;
}
vec3 shown(vec3 c) { c = c * (1.0 + c * 0.16) / (1.0 + c * 0.42); return pow(max(c, 0.0), vec3(1.0 / 2.2)); }
`;

export const SKIN_VERTEX = `#version 300 es
layout(location=0) in vec3 position; layout(location=1) in vec3 normal; layout(location=2) in vec2 place;
uniform mat4 viewProjection; out vec3 p, n; out vec2 xt;
void main() { p = position; n = normal; xt = place; gl_Position = viewProjection * vec4(position, 1.0); }`;

/**
 * `field`: station and angle where the carved field begins, and one over its span of each. `ground`: what a groove loses
 * of its brightness at its edge and at the deepest, and the deepest in edges. The map holds normals that are not made
 * whole again after averaging: hatching too fine for the screen so takes the mean light of its walls.
 */
export const SKIN_FRAGMENT = `#version 300 es
precision highp float;
in vec3 p, n; in vec2 xt; out vec4 colour;
uniform sampler2D reliefMap; uniform vec4 field; uniform float depthMode, whole; uniform vec3 blank, ground;
uniform vec4 spot; uniform vec3 spotInk;
${LIGHT}
vec3 ramp(float t) {
  const vec3 a = vec3(0.0, 0.135, 0.305), b = vec3(0.34, 0.36, 0.43), c = vec3(0.62, 0.58, 0.47), d = vec3(0.99, 0.91, 0.27);
  return t < 0.33 ? mix(a, b, t / 0.33) : t < 0.66 ? mix(b, c, (t - 0.33) / 0.33) : mix(c, d, (t - 0.66) / 0.34);
}
void main() {
  vec3 nn = normalize(n), bent = nn;
  float turn = fract((xt.y - field.y) / 6.28318531) * 6.28318531;
  vec2 uv = vec2(turn * field.w, (xt.x - field.x) * field.z);
  float inField = field.z > 0.0 && abs(nn.x) < 0.999 ? step(0.0, uv.y) * step(uv.y, 1.0) * max(whole, step(uv.x, 1.0)) : 0.0;
  vec2 gx = vec2(dFdx(xt.y) * field.w, dFdx(xt.x) * field.z), gy = vec2(dFdy(xt.y) * field.w, dFdy(xt.x) * field.z);
  float root = 0.0;
  if (inField > 0.5) {
    vec4 held = textureGrad(reliefMap, uv, gx, gy);
    vec2 lean = (held.rg * 255.0 - 128.0) / 127.0;
    vec3 round = normalize(cross(vec3(1.0, 0.0, 0.0), nn));
    bent = lean.x * round + lean.y * cross(nn, round) + held.a * nn;
    root = held.b;
  }
  float cut = root * root;
  float bright = 1.0 - ground.x * min(1.0, cut * ground.z) - ground.y * root;
  vec3 albedo = blank * pow(vec3(bright), 2.2 * vec3(0.82, 1.0, 1.22));
  float gloss = mix(0.22, 0.03, smoothstep(0.05, 0.4, cut));
  if (depthMode > 0.5) { albedo = pow(mix(vec3(0.62, 0.62, 0.62), ramp(clamp(cut, 0.0, 1.0)), smoothstep(0.02, 0.10, cut)), vec3(1.7)); gloss = 0.06; bent = normalize(mix(nn, bent, 0.5)); }
  vec3 c = shown(lit(albedo, bent, p, gloss, 46.0));
  if (spot.w > 0.0) {
    float far = length(p - spot.xyz), soft = fwidth(far) + 0.001;
    float ring = smoothstep(soft, 0.0, abs(far - spot.w) - 0.04 * spot.w);
    c = mix(c, spotInk, max(ring, 0.16 * smoothstep(soft, 0.0, far - spot.w)));
  }
  colour = vec4(c, 1.0);
}`;

export const PART_VERTEX = `#version 300 es
layout(location=0) in vec3 position; layout(location=1) in vec3 normal;
uniform mat4 viewProjection, placed; out vec3 p, n;
void main() { vec4 q = placed * vec4(position, 1.0); p = q.xyz; n = mat3(placed) * normal; gl_Position = viewProjection * q; }`;

export const PART_FRAGMENT = `#version 300 es
precision highp float;
in vec3 p, n; out vec4 colour; uniform vec3 albedo; uniform float gloss, alpha, metal;
${LIGHT}
void main() {
  vec3 nn = normalize(n);
  nn = faceforward(nn, p - eye, nn);
  vec3 c = lit(albedo, nn, p, gloss, 70.0);
  vec3 r = reflect(normalize(p - eye), nn);
  float high = dot(r, camUp), side = dot(r, camRight);
  float room = 0.16 + 0.55 * smoothstep(-0.15, 0.55, high) + 0.85 * smoothstep(0.30, 0.0, abs(side + 0.52)) + 0.40 * smoothstep(0.16, 0.0, abs(side - 0.62));
  c = mix(c, albedo * room * 2.1 + c * 0.25, metal);
  colour = vec4(shown(c), 1.0) * alpha;
}`;

/** One quad a segment, widened on the screen. The fourth number is the stroke, with its sign turned where one begins. */
export const LINE_VERTEX = `#version 300 es
layout(location=0) in vec4 a; layout(location=1) in vec4 b;
uniform mat4 viewProjection; uniform vec2 viewport; uniform float widthPx, doneStroke; uniform vec3 eye;
flat out float done; out float across; out float face;
void main() {
  if (b.w < 0.0) { gl_Position = vec4(2.0, 2.0, 2.0, 1.0); done = 0.0; across = 0.0; face = 0.0; return; }
  vec4 A = viewProjection * vec4(a.xyz, 1.0), B = viewProjection * vec4(b.xyz, 1.0);
  vec2 d = (B.xy / B.w - A.xy / A.w) * viewport;
  float size = length(d);
  d = size > 1e-4 ? d / size : vec2(1.0, 0.0);
  float side = float(gl_VertexID & 1) * 2.0 - 1.0;
  bool far = gl_VertexID > 1;
  float reach = widthPx * 0.5 + 1.0;
  vec4 q = far ? B : A;
  vec3 at = far ? b.xyz : a.xyz;
  face = dot(normalize(vec3(0.0, at.yz)), normalize(eye - at));
  q.xy += vec2(-d.y, d.x) * side * reach * 2.0 / viewport * q.w;
  q.z -= 0.0003 * q.w;
  across = side * reach;
  done = b.w <= doneStroke ? 1.0 : 0.0;
  gl_Position = q;
}`;

export const LINE_FRAGMENT = `#version 300 es
precision highp float;
flat in float done; in float across; in float face; out vec4 colour; uniform vec3 inkDone, inkLeft; uniform float alpha, widthPx;
void main() {
  float cover = clamp(widthPx * 0.5 + 0.5 - abs(across), 0.0, 1.0) * smoothstep(0.02, 0.22, face);
  float k = cover * alpha * mix(0.85, 1.0, done);
  colour = vec4(mix(inkLeft, inkDone, done) * k, k);
}`;
