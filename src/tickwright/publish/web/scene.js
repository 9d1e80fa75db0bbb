/* The 3D view of a plan. Whoever mounts it hands in THREE and OrbitControls, so that it works with the three.js that
 * NiceGUI serves and inlined in a self-contained page alike.
 *
 *   import { mountScene } from "./scene.js";
 *   const view = mountScene(element, data, { THREE, OrbitControls, onPick: (cell) => ... });
 *   view.setLevels(values);            // one value for each of data.cells: a level, or a container's count
 *
 * `data` is what `scene_data` (publish/scene.py) makes. Cells are numbers: places in data.cells. All faces are one mesh;
 * each vertex knows its cell, and a frame only rewrites a small texture that holds the colour and level of each cell.
 */

import {
  NUMBERS_FRAGMENT, NUMBERS_VERTEX, PARTS_FRAGMENT, PARTS_VERTEX, configurationRows, digitsTexture, frameGeometry, levelOf,
  meshArrays, toThree,
} from "./mesh.js";

// What each role of a face is coloured with: a name of data.palette.light or .dark, where "level-3" and "on-level-3" are
// the colours of level 3 and of what is written on it.
const ROLE_COLOURS = { body: "block", pale: "panel", ink: "soft", glow: "block" };
const LEVELS = Array.from({ length: 16 }, (_, level) => level);
const CORNERS = {
  "south-east": [1, 1], "south-west": [-1, 1], "north-west": [-1, -1], "north-east": [1, -1],
};
const TABLE_WIDTH = 256;
const MOST_TICKS = 40; // numbers along the edge of the ground
const TICK_WIDE = 18, TICK_HIGH = 13; // pixels from one of them to the next, to the side or down
const TAG_ROOM = 44; // pixels above and below the plan, together, that names may take
const ROSE = 30; // pixels from the middle of the compass to its letters
const NAME_HIGH = 20; // pixels from one name to the next above it
const SVG_NAMES = "http://www.w3.org/2000/svg";

function rgb(hex) {
  return [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16));
}

