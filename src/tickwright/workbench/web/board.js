// The layer view: one layer of the plan on a grid, the others ghosted. The server holds the truth: what the user does
// here is sent as an edit, and what comes back is drawn.
import {
  FONT,
  HeldKeys, afterEdit, keyOf, onTheme, onWatch, overlayNow, paint, palette, valuesNow, watched,
} from "tickwright-bench";

const SMALLEST = 8;
const LARGEST = 72;
const MARGIN = 2;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

export default {
  template: `
    <div class="board" ref="frame" tabindex="0" role="application" :aria-label="label" :aria-describedby="helpId"
         aria-roledescription="layer grid" @keydown="onKey" @focus="onFocus(true)" @blur="onFocus(false)">
      <canvas ref="canvas" aria-hidden="true" @pointerdown="onDown" @pointermove="onMove" @pointerup="onUp"
              @pointercancel="onUp" @pointerleave="hover = null; draw(true)" @wheel.prevent="onWheel"
              @contextmenu.prevent></canvas>
      <div class="board-said" aria-hidden="true">{{ said }}</div>
      <div class="unseen" role="status" aria-live="polite">{{ heard }}</div>
      <div class="unseen" :id="helpId">Arrow keys move the cursor, Page Up and Page Down change the layer, Enter lays
        the chosen part, Delete erases, R turns. F1 lists all keys.</div>
    </div>`,
  props: { mode: { type: String, default: "lay" }, run: { type: String, default: "main" } },
  watch: {
    mode() {
      this.follow();
    },
  },
  emits: ["ready", "edit", "cursor", "press", "lane", "ask"],
  data: () => ({ said: "", heard: "", label: "Layer grid", helpId: `help-${Math.random().toString(36).slice(2)}` }),
  created() {
    Object.assign(this, {
      cells: new Map(), sorts: [], size: [1, 1, 1], names: new Map(), problems: new Map(), notes: new Map(),
      layer: 0, cursor: [0, 0], anchor: null, box: null, unit: 32, pan: [0, 0], moved: false, ghosts: true,
      tool: { sort: "part", text: "block" }, hover: null, drag: null, marked: new Set(), focused: false, values: null, overlay: null,
      turn: 0, // so many things the user did; what the server answers to an earlier one is out of date
      clip: null, // the size of what was copied here
      held: new HeldKeys(),
    });
  },
  mounted() {
    this.watcher = new ResizeObserver(() => {
      if (!this.moved) this.fit();
      this.draw();
    });
    this.watcher.observe(this.$refs.frame);
    this.untheme = onTheme(() => this.draw());
    this.unwatch = onWatch(() => this.follow());
    this.$emit("ready");
  },
  unmounted() {
    this.watcher.disconnect();
    this.untheme();
    this.unwatch();
    this.held.drop();
    watched.cellPixels.delete(`board ${this.run}`);
  },
  methods: {
    // --- what the server says ----------------------------------------------------------------------------------------
    open(data) {
      this.cells.clear();
      this.sorts = [];
      this.moved = false;
      this.box = this.anchor = null;
      this.take(data);
      this.layer = Math.min(data.layer ?? 0, this.size[2] - 1);
      this.cursor = [0, 0];
      this.fit();
      this.describe(false);
      this.tell();
    },
    take(data) {
      this.sorts.push(...(data.sorts ?? []));
      for (const [x, y, z, sort] of data.cells ?? []) {
        if (sort < 0) this.cells.delete(keyOf(x, y, z));
        else this.cells.set(keyOf(x, y, z), this.sorts[sort]);
      }
      if (data.size) this.size = data.size;
      this.used = null;
      if (data.names) this.names = new Map(data.names.map(([x, y, z, text]) => [keyOf(x, y, z), text]));
      if (data.problems) this.problems = new Map(data.problems.map(([x, y, z, sort, text]) => [keyOf(x, y, z), { sort, text }]));
      if (data.notes) this.notes = new Map(data.notes.map(([x, y, z, text]) => [keyOf(x, y, z), text]));
      this.describe(false);
      this.draw();
    },
    choose(tool) {
      this.tool = tool;
      this.draw(true);
    },
    show(layer) {
      this.layer = layer;
      this.describe(true);
      this.tell();
      this.draw();
    },
    select(box) {
      this.box = box;
      this.anchor = box ? [box[0][0], box[0][1]] : null;
      this.tell();
      this.draw(true);
    },
    goto(x, y, z) {
      this.stand([x, y, z], null);
      this.tell();
    },
    // Where an edit left cursor and selection; `turn` is that of the edit, null for one that a button asked for.
    settle(turn, cell, box) {
      if (turn !== null && turn !== this.turn) return;
      if (JSON.stringify([cell, box]) === JSON.stringify([[...this.cursor, this.layer], this.box])) return;
      this.stand(cell, box);
      this.report();
    },
    climb(by) {
      this.show(Math.max(0, Math.min(this.size[2], this.layer + by))); // one above the top can be begun
    },
    mark(cells) {
      this.marked = new Set(cells.map(([x, y, z]) => keyOf(x, y, z)));
      this.draw();
    },
    ghost(on) {
      this.ghosts = on;
      this.draw();
    },
    grab() {
      this.$refs.frame.focus();
    },
    zoom(by) {
      const { clientWidth: wide, clientHeight: high } = this.$refs.frame;
      this.scale(by, wide / 2, high / 2);
    },
    fit() {
      const { clientWidth: wide, clientHeight: high } = this.$refs.frame;
      if (!wide || !high) return;
      const [x, y] = this.shown();
      this.unit = Math.max(SMALLEST, Math.min(48, Math.floor(Math.min((wide - 56) / x, (high - 80) / y))));
      this.pan = [Math.max(36, (wide - x * this.unit) / 2), Math.max(36, (high - 28 - y * this.unit) / 2)];
      this.moved = false;
      this.draw();
    },

    follow() {
      const seen = this.$refs.frame?.clientWidth > 0;
      watched.cellPixels.set(`board ${this.run}`, [this.run, seen ? this.unit * this.unit : 0]);
      const watching = seen && this.mode !== "lay";
      this.values = watching ? valuesNow(this.run) : null;
      this.overlay = watching ? overlayNow(this.run) : null;
      this.describe(false);
      this.draw();
    },
    at(x, y, z) {
      const key = keyOf(x, y, z);
      return this.overlay?.has(key) ? this.overlay.get(key) : this.cells.get(key);
    },

    // --- words -------------------------------------------------------------------------------------------------------
    shown() {
      if (this.mode === "show") {
        const ends = () => [...this.cells.keys()].map((key) => key.split(",").map((at) => Number(at) + 1));
        return (this.used ??= ends().reduce(([x, y], [right, down]) => [Math.max(x, right), Math.max(y, down)], [1, 1]));
      }
      return [Math.max(8, this.size[0] + MARGIN), Math.max(6, this.size[1] + MARGIN)]; // room to lay more
    },
    words(x, y, z) {
      const key = keyOf(x, y, z);
      const cell = this.at(x, y, z);
      const said = [cell ? cell.text : "empty"];
      const value = this.values?.get(key);
      if (value !== undefined) said.push(`shows ${value}`);
      if (this.names.has(key)) said.push(this.names.get(key));
      if (this.notes.has(key)) said.push(`note: ${this.notes.get(key)}`);
      if (this.problems.has(key)) said.push(`${this.problems.get(key).sort}: ${this.problems.get(key).text}`);
      return said.join("; ");
    },
    describe(aloud) {
      const [x, y] = this.cursor;
      this.said = `(${x}, ${y}, ${this.layer})  ${this.words(x, y, this.layer)}`;
      if (this.hover && (this.hover[0] !== x || this.hover[1] !== y)) {
        this.said = `(${this.hover[0]}, ${this.hover[1]}, ${this.layer})  ${this.words(...this.hover, this.layer)}`;
      }
      this.label = `Layer ${this.layer} of ${this.size[2]}, ${this.size[0]} by ${this.size[1]} cells`;
      if (!aloud) return;
      const held = this.box ? ` selected ${this.box[1][0] - this.box[0][0] + 1} by ${this.box[1][1] - this.box[0][1] + 1}` : "";
      this.heard = `x ${x}, y ${y}, layer ${this.layer}: ${this.words(x, y, this.layer)}${held}`;
    },
    tell() {
      this.turn += 1;
      this.report();
    },
    report() {
      this.$emit("cursor", { cell: [...this.cursor, this.layer], box: this.box });
    },

    // --- drawing -----------------------------------------------------------------------------------------------------
    // Draw anew; `over`: only the cursor, the selection and the names, over the cells as they were painted last.
    draw(over = false) {
      if (!over) this.painted = false;
      if (this.asked) return;
      this.asked = requestAnimationFrame(() => {
        this.asked = 0;
        if (this.$refs.canvas) this.drawNow();
      });
    },
    drawNow() {
      const { frame, canvas } = this.$refs;
      const [wide, high] = [frame.clientWidth, frame.clientHeight];
      if (!wide || !high) return; // behind another tab
      const ratio = window.devicePixelRatio || 1;
      if (canvas.width !== Math.round(wide * ratio) || canvas.height !== Math.round(high * ratio)) {
        canvas.width = Math.round(wide * ratio);
        canvas.height = Math.round(high * ratio);
      }
      Object.assign(frame.dataset, { unit: this.unit, left: this.pan[0], top: this.pan[1] }); // where cells are, for tests
      const below = (this.below ??= document.createElement("canvas"));
      if (below.width !== canvas.width || below.height !== canvas.height) {
        [below.width, below.height] = [canvas.width, canvas.height];
        this.painted = false;
      }
      const c = palette();
      if (!this.painted) {
        const ground = below.getContext("2d");
        ground.setTransform(ratio, 0, 0, ratio, 0, 0);
        this.drawCells(ground, c, wide, high);
        this.painted = true;
      }
      const ctx = canvas.getContext("2d");
      ctx.setTransform(1, 0, 0, 1, 0, 0);
      ctx.drawImage(below, 0, 0);
      ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
      this.drawCursor(ctx, c);
      for (const key of this.names.keys()) {
        const [x, y, z] = key.split(",").map(Number);
        if (z === this.layer) this.drawName(ctx, c, x, y);
      }
    },
    drawCells(ctx, c, wide, high) {
      ctx.fillStyle = c.grid;
      ctx.fillRect(0, 0, wide, high);
      const { unit, pan } = this;
      const [across, down] = this.shown();
      ctx.fillStyle = c.paper;
      ctx.fillRect(pan[0], pan[1], across * unit, down * unit);
      ctx.fillStyle = c.panel;
      ctx.fillRect(pan[0], pan[1], Math.min(this.size[0], across) * unit, Math.min(this.size[1], down) * unit);
      const first = [Math.max(0, Math.floor(-pan[0] / unit)), Math.max(0, Math.floor(-pan[1] / unit))];
      const last = [Math.min(across - 1, Math.floor((wide - pan[0]) / unit)), Math.min(down - 1, Math.floor((high - pan[1]) / unit))];
      this.drawGrid(ctx, c, first, last);
      for (let y = first[1]; y <= last[1]; y++) for (let x = first[0]; x <= last[0]; x++) this.drawCell(ctx, c, x, y);
      for (let y = first[1]; y <= last[1]; y++) for (let x = first[0]; x <= last[0]; x++) this.drawMarks(ctx, c, x, y);
      this.drawRulers(ctx, c, first, last, wide, high);
    },
    drawGrid(ctx, c, first, last) {
      const { unit, pan } = this;
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
    },
    drawCell(ctx, c, x, y) {
      const { unit, pan, layer } = this;
      const [left, top] = [pan[0] + x * unit, pan[1] + y * unit];
      const here = this.at(x, y, layer);
      if (this.ghosts) {
        const below = this.at(x, y, layer - 1);
        const above = this.at(x, y, layer + 1);
        if (below && !here?.body) {
          if (below.body) {
            ctx.fillStyle = c.below;
            ctx.fillRect(left + 1, top + 1, unit - 1, unit - 1);
          }
          ctx.globalAlpha = 0.25;
          if (!["block", "insulator"].includes(below.kind)) this.drawPart(ctx, c, below, left, top, null);
        }
        if (above?.body) {
          ctx.globalAlpha = 0.6;
          ctx.strokeStyle = c.line;
          ctx.lineWidth = 1;
          ctx.strokeRect(left + 4.5, top + 4.5, unit - 9, unit - 9);
        }
        ctx.globalAlpha = 1;
      }
      if (!here) return;
      const level = this.values ? this.values.get(keyOf(x, y, layer)) ?? 0 : null;
      this.drawPart(ctx, c, here, left, top, level);
    },
    drawPart(ctx, c, cell, left, top, level) {
      const { unit } = this;
      if (["block", "insulator"].includes(cell.kind)) {
        ctx.fillStyle = c[cell.body];
        ctx.fillRect(left + 1, top + 1, unit - 2, unit - 2);
        ctx.strokeStyle = c.edge;
        ctx.lineWidth = Math.max(1, unit * 0.03);
        ctx.strokeRect(left + 1.5, top + 1.5, unit - 3, unit - 3);
      }
      const shapes = level === null ? cell.shapes : level ? cell.lit : cell.dim;
      const holds = ["hopper", "ejector", "crate"].includes(cell.kind);
      const shown = cell.kind === "power-block" || (level === null && cell.thrown) ? 15 : level ?? 0;
      paint(ctx, shapes ?? cell.shapes, left, top, unit, holds ? 0 : shown, level ?? 0);
      if (level && cell.kind === "block" && unit >= 30) {
        ctx.fillStyle = c.ink;
        ctx.font = `11px ${FONT}`;
        ctx.textAlign = "right";
        ctx.textBaseline = "bottom";
        ctx.fillText(String(level), left + unit - 5, top + unit - 4);
      }
    },
    drawMarks(ctx, c, x, y) {
      const { unit, pan, layer } = this;
      const key = keyOf(x, y, layer);
      const [left, top] = [pan[0] + x * unit, pan[1] + y * unit];
      const problem = this.problems.get(key);
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
      if (this.marked.has(key)) {
        ctx.strokeStyle = c.accent;
        ctx.lineWidth = 3;
        ctx.setLineDash([5, 3]);
        ctx.strokeRect(left + 1.5, top + 1.5, unit - 3, unit - 3);
        ctx.setLineDash([]);
      }
      if (this.notes.has(key)) {
        ctx.fillStyle = c.accent;
        ctx.beginPath();
        ctx.moveTo(left + unit, top);
        ctx.lineTo(left + unit - unit * 0.3, top);
        ctx.lineTo(left + unit, top + unit * 0.3);
        ctx.fill();
      }
    },
    drawName(ctx, c, x, y) {
      const { unit, pan, layer } = this;
      const name = this.names.get(keyOf(x, y, layer));
      if (!name || unit < 18) return;
      const crowded = this.names.has(keyOf(x - 1, y, layer)) || this.names.has(keyOf(x + 1, y, layer));
      const at = [pan[0] + (x + 0.5) * unit, pan[1] + y * unit - 2, crowded ? unit - 4 : undefined];
      const text = name.replace(/trigger |output /g, "");
      ctx.font = `600 ${Math.max(11, Math.min(13, unit * 0.3))}px ${FONT}`;
      ctx.textAlign = "center";
      ctx.textBaseline = "bottom";
      ctx.lineWidth = 3;
      ctx.strokeStyle = c.panel;
      ctx.strokeText(text, ...at);
      ctx.fillStyle = c.ink;
      ctx.fillText(text, ...at);
    },
    drawRulers(ctx, c, first, last, wide, high) {
      const { unit, pan } = this;
      ctx.fillStyle = c.ink;
      ctx.font = `11px ${FONT}`;
      const every = unit >= 22 ? 1 : unit >= 12 ? 5 : 10;
      ctx.textBaseline = "bottom";
      ctx.textAlign = "center";
      for (let x = first[0]; x <= last[0]; x++) {
        if (x % every === 0) ctx.fillText(x, pan[0] + (x + 0.5) * unit, Math.max(14, pan[1] - 18));
      }
      ctx.textAlign = "right";
      ctx.textBaseline = "middle";
      for (let y = first[1]; y <= last[1]; y++) {
        if (y % every === 0) ctx.fillText(y, Math.max(20, pan[0] - 8), pan[1] + (y + 0.5) * unit);
      }
    },
    drawCursor(ctx, c) {
      const { unit, pan, cursor } = this;
      if (this.box) {
        const [low, high] = this.box;
        ctx.fillStyle = c.accent;
        ctx.globalAlpha = 0.14;
        const area = [pan[0] + low[0] * unit, pan[1] + low[1] * unit, (high[0] - low[0] + 1) * unit, (high[1] - low[1] + 1) * unit];
        ctx.fillRect(...area);
        ctx.globalAlpha = 1;
        ctx.strokeStyle = c.accent;
        ctx.lineWidth = 1.5;
        ctx.setLineDash([6, 4]);
        ctx.strokeRect(...area);
        ctx.setLineDash([]);
      }
      if (this.hover && this.mode === "lay" && this.tool.sort === "part" && this.tool.shapes) {
        ctx.globalAlpha = 0.5;
        const [left, top] = [pan[0] + this.hover[0] * unit, pan[1] + this.hover[1] * unit];
        this.drawPart(ctx, c, this.tool, left, top, null);
        ctx.globalAlpha = 1;
      }
      if (this.mode === "show" && !this.focused) return;
      const [left, top] = [pan[0] + cursor[0] * unit, pan[1] + cursor[1] * unit];
      ctx.strokeStyle = c.panel;
      ctx.lineWidth = 5;
      ctx.strokeRect(left + 0.5, top + 0.5, unit, unit);
      ctx.strokeStyle = c.accent;
      ctx.lineWidth = this.focused ? 3 : 1.5;
      ctx.strokeRect(left + 0.5, top + 0.5, unit, unit);
    },

    // --- the keyboard ------------------------------------------------------------------------------------------------
    onFocus(focused) {
      this.focused = focused;
      if (focused) this.describe(true);
      this.draw(true);
    },
    onKey(event) {
      const { key, shiftKey: shift, altKey: alt } = event;
      const ctrl = event.ctrlKey || event.metaKey;
      if (ARROWS[key] && !ctrl) {
        if (alt) this.edit("move", { by: [...ARROWS[key], 0] });
        else this.step(ARROWS[key], shift);
      } else if (key === "PageUp" || key === "PageDown") {
        const by = key === "PageUp" ? 1 : -1;
        if (alt) this.edit("move", { by: [0, 0, by] });
        else this.show(Math.max(0, Math.min(this.size[2] - (shift ? 0 : 1), this.layer + by)));
      } else if (key === "Enter" || key === " ") this.act(this.cursor);
      else if (key === "Delete" || key === "Backspace") this.edit("erase");
      else if (key === "Escape") this.select(null);
      else if (ctrl) {
        const op = { c: "copy", x: "cut", v: "paste", z: shift ? "redo" : "undo", y: "redo", s: "save", a: "all" }[key.toLowerCase()];
        if (!op) return;
        if (op === "all") this.select([[0, 0, this.layer], [this.size[0] - 1, this.size[1] - 1, this.layer]]);
        else this.edit(op);
      } else {
        const op = { r: "turn", R: "turn-back", x: "mirror-x", y: "mirror-y", i: "pick", t: "ask-trigger", o: "ask-output",
          n: "ask-note", d: "ask-repeat", "[": "part-before", "]": "part-after", l: "lane" }[key];
        if (op === "lane") this.$emit("lane", { cell: [...this.cursor, this.layer] });
        else if (op?.startsWith("ask-")) this.ask(op.slice(4));
        else if (op) this.edit(op);
        else if (key === "g") this.ghost(!this.ghosts);
        else if (key === "+" || key === "=") this.zoom(1.25);
        else if (key === "-") this.zoom(0.8);
        else if (key === "0") this.fit();
        else if (key === "F1" || key === "?") this.$emit("ask", { what: "keys" });
        else return;
      }
      event.preventDefault();
      event.stopPropagation();
    },
    step([dx, dy], extend) {
      const [across, down] = this.shown();
      const from = this.cursor;
      this.cursor = [Math.max(0, Math.min(across - 1, from[0] + dx)), Math.max(0, Math.min(down - 1, from[1] + dy))];
      if (extend) {
        this.anchor ??= from;
        this.span(this.anchor, this.cursor);
      } else if (this.box) this.box = this.anchor = null;
      this.hover = null;
      this.reveal();
      this.describe(true);
      this.tell();
      this.draw(true);
    },
    span(a, b) {
      this.box = [
        [Math.min(a[0], b[0]), Math.min(a[1], b[1]), this.layer],
        [Math.max(a[0], b[0]), Math.max(a[1], b[1]), this.layer],
      ];
    },
    reveal() {
      const { clientWidth: wide, clientHeight: high } = this.$refs.frame;
      const { unit, pan, cursor } = this;
      for (const [i, room] of [[0, wide], [1, high - 28]]) {
        const at = pan[i] + cursor[i] * unit;
        const by = at < 24 ? 24 - at : Math.min(0, room - 8 - at - unit);
        pan[i] += by;
        if (by) this.painted = false;
      }
    },
    // Ask the server for an edit. Cursor and selection go at once where it will leave them: the next key may be on its way.
    edit(op, more = {}) {
      if (this.mode === "show") return;
      const asked = { op, cell: [...this.cursor, this.layer], box: this.box, ...more };
      this.turn += 1;
      this.$emit("edit", { ...asked, turn: this.turn });
      const [low, high] = this.box ?? [asked.cell, asked.cell];
      if (op === "copy" || op === "cut") this.clip = low.map((start, i) => high[i] - start + 1);
      const after = afterEdit(asked, this.clip);
      if (!after) return;
      this.stand(after.cell, after.box);
      this.report();
    },
    ask(what) {
      if (what !== "repeat") this.held.begin(); // it asks for a line of text, which is written already
      this.$emit("ask", { what });
    },
    stand([x, y, z], box) {
      this.layer = z;
      this.cursor = [x, y];
      this.box = box;
      this.anchor = box && [box[0][0], box[0][1]];
      this.reveal();
      this.describe(true);
      this.draw();
    },
    act(cell) {
      if (this.mode === "show") return;
      if (this.mode === "watch") this.press([...cell, this.layer]);
      else if (this.tool.sort === "erase") this.edit("erase");
      else if (this.tool.sort === "part") this.edit(this.box ? "fill" : "place"); // of the part chosen, which the server knows
    },
    press(cell) {
      this.$emit("press", { cell, step: watched.step });
    },

    // --- the pointer -------------------------------------------------------------------------------------------------
    cellAt(event) {
      const at = this.$refs.canvas.getBoundingClientRect();
      const x = Math.floor((event.clientX - at.left - this.pan[0]) / this.unit);
      const y = Math.floor((event.clientY - at.top - this.pan[1]) / this.unit);
      const [across, down] = this.shown();
      return x >= 0 && y >= 0 && x < across && y < down ? [x, y] : null;
    },
    onDown(event) {
      this.$refs.frame.focus();
      const cell = this.cellAt(event);
      this.$refs.canvas.setPointerCapture(event.pointerId);
      if (event.button === 1 || !cell) {
        this.moved = true;
        this.drag = { sort: "pan", x: event.clientX, y: event.clientY, pan: [...this.pan] };
        return;
      }
      this.cursor = cell;
      const selecting = this.mode !== "lay" || this.tool.sort === "select" || event.shiftKey;
      this.drag = { sort: event.button === 2 ? "erase" : selecting ? "select" : this.tool.sort, from: cell, cells: [cell] };
      this.box = this.anchor = null;
      this.describe(true);
      this.draw();
    },
    onMove(event) {
      const cell = this.cellAt(event);
      if (this.drag?.sort === "pan") {
        this.pan = [this.drag.pan[0] + event.clientX - this.drag.x, this.drag.pan[1] + event.clientY - this.drag.y];
        this.draw();
        return;
      }
      if (cell?.join() === this.hover?.join()) return;
      this.hover = cell;
      if (this.drag && cell) {
        this.cursor = cell;
        if (this.drag.sort === "select") this.span(this.drag.from, cell);
        else if (!this.drag.cells.some((known) => known.join() === cell.join())) this.drag.cells.push(cell);
      }
      this.describe(false);
      this.draw(true);
    },
    onUp() {
      const drag = this.drag;
      this.drag = null;
      if (!drag || drag.sort === "pan") return;
      const cells = drag.cells.map((cell) => [...cell, this.layer]);
      if (this.mode === "show") this.box = null;
      else if (this.mode === "watch") {
        if (!this.box) this.press(cells[0]);
      } else if (drag.sort === "part") this.edit("place", { cells });
      else if (drag.sort === "erase") this.edit("erase", { cells });
      this.tell();
      this.draw();
    },
    onWheel(event) {
      const at = this.$refs.canvas.getBoundingClientRect();
      this.scale(event.deltaY < 0 ? 1.15 : 1 / 1.15, event.clientX - at.left, event.clientY - at.top);
    },
    scale(by, x, y) {
      const unit = Math.max(SMALLEST, Math.min(LARGEST, this.unit * by));
      this.pan = [x - ((x - this.pan[0]) * unit) / this.unit, y - ((y - this.pan[1]) * unit) / this.unit];
      this.unit = unit;
      this.moved = true;
      this.draw();
    },
  },
};
