// How a grid is drawn: its cells with what lies behind them, names, marks, rulers, and over them cursor and selection.
import { FONT, keyOf, paint, palette, strengthOf } from "./index.js";
import { lit } from "./lit.js";
import { rulerOf } from "./planes.js";

// Draw what only changes with plan, step and view.
export function drawCells(board, ctx, wide, high) {
  const c = palette();
  ctx.fillStyle = c.panel;
  ctx.fillRect(0, 0, wide, high);
  const { unit, pan } = board;
  const [across, down] = board.shown();
  const first = [Math.max(0, Math.floor(-pan[0] / unit)), Math.max(0, Math.floor(-pan[1] / unit))];
  const last = [Math.min(across - 1, Math.floor((wide - pan[0]) / unit)), Math.min(down - 1, Math.floor((high - pan[1]) / unit))];
  drawLines(board, ctx, c, first, last);
  const each = (draw) => {
    for (let row = first[1]; row <= last[1]; row++) for (let column = first[0]; column <= last[0]; column++) draw(column, row);
  };
  each((column, row) => drawCell(board, ctx, c, column, row));
  each((column, row) => drawMarks(board, ctx, c, column, row));
  drawModules(board, ctx, c, wide, high);
  drawRulers(board, ctx, c, first, last);
}

function drawLines({ unit, pan }, ctx, c, first, last) {
  ctx.strokeStyle = c.grid;
  ctx.lineWidth = 1;
  ctx.beginPath();
  for (let x = first[0]; x <= last[0] + 1; x++) {
    const at = Math.round(pan[0] + x * unit) + 0.5;
    ctx.moveTo(at, pan[1] + first[1] * unit);
    ctx.lineTo(at, pan[1] + (last[1] + 1) * unit);
  }
  for (let y = first[1]; y <= last[1] + 1; y++) {
    const at = Math.round(pan[1] + y * unit) + 0.5;
    ctx.moveTo(pan[0] + first[0] * unit, at);
    ctx.lineTo(pan[0] + (last[0] + 1) * unit, at);
  }
  ctx.stroke();
}

function drawCell(board, ctx, c, column, row) {
  const { unit, pan } = board;
  const [left, top] = [pan[0] + column * unit, pan[1] + row * unit];
  const cell = board.cell([column, row]);
  const here = board.at(...cell);
  if (board.ghosts) drawBehind(board, ctx, c, cell, here, left, top);
  if (!here) return;
  const level = board.values ? board.values.get(keyOf(...cell)) ?? 0 : null;
  drawPart(board, ctx, c, here, left, top, level);
}

// What lies behind is a tint without an edge; over a layer, what stands above is a thin line.
function drawBehind(board, ctx, c, cell, here, left, top) {
  const { unit } = board;
  const deep = board.deep();
  const moved = (by) => cell.map((at, i) => (i === deep ? at + by : at));
  const behind = board.at(...moved(-1));
  if (behind && !here?.body) {
    if (behind.body) {
      ctx.fillStyle = c.below;
      ctx.fillRect(left + 1, top + 1, unit - 1, unit - 1);
    }
    if (!behind.still) {
      ctx.globalAlpha = 0.25;
      drawPart(board, ctx, c, behind, left, top, null);
      ctx.globalAlpha = 1;
    }
  }
  if (board.plane === "above" && board.at(...moved(1))?.body) {
    ctx.strokeStyle = c.line;
    ctx.lineWidth = 1;
    ctx.strokeRect(left + 4.5, top + 4.5, unit - 9, unit - 9);
  }
}

function drawPart(board, ctx, c, cell, left, top, level) {
  const { unit } = board;
  if (cell.still) {
    ctx.fillStyle = c[cell.body];
    ctx.fillRect(left + 1, top + 1, unit - 2, unit - 2);
    ctx.strokeStyle = c.edge;
    ctx.lineWidth = Math.max(1, unit * 0.03);
    ctx.strokeRect(left + 1.5, top + 1.5, unit - 3, unit - 3);
  }
  const shapes = level === null ? cell.shapes : level ? cell.lit : cell.dim;
  paint(ctx, shapes ?? cell.shapes, left, top, unit, strengthOf(cell, level), level ?? 0);
  if (level && cell.kind === "block" && unit >= 30) {
    ctx.fillStyle = c.ink;
    ctx.font = `11px ${FONT}`;
    ctx.textAlign = "right";
    ctx.textBaseline = "bottom";
    ctx.fillText(String(level), left + unit - 5, top + unit - 4);
  }
}

