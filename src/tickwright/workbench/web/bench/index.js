// What the components of the page share: the colours in force, shapes, and the run that is being watched with its clock.

export * from "./keys.js";
export * from "./run.js";

export const STEPS_PER_SECOND = 20;

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

export function palette() {
  if (colours) return colours;
  const style = getComputedStyle(document.body);
  const read = (name) => style.getPropertyValue(`--${name}`).trim();
  const levels = read("levels").split(" ");
  colours = { levels, over: read("levels-over").split(" ") };
  for (const name of ["ground", "paper", "solid", "ink", "edge", "faint", "name", "accent", "bad", "warn", "good"]) {
    colours[name] = read(name);
  }
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

// Paint the shapes of a symbol into the square at (left, top) of that size; level is what the part shows.
export function paint(ctx, shapes, left, top, size, level = 0) {
  const { levels, over, ...roles } = palette();
  const index = Math.min(level, levels.length - 1);
  const colour = (role) => (role === "level" ? levels[index] : role === "over" ? over[index] : roles[role]);
  ctx.lineCap = "round";
  ctx.lineJoin = "round";
  for (const { form, points, radius, text, fill, stroke, width, dashed } of shapes) {
    const [x, y] = [left + points[0][0] * size, top + points[0][1] * size];
    if (form === "text") {
      ctx.fillStyle = colour(fill);
      ctx.font = `600 ${radius * size}px ui-monospace, monospace`;
      ctx.textAlign = "center";
      ctx.textBaseline = "middle";
      ctx.fillText(text, x, y);
      continue;
    }
    ctx.beginPath();
    if (form === "circle") ctx.arc(x, y, radius * size, 0, 2 * Math.PI);
    else {
      ctx.moveTo(x, y);
      for (const [px, py] of points.slice(1)) ctx.lineTo(left + px * size, top + py * size);
      if (form === "area") ctx.closePath();
    }
    if (fill !== "none" && form !== "line") {
      ctx.fillStyle = colour(fill);
      ctx.fill();
    }
    if (stroke !== "none" && width > 0) {
      ctx.strokeStyle = colour(stroke);
      ctx.lineWidth = Math.max(1, width * size);
      ctx.setLineDash(dashed ? [width * size * 2, width * size * 2] : []);
      ctx.stroke();
      ctx.setLineDash([]);
    }
  }
}
