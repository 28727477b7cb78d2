// Shading of the stock. Positions are in the setup's frame; see columns.ts and stock_mesh.ts for what is drawn when.
// With PICK defined the same fragments tell, instead of a colour, what stands there: its distance from
// the eye, the motion that made it, its distance from the part, and flags (4: anything, 1: inside).
const light = /* glsl */ `
precision highp float;
precision highp int;
precision highp sampler2D;
precision highp usampler2D;
precision highp sampler3D;
uniform vec4 section;       // x, y, z of the plane's normal, and its place along it; normal 0: none
uniform vec2 gridOrigin;
uniform float gridCell;
uniform ivec2 gridSize;
uniform vec3 eye;
uniform vec3 cutFace;       // colour of material the section plane goes through
uniform sampler2D motionColours;
uniform bool byDeviation;
uniform float deviationEnd;
uniform float deviationGrey;
uniform vec3 neutralColour;
uniform int only;           // 0: all is shown; 1: what is left on the part; 2: what is cut into it
uniform float leftFrom;     // mm, the part's tolerances: less than that is neither
uniform float intoFrom;
uniform sampler2D twoSided;
uniform bool fieldKnown;
uniform sampler3D partField;
uniform mat4 fieldFromSetup;
uniform sampler3D materialMap; // share of material about a place, see occlusion.ts
uniform vec4 materialPlace;    // its low corner and the length of a cell; 0: not known
uniform vec3 materialSize;     // mm
const float unknown = 1e9;
ivec2 cellOf(vec2 p) { return clamp(ivec2(floor((p - gridOrigin) / gridCell)), ivec2(0), gridSize - 1); }
bool sectioned(vec3 p) { return dot(p, section.xyz) > section.w && dot(section.xyz, section.xyz) > 0.5; }
bool opened() { return dot(section.xyz, section.xyz) > 0.5; }
vec3 hatched(vec3 colour);
// mm from the part, positive outside; beyond the lattice it is further than grey begins,
// and inside the part no more is told than that.
float fromPart(vec3 p) {
  if (!fieldKnown) return unknown;
  vec3 q = (fieldFromSetup * vec4(p, 1.0)).xyz;
  if (any(lessThan(q, vec3(0.0))) || any(greaterThan(q, vec3(1.0)))) return deviationGrey + 1.0;
  return max(texture(partField, q).r, -deviationGrey);
}
vec3 colourOf(uint id, float away) {
  if (!byDeviation && only == 0) return texelFetch(motionColours, ivec2(int(id) & 1023, int(id) >> 10), 0).rgb;
  if (away > 0.5 * unknown) return hatched(neutralColour);
  if (away > deviationGrey) return neutralColour;
  return texture(twoSided, vec2(clamp(0.5 + 0.5 * away / deviationEnd, 0.002, 0.998), 0.5)).rgb;
}
// The same, worked out only where it is shown or told.
float asked(vec3 p) {
#ifndef PICK
  if (!byDeviation && only == 0) return 0.0;
#endif
  return fromPart(p);
}
// What is left of the light in corners and pockets. The lattice's means reach 5 cells; 2.5 off a plain face they hold an
// eighth of material, in a corner up to a half and more.
float openness(vec3 p, vec3 n) {
  if (materialPlace.w <= 0.0) return 1.0;
  vec3 q = (p + 2.5 * materialPlace.w * n - materialPlace.xyz) / materialSize;
  return clamp(1.12 - 0.96 * texture(materialMap, q).r, 0.45, 1.0);
}
vec3 shaded(vec3 colour, vec3 n, vec3 p, bool shiny) {
  vec3 v = normalize(eye - p), sun = normalize(vec3(0.35, -0.55, 0.9));
  vec3 mirror = vec3(1.0, 1.0, n.z < 0.0 ? -1.0 : 1.0); // the same sun from below, for work that is looked at from there
  float key = max(0.0, dot(n * mirror, sun));
  float head = max(0.0, dot(n, v));
  float fill = max(0.0, dot(n, vec3(-0.85, -0.3, 0.43)));
  float shine = shiny ? pow(max(0.0, dot(reflect(-v, n) * mirror, sun)), 24.0) : 0.0;
  float light = 0.36 + 0.06 * n.z + 0.34 * key + 0.24 * head + 0.13 * fill;
  return (colour * light + 0.1 * shine) * openness(p, n);
}
// What was not asked for is a ghost, one pixel in six, and cannot be clicked on.
bool ghost(float away) {
  return only == 1 ? !(away > leftFrom && away <= deviationGrey) : only == 2 && !(away < -intoFrom);
}
`;