function drawMarks(board, ctx, c, column, row) {
  const { unit, pan } = board;
  const key = keyOf(...board.cell([column, row]));
  const [left, top] = [pan[0] + column * unit, pan[1] + row * unit];
  const problem = board.problems.get(key);
  if (problem) {
    ctx.strokeStyle = problem.sort === "error" ? c.bad : c.warn;
    ctx.lineWidth = 2.5;
    ctx.strokeRect(left + 1.5, top + 1.5, unit - 3, unit - 3);
    ctx.fillStyle = ctx.strokeStyle;
    ctx.font = `600 ${Math.max(11, unit * 0.34)}px ${FONT}`;
    ctx.textAlign = "left";
    ctx.textBaseline = "top";
    ctx.fillText("!", left + 4, top + 3);
  }
  if (board.marked.has(key) && !board.names.has(key)) {
    ctx.fillStyle = c.soft; // a lane shows it: a dot in the corner
    ctx.beginPath();
    ctx.arc(left + unit - 6, top + unit - 6, 2.5, 0, 2 * Math.PI);
    ctx.fill();
  }
  if (board.notes.has(key)) {
    ctx.fillStyle = c.accent;
    ctx.beginPath();
    ctx.moveTo(left + unit, top);
    ctx.lineTo(left + unit - unit * 0.3, top);
    ctx.lineTo(left + unit, top + unit * 0.3);
    ctx.fill();
  }
}

function drawRulers(board, ctx, c, first, last) {
  const { unit, pan } = board;
  const [columns, rows] = board.shown();
  ctx.fillStyle = c.soft;
  ctx.font = `11px ${FONT}`;
  const every = unit >= 22 ? 1 : unit >= 12 ? 5 : 10;
  ctx.textBaseline = "top";
  ctx.textAlign = "center";
  for (let column = first[0]; column <= last[0]; column++) {
    const [number] = rulerOf(board.plane, column, 0, [columns, rows]);
    if (number % every === 0) ctx.fillText(number, pan[0] + (column + 0.5) * unit, pan[1] + rows * unit + 4);
  }
  ctx.textAlign = "right";
  ctx.textBaseline = "middle";
  for (let row = first[1]; row <= last[1]; row++) {
    const [, number] = rulerOf(board.plane, 0, row, [columns, rows]);
    if (number % every === 0) ctx.fillText(number, Math.max(18, pan[0] - 8), pan[1] + (row + 0.5) * unit);
  }
}

// Draw what goes along with the cursor: selection, the part in hand, what is being tried, names.
export function drawOver(board, ctx) {
  const c = palette();
  const { unit, pan } = board;
  const square = (place) => [pan[0] + place[0] * unit, pan[1] + place[1] * unit];
  if (board.box) {
    const [a, b] = board.box.map((corner) => board.place(corner));
    const [left, top] = square([Math.min(a[0], b[0]), Math.min(a[1], b[1])]);
    const area = [left, top, (Math.abs(a[0] - b[0]) + 1) * unit, (Math.abs(a[1] - b[1]) + 1) * unit];
    ctx.globalAlpha = 0.14;
    ctx.fillStyle = c.accent;
    ctx.fillRect(...area);
    ctx.globalAlpha = 1;
    ctx.strokeStyle = c.accent;
    ctx.lineWidth = 1.5;
    ctx.strokeRect(...area);
  }
  drawCarried(board, ctx, c);
  if (board.hover && board.mode === "lay" && board.tool.sort === "part" && board.tool.shapes && !board.box) {
    ctx.globalAlpha = 0.5;
    drawPart(board, ctx, c, board.tool, ...square(board.hover), null);
    ctx.globalAlpha = 1;
  }
  const at = square(board.place(board.cursor));
  if (board.tried) {
    ctx.fillStyle = c.panel;
    ctx.fillRect(at[0] + 2, at[1] + 2, unit - 4, unit - 4);
    drawPart(board, ctx, c, board.tried, ...at, null);
  }
  for (const cell of litOn(board)) drawLit(ctx, c, square(board.place(cell)), unit);
  for (const key of board.names.keys()) {
    const cell = key.split(",").map(Number);
    if (board.inPlane(cell) && !(board.boxed && board.moduleAt(cell))) drawName(board, ctx, c, cell);
  }
  if (board.mode === "show" && !board.focused) return;
  ctx.strokeStyle = c.panel;
  ctx.lineWidth = 5;
  ctx.strokeRect(at[0] + 0.5, at[1] + 0.5, unit, unit);
  ctx.strokeStyle = c.accent;
  ctx.lineWidth = board.focused ? 3 : 2;
  if (board.tried) ctx.setLineDash([5, 3]);
  ctx.strokeRect(at[0] + 0.5, at[1] + 0.5, unit, unit);
  ctx.setLineDash([]);
  drawModuleNames(board, ctx, c);
  if (board.tries.length && board.stem && board.plane === "above") {
    const [x, from, to] = board.stem;
    ctx.strokeStyle = c.soft;
    ctx.lineWidth = 1.5;
    ctx.setLineDash([1.5, 3]);
    ctx.beginPath();
    ctx.moveTo(x, from + 3);
    ctx.lineTo(x, to);
    ctx.stroke();
    ctx.setLineDash([]);
  }
}

