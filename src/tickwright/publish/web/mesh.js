/* What the GPU is given: the faces, outlines and numbers of the shown cells as plain arrays, textures, shaders. */

const SHADE = { up: 1, south: 0.9, east: 0.82, west: 0.86, north: 0.78, down: 0.62 };
const STEPS = {
  north: [0, -1, 0], south: [0, 1, 0], east: [1, 0, 0], west: [-1, 0, 0], up: [0, 0, 1], down: [0, 0, -1],
};
const OPPOSITE = { north: "south", south: "north", east: "west", west: "east", up: "down", down: "up" };

export const PARTS_VERTEX = `
  attribute vec3 info; // cell, role, shade
  uniform sampler2D table;
  uniform vec2 tableSize;
  uniform vec3 roles[6];
  uniform vec3 over[16];
  varying vec3 shown;
  void main() {
    vec2 at = vec2(mod(info.x, tableSize.x) + 0.5, floor(info.x / tableSize.x) + 0.5) / tableSize;
    vec4 here = texture2D(table, at);
    int role = int(info.y + 0.5);
    vec3 colour = roles[role];
    if (role == 1) colour = here.rgb;
    if (role == 4 && here.a > 0.01) colour = mix(colour, here.rgb, 0.45);
    if (role == 5) colour = over[int(here.a * 255.0 / 16.0 + 0.5)];
    shown = colour * info.z;
    gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
  }`;
export const PARTS_FRAGMENT = `
  varying vec3 shown;
  void main() { gl_FragColor = vec4(shown, 1.0); }`;
export const NUMBERS_VERTEX = `
  attribute vec3 anchor;
  attribute vec4 owner; // cell, and which way the side looks that the number is on (0, 0, 0: every way)
  uniform sampler2D table;
  uniform vec2 tableSize;
  varying vec2 place;
  void main() {
    vec2 at = vec2(mod(owner.x, tableSize.x) + 0.5, floor(owner.x / tableSize.x) + 0.5) / tableSize;
    float level = floor(texture2D(table, at).a * 255.0 / 16.0 + 0.5);
    vec4 seen = modelViewMatrix * vec4(anchor, 1.0);
    seen.xyz += vec3(position.xy * 0.38, 0.45);
    place = (vec2(mod(level, 4.0), 3.0 - floor(level / 4.0)) + position.xy + 0.5) / 4.0;
    bool away = owner.yzw != vec3(0.0) && normalize(mat3(modelViewMatrix) * owner.yzw).z < 0.3;
    gl_Position = level < 0.5 || away ? vec4(2.0, 2.0, 2.0, 1.0) : projectionMatrix * seen;
  }`;
export const NUMBERS_FRAGMENT = `
  uniform sampler2D digits;
  varying vec2 place;
  void main() {
    vec4 colour = texture2D(digits, place);
    if (colour.a < 0.5) discard;
    gl_FragColor = vec4(colour.rgb / colour.a, 1.0);
  }`;

/** The corner of a cell (x east, y south, z up) in the coordinates of three.js (x east, y up, z south). */
export const toThree = ([x, y, z]) => [x, z, y];

/** A container's fill level, as a comparator reads it; every other value is a level already. */
export function levelOf(value, capacity, top) {
  if (!capacity) return Math.min(value, top);
  return value ? Math.floor(1 + ((top - 1) * value) / capacity) : 0;
}

/** The rows [cell, solid, part] of each configuration: all but the first are given as what differs from the first. */
export function configurationRows(data) {
  const [first, ...others] = data.configurations;
  return [first, ...others.map((different) => {
    const rows = new Map(first.map((row) => [row[0], row]));
    for (const row of different) {
      if (row.length > 1) rows.set(row[0], row);
      else rows.delete(row[0]);
    }
    return [...rows.values()].sort((a, b) => a[0] - b[0]);
  })];
}

/** The arrays of rows [cell, solid, part]: faces that a full neighbour hides are left out, hidden cells' lines too.
 *
 * positions: 3 numbers a corner, 3 corners a triangle; info: cell, role and shade of each corner; owners: the cell of
 * each triangle; lines: 6 numbers each; anchors and anchorOwners: where numbers go, their cell and which way they look.
 */
