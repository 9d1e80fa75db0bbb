// Keys in their order: what an edit does to cursor and selection is known before the server has done it, and text that
// is typed for a dialog that is still on its way gets there.

// The cell of the cursor and the selected box after an edit; null if it leaves both as they are. `clip` is the size of what
// was copied, null if that is not known here.
export function afterEdit({ op, cell, box, by }, clip) {
  const [low, high] = box ?? [cell, cell];
  const boxed = (from, to) => ({ cell: from, box: box || from.join() !== to.join() ? [from, to] : null });
  if (op === "copy" || op === "cut") return boxed(low, high);
  if (op === "paste") return clip && boxed(cell, cell.map((start, i) => start + clip[i] - 1));
  if (op === "move") {
    const goal = low.map((start, i) => start + by[i]);
    return goal.some((at) => at < 0) ? null : boxed(goal, high.map((end, i) => end + by[i])); // it stays on the grid
  }
  if (op === "turn" || op === "turn-back") return box && boxed(low, [low[0] + high[1] - low[1], low[1] + high[0] - low[0], high[2]]);
  return null;
}

// The keys pressed from when a line of text was asked for until its field has the focus; then they are typed there.
export class HeldKeys {
  begin() {
    this.drop();
    const keys = [];
    const catchKey = (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      keys.push(event.key);
      event.preventDefault();
      event.stopPropagation();
    };
    const arrive = ({ target }) => {
      const typed = target.matches("input, textarea");
      if (target.closest(".q-dialog") && !typed) return; // on its way through the dialog to the field
      this.drop();
      if (target.closest(".q-dialog")) type(keys, target);
    };
    document.addEventListener("keydown", catchKey, true);
    document.addEventListener("focusin", arrive);
    this.release = () => {
      document.removeEventListener("keydown", catchKey, true);
      document.removeEventListener("focusin", arrive);
    };
  }
  drop() {
    this.release?.();
    this.release = null;
  }
}

async function type(keys, field) {
  for (const key of keys) {
    if (key.length === 1) document.execCommand("insertText", false, key);
    else if (key === "Backspace") document.execCommand("delete");
    else if (key === "Enter" || key === "Escape") {
      await new Promise((resolve) => setTimeout(resolve)); // the text goes to the server first
      field.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true }));
    }
  }
}