// The cells in the plane of a grid that are lit.
export const litOn = (board) => (board.run === "main" ? lit.cells.filter((cell) => board.inPlane(cell)) : []);

// A bold outline with a halo, within the cell: the cursor stands round it.
function drawLit(ctx, c, [left, top], unit) {
  for (const [colour, width] of [[c.panel, 6], [c.accent, 3]]) {
    ctx.strokeStyle = colour;
    ctx.lineWidth = width;
    ctx.strokeRect(left + 3.5, top + 3.5, unit - 6, unit - 6);
  }
}

function drawName(board, ctx, c, cell) {
  const { unit, pan } = board;
  const name = board.names.get(keyOf(...cell));
  if (!name || unit < 18) return;
  const [column, row] = board.place(cell);
  const beside = (by) => board.names.has(keyOf(...board.cell([column + by, row])));
  const most = beside(-1) || beside(1) ? unit - 4 : undefined;
  const at = [pan[0] + (column + 0.5) * unit, pan[1] + row * unit - 2, most];
  if (board.plane !== "above" && row > 0 && board.at(...board.cell([column, row - 1]))) return; // it would cover a part
  const text = name.replace(/trigger |output /g, "");
  ctx.font = `600 ${Math.max(11, Math.min(12, unit * 0.3))}px ${FONT}`;
  ctx.textAlign = "center";
  ctx.textBaseline = "bottom";
  ctx.lineWidth = 3;
  ctx.strokeStyle = c.panel;
  ctx.strokeText(text, ...at);
  ctx.fillStyle = c.ink;
  ctx.fillText(text, ...at);
}

// --- modules -----------------------------------------------------------------------------------------------------------

// The area of a box in the plane of a grid; null where it does not reach into that.
function areaOf(board, low, high) {
  const deep = board.deep();
  if (board.at() < low[deep] || board.at() > high[deep]) return null;
  const [a, b] = [low, high].map((corner) => board.place(corner));
  const [left, top] = [Math.min(a[0], b[0]), Math.min(a[1], b[1])];
  const { unit, pan } = board;
  return [pan[0] + left * unit, pan[1] + top * unit, (Math.abs(a[0] - b[0]) + 1) * unit, (Math.abs(a[1] - b[1]) + 1) * unit];
}

// An open module is seen through a window; the others are a thin frame with their name, or a box with name and ports.
function drawModules(board, ctx, c, wide, high) {
  for (const one of board.modules) {
    const area = areaOf(board, one.low, one.high);
    if (!area) continue;
    const [left, top, across, down] = area;
    if (one.edited) {
      ctx.globalAlpha = 0.62;
      ctx.fillStyle = c.panel;
      const [right, bottom] = [left + across, top + down];
      for (const rest of [[0, 0, wide, top], [0, bottom, wide, high - bottom], [0, top, left, down], [right, top, wide - right, down]]) {
        ctx.fillRect(...rest);
      }
      ctx.globalAlpha = 1;
    } else if (board.boxed) {
      ctx.fillStyle = c.block;
      ctx.fillRect(left + 2, top + 2, across - 4, down - 4);
    }
    ctx.strokeStyle = one.edited ? c.accent : c.soft;
    ctx.lineWidth = one.edited ? 2.5 : 1.5;
    ctx.strokeRect(left + 1, top + 1, across - 2, down - 2);
    const inside = board.boxed && !one.edited;
    const roomy = down >= 2 * board.unit || across >= 4 * board.unit; // for the names of ports, beside that of the module
    if (inside) for (const port of one.ports) drawPort(board, ctx, c, port, roomy);
  }
}

