// The front in three dimensions: decodes a scene, draws it when something changed, turns with hand, keys and fingers.
import { STRIP_VERTEX, STRIP_FRAGMENT, SHADOW_VERTEX, SHADOW_FRAGMENT, WALL_VERTEX, WALL_FRAGMENT } from "./shaders.js";

const SHADOW = 2048, FIELD = 32 * Math.PI / 180, BEHIND = -18;
const WALL = [0.655, 0.635, 0.6], BOARD = [0.2, 0.15, 0.11];

export function decoded(buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const about = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  return { about, heights: new Uint16Array(buffer, 4 + length) };
}

export function heightIn(scene, strip, column, row) {
  const { columns, strips, blank } = scene.about;
  return scene.heights[row * columns * strips.length + strip * columns + column] / 65535 * blank;
}

export class Viewer {
  constructor(canvas) {
    this.canvas = canvas;
    this.scenes = [null, null];
    this.eye = { turn: 0, tilt: 0, away: 1, x: 0, y: 0 };
    this.chosen = 0;
    this.light = null;
    this.moved = () => {};
    this.picked = () => {};
    this.painted = () => {};
    this.asked = false;
    this.count = 0;
    this.start();
    canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
    canvas.addEventListener("webglcontextrestored", () => { this.start(); this.scenes.forEach((one, slot) => one && this.put(one.scene, slot)); });
    this.listen();
    new ResizeObserver(() => this.draw()).observe(canvas);
  }

  start() {
    const gl = this.canvas.getContext("webgl2", { antialias: true, alpha: false });
    if (!gl) throw new Error("This browser draws nothing in three dimensions (no WebGL 2).");
    this.gl = gl;
    this.strips = program(gl, STRIP_VERTEX, STRIP_FRAGMENT);
    this.shadows = program(gl, SHADOW_VERTEX, SHADOW_FRAGMENT);
    this.walls = program(gl, WALL_VERTEX, WALL_FRAGMENT);
    this.meshes = new Map();
    this.map = shadowMap(gl);
    gl.enable(gl.DEPTH_TEST);
  }

  put(scene, slot = 0) {
    const gl = this.gl, { about } = scene, old = this.scenes[slot];
    const kept = old ? { heights: old.heights, boards: old.boards, wall: old.wall, wallArray: old.wallArray }
      : { heights: gl.createTexture(), boards: gl.createTexture(), wall: gl.createBuffer(), wallArray: gl.createVertexArray() };
    upload(gl, kept.heights, gl.R16UI, about.columns * about.strips.length, about.rows, gl.RED_INTEGER, gl.UNSIGNED_SHORT, scene.heights);
    upload(gl, kept.boards, gl.RGBA32F, 3, about.strips.length, gl.RGBA, gl.FLOAT, boardData(about));
    this.scenes[slot] = { scene, ...kept, panels: panels(gl, kept, about, this.walls) };
    if (!old && slot === 0) { this.eye.x = about.width / 2; this.eye.y = about.height / 2; }
    this.draw();
  }

  drop(slot) { this.scenes[slot] = null; this.draw(); }