const common = /* glsl */ `${light}
in vec3 place;
centroid in vec3 within;    // the same, never beside the triangle: of faces seen edge on place may lie far off
#ifdef PICK
layout(location = 0) out highp uvec4 told;
#else
out vec4 told;
#endif
vec3 hatched(vec3 colour) {
  float line = mod(gl_FragCoord.x + gl_FragCoord.y, 9.0);
  return mix(colour, colour * 0.72, smoothstep(1.6, 0.6, line));
}
// Behind a section plane the inside shows; elsewhere it only shows through seams, and is shaded like the rest.
// smoothed: the surface's normal from its neighbours, 0 where it is not known; one that is turned further from the
// face's own than alike (a cosine) is none.
void tell(uint id, float away, vec3 smoothed, float alike) {
  bool inside = !gl_FrontFacing && opened();
#ifdef PICK
  if (ghost(away)) discard;
  told = uvec4(floatBitsToUint(distance(eye, place)), id, floatBitsToUint(away), inside ? 5u : 4u);
#else
  vec3 n = normalize(cross(dFdx(place), dFdy(place)));
  if (dot(smoothed, smoothed) > 0.25) {
    vec3 s = normalize(gl_FrontFacing ? smoothed : -smoothed);
    if (dot(s, n) > alike) n = s;
  }
  if (ghost(away)) {
    ivec2 dot = ivec2(gl_FragCoord.xy);
    if (dot.x % 3 != 0 || (dot.y + (dot.x / 3) % 2) % 2 != 0) discard;
    told = vec4(shaded(neutralColour, n, place, true), 1.0);
    return;
  }
  told = vec4(inside ? hatched(cutFace) : shaded(colourOf(id, away), n, place, true), 1.0);
#endif
}`;

export const surfaceVertex = /* glsl */ `
precision highp float;
precision highp int;
in uint madeBy;             // what made this side of an edge
in uint since;              // what the whole triangle waits for
in float deviation;
out vec3 place;
centroid out vec3 within;
out float deviates;
out vec3 turned;
flat out uint origin;
flat out uint stands;
void main() {
  place = within = position;
  turned = normal;
  deviates = deviation;
  origin = madeBy;
  stands = since;
  gl_Position = projectionMatrix * viewMatrix * vec4(position, 1.0);
}`;

export const surfaceFragment = /* glsl */ `${common}
in float deviates;
in vec3 turned;
flat in uint origin;
flat in uint stands;
uniform int phase;          // 0: all of it; 1: what is not yet cut away; 2: what motions up to now have made
uniform uint firstId;
uniform uint doneId;
uniform sampler2D floorMap;
void main() {
  if (sectioned(within)) discard;
  if (phase == 1 && within.z > texelFetch(floorMap, cellOf(within.xy), 0).r + 0.01) discard;
  if (phase == 2 && (stands < firstId || stands > doneId)) discard;
  tell(origin, deviates > 0.5 * unknown ? asked(place) : deviates, turned, 0.97);
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
centroid out vec3 within;
void main() {
  ivec2 c = ivec2(gl_VertexID % gridSize.x, gl_VertexID / gridSize.x);
  vec2 p = gridOrigin + (vec2(c) + 0.5) * gridCell;
  // The outermost columns reach to the edge of the grid.
  if (c.x == 0) p.x -= 0.5 * gridCell; else if (c.x == gridSize.x - 1) p.x += 0.5 * gridCell;
  if (c.y == 0) p.y -= 0.5 * gridCell; else if (c.y == gridSize.y - 1) p.y += 0.5 * gridCell;
  place = within = vec3(p, max(lowest, texelFetch(topMap, c, 0).r));
  gl_Position = projectionMatrix * viewMatrix * vec4(place, 1.0);
}`;

export const columnFragment = /* glsl */ `${common}
uniform sampler2D topMap;
uniform usampler2D idMap;
uniform usampler2D finalMap;
uniform bool finalKnown;
uniform uint doneId;
void main() {
  if (sectioned(within)) discard;
  ivec2 c = cellOf(within.xy);
  if (texelFetch(topMap, c, 0).r < -1e8) discard;
  ivec2 b = clamp(ivec2(floor((within.xy - gridOrigin) / gridCell - 0.5)), ivec2(0), gridSize - 2);
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
  vec3 wall = vec3(0.0);
#ifndef PICK
  // Walls stand along columns: the way the heights about it fall says how the wall is turned.
  if (high - low > gridCell) {
    vec2 fall = vec2(0.0);
    for (int k = 0; k < 25; k++) {
      ivec2 o = ivec2(k % 5, k / 5) - 2;
      fall -= vec2(o) * clamp(texelFetch(topMap, clamp(c + o, ivec2(0), gridSize - 1), 0).r, low, high);
    }
    if (dot(fall, fall) > 1e-6) wall = vec3(normalize(fall), 0.0);
  }
#endif
  tell(id, asked(place), wall, 0.6);
}`;