function drawModuleNames(board, ctx, c) {
  for (const one of board.modules) {
    const area = areaOf(board, one.low, one.high);
    const inside = board.boxed && !one.edited;
    if (area && (inside || board.plane === "above")) drawModuleName(ctx, c, one, area, inside);
  }
}

function drawModuleName(ctx, c, { name, edited }, [left, top, across, down], inside) {
  ctx.font = `600 ${inside ? 12 : 11}px ${FONT}`;
  ctx.textAlign = inside ? "center" : "left";
  ctx.textBaseline = inside ? "middle" : "top";
  ctx.lineWidth = 3;
  ctx.strokeStyle = inside ? c.block : c.panel;
  const at = inside ? [left + across / 2, top + down / 2] : [left + 1, top + down + 2];
  const most = inside ? across - 8 : Math.max(across, 48);
  let text = name;
  while (text.length > 3 && ctx.measureText(text).width > most) text = `${text.replace(/…$/, "").slice(0, -1)}…`;
  ctx.strokeText(text, ...at);
  ctx.fillStyle = edited ? c.accent : c.ink;
  ctx.fillText(text, ...at);
}

// Where a wire meets a box: an arrow in or out at the side of its cell, named where there is room.
function drawPort(board, ctx, c, [x, y, z, side, role, name], named) {
  const way = { north: [0, -1, 0], south: [0, 1, 0], west: [-1, 0, 0], east: [1, 0, 0], up: [0, 0, 1], down: [0, 0, -1] }[side];
  if (!board.inPlane([x, y, z]) || way[board.deep()]) return;
  const { unit, pan } = board;
  const place = board.place([x, y, z]);
  const next = board.place([x + way[0], y + way[1], z + way[2]]);
  const out = [next[0] - place[0], next[1] - place[1]];
  const at = [0, 1].map((i) => pan[i] + (place[i] + 0.5 + out[i] * 0.42) * unit);
  const [size, go] = [unit * 0.17, role === "in" ? -1 : 1];
  const across = [-out[1], out[0]];
  ctx.beginPath();
  for (const [along, aside] of [[1, 0], [-0.7, 0.9], [-0.7, -0.9]]) {
    ctx.lineTo(...[0, 1].map((i) => at[i] + size * (along * go * out[i] + aside * across[i])));
  }
  ctx.closePath();
  ctx.fillStyle = c.soft;
  ctx.fill();
  if (unit < 30 || !named) return;
  ctx.font = `11px ${FONT}`;
  ctx.textAlign = out[0] > 0 ? "right" : out[0] < 0 ? "left" : "center";
  ctx.textBaseline = "middle";
  const inward = [0, 1].map((i) => at[i] - out[i] * (size + (i ? 9 : 5)));
  ctx.fillText(name, ...inward);
}

// The frame of the module that is laid next, or goes along with the pointer.
function drawCarried(board, ctx, c) {
  if (board.mode !== "lay") return;
  let box = null;
  if (board.drag?.sort === "carry") {
    const by = board.cursor.map((at, i) => at - board.drag.from[i]);
    if (by.some(Boolean)) box = [board.drag.module.low, board.drag.module.high].map((corner) => corner.map((at, i) => at + by[i]));
  } else if (board.tool.sort === "module" && board.tool.size && (board.hover || board.focused)) {
    const low = board.hover ? board.cell(board.hover) : board.cursor;
    box = [low, low.map((at, i) => at + board.tool.size[i] - 1)];
  }
  const area = box && areaOf(board, ...box);
  if (!area) return;
  ctx.strokeStyle = c.accent;
  ctx.lineWidth = 2;
  ctx.setLineDash([5, 3]);
  ctx.strokeRect(area[0] + 1, area[1] + 1, area[2] - 2, area[3] - 2);
  ctx.setLineDash([]);
}