  draw() {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => { this.asked = false; this.paint(); });
  }

  paint() {
    const gl = this.gl, canvas = this.canvas, share = Math.min(window.devicePixelRatio || 1, 2);
    const wide = Math.max(2, Math.round(canvas.clientWidth * share)), tall = Math.max(2, Math.round(canvas.clientHeight * share));
    if (canvas.width !== wide || canvas.height !== tall) { canvas.width = wide; canvas.height = tall; }
    const shown = this.scenes.filter(Boolean);
    if (!shown.length || gl.isContextLost()) return;
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.viewport(0, 0, wide, tall);
    gl.disable(gl.SCISSOR_TEST);
    gl.clearColor(0.82, 0.81, 0.79, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    shown.forEach((one, index) => {
      const part = Math.floor(wide / shown.length);
      const towards = this.cast(one);
      gl.bindFramebuffer(gl.FRAMEBUFFER, null);
      gl.viewport(index * part, 0, part, tall);
      this.show(one, this.camera(one.scene.about, part / tall), towards);
    });
    this.count += 1;
    canvas.dataset.painted = String(this.count);
    this.painted();
  }

  lightOf(about) { return this.light ? { ...about.light, ...this.light } : about.light; }

  cast(one) {
    const gl = this.gl, { about } = one.scene, towards = lightMatrix(about, this.lightOf(about).direction);
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.map.frame);
    gl.viewport(0, 0, SHADOW, SHADOW);
    gl.clear(gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.polygonOffset(2, 4);
    this.strip(this.shadows, one, { towards });
    gl.disable(gl.POLYGON_OFFSET_FILL);
    return towards;
  }

  show(one, view, towards) {
    const gl = this.gl, { about } = one.scene, light = this.lightOf(about), wood = about.wood;
    const lit = {
      view, towards, direction: light.direction, ambient: light.ambient, tall: about.height, soft: 1.5 / SHADOW,
      lamp: light.lamp ? [...light.lamp, lampMean(light.lamp, about.height)] : [0, 0, 0, 1],
    };
    gl.activeTexture(gl.TEXTURE2);
    gl.bindTexture(gl.TEXTURE_2D, this.map.depth);
    this.strip(this.strips, one, {
      ...lit, dark: wood.dark, light: wood.light, figure: [wood.ring, wood.contrast, wood.streak, wood.late], drinks: wood.drinks,
      chosen: one === this.scenes[0] ? this.chosen : 0, shadows: 2,
    });
    gl.useProgram(this.walls.program);
    set(gl, this.walls, { ...lit, shadows: 2 });
    gl.bindVertexArray(one.wallArray);
    one.panels.forEach(({ first, paint, room, ambient }) => { set(gl, this.walls, { paint, room, ambient }); gl.drawArrays(gl.TRIANGLES, first, 6); });
    gl.bindVertexArray(null);
  }

  strip(drawn, one, values) {
    const gl = this.gl, { about } = one.scene, mesh = this.mesh(about.columns, about.rows);
    gl.useProgram(drawn.program);
    gl.activeTexture(gl.TEXTURE0); gl.bindTexture(gl.TEXTURE_2D, one.heights);
    gl.activeTexture(gl.TEXTURE1); gl.bindTexture(gl.TEXTURE_2D, one.boards);
    set(gl, drawn, { ...values, heights: 0, strips: 1, size: [about.columns, about.rows], blank: about.blank, ends: [about.bottom, about.top] });
    gl.bindVertexArray(mesh.array);
    gl.drawElementsInstanced(gl.TRIANGLES, mesh.count, gl.UNSIGNED_INT, 0, about.strips.length);
    gl.bindVertexArray(null);
  }

  mesh(columns, rows) {
    const name = `${columns} ${rows}`;
    if (!this.meshes.has(name)) this.meshes.set(name, meshOf(this.gl, columns, rows));
    return this.meshes.get(name);
  }

  camera(about, aspect) {
    const { turn, tilt, away, x, y } = this.eye;
    const fit = Math.max(about.height * 0.58, about.width * 0.58 / aspect) / Math.tan(FIELD / 2) * away * (1 + 0.35 * Math.abs(Math.sin(turn)));
    const eye = [x + fit * Math.sin(turn) * Math.cos(tilt), y + fit * Math.sin(tilt), fit * Math.cos(turn) * Math.cos(tilt)];
    const near = Math.max(fit / 50, 2);
    return multiplied(perspective(FIELD, aspect, near, fit * 4 + about.width + about.height), lookAt(eye, [x, y, 0]));
  }

  // The place of the canvas, in its own pixels, at which a place of the front is seen.
  placeOn(x, y, z) {
    const one = this.scenes[0];
    if (!one) return null;
    const both = this.scenes[1] ? 0.5 : 1;
    const m = this.camera(one.scene.about, this.canvas.clientWidth * both / this.canvas.clientHeight);
    const w = m[3] * x + m[7] * y + m[11] * z + m[15];
    const across = (m[0] * x + m[4] * y + m[8] * z + m[12]) / w, up = (m[1] * x + m[5] * y + m[9] * z + m[13]) / w;
    return [(across + 1) / 2 * this.canvas.clientWidth * both, (1 - up) / 2 * this.canvas.clientHeight];
  }

  // The strip that is seen at a place of the canvas, from 1; 0 for none.
  stripAt(left, top) {
    const one = this.scenes[0];
    if (!one) return 0;
    const { strips, bottom, top: upper, blank } = one.scene.about;
    let best = 0, near = 14;
    strips.forEach(([from, to], index) => {
      const middle = (from + to) / 2;
      for (let part = 0; part <= 24; part += 1) {
        const at = this.placeOn(middle, bottom + (upper - bottom) * part / 24, blank * 0.7);
        const far = Math.abs(at[0] - left) + (Math.abs(at[1] - top) > this.canvas.clientHeight / 24 ? 1000 : 0);
        if (far < near) { near = far; best = index + 1; }
      }
    });
    return best;
  }

  // Lets the eye go to a place of the front.
  goTo(x, y) { Object.assign(this.eye, { x, y, away: Math.min(this.eye.away, 0.4) }); this.changed(); }

  whole(turn = 0) {
    const one = this.scenes[0];
    if (one) Object.assign(this.eye, { turn, tilt: 0, away: 1, x: one.scene.about.width / 2, y: one.scene.about.height / 2 });
    this.changed();
  }

  turned(turn, tilt) {
    this.eye.turn = Math.max(-1.4, Math.min(1.4, this.eye.turn + turn));
    this.eye.tilt = Math.max(-1.2, Math.min(1.2, this.eye.tilt + tilt));
    this.changed();
  }

  closer(factor) { this.eye.away = Math.max(0.06, Math.min(3, this.eye.away * factor)); this.changed(); }

  changed() { this.moved(); this.draw(); }

  listen() {
    const canvas = this.canvas, held = new Map();
    let far = 0, way = 0;
    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      held.set(event.pointerId, [event.clientX, event.clientY]);
      way = 0;
    });
    canvas.addEventListener("pointermove", (event) => {
      const before = held.get(event.pointerId);
      if (!before) return;
      const [x, y] = [event.clientX - before[0], event.clientY - before[1]];
      held.set(event.pointerId, [event.clientX, event.clientY]);
      way += Math.abs(x) + Math.abs(y);
      if (held.size === 1) this.turned(-x / 250, y / 250);
      else {
        const [one, other] = [...held.values()], apart = Math.hypot(one[0] - other[0], one[1] - other[1]);
        if (far) this.closer(far / apart);
        far = apart;
      }
    });
    const ended = (event) => {
      if (held.delete(event.pointerId) && event.type === "pointerup" && way < 5) {
        const box = canvas.getBoundingClientRect();
        this.picked(this.stripAt(event.clientX - box.left, event.clientY - box.top));
      }
      far = 0;
    };
    canvas.addEventListener("pointerup", ended);
    canvas.addEventListener("pointercancel", ended);
    canvas.addEventListener("wheel", (event) => { event.preventDefault(); this.closer(Math.exp(event.deltaY / 600)); }, { passive: false });
    canvas.addEventListener("keydown", (event) => {
      const keys = { ArrowLeft: [-0.08, 0], ArrowRight: [0.08, 0], ArrowUp: [0, 0.08], ArrowDown: [0, -0.08] };
      if (keys[event.key]) this.turned(...keys[event.key]);
      else if (event.key === "+" || event.key === "=") this.closer(0.85);
      else if (event.key === "-") this.closer(1.18);
      else if (event.key === "0") this.whole();
      else return;
      event.preventDefault();
    });
  }
}

