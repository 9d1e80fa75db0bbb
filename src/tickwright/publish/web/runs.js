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
