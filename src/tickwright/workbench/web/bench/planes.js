// The planes that a grid may show: a layer from above, a section from the south or the east. A place is a column and a
// row of the picture; the third coordinate of its cell is the same in all of a plane: DEEP says which that is.

export const DEEP = { above: 2, south: 1, east: 0 };

// The cell at a place; `rows` and `columns` are how many the picture has, for rows of a section count downwards.
export function cellOf(plane, [column, row], at, [columns, rows]) {
  if (plane === "above") return [column, row, at];
  if (plane === "south") return [column, at, rows - 1 - row];
  return [at, columns - 1 - column, rows - 1 - row];
}

export function placeOf(plane, [x, y, z], [columns, rows]) {
  if (plane === "above") return [x, y];
  if (plane === "south") return [x, rows - 1 - z];
  return [columns - 1 - y, rows - 1 - z];
}

// The way of an arrow key in the world.
export function wayOf(plane, [across, down]) {
  if (plane === "above") return [across, down, 0];
  if (plane === "south") return [across, 0, -down];
  return [0, -across, -down];
}

// The numbers along the two edges.
export function rulerOf(plane, column, row, shown) {
  const [x, y, z] = cellOf(plane, [column, row], 0, shown);
  return plane === "above" ? [x, y] : plane === "south" ? [x, z] : [y, z];
}

// The low and high corner of the box between two cells.
export function boxOf(a, b) {
  return [a.map((at, i) => Math.min(at, b[i])), a.map((at, i) => Math.max(at, b[i]))];
}

// --- fingers -----------------------------------------------------------------------------------------------------------

// Two fingers move and scale the view, and take back what the first of them had begun.
export class Fingers {
  constructor() {
    this.down = new Map();
  }
  // Whether the pointer is one of several: then it does nothing by itself.
  press(event) {
    this.down.set(event.pointerId, [event.clientX, event.clientY]);
    return event.pointerType === "touch" && this.down.size > 1;
  }
  // How the fingers moved: by how much the view grows about a point, and goes; null with one finger.
  move(event) {
    if (!this.down.has(event.pointerId)) return null;
    if (event.pointerType !== "touch" || this.down.size < 2) {
      this.down.set(event.pointerId, [event.clientX, event.clientY]);
      return null;
    }
    const before = [...this.down.values()].slice(0, 2);
    this.down.set(event.pointerId, [event.clientX, event.clientY]);
    const now = [...this.down.values()].slice(0, 2);
    const far = ([a, b]) => Math.hypot(a[0] - b[0], a[1] - b[1]) || 1;
    const middle = ([a, b]) => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
    const [from, to] = [middle(before), middle(now)];
    return { by: far(now) / far(before), about: to, go: [to[0] - from[0], to[1] - from[1]] };
  }
  lift(event) {
    this.down.delete(event.pointerId);
  }
}

// --- the plan that is open ---------------------------------------------------------------------------------------------

// What the layer view has been sent, for the other views of the same plan.
export const laid = { cells: new Map(), size: [1, 1, 1], modules: [] };
const hearers = new Set();
export function onLaid(hear) {
  hearers.add(hear);
  return () => hearers.delete(hear);
}
export function tellLaid(news) {
  Object.assign(laid, news);
  for (const hear of hearers) hear();
}