function boardData(about) {
  const data = new Float32Array(about.strips.length * 12);
  about.strips.forEach(([left, right, door], index) => {
    const [pith, depth, lean, drift, start, tone] = about.wood.boards[index];
    data.set([left, right, door, 0, pith, depth, lean, drift, start % 512, tone, index + 1, depth], index * 12);
  });
  return data;
}

// What is not wood: the boards behind the strips, and the wall behind all.
function panels(gl, kept, about, walls) {
  const wide = Math.max(about.width, about.height) * 3;
  const boxes = [[-wide, about.width + wide, -wide, about.height + wide, BEHIND], ...about.doors.map((door) => [...door, 0])];
  const corners = boxes.flatMap(([left, right, low, high, z]) => [
    left, low, z, right, low, z, right, high, z, left, low, z, right, high, z, left, high, z]);
  gl.bindVertexArray(kept.wallArray);
  gl.bindBuffer(gl.ARRAY_BUFFER, kept.wall);
  gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(corners), gl.STATIC_DRAW);
  const at = gl.getAttribLocation(walls.program, "corner");
  gl.enableVertexAttribArray(at);
  gl.vertexAttribPointer(at, 3, gl.FLOAT, false, 0, 0);
  gl.bindVertexArray(null);
  return boxes.map((box, index) => ({ first: index * 6, paint: index ? BOARD : WALL, room: index ? 0.3 : 1, ambient: index ? about.light.ambient : Math.max(about.light.ambient, 0.55) }));
}