// While the picture moves and drawing is slow: colour and light of each vertex, and next to nothing a pixel.
const draftHead = /* glsl */ `${light}
vec3 hatched(vec3 colour) { return 0.88 * colour; }
out vec3 within;
out vec3 hue;
flat out uint stands;
void lit(uint id, float away, vec3 n, vec3 p) {
  if (dot(eye - p, n) < 0.0) n = -n;
  hue = ghost(away) ? vec3(-1.0) : shaded(colourOf(id, away), n, p, false);
}
`;
export const draftSurfaceVertex = /* glsl */ `${draftHead}
in uint madeBy;
in uint since;
in float deviation;
void main() {
  within = position;
  stands = since;
  lit(madeBy, deviation > 0.5 * unknown ? asked(position) : deviation, normal, position);
  gl_Position = projectionMatrix * viewMatrix * vec4(position, 1.0);
}`;
export const draftColumnVertex = /* glsl */ `${draftHead}
uniform sampler2D topMap;
uniform usampler2D idMap;
uniform float lowest;
float topOf(ivec2 c) { return max(lowest, texelFetch(topMap, clamp(c, ivec2(0), gridSize - 1), 0).r); }
void main() {
  ivec2 c = ivec2(gl_VertexID % gridSize.x, gl_VertexID / gridSize.x);
  within = vec3(gridOrigin + (vec2(c) + 0.5) * gridCell, topOf(c));
  uint id = texelFetch(idMap, c, 0).r;
  stands = texelFetch(topMap, c, 0).r < -1e8 ? 0u : 1u;
  vec2 fall = vec2(topOf(c - ivec2(1, 0)) - topOf(c + ivec2(1, 0)), topOf(c - ivec2(0, 1)) - topOf(c + ivec2(0, 1)));
  lit(id, asked(within), normalize(vec3(fall, 2.0 * gridCell)), within);
  gl_Position = projectionMatrix * viewMatrix * vec4(within, 1.0);
}`;
export const draftFragment = /* glsl */ `
precision highp float;
precision highp int;
precision highp sampler2D;
in vec3 within;
in vec3 hue;
flat in uint stands;
uniform vec4 section;
uniform vec3 cutFace;
uniform int phase;          // as of surfaces; 3: columns
uniform uint firstId;
uniform uint doneId;
uniform sampler2D floorMap;
uniform vec2 gridOrigin;
uniform float gridCell;
uniform ivec2 gridSize;
out vec4 told;
void main() {
  if (hue.r < 0.0) discard;
  bool opened = dot(section.xyz, section.xyz) > 0.5;
  if (opened && dot(within, section.xyz) > section.w) discard;
  if (phase == 3 && stands == 0u) discard;
  if (phase == 2 && (stands < firstId || stands > doneId)) discard;
  if (phase == 1) {
    ivec2 c = clamp(ivec2(floor((within.xy - gridOrigin) / gridCell)), ivec2(0), gridSize - 1);
    if (within.z > texelFetch(floorMap, c, 0).r + 0.01) discard;
  }
  told = vec4(opened && !gl_FrontFacing ? cutFace : hue, 1.0);
}`;

// Dots on the surface, held towards the eye by their width so that what they stand on does not hide them.
export const finishVertex = /* glsl */ `
uniform vec4 section;
uniform float wide;
uniform float scale;
in vec3 colour;
out vec3 hue;
void main() {
  hue = colour;
  vec4 at = modelViewMatrix * vec4(position, 1.0);
  at.xyz *= 1.0 - wide / length(at.xyz);
  gl_Position = projectionMatrix * at;
  if (dot(position, section.xyz) > section.w && dot(section.xyz, section.xyz) > 0.5) gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
  gl_PointSize = max(3.0, wide * scale / -at.z);
}`;
export const finishFragment = /* glsl */ `
in vec3 hue;
out vec4 told;
void main() { told = vec4(hue, 1.0); }`;
