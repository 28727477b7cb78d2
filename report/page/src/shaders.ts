// Shading of the stock. Positions are in the setup's frame; see columns.ts and view.ts for what is drawn when.
const common = /* glsl */ `
precision highp float;
precision highp int;
precision highp sampler2D;
precision highp usampler2D;
uniform vec4 section;       // x, y, z of the plane's normal, and its place along it; normal 0: none
uniform vec2 gridOrigin;
uniform float gridCell;
uniform ivec2 gridSize;
uniform vec3 eye;
uniform vec3 cutFace;       // colour of material the section plane goes through
uniform sampler2D motionColours;
ivec2 cellOf(vec2 p) { return clamp(ivec2(floor((p - gridOrigin) / gridCell)), ivec2(0), gridSize - 1); }
bool sectioned(vec3 p) { return dot(p, section.xyz) > section.w && dot(section.xyz, section.xyz) > 0.5; }
vec3 colourOf(uint id) { return texelFetch(motionColours, ivec2(int(id) & 1023, int(id) >> 10), 0).rgb; }
vec3 shaded(vec3 colour, vec3 n, vec3 p) {
  vec3 v = normalize(eye - p);
  float key = max(0.0, dot(n, normalize(vec3(0.35, -0.55, 0.9))));
  float head = max(0.0, dot(n, v));
  float shine = pow(max(0.0, dot(reflect(-v, n), normalize(vec3(0.35, -0.55, 0.9)))), 24.0);
  return colour * (0.36 + 0.38 * key + 0.34 * head) + 0.08 * shine;
}
bool opened() { return dot(section.xyz, section.xyz) > 0.5; }
vec3 hatched(vec3 colour) {
  float line = mod(gl_FragCoord.x + gl_FragCoord.y, 9.0);
  return mix(colour, colour * 0.72, smoothstep(1.6, 0.6, line));
}`;

export const surfaceVertex = /* glsl */ `
precision highp float;
precision highp int;
in uint madeBy;
in float deviation;
out vec3 place;
out float away;
flat out uint origin;
void main() {
  place = position;
  away = deviation;
  origin = madeBy;
  gl_Position = projectionMatrix * viewMatrix * vec4(position, 1.0);
}`;

export const surfaceFragment = /* glsl */ `${common}
in vec3 place;
in float away;
flat in uint origin;
uniform int phase;          // 0: all of it; 1: what is not yet cut away; 2: what motions up to now have made
uniform uint firstId;
uniform uint doneId;
uniform sampler2D floorMap;
uniform bool byDeviation;
uniform float deviationEnd;
uniform float deviationGrey;
uniform vec3 neutralColour;
uniform sampler2D twoSided;
out vec4 colour;
void main() {
  if (sectioned(place)) discard;
  if (phase == 1 && place.z > texelFetch(floorMap, cellOf(place.xy), 0).r + 0.01) discard;
  if (phase == 2 && (origin < firstId || origin > doneId)) discard;
  // Behind a section plane the inside shows; elsewhere it only shows through seams, and is shaded like the rest.
  if (!gl_FrontFacing && opened()) { colour = vec4(hatched(cutFace), 1.0); return; }
  vec3 n = normalize(cross(dFdx(place), dFdy(place)));
  vec3 base = !byDeviation ? colourOf(origin) : away > deviationGrey ? neutralColour
    : texture(twoSided, vec2(clamp(0.5 + 0.5 * away / deviationEnd, 0.002, 0.998), 0.5)).rgb;
  colour = vec4(shaded(base, n, place), 1.0);
}`;

export const columnVertex = /* glsl */ `
precision highp float;
precision highp int;
precision highp sampler2D;
uniform sampler2D topMap;
uniform vec2 gridOrigin;
uniform float gridCell;
uniform ivec2 gridSize;
uniform float lowest;
out vec3 place;
void main() {
  ivec2 c = ivec2(gl_VertexID % gridSize.x, gl_VertexID / gridSize.x);
  vec2 p = gridOrigin + (vec2(c) + 0.5) * gridCell;
  // The outermost columns reach to the edge of the grid.
  if (c.x == 0) p.x -= 0.5 * gridCell; else if (c.x == gridSize.x - 1) p.x += 0.5 * gridCell;
  if (c.y == 0) p.y -= 0.5 * gridCell; else if (c.y == gridSize.y - 1) p.y += 0.5 * gridCell;
  place = vec3(p, max(lowest, texelFetch(topMap, c, 0).r));
  gl_Position = projectionMatrix * viewMatrix * vec4(place, 1.0);
}`;

export const columnFragment = /* glsl */ `${common}
in vec3 place;
uniform sampler2D topMap;
uniform usampler2D idMap;
uniform usampler2D finalMap;
uniform bool finalKnown;
uniform uint doneId;
uniform bool neutral;
uniform vec3 neutralColour;
out vec4 colour;
void main() {
  if (sectioned(place)) discard;
  ivec2 c = cellOf(place.xy);
  if (texelFetch(topMap, c, 0).r < -1e8) discard;
  ivec2 b = clamp(ivec2(floor((place.xy - gridOrigin) / gridCell - 0.5)), ivec2(0), gridSize - 2);
  uint id = texelFetch(idMap, c, 0).r;
  float low = 1e9, high = -1e9, lowCut = 1e9;
  bool settled = finalKnown;
  uint fallback = 0u;
  for (int k = 0; k < 4; k++) {
    ivec2 q = b + ivec2(k & 1, k >> 1);
    float top = texelFetch(topMap, q, 0).r;
    uint i = texelFetch(idMap, q, 0).r;
    low = min(low, top);
    high = max(high, top);
    if (i != 0u && top < lowCut) { lowCut = top; fallback = i; }
    settled = settled && i == texelFetch(finalMap, q, 0).r && i <= doneId;
  }
  if (fallback == 0u) discard;
  if (settled && high - low > 1.2 * gridCell) discard;  // a wall the end surface has already
  if (id == 0u || high - low > 2.0 * gridCell) id = fallback;
  if (!gl_FrontFacing && opened()) { colour = vec4(hatched(cutFace), 1.0); return; }
  vec3 n = normalize(cross(dFdx(place), dFdy(place)));
  colour = vec4(shaded(neutral ? neutralColour : colourOf(id), n, place), 1.0);
}`;
