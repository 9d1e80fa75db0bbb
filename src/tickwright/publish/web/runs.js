/* Recorded runs: the changes that `packed_changes` (publish/scene.py) packed, and the values at any step. */

/** The change list that `packed_changes` packed, as [{step, cells, values}], in the order of steps. */
export async function unpackChanges(text) {
  const bytes = Uint8Array.from(atob(text), (character) => character.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  const numbers = new Uint8Array(await new Response(stream).arrayBuffer());
  let at = 0;
  const next = () => {
    let value = 0;
    for (let shift = 1; ; shift *= 128) {
      const byte = numbers[at++];
      value += (byte & 127) * shift;
      if (byte < 128) return value;
    }
  };
  const entries = [];
  for (let step = 0; at < numbers.length; ) {
    step += next();
    const count = next();
    const cells = new Uint32Array(count);
    const values = new Uint16Array(count);
    for (let i = 0; i < count; i++) {
      cells[i] = next();
      values[i] = next();
    }
    entries.push({ step, cells, values });
  }
  return entries;
}

const EVERY = 64; // entries between two kept copies of all values

/** The values of all cells at any step of a run: `entries` as unpackChanges gives them, for `cells` cells. */
export function runValues(entries, cells) {
  const kept = [];
  const now = new Uint16Array(cells);
  entries.forEach((entry, i) => {
    if (i % EVERY === 0) kept.push(now.slice());
    entry.cells.forEach((cell, k) => { now[cell] = entry.values[k]; });
  });
  return function at(step) {
    let low = 0, high = entries.length; // the first entry after the step
    while (low < high) {
      const middle = (low + high) >> 1;
      if (entries[middle].step <= step) low = middle + 1;
      else high = middle;
    }
    const from = Math.max(Math.ceil(low / EVERY) - 1, 0);
    const values = kept.length ? kept[from].slice() : now.slice();
    for (let i = from * EVERY; i < low; i++) {
      entries[i].cells.forEach((cell, k) => { values[cell] = entries[i].values[k]; });
    }
    return values;
  };
}

/** The changes of one cell, as [step, value] pairs. */
export function changesOf(entries, cell) {
  const found = [];
  for (const { step, cells, values } of entries) {
    const k = cells.indexOf(cell);
    if (k >= 0) found.push([step, values[k]]);
  }
  return found;
}