function meshOf(gl, columns, rows) {
  const corners = [], indices = [];
  const quad = (a, b, c, d) => indices.push(a, b, c, a, c, d);
  for (let row = 0; row < rows; row += 1) for (let column = 0; column < columns; column += 1) corners.push(column, row, 1, 0);
  for (let row = 0; row + 1 < rows; row += 1) for (let column = 0; column + 1 < columns; column += 1) {
    const a = row * columns + column;
    quad(a, a + 1, a + columns + 1, a + columns);
  }
  const wall = (places, side) => {
    const first = corners.length / 4;
    places.forEach(([column, row]) => corners.push(column, row, 0, side, column, row, 1, side));
    for (let index = 0; index + 1 < places.length; index += 1) {
      const a = first + 2 * index;
      quad(a, a + 2, a + 3, a + 1);
    }
  };
  const upright = Array.from({ length: rows }, (_, row) => row), level = Array.from({ length: columns }, (_, column) => column);
  wall(upright.map((row) => [0, row]), 1);
  wall(upright.map((row) => [columns - 1, row]), 2);
  wall(level.map((column) => [column, 0]), 3);
  wall(level.map((column) => [column, rows - 1]), 4);
  const array = gl.createVertexArray();
  gl.bindVertexArray(array);
  gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
  gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(corners), gl.STATIC_DRAW);
  gl.enableVertexAttribArray(0);
  gl.vertexAttribPointer(0, 4, gl.FLOAT, false, 0, 0);
  gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
  gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, new Uint32Array(indices), gl.STATIC_DRAW);
  gl.bindVertexArray(null);
  return { array, count: indices.length };
}

function upload(gl, texture, inside, wide, tall, format, kind, data) {
  gl.activeTexture(gl.TEXTURE0);
  gl.bindTexture(gl.TEXTURE_2D, texture);
  gl.pixelStorei(gl.UNPACK_ALIGNMENT, 2);
  gl.texImage2D(gl.TEXTURE_2D, 0, inside, wide, tall, 0, format, kind, data);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.NEAREST);
}

function shadowMap(gl) {
  const depth = gl.createTexture(), frame = gl.createFramebuffer();
  gl.bindTexture(gl.TEXTURE_2D, depth);
  gl.texImage2D(gl.TEXTURE_2D, 0, gl.DEPTH_COMPONENT24, SHADOW, SHADOW, 0, gl.DEPTH_COMPONENT, gl.UNSIGNED_INT, null);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_COMPARE_MODE, gl.COMPARE_REF_TO_TEXTURE);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.LINEAR);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
  gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
  gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.DEPTH_ATTACHMENT, gl.TEXTURE_2D, depth, 0);
  gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  return { depth, frame };
}

