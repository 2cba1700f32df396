// @ts-check
/** Everything the graphics card holds of the blank in the round, and one picture of it. */
import { rgb } from '../dom.js';
import { LINE_FRAGMENT, LINE_VERTEX, PART_FRAGMENT, PART_VERTEX, SKIN_FRAGMENT, SKIN_VERTEX } from './shaders.js';
import { DEEP, EDGE, EDGE_MM, reliefOf } from '../../core/relief.js';
import { greatestBetween, meshOf, radiusAt } from '../../core/skin.js';
import { dashes, toolProfile, turned } from '../../core/solids.js';

const IDENTITY = new Float32Array([1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]);
const MOST_POINTS = 240000;
const SLEEVE_MM = 0.6;
const SLEEVE_BEYOND = 0.1; // a keep-out that runs on past the blank is drawn no further than this share of its length
const TOOL_MM = 34;

/** @param {WebGL2RenderingContext} g @param {string} vertex @param {string} fragment */
function program(g, vertex, fragment) {
  const made = /** @type {WebGLProgram} */ (g.createProgram());
  for (const [kind, source] of /** @type {[number, string][]} */ ([[g.VERTEX_SHADER, vertex], [g.FRAGMENT_SHADER, fragment]])) {
    const shader = /** @type {WebGLShader} */ (g.createShader(kind));
    g.shaderSource(shader, source);
    g.compileShader(shader);
    g.attachShader(made, shader);
    g.deleteShader(shader);
  }
  g.linkProgram(made);
  if (!g.getProgramParameter(made, g.LINK_STATUS) && !g.isContextLost()) throw new Error(g.getProgramInfoLog(made) ?? 'no link');
  /** @type {Record<string, WebGLUniformLocation|null>} */
  const at = {};
  const count = g.getProgramParameter(made, g.ACTIVE_UNIFORMS) ?? 0;
  for (let i = 0; i < count; i += 1) { const info = g.getActiveUniform(made, i); if (info) at[info.name] = g.getUniformLocation(made, info.name); }
  return { made, at };
}

/** @param {WebGL2RenderingContext} g @param {Float32Array} data @param {number[]} sizes @param {Uint32Array} [indices] */
function shape(g, data, sizes, indices) {
  const array = g.createVertexArray();
  g.bindVertexArray(array);
  const buffers = [g.createBuffer()];
  g.bindBuffer(g.ARRAY_BUFFER, buffers[0]);
  g.bufferData(g.ARRAY_BUFFER, data, g.STATIC_DRAW);
  const stride = sizes.reduce((a, b) => a + b, 0);
  let offset = 0;
  sizes.forEach((size, i) => { g.enableVertexAttribArray(i); g.vertexAttribPointer(i, size, g.FLOAT, false, stride * 4, offset * 4); offset += size; });
  if (indices) { buffers.push(g.createBuffer()); g.bindBuffer(g.ELEMENT_ARRAY_BUFFER, buffers[1]); g.bufferData(g.ELEMENT_ARRAY_BUFFER, indices, g.STATIC_DRAW); }
  g.bindVertexArray(null);
  return { array, buffers, count: indices ? indices.length : data.length / stride };
}

/** @param {WebGL2RenderingContext} g @param {any} old */
function drop(g, old) {
  if (!old) return;
  g.deleteVertexArray(old.array);
  for (const buffer of old.buffers) g.deleteBuffer(buffer);
}

/** Strokes laid a hair over the skin; where they are very many, whole strokes are left out. @param {WebGL2RenderingContext} g @param {any} view */
function lineShape(g, { strokes, skin }) {
  const { x, theta, offsets, number } = strokes;
  const count = offsets.length - 1;
  const stride = Math.max(1, Math.ceil(x.length / MOST_POINTS));
  const data = [];
  for (let s = 0; s < count; s += stride) {
    for (let i = offsets[s]; i < offsets[s + 1]; i += 1) {
      const r = radiusAt(skin, x[i], theta[i]) + 0.05;
      data.push(x[i], r * Math.cos(theta[i]), r * Math.sin(theta[i]), (i === offsets[s] ? -1 : 1) * (number ? number[s] : s + 1));
    }
  }
  const array = g.createVertexArray();
  g.bindVertexArray(array);
  const buffers = [g.createBuffer()];
  g.bindBuffer(g.ARRAY_BUFFER, buffers[0]);
  g.bufferData(g.ARRAY_BUFFER, new Float32Array(data), g.STATIC_DRAW);
  for (const [i, shift] of [[0, 0], [1, 16]]) { g.enableVertexAttribArray(i); g.vertexAttribPointer(i, 4, g.FLOAT, false, 16, shift); g.vertexAttribDivisor(i, 1); }
  g.bindVertexArray(null);
  return { array, buffers, count: Math.max(0, data.length / 4 - 1) };
}

