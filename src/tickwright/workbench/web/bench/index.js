// What the components of the page share: the colours in force, shapes, and the run that is being watched with its clock.

export * from "./keys.js";
export * from "./lit.js";
export * from "./planes.js";
export * from "./grid.js";
export * from "./run.js";

export const STEPS_PER_SECOND = 20;

// How strong a cell is drawn that shows this level, or is only laid (null): containers show how full they are otherwise.
export const strengthOf = (cell, level) => (cell.holds ? 0 : level ?? cell.gives);

export const keyOf = (x, y, z) => `${x},${y},${z}`;

export function secondsText(steps) {
  return `${+(steps / STEPS_PER_SECOND).toFixed(2)} s`;
}

export function ticksText(steps) {
  const ticks = steps / 2;
  return `${ticks} ${ticks === 1 ? "tick" : "ticks"}`;
}

// --- colours ---------------------------------------------------------------------------------------------------------

let colours = null;
const NAMES = [
  "paper", "panel", "block", "edge", "grid", "line", "soft", "ink", "accent", "onaccent", "amber", "amberglow", "amberedge",
  "amberink", "items", "onitems", "good", "bad", "wanted", "field", "below", "warn", "front", "side",
];
export const FONT = "'Inter Tabular', Inter, system-ui, sans-serif";

export function palette() {
  if (colours) return colours;
  const style = getComputedStyle(document.body);
  const read = (name) => style.getPropertyValue(`--${name}`).trim();
  const all = Array.from({ length: 16 }, (_, level) => level);
  colours = { levels: all.map((level) => read(`level-${level}`)), over: all.map((level) => read(`on-level-${level}`)) };
  for (const name of NAMES) colours[name] = read(name);
  return colours;
}

const themed = new Set();
export function onTheme(redraw) {
  themed.add(redraw);
  return () => themed.delete(redraw);
}
new MutationObserver(() => {
  colours = null;
  for (const redraw of themed) redraw();
}).observe(document.body, { attributes: true, attributeFilter: ["class"] });

// --- shapes ----------------------------------------------------------------------------------------------------------

const SIGNS = {
  "≥": [[[-0.36, -0.5], [0.36, -0.16], [-0.36, 0.18]], [[-0.36, 0.5], [0.36, 0.5]]],
  "−": [[[-0.42, 0], [0.42, 0]]],
};
const NUMBERED = 30; // pixels of a cell from which on numbers are written
const WIRE = { off: 0.2, least: 0.24, most: 0.36 };

function wireWidth(level) {
  return level ? WIRE.least + ((Math.min(level, 15) - 1) / 14) * (WIRE.most - WIRE.least) : WIRE.off;
}

// Paint the shapes of a symbol into the square at (left, top) of that size, as `paint` of publish/shown.py does: level is
// what colours it, number what is written where it has room (or `always`); no line is thinner than `least`.
export function paint(ctx, shapes, left, top, size, level = 0, number = 0, least = 1, always = false) {
  const c = palette();
  const index = Math.min(level, 15);
  const on = level > 0;
  const roles = {
    level: c.levels[index], outline: on ? c.levels[index] : c.soft, mark: c.over[index], lit: on ? c.amber : c.panel,
    rim: on ? c.amberedge : c.soft, glow: on ? c.amberglow : "none",
  };
  const colour = (role) => roles[role] ?? c[role] ?? role;
  const numbered = number > 0 && (always || size * (1 / least) >= NUMBERED);
  ctx.lineCap = "butt";
  ctx.lineJoin = "round";
  for (const { form, points, radius, text, fill, stroke, width } of shapes) {
    const at = points.map(([x, y]) => [left + x * size, top + y * size]);
    const [x, y] = at[0];
    const trace = (line, close) => {
      ctx.beginPath();
      line.forEach(([px, py], i) => (i ? ctx.lineTo(px, py) : ctx.moveTo(px, py)));
      if (close) ctx.closePath();
    };
    if (form === "number") {
      if (!numbered) continue;
      ctx.fillStyle = colour(fill);
      ctx.font = `600 ${Math.max(11, radius * size)}px ${FONT}`;
      ctx.textAlign = "center";
      ctx.textBaseline = "middle";
      ctx.fillText(String(number), x, y + size * 0.02);
      continue;
    }
    if (form === "sign") {
      const high = radius * size;
      ctx.strokeStyle = colour(stroke);
      ctx.lineWidth = Math.max(least, Math.min(width * size, high * 0.2));
      for (const part of SIGNS[text]) {
        trace(part.map(([px, py]) => [x + px * high, y + py * high]));
        ctx.stroke();
      }
      continue;
    }
    if (form === "wire") {
      ctx.strokeStyle = colour(stroke);
      ctx.lineWidth = (wireWidth(level) * (text ? 0.62 : 1) + 2 * radius) * size;
      trace(at);
      ctx.stroke();
      continue;
    }
    if (form === "circle") {
      const wide = text === "hub" && !numbered ? Math.min(radius, wireWidth(level) / 2 + 0.045) : radius;
      ctx.beginPath();
      ctx.arc(x, y, wide * size, 0, 2 * Math.PI);
    } else trace(at, form === "area");
    if (fill !== "none" && form !== "line" && colour(fill) !== "none") {
      ctx.fillStyle = colour(fill);
      ctx.fill();
    }
    if (stroke !== "none" && width > 0) {
      ctx.strokeStyle = colour(stroke);
      ctx.lineWidth = Math.max(least, width * size);
      ctx.stroke();
    }
  }
}