/** Mount the view in an element; throws if the browser has no WebGL. See the end of this file for what it can do. */
export function mountScene(element, data, options) {
  const { THREE, OrbitControls, onPick = () => {} } = options;
  let theme = options.theme === "dark" ? "dark" : "light";
  let configuration = 0;
  let rowsOf = [];
  let values = null;
  let layer = null;
  let onlyLayer = false;
  let built = null;
  let chosen = null;
  let marked = [];
  let numbersShown = options.numbers !== false;
  let frameAsked = 0;
  let fitted = null; // zoom and target of the last fit

  const renderer = new THREE.WebGLRenderer({ antialias: true });
  renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
  const canvas = renderer.domElement;
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "application");
  canvas.setAttribute("aria-label", options.label || "3D view of the plan");
  canvas.style.display = "block";
  element.style.position = "relative";
  element.style.overflow = "hidden";
  const overlay = document.createElement("div");
  overlay.setAttribute("aria-hidden", "true");
  const rose = document.createElementNS(SVG_NAMES, "svg"); // the lines of the compass: across, and to the north
  for (const name of ["line", "path"]) rose.append(document.createElementNS(SVG_NAMES, name));
  Object.assign(overlay.style, { position: "absolute", inset: "0", pointerEvents: "none", overflow: "hidden" });
  element.append(canvas, overlay);

  const scene = new THREE.Scene();
  const camera = new THREE.OrthographicCamera(-1, 1, 1, -1, 0.1, 1000);
  const controls = new OrbitControls(camera, canvas);
  controls.enableDamping = false;
  controls.addEventListener("change", ask);

  const uniforms = {
    table: { value: null }, tableSize: { value: new THREE.Vector2() }, digits: { value: digitsTexture(THREE) },
    roles: { value: [] }, over: { value: [] },
  };
  const partsMaterial = new THREE.ShaderMaterial({
    uniforms, vertexShader: PARTS_VERTEX, fragmentShader: PARTS_FRAGMENT,
    polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1,
  });
  const numbersMaterial = new THREE.ShaderMaterial({
    uniforms, vertexShader: NUMBERS_VERTEX, fragmentShader: NUMBERS_FRAGMENT,
  });
  const lineMaterial = new THREE.LineBasicMaterial();
  const gridMaterial = new THREE.LineBasicMaterial();
  const frame = frameGeometry(THREE);
  const frames = {
    chosen: new THREE.MeshBasicMaterial(), marked: new THREE.MeshBasicMaterial(),
  };
  const groups = { parts: new THREE.Group(), ground: new THREE.Group(), frames: new THREE.Group() };
  scene.add(groups.ground, groups.parts, groups.frames);
  let mesh = null;
  let cellOfTriangle = new Uint32Array(0);
  let partOfCell = new Int32Array(0);
  let texels = null;
  let tags = [];

  // --- what is drawn --------------------------------------------------------------------------------------------------

  function clear(group) {
    for (const child of group.children) if (child.geometry !== frame) child.geometry.dispose();
    group.clear();
  }

  /** Everything that depends on the plan alone. */
  function lay() {
    const height = Math.max(1, Math.ceil(data.cells.length / TABLE_WIDTH));
    texels = new Uint8Array(TABLE_WIDTH * height * 4);
    if (uniforms.table.value) uniforms.table.value.dispose();
    uniforms.table.value = new THREE.DataTexture(texels, TABLE_WIDTH, height);
    uniforms.tableSize.value.set(TABLE_WIDTH, height);
    rowsOf = configurationRows(data);
    configuration = Math.min(configuration, rowsOf.length - 1);
    ground();
    build();
  }

  function isShown(cell) {
    const z = data.cells[cell][2];
    if (layer !== null && (onlyLayer ? z !== layer : z > layer)) return false;
    return built === null || built.has(cell);
  }

  /** The one mesh of the present configuration, hidden faces left out; outlines; where numbers go. */
  function build() {
    clear(groups.parts);
    const rows = rowsOf[configuration].filter(([cell]) => isShown(cell));
    partOfCell = new Int32Array(data.cells.length).fill(-1);
    for (const [cell, , part] of rowsOf[configuration]) partOfCell[cell] = part;
    const { positions, info, owners, lines, anchors, anchorOwners } = meshArrays(data, rows);
    cellOfTriangle = Uint32Array.from(owners);
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.Float32BufferAttribute(positions, 3));
    geometry.setAttribute("info", new THREE.Float32BufferAttribute(info, 3));
    mesh = new THREE.Mesh(geometry, partsMaterial);
    const outline = new THREE.BufferGeometry();
    outline.setAttribute("position", new THREE.Float32BufferAttribute(lines, 3));
    const quads = new THREE.InstancedBufferGeometry();
    const quad = [-0.5, -0.5, 0, 0.5, -0.5, 0, 0.5, 0.5, 0, -0.5, -0.5, 0, 0.5, 0.5, 0, -0.5, 0.5, 0];
    quads.setAttribute("position", new THREE.Float32BufferAttribute(quad, 3));
    quads.setAttribute("anchor", new THREE.InstancedBufferAttribute(Float32Array.from(anchors), 3));
    quads.setAttribute("owner", new THREE.InstancedBufferAttribute(Float32Array.from(anchorOwners), 4));
    quads.instanceCount = anchors.length / 3;
    const numbers = new THREE.Mesh(quads, numbersMaterial);
    numbers.frustumCulled = false;
    numbers.visible = numbersShown;
    groups.parts.add(mesh, new THREE.LineSegments(outline, lineMaterial), numbers);
    colour();
    placeFrames();
  }

  /** The grid below the plan, its coordinates, the compass, and the names of triggers and outputs. */
  function ground() {
    clear(groups.ground);
    const [wide, deep] = data.size;
    const lines = [];
    for (let x = 0; x <= wide; x++) lines.push(x, 0, 0, x, 0, deep);
    for (let y = 0; y <= deep; y++) lines.push(0, 0, y, wide, 0, y);
    const grid = new THREE.BufferGeometry();
    grid.setAttribute("position", new THREE.Float32BufferAttribute(lines, 3));
    groups.ground.add(new THREE.LineSegments(grid, gridMaterial));
    overlay.replaceChildren(rose);
    tags = [];
    const every = (length) => Math.ceil(length / MOST_TICKS);
    for (let x = 0; x < wide; x += every(wide)) tag(String(x), [x + 0.5, deep / 2, 0], "x");
    for (let y = 0; y < deep; y += every(deep)) tag(String(y), [wide / 2, y + 0.5, 0], "y");
    for (const [letter, at] of [["N", [0, -1, 0]], ["S", [0, 1, 0]], ["W", [-1, 0, 0]], ["E", [1, 0, 0]]]) {
      tag(letter, at, "compass");
    }
    const names = new Map();
    for (const [name, cell] of [...Object.entries(data.triggers), ...Object.entries(data.outputs)]) {
      const known = names.get(cell) || [];
      if (!known.includes(name)) names.set(cell, [...known, name]);
    }
    for (const [cell, here] of names) {
      const [x, y, z] = data.cells[cell];
      tag(here.join(", "), [x + 0.5, y + 0.5, z + 1], "name", cell);
    }
    paint();
  }

  function tag(text, [x, y, z], sort, cell = null) {
    const label = document.createElement("span");
    label.textContent = text;
    Object.assign(label.style, {
      position: "absolute", left: "0", top: "0", whiteSpace: "nowrap", fontFamily: "system-ui, sans-serif",
      fontSize: sort === "x" || sort === "y" ? "11px" : "12px", fontWeight: text === "N" && sort === "compass" ? "800" : "500",
      padding: sort === "name" ? "0 4px" : "0", borderRadius: "3px", maxWidth: "14em", overflow: "hidden",
      textOverflow: "ellipsis",
    });
    overlay.append(label);
    tags.push({ label, sort, cell, at: new THREE.Vector3(...toThree([x, y, z])) });
  }

  /** Colours that depend on the theme. */
  function paint() {
    const tones = data.palette[theme];
    const colourOf = (hex) => new THREE.Vector3(...rgb(hex).map((value) => value / 255));
    scene.background = new THREE.Color().setStyle(tones.panel);
    uniforms.roles.value = data.roles.map((role) => colourOf(tones[ROLE_COLOURS[role] || "ink"]));
    uniforms.over.value = LEVELS.map((level) => colourOf(tones[`on-level-${level}`]));
    if (texels) colour();
    lineMaterial.color.setStyle(tones.edge);
    gridMaterial.color.setStyle(tones.grid);
    rose.setAttribute("stroke", tones.ink);
    rose.setAttribute("fill", tones.ink);
    frames.chosen.color.setStyle(tones.ink);
    frames.marked.color.setStyle(tones.soft);
    for (const { label, sort } of tags) {
      label.style.color = sort === "name" ? tones.panel : tones.ink;
      label.style.background = sort === "name" ? tones.soft : "none";
    }
    ask();
  }

  /** Bring the levels into the texture: colour of the level, and the level itself in the fourth channel. */
  function colour() {
    const tones = data.palette[theme];
    const palette = LEVELS.map((level) => rgb(tones[`level-${level}`]));
    const amber = rgb(tones.amber);
    for (let cell = 0; cell < data.cells.length; cell++) {
      const part = data.parts[partOfCell[cell]];
      const value = values && part && part.posture !== "on the move" ? values[cell] || 0 : 0;
      const level = levelOf(value, part && part.capacity, data.top_level);
      texels.set(level && part.kind === "lamp" ? amber : palette[Math.min(level, 15)], cell * 4);
      texels[cell * 4 + 3] = Math.min(level, 15) * 16;
    }
    uniforms.table.value.needsUpdate = true;
    ask();
  }

  function placeFrames() {
    clear(groups.frames);
    const put = (cells, material, scale) => {
      for (const cell of cells) {
        const box = new THREE.Mesh(frame, material);
        const [x, y, z] = toThree(data.cells[cell]);
        box.position.set(x + 0.5, y + 0.5, z + 0.5);
        box.scale.setScalar(scale);
        groups.frames.add(box);
      }
    };
    put(marked, frames.marked, 1.03);
    if (chosen !== null) put([chosen], frames.chosen, 1.08);
    ask();
  }

  // --- the camera -----------------------------------------------------------------------------------------------------

  function middle() {
    return new THREE.Vector3(...toThree(data.size.map((length) => length / 2)));
  }

  /** Move and zoom so that all that ever stands there fits, with the tags round it. */
  function fit() {
    camera.updateMatrixWorld();
    const low = new THREE.Vector3(Infinity, Infinity, 0), high = new THREE.Vector3(-Infinity, -Infinity, 0);
    const seen = new THREE.Vector3();
    const [wide, deep] = data.size;
    const points = [[-0.6, -0.6, 0], [wide + 0.6, -0.6, 0], [-0.6, deep + 0.6, 0], [wide + 0.6, deep + 0.6, 0]];
    for (const [x, y, z] of data.cells) {
      for (const dx of [0, 1]) for (const dy of [0, 1]) points.push([x + dx, y + dy, z], [x + dx, y + dy, z + 1.4]);
    }
    for (const point of points) {
      seen.set(...toThree(point)).applyMatrix4(camera.matrixWorldInverse);
      low.min(seen);
      high.max(seen);
    }
    const middle = new THREE.Vector3((low.x + high.x) / 2, (low.y + high.y) / 2, 0).applyQuaternion(camera.quaternion);
    controls.target.add(middle);
    camera.position.add(middle);
    controls.update();
    const room = 1 - Math.min(TAG_ROOM / element.clientHeight, 0.4);
    camera.zoom = Math.min((camera.right / (high.x - low.x)) * 0.96, (camera.top / (high.y - low.y)) * room) * 2;
    camera.updateProjectionMatrix();
    fitted = { zoom: camera.zoom, target: controls.target.clone() };
  }

  /** Stand in a corner ("south-east", ...) or "above", and look at the middle of the plan. */
  function lookFrom(corner) {
    const reach = Math.hypot(...data.size) + 10;
    const [east, south] = CORNERS[corner] || [0, 0];
    const far = corner === "above" ? [0, 1, 0.0001] : [east, 0.9, south];
    controls.target.copy(middle());
    camera.position.copy(controls.target).addScaledVector(new THREE.Vector3(...far).normalize(), reach * 2);
    camera.near = 0.1;
    camera.far = reach * 5;
    controls.update();
    fit();
    ask();
  }

  function orbit(around, upward) {
    const away = camera.position.clone().sub(controls.target);
    const place = new THREE.Spherical().setFromVector3(away);
    place.theta += around;
    place.phi = Math.min(Math.max(place.phi + upward, 0.001), Math.PI / 2 + 0.6);
    camera.position.copy(controls.target).add(away.setFromSpherical(place));
    controls.update();
    ask();
  }

  function zoom(factor) {
    camera.zoom *= factor;
    camera.updateProjectionMatrix();
    ask();
  }

  function resize() {
    const width = Math.max(element.clientWidth, 1);
    const height = Math.max(element.clientHeight, 1);
    renderer.setSize(width, height);
    const untouched = fitted && camera.zoom === fitted.zoom && controls.target.equals(fitted.target);
    camera.left = -width / height;
    camera.right = width / height;
    camera.top = 1;
    camera.bottom = -1;
    if (untouched) fit(); // a view that nobody has moved or zoomed shows all in its new room, too
    camera.updateProjectionMatrix();
    ask();
  }

  // --- frames ---------------------------------------------------------------------------------------------------------

  function ask() {
    if (!frameAsked) frameAsked = requestAnimationFrame(draw);
  }

  function draw() {
    frameAsked = 0;
    renderer.render(scene, camera);
    const width = element.clientWidth, height = element.clientHeight;
    const seen = new THREE.Vector3();
    const toCamera = camera.position.clone().sub(controls.target);
    const [wide, deep] = data.size;
    const named = [], counted = [];
    for (const { label, sort, at, cell } of tags) {
      seen.copy(at);
      if (sort === "x") seen.z = toCamera.z < 0 ? -0.45 : deep + 0.45; // the edges that are nearer to the eye
      if (sort === "y") seen.x = toCamera.x < 0 ? -0.45 : wide + 0.45;
      let x, y;
      if (sort === "compass") {
        seen.transformDirection(camera.matrixWorldInverse);
        [x, y] = [ROSE + 14 + seen.x * ROSE, height - ROSE - 14 - seen.y * ROSE];
      } else {
        seen.project(camera);
        [x, y] = [((seen.x + 1) / 2) * width, ((1 - seen.y) / 2) * height];
      }
      let shown = cell === null || isShown(cell);
      if (sort === "x" || sort === "y") { // a number that has no room is left out
        shown = counted.every(([u, v]) => Math.abs(u - x) >= TICK_WIDE || Math.abs(v - y) >= TICK_HIGH);
        if (shown) counted.push([x, y]);
      }
      label.style.visibility = shown ? "visible" : "hidden";
      if (sort !== "name") put(label, x, y);
      else if (shown) named.push({ label, x, y: y - 1.5 * NAME_HIGH });
    }
    placeNames(named, width, height);
    drawRose(height);
  }

  function put(label, x, y) {
    label.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px) translate(-50%, -50%)`;
  }

  /** Put names above their cells, as far as that goes within the view and none upon another. */
  function placeNames(named, width, height) {
    const placed = [];
    for (const { label, x, y } of named) {
      const half = label.offsetWidth / 2 + 1;
      const inView = x > 0 && x < width && y > -NAME_HIGH && y < height;
      const middle = inView ? Math.min(Math.max(x, half), Math.max(width - half, half)) : x;
      const free = (at) => placed.every((other) => Math.abs(other.y - at) >= NAME_HIGH || Math.abs(other.x - middle) >= other.half + half);
      let best = inView ? Math.max(y, NAME_HIGH / 2) : y;
      for (let away = 0; away < 2 * named.length; away++) {
        const at = best + (away % 2 ? -1 : 1) * Math.ceil(away / 2) * NAME_HIGH;
        if ((at >= NAME_HIGH / 2 || !inView) && free(at)) {
          best = at;
          break;
        }
      }
      placed.push({ x: middle, y: best, half });
      put(label, middle, best);
    }
  }

  /** The compass without its letters: a line across, and an arrow to the north. */
  function drawRose(height) {
    const [north, east] = [[0, 0, -1], [1, 0, 0]].map((way) => {
      const seen = new THREE.Vector3(...way).transformDirection(camera.matrixWorldInverse);
      return [seen.x * ROSE * 0.6, -seen.y * ROSE * 0.6];
    });
    const [x, y] = [ROSE + 14, height - ROSE - 14];
    Object.assign(rose.style, { position: "absolute", left: `${x}px`, top: `${y}px`, overflow: "visible", width: "1px", height: "1px" });
    const [line, arrow] = rose.children;
    for (const [name, value] of Object.entries({ x1: -east[0], y1: -east[1], x2: east[0], y2: east[1] })) line.setAttribute(name, value);
    const wing = (side) => `${north[0] * 0.4 + side * east[0] * 0.3} ${north[1] * 0.4 + side * east[1] * 0.3}`;
    arrow.setAttribute("d", `M${-north[0]} ${-north[1]}L${north[0]} ${north[1]}L${wing(1)}L${wing(-1)}L${north[0]} ${north[1]}`);
  }

  // --- hand and keys --------------------------------------------------------------------------------------------------

  function choose(cell) {
    chosen = cell;
    placeFrames();
  }

  function pick(event) {
    const box = canvas.getBoundingClientRect();
    const at = new THREE.Vector2(
      ((event.clientX - box.left) / box.width) * 2 - 1, 1 - ((event.clientY - box.top) / box.height) * 2,
    );
    const ray = new THREE.Raycaster();
    ray.setFromCamera(at, camera);
    const [hit] = ray.intersectObject(mesh);
    choose(hit ? cellOfTriangle[hit.faceIndex] : null);
    onPick(chosen);
  }

  /** The nearest shown cell that lies that way from the chosen one; the first one if none is chosen. */
  function step(axis, way) {
    const held = rowsOf[configuration].map(([cell]) => cell).filter(isShown);
    if (!held.length) return;
    let best = chosen === null ? held[0] : chosen;
    let least = Infinity;
    if (chosen !== null) {
      const from = data.cells[chosen];
      for (const cell of held) {
        const ahead = (data.cells[cell][axis] - from[axis]) * way;
        const aside = data.cells[cell].reduce((sum, v, i) => sum + (i === axis ? 0 : Math.abs(v - from[i])), 0);
        if (ahead > 0 && ahead + 4 * aside < least) [best, least] = [cell, ahead + 4 * aside];
      }
    }
    choose(best);
    onPick(best);
  }

  const KEYS = {
    ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [1, -1], ArrowDown: [1, 1], PageUp: [2, 1], PageDown: [2, -1],
  };
  function key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const way = KEYS[event.key];
    if (way && event.shiftKey && way[0] < 2) orbit(way[0] ? 0 : way[1] * -0.2, way[0] ? way[1] * 0.15 : 0);
    else if (way) step(...way);
    else if (event.key === "+" || event.key === "=") zoom(1.2);
    else if (event.key === "-") zoom(1 / 1.2);
    else if (event.key === "Home") lookFrom("south-east");
    else if (event.key === "Escape") { choose(null); onPick(null); }
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  let pressed = null;
  const press = (event) => { pressed = [event.clientX, event.clientY]; };
  const release = (event) => {
    if (pressed && Math.hypot(event.clientX - pressed[0], event.clientY - pressed[1]) < 5) pick(event);
    pressed = null;
  };
  canvas.addEventListener("pointerdown", press);
  canvas.addEventListener("pointerup", release);
  canvas.addEventListener("keydown", key);
  const watcher = new ResizeObserver(resize);

  lay();
  resize();
  lookFrom("south-east");
  watcher.observe(element);

  return {
    canvas,
    /** Another plan, or the same one edited. The camera stays unless `look` is true. */
    setData(fresh, look = false) {
      data = fresh;
      values = null;
      built = null;
      marked = [];
      chosen = null;
      lay();
      if (look) lookFrom("south-east");
    },
    /** Which of data.configurations stands now. */
    setConfiguration(number) {
      if (number === configuration) return;
      configuration = number;
      build();
    },
    /** What each cell shows, by its number; null for none. A container shows its count. */
    setLevels(fresh) {
      values = fresh;
      colour();
    },
    /** Show the layers up to this one (null: all), or only this one. */
    setLayer(number, only = false) {
      [layer, onlyLayer] = [number, only];
      build();
    },
    /** Show only these cells (null: all), as a build goes on. */
    setBuilt(cells) {
      built = cells === null ? null : new Set(cells);
      build();
    },
    /** Frame one cell, as a click does; null for none. */
    choose,
    /** Frame these cells in the second colour. */
    mark(cells) {
      marked = [...cells];
      placeFrames();
    },
    setTheme(name) {
      theme = name === "dark" ? "dark" : "light";
      paint();
    },
    setNumbers(shown) {
      numbersShown = shown;
      groups.parts.children[2].visible = shown;
      ask();
    },
    lookFrom,
    orbit,
    zoom,
    fit() { fit(); ask(); },
    resize,
    /** How the camera stands: its angles round the plan (radians) and its zoom. */
    stance() {
      return { around: controls.getAzimuthalAngle(), down: controls.getPolarAngle(), zoom: camera.zoom };
    },
    /** How many triangles the parts take, hidden faces left out. */
    triangles() {
      return cellOfTriangle.length;
    },
    /** How many CSS pixels one cell covers at the most: three sides of a cube, seen from a corner. */
    cellPixels() {
      const edge = (element.clientHeight / 2) * camera.zoom;
      return 1.74 * edge * edge;
    },
    dispose() {
      cancelAnimationFrame(frameAsked);
      watcher.disconnect();
      controls.dispose();
      for (const group of Object.values(groups)) clear(group);
      for (const made of [partsMaterial, numbersMaterial, lineMaterial, gridMaterial, frame, ...Object.values(frames)]) made.dispose();
      uniforms.table.value.dispose();
      uniforms.digits.value.dispose();
      renderer.dispose();
      element.replaceChildren();
    },
  };
}