/** @param {WebGL2RenderingContext} g */
export function createScene(g) {
  const skinProgram = program(g, SKIN_VERTEX, SKIN_FRAGMENT);
  const partProgram = program(g, PART_VERTEX, PART_FRAGMENT);
  const lineProgram = program(g, LINE_VERTEX, LINE_FRAGMENT);
  const reliefMap = g.createTexture();
  g.bindTexture(g.TEXTURE_2D, reliefMap);
  g.pixelStorei(g.UNPACK_ALIGNMENT, 1);
  g.texImage2D(g.TEXTURE_2D, 0, g.RGBA8, 1, 1, 0, g.RGBA, g.UNSIGNED_BYTE, new Uint8Array([128, 128, 0, 255]));
  for (const [name, value] of [[g.TEXTURE_MAG_FILTER, g.LINEAR], [g.TEXTURE_MIN_FILTER, g.LINEAR_MIPMAP_LINEAR], [g.TEXTURE_WRAP_S, g.CLAMP_TO_EDGE], [g.TEXTURE_WRAP_T, g.CLAMP_TO_EDGE]]) g.texParameteri(g.TEXTURE_2D, name, value);
  g.generateMipmap(g.TEXTURE_2D);
  /** @type {any} what is held, and for which value it was made */
  const held = { field: [0, 0, 0, 0], ground: [0, 0, 1], whole: false };

  /** @param {any} view */
  function keepSkin({ skin }) {
    if (held.skinFor === skin.radii) return;
    drop(g, held.mesh); drop(g, held.axis);
    const mesh = meshOf(skin);
    held.mesh = shape(g, mesh.vertices, [3, 3, 2], mesh.indices);
    const [low, high] = [skin.x[0], skin.x[skin.x.length - 1]];
    const radius = (high - low) * 0.0018;
    held.axis = shape(g, joinTwo(dashes(low - (high - low) * 0.28, low, radius), dashes(high, high + (high - low) * 0.28, radius)), [3, 3]);
    held.skinFor = skin.radii;
    held.sleevesFor = null;
  }

  /** Keep-outs as plain sleeves. @param {any} view @param {any[]} keepOuts */
  function keepSleeves({ skin }, keepOuts) {
    if (held.sleevesFor === keepOuts) return;
    for (const old of held.sleeves ?? []) drop(g, old);
    const [low, high] = [skin.x[0], skin.x[skin.x.length - 1]];
    const beyond = (high - low) * SLEEVE_BEYOND;
    held.sleeves = keepOuts.filter((one) => one.to_mm > one.from_mm).map((one) => {
      const r = one.radius_mm ?? greatestBetween(skin, low, high) + SLEEVE_MM;
      const [from, to] = [Math.max(low - beyond, one.from_mm), Math.min(high + beyond, one.to_mm)];
      return shape(g, turned([[from, 0], [from, r], [to, r], [to, 0]], 72), [3, 3]);
    });
    held.sleevesFor = keepOuts;
  }

  /** The carved skin's normals and depths as a texture. @param {any} view */
  function keepRelief(view) {
    const { carved } = view;
    if (held.reliefFor === carved) return;
    held.reliefFor = carved;
    const relief = reliefOf(view);
    held.field = [0, 0, 0, 0];
    if (!relief) return;
    const { normals, high, wide, dx, dTheta, whole } = relief;
    g.bindTexture(g.TEXTURE_2D, reliefMap);
    g.texParameteri(g.TEXTURE_2D, g.TEXTURE_WRAP_S, whole ? g.REPEAT : g.CLAMP_TO_EDGE);
    g.texImage2D(g.TEXTURE_2D, 0, g.RGBA8, wide, high, 0, g.RGBA, g.UNSIGNED_BYTE, normals);
    g.generateMipmap(g.TEXTURE_2D);
    held.field = [carved.x[0] - dx / 2, carved.theta[0] - dTheta / 2, 1 / (dx * high), 1 / (dTheta * wide)];
    held.whole = whole;
    held.ground = [EDGE, DEEP, Math.max(1e-6, carved.greatest) / EDGE_MM];
  }

  /** @param {any} tool */
  function keepTool(tool) {
    const key = JSON.stringify(tool);
    if (held.toolFor === key) return;
    drop(g, held.tool);
    const profile = toolProfile(tool, TOOL_MM);
    held.tool = shape(g, turned(profile, 40), [3, 3]);
    held.toolFor = key;
  }

  /** @param {any} view */
  function keepLines(view) {
    if (held.linesFor === view.strokes) return;
    drop(g, held.lines);
    held.lines = view.strokes ? lineShape(g, view) : null;
    held.linesFor = view.strokes;
  }

  /** @param {any} one @param {any} sight @param {boolean} dark */
  function use(one, sight, dark) {
    g.useProgram(one.made);
    g.uniformMatrix4fv(one.at.viewProjection, false, sight.viewProjection);
    g.uniform3fv(one.at.eye, sight.eye);
    if (one.at.camUp) { g.uniform3fv(one.at.camRight, sight.right); g.uniform3fv(one.at.camUp, sight.up); g.uniform3fv(one.at.camBack, sight.back); }
    if (one.at.warm) g.uniform3fv(one.at.warm, dark ? [0.82, 0.84, 0.88] : [1, 0.99, 0.97]);
  }

  /** @param {any} solid @param {{ albedo: number[], gloss?: number, alpha?: number, metal?: number, placed?: Float32Array }} look */
  function put(solid, { albedo, gloss = 0.3, alpha = 1, metal = 0, placed = IDENTITY }) {
    const { at } = partProgram;
    g.uniformMatrix4fv(at.placed, false, placed);
    g.uniform3fv(at.albedo, albedo);
    g.uniform1f(at.gloss, gloss);
    g.uniform1f(at.alpha, alpha);
    g.uniform1f(at.metal, metal);
    g.bindVertexArray(solid.array);
    g.drawArrays(g.TRIANGLES, 0, solid.count);
  }

  /**
   * @param {{ view: any, show: any, keepOuts: any[], tool: any, sight: import('../../core/orbit.js').Sight, dark: boolean, size: [number, number], scale: number, now: ReturnType<typeof import('../../core/arrays.js').momentAt>|null, spot: number[]|null }} scene
   */
  function draw({ view, show, keepOuts, tool, sight, dark, size, scale, now, spot }) {
    keepSkin(view); keepSleeves(view, keepOuts); keepRelief(view); keepTool(tool);
    g.viewport(0, 0, size[0], size[1]);
    g.clearColor(0, 0, 0, 0);
    g.clear(g.COLOR_BUFFER_BIT | g.DEPTH_BUFFER_BIT);
    g.enable(g.DEPTH_TEST);
    g.depthFunc(g.LEQUAL);
    g.disable(g.BLEND);
    use(skinProgram, sight, dark);
    const { at } = skinProgram;
    g.activeTexture(g.TEXTURE0);
    g.bindTexture(g.TEXTURE_2D, reliefMap);
    g.uniform1i(at.reliefMap, 0);
    g.uniform4fv(at.field, held.field);
    g.uniform3fv(at.ground, held.ground);
    g.uniform1f(at.whole, held.whole ? 1 : 0);
    g.uniform1f(at.depthMode, show.depth ? 1 : 0);
    g.uniform3fv(at.blank, [0.66, 0.62, 0.55]);
    g.uniform4fv(at.spot, spot ?? [0, 0, 0, 0]);
    g.uniform3fv(at.spotInk, rgb(dark ? '#ffd58a' : '#8f5600'));
    g.bindVertexArray(held.mesh.array);
    g.drawElements(g.TRIANGLES, held.mesh.count, g.UNSIGNED_INT, 0);

    use(partProgram, sight, dark);
    put(held.axis, { albedo: dark ? [0.6, 0.58, 0.52] : [0.09, 0.11, 0.13], gloss: 0 });
    g.enable(g.BLEND);
    g.blendFunc(g.ONE, g.ONE_MINUS_SRC_ALPHA);
    if (show.paths && view.strokes) drawLines(view, sight, size, scale, now ? now.stroke : 0);
    use(partProgram, sight, dark);
    if (now) {
      const [c, s] = [Math.cos(now.theta), Math.sin(now.theta)];
      put(held.tool, { albedo: [0.40, 0.41, 0.43], gloss: 0.6, alpha: 0.96, metal: 0.75, placed: new Float32Array([0, c, s, 0, 0, -s, c, 0, 1, 0, 0, 0, now.x, now.r * c, now.r * s, 1]) });
    }
    g.depthMask(false);
    for (const sleeve of held.sleeves ?? []) put(sleeve, { albedo: [0.24, 0.25, 0.27], gloss: 0.2, alpha: 0.62, metal: 0.3 });
    g.depthMask(true);
    g.disable(g.BLEND);
    g.bindVertexArray(null);
  }

  /** @param {any} view @param {any} sight @param {[number, number]} size @param {number} scale @param {number} stroke */
  function drawLines(view, sight, size, scale, stroke) {
    keepLines(view);
    if (!held.lines?.count) return;
    g.useProgram(lineProgram.made);
    const { at } = lineProgram;
    g.uniformMatrix4fv(at.viewProjection, false, sight.viewProjection);
    g.uniform3fv(at.eye, sight.eye);
    g.uniform2f(at.viewport, size[0], size[1]);
    g.uniform1f(at.widthPx, 1.15 * scale);
    g.uniform1f(at.doneStroke, stroke);
    g.uniform1f(at.alpha, 0.85);
    g.uniform3fv(at.inkDone, rgb('#8a5d0d'));
    g.uniform3fv(at.inkLeft, rgb('#1d2a36'));
    g.depthMask(false);
    g.bindVertexArray(held.lines.array);
    g.drawArraysInstanced(g.TRIANGLE_STRIP, 0, 4, held.lines.count);
    g.depthMask(true);
  }

  return { draw };
}

/** @param {Float32Array} a @param {Float32Array} b */
function joinTwo(a, b) {
  const out = new Float32Array(a.length + b.length);
  out.set(a);
  out.set(b, a.length);
  return out;
}
