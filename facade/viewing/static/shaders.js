// What the graphics card works out: places of the strips from their heights, wood as a solid, light and shadow.

const PLACES = `
uniform highp usampler2D heights;
uniform highp sampler2D strips;
uniform vec2 size;      // columns, rows of a strip
uniform float blank;
uniform vec2 ends;      // lowest and highest y of the strips
in vec4 corner;         // column, row, 1 at the face or 0 at the back, side: 0 face, 1 left, 2 right, 3 lower end, 4 upper end
vec4 strip(int which) { return texelFetch(strips, ivec2(which, gl_InstanceID), 0); }
float heightAt(float column, float row) {
  ivec2 at = ivec2(gl_InstanceID * int(size.x) + int(clamp(column, 0.0, size.x - 1.0)), int(clamp(row, 0.0, size.y - 1.0)));
  return float(texelFetch(heights, at, 0).r) / 65535.0 * blank;
}
vec3 place() {
  vec4 wide = strip(0);
  float x = mix(wide.x, wide.y, corner.x / (size.x - 1.0));
  float y = mix(ends.x, ends.y, corner.y / (size.y - 1.0));
  return vec3(x, y, corner.z * heightAt(corner.x, corner.y));
}
`;

export const STRIP_VERTEX = `#version 300 es
precision highp float;
${PLACES}
uniform mat4 view;
uniform mat4 towards;
out vec3 at;
out vec3 normal;
out vec4 shade;
out float deep;
flat out vec4 board;
flat out vec4 tone;
void main() {
  vec4 wide = strip(0);
  at = place();
  float across = (wide.y - wide.x) / (size.x - 1.0), along = (ends.y - ends.x) / (size.y - 1.0);
  float left = max(corner.x - 1.0, 0.0), right = min(corner.x + 1.0, size.x - 1.0);
  float below = max(corner.y - 1.0, 0.0), above = min(corner.y + 1.0, size.y - 1.0);
  vec2 slope = vec2(
    (heightAt(right, corner.y) - heightAt(left, corner.y)) / ((right - left) * across),
    (heightAt(corner.x, above) - heightAt(corner.x, below)) / ((above - below) * along));
  normal = corner.w < 0.5 ? normalize(vec3(-slope, 1.0)) : corner.w < 1.5 ? vec3(-1.0, 0.0, 0.0) : corner.w < 2.5 ? vec3(1.0, 0.0, 0.0)
    : corner.w < 3.5 ? vec3(0.0, -1.0, 0.0) : vec3(0.0, 1.0, 0.0);
  deep = corner.w < 0.5 ? 1.0 : corner.z;
  board = strip(1);
  tone = strip(2);
  // A little before the face, so that it throws no shadow on itself.
  shade = towards * vec4(at + 0.5 * normal, 1.0);
  gl_Position = view * vec4(at, 1.0);
}`;

export const SHADOW_VERTEX = `#version 300 es
precision highp float;
${PLACES}
uniform mat4 towards;
void main() { gl_Position = towards * vec4(place(), 1.0); }`;

export const SHADOW_FRAGMENT = `#version 300 es
precision highp float;
void main() {}`;

const LIGHT = `
uniform vec3 direction;
uniform float ambient;
uniform vec4 lamp;      // 1 above or -1 below, beyond the edge, out, what a level face takes on average; 0 where there is none
uniform float tall;
uniform highp sampler2DShadow shadows;
uniform float soft;
float shadowed(vec4 shade) {
  vec3 p = shade.xyz * 0.5 + 0.5;
  if (any(lessThan(p, vec3(0.0))) || any(greaterThan(p, vec3(1.0)))) return 1.0;
  float lit = 0.0;
  for (int i = -1; i <= 1; i++) for (int j = -1; j <= 1; j++) lit += texture(shadows, vec3(p.xy + vec2(i, j) * soft, p.z));
  return lit / 9.0;
}
float lit(vec3 at, vec3 n, vec4 shade, float room) {
  float direct;
  if (lamp.x != 0.0) {
    float away = max(lamp.y + (lamp.x > 0.0 ? tall - at.y : at.y), 5.0), out_ = lamp.z - at.z;
    direct = max(dot(n, vec3(0.0, lamp.x * away, out_)), 0.0) / (away * away + out_ * out_) / lamp.w;
  } else direct = max(dot(n, direction), 0.0) / direction.z;
  return (1.0 - ambient) * direct * shadowed(shade) + ambient * room;
}
vec3 seen(vec3 bright) {
  bright *= 0.97;
  vec3 over = max(bright - 0.5, 0.0);
  bright = min(bright, 0.5) + 0.5 * (1.0 - exp(-over / 0.5));
  return mix(12.92 * bright, 1.055 * pow(max(bright, 1e-6), vec3(1.0 / 2.4)) - 0.055, step(0.0031308, bright));
}
`;

