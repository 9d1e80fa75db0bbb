// The cells that a sentence speaks of: every view outlines them. `led`: the views are to go where some of them are.

export const lit = { cells: [], led: false };

const listeners = new Set();
export function onLit(hear) {
  listeners.add(hear);
  return () => listeners.delete(hear);
}

export function light(cells, led = false) {
  if (!cells.length && !lit.cells.length) return;
  Object.assign(lit, { cells, led });
  for (const hear of listeners) hear();
}