export function meshArrays(data, rows) {
  const solids = data.solids.map((solid) => ({ ...solid, full: new Set(solid.faces.map((face) => face[1])) }));
  const at = new Map(rows.map(([cell, solid]) => [data.cells[cell].join(), solid]));
  const beside = data.sides.map((side) => STEPS[side]);
  const opposite = data.sides.map((side) => data.sides.indexOf(OPPOSITE[side]));
  const neighbour = (here, side) => at.get(here.map((value, axis) => value + beside[side][axis]).join());
  const covered = (here, side) => {
    const solid = neighbour(here, side);
    return solid !== undefined && solids[solid].full.has(opposite[side]);
  };
  const positions = [], info = [], owners = [], lines = [], anchors = [], anchorOwners = [];
  const up = data.sides.indexOf("up");
  for (const [cell, number] of rows) {
    const here = data.cells[cell];
    const solid = solids[number];
    const hidden = data.sides.map((_, side) => covered(here, side));
    let seen = 0;
    for (const [role, side, ...corners] of solid.faces) {
      if (side >= 0 && hidden[side % 6]) continue;
      seen++;
      const points = [];
      for (let i = 0; i < corners.length; i += 3) {
        points.push(toThree([here[0] + corners[i], here[1] + corners[i + 1], here[2] + corners[i + 2]]));
      }
      const shade = shadeOf(points);
      for (let i = 2; i < points.length; i++) {
        positions.push(...points[0], ...points[i - 1], ...points[i]);
        for (let corner = 0; corner < 3; corner++) info.push(cell, role, shade);
        owners.push(cell);
      }
    }
    if (!seen || hidden.every(Boolean)) continue;
    for (let i = 0; i < solid.lines.length; i += 3) {
      lines.push(...toThree([here[0] + solid.lines[i], here[1] + solid.lines[i + 1], here[2] + solid.lines[i + 2]]));
    }
    const [above, ...sides] = solid.anchors;
    const free = sides.length && neighbour(here, up) !== undefined
      ? sides.filter((_, side) => neighbour(here, side) === undefined)
      : [above];
    for (const anchor of free) {
      anchors.push(...toThree(anchor.map((value, axis) => here[axis] + value)));
      anchorOwners.push(cell, ...(sides.length ? toThree(anchor.map((value) => Math.round((value - 0.5) * 2))) : [0, 0, 0]));
    }
  }
  return { positions, info, owners, lines, anchors, anchorOwners };
}

/** How bright a face is for the way it looks. */
function shadeOf([a, b, c]) {
  const u = b.map((v, i) => v - a[i]), w = c.map((v, i) => v - a[i]);
  const normal = [u[1] * w[2] - u[2] * w[1], u[2] * w[0] - u[0] * w[2], u[0] * w[1] - u[1] * w[0]];
  const length = Math.hypot(...normal) || 1;
  const [east, up, south] = normal.map((v) => v / length);
  const share = (value, plus, minus) => value * value * (value > 0 ? plus : minus);
  return share(east, SHADE.east, SHADE.west) + share(up, SHADE.up, SHADE.down) + share(south, SHADE.south, SHADE.north);
}

/** Twelve bars along the edges of a cube of edge 1 about the origin, as one geometry. */
export function frameGeometry(THREE) {
  const half = 0.5, thin = 0.025;
  const positions = [];
  for (const axis of [0, 1, 2]) for (const u of [-half, half]) for (const v of [-half, half]) {
    const size = [0, 0, 0], at = [0, 0, 0];
    for (let i = 0; i < 3; i++) {
      size[i] = i === axis ? 1 + 2 * thin : 2 * thin;
      at[i] = i === axis ? 0 : i === (axis + 1) % 3 ? u : v;
    }
    const bar = new THREE.BoxGeometry(...size).toNonIndexed();
    bar.translate(...at);
    positions.push(...bar.attributes.position.array);
    bar.dispose();
  }
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute("position", new THREE.Float32BufferAttribute(positions, 3));
  return geometry;
}

/** The numbers 0 to 15 in a square of four by four, light with a dark rim so that they read on any colour. */
export function digitsTexture(THREE) {
  const cell = 64;
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = cell * 4;
  const pen = canvas.getContext("2d");
  pen.font = "600 42px system-ui, sans-serif";
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineJoin = "round";
  pen.lineWidth = 9;
  for (let level = 0; level < 16; level++) {
    const x = (level % 4) * cell + cell / 2, y = Math.floor(level / 4) * cell + cell / 2 + 3;
    pen.strokeStyle = "#101318";
    pen.strokeText(String(level), x, y);
    pen.fillStyle = "#ffffff";
    pen.fillText(String(level), x, y);
  }
  const texture = new THREE.CanvasTexture(canvas);
  texture.generateMipmaps = true;
  texture.minFilter = THREE.LinearMipmapLinearFilter;
  texture.anisotropy = 4;
  texture.premultiplyAlpha = true;
  return texture;
}