function program(gl, vertex, fragment) {
  const made = gl.createProgram();
  [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]].forEach(([kind, source]) => {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    gl.attachShader(made, shader);
  });
  gl.bindAttribLocation(made, 0, "corner");
  gl.linkProgram(made);
  if (!gl.getProgramParameter(made, gl.LINK_STATUS) && !gl.isContextLost()) throw new Error(`The picture cannot be drawn: ${gl.getProgramInfoLog(made)}`);
  const uniforms = new Map();
  for (let index = 0; index < gl.getProgramParameter(made, gl.ACTIVE_UNIFORMS); index += 1) {
    const { name, type } = gl.getActiveUniform(made, index);
    uniforms.set(name, { place: gl.getUniformLocation(made, name), type });
  }
  return { program: made, uniforms };
}

function set(gl, drawn, values) {
  Object.entries(values).forEach(([name, value]) => {
    const uniform = drawn.uniforms.get(name);
    if (!uniform) return;
    const { place, type } = uniform;
    if (type === gl.FLOAT_MAT4) gl.uniformMatrix4fv(place, false, value);
    else if (type === gl.FLOAT) gl.uniform1f(place, value);
    else if (type === gl.FLOAT_VEC2) gl.uniform2fv(place, value);
    else if (type === gl.FLOAT_VEC3) gl.uniform3fv(place, value);
    else if (type === gl.FLOAT_VEC4) gl.uniform4fv(place, value);
    else gl.uniform1i(place, value);
  });
}

function lampMean([, beyond, out], tall) {
  let sum = 0, most = 0;
  for (let index = 0; index <= 200; index += 1) {
    const level = out / ((beyond + tall * index / 200) ** 2 + out ** 2);
    sum += level / 201;
    most = Math.max(most, level);
  }
  return Math.max(sum, most / 2.6);
}

// What the light sees of the front, no more: so that each of the shadow map's points is as small as can be.
function lightMatrix(about, direction) {
  const middle = [about.width / 2, about.height / 2, 0], far = Math.hypot(about.width, about.height) + 100;
  const seen = lookAt(middle.map((value, index) => value + direction[index] * far), middle);
  const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
  for (const x of [-2, about.width + 2]) for (const y of [-2, about.height + 2]) for (const z of [BEHIND - 1, about.blank + 1])
    for (let axis = 0; axis < 3; axis += 1) {
      const at = seen[axis] * x + seen[4 + axis] * y + seen[8 + axis] * z + seen[12 + axis];
      low[axis] = Math.min(low[axis], at);
      high[axis] = Math.max(high[axis], at);
    }
  // What lies behind in the light's way, the wall, is in reach too.
  return multiplied(boxed(low, high, 4 * far), seen);
}

function lookAt(eye, at) {
  const z = unit(eye.map((value, index) => value - at[index]));
  const x = unit(cross(Math.abs(z[1]) > 0.999 ? [0, 0, -1] : [0, 1, 0], z)), y = cross(z, x);
  return [x[0], y[0], z[0], 0, x[1], y[1], z[1], 0, x[2], y[2], z[2], 0, -dot(x, eye), -dot(y, eye), -dot(z, eye), 1];
}

function perspective(field, aspect, near, far) {
  const f = 1 / Math.tan(field / 2);
  return [f / aspect, 0, 0, 0, 0, f, 0, 0, 0, 0, (far + near) / (near - far), -1, 0, 0, 2 * far * near / (near - far), 0];
}

function boxed(low, high, beyond) {
  const [wide, tall, deep] = [high[0] - low[0], high[1] - low[1], high[2] - low[2] + beyond];
  return [2 / wide, 0, 0, 0, 0, 2 / tall, 0, 0, 0, 0, -2 / deep, 0,
    -(high[0] + low[0]) / wide, -(high[1] + low[1]) / tall, (high[2] + low[2] - beyond) / deep, 1];
}

function multiplied(a, b) {
  const found = new Float32Array(16);
  for (let column = 0; column < 4; column += 1) for (let row = 0; row < 4; row += 1)
    for (let index = 0; index < 4; index += 1) found[column * 4 + row] += a[index * 4 + row] * b[column * 4 + index];
  return found;
}

const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const unit = (a) => { const size = Math.hypot(...a) || 1; return a.map((value) => value / size); };