export const STRIP_FRAGMENT = `#version 300 es
precision highp float;
in vec3 at;
in vec3 normal;
in vec4 shade;
in float deep;
flat in vec4 board;     // pith, depth, lean, drift
flat in vec4 tone;      // start of the rings, tone, number of the strip, its board
uniform vec3 dark;
uniform vec3 light;
uniform vec4 figure;    // ring width, contrast, streak, late
uniform float drinks;
uniform float chosen;
out vec4 colour;
${LIGHT}
float chance(vec2 p) {
  uvec2 q = uvec2(ivec2(floor(p)) + 100000);
  uint h = q.x * 0x9E3779B1u ^ q.y * 0x85EBCA6Bu;
  h ^= h >> 15; h *= 0x2C1B3C6Du; h ^= h >> 12;
  return float(h & 0xFFFFu) / 65535.0;
}
float smoothChance(vec2 p) {
  vec2 i = floor(p), f = fract(p);
  f = f * f * (3.0 - 2.0 * f);
  return mix(mix(chance(i), chance(i + vec2(1, 0)), f.x), mix(chance(i + vec2(0, 1)), chance(i + 1.0), f.x), f.y);
}
void main() {
  float radius = length(vec2(at.x - board.x + board.w * at.y, board.y + at.z + board.z * at.y));
  radius += 3.0 * (smoothChance(vec2(at.x / 34.0 + tone.w * 91.0, at.y / 150.0)) - 0.5);
  float turns = radius / figure.x + tone.x, wide = fwidth(turns);
  float ring = (0.55 + 0.45 * chance(vec2(floor(turns), 7.0))) * pow(fract(turns), figure.w);
  ring = mix(ring, 0.78 / (figure.w + 1.0), smoothstep(0.3, 0.9, wide));
  vec2 fibre = vec2((at.x + 0.55 * at.z) / 0.5, at.y / 23.0);
  float strand = (smoothChance(fibre) - 0.5) * (1.0 - smoothstep(0.5, 2.0, fwidth(fibre.x)));
  strand += 0.6 * (smoothChance(vec2((at.x + 0.55 * at.z) / 2.6, at.y / 130.0)) - 0.5);
  float bright = clamp(1.0 - figure.y * ring + 0.42 * figure.z * strand, 0.0, 1.4);
  vec3 n = normalize(normal);
  float up = abs(n.y) / max(abs(n.z), 0.05);
  float kept = 1.0 - drinks + drinks / sqrt(1.0 + 4.0 * up * up);
  float room = deep < 0.999 ? 0.15 + 0.55 * deep : 0.5 + 0.5 * n.z;
  vec3 wood = mix(dark, light, bright) * tone.y * kept * lit(at, n, shade, room);
  if (chosen == tone.z) wood = mix(wood, vec3(dot(wood, vec3(0.3, 0.6, 0.1))) * vec3(0.55, 0.85, 1.1) + 0.05, 0.8);
  colour = vec4(seen(wood), 1.0);
}`;

export const WALL_VERTEX = `#version 300 es
precision highp float;
uniform mat4 view;
uniform mat4 towards;
in vec3 corner;
out vec3 at;
out vec4 shade;
void main() {
  at = corner;
  shade = towards * vec4(corner, 1.0);
  gl_Position = view * vec4(corner, 1.0);
}`;

export const WALL_FRAGMENT = `#version 300 es
precision highp float;
in vec3 at;
in vec4 shade;
uniform vec3 paint;
uniform float room;
out vec4 colour;
${LIGHT}
void main() { colour = vec4(seen(paint * lit(at, vec3(0.0, 0.0, 1.0), shade, room)), 1.0); }`;
