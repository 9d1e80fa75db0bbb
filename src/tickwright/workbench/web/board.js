// A view of the plan on a grid: a layer from above, or a section from the side. The server holds the truth: what the user
// does here is sent as an edit, and what comes back is drawn.
import {
  DEEP, Fingers, HeldKeys, afterEdit, boxOf, cellOf, drawCells, drawOver, jump, keyOf, lit, litOn, onLit, onTheme, onWatch, overlayNow, paint, pause,
  placeOf, play, tellLaid, valuesNow, watched, wayOf,
} from "tickwright-bench";

const SMALLEST = 8;
const LARGEST = 72;
const MOST_ALONG = [1024, 1024, 256]; // cells
const MARGIN = 1; // cells of room to lay more, beside what there is
const TOP = 16; // pixels above the grid, for names
const BOTTOM = 20; // and below it, for the ruler
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const HELP = `Arrow keys move the cursor, Page Up and Page Down change the layer, Enter lays the chosen part, Delete erases,
  R turns. F1 lists all keys.`;

export default {
  template: `
    <div class="board" :class="plane" ref="frame" tabindex="0" role="application" :aria-label="label" :aria-describedby="helpId"
         aria-roledescription="grid" @keydown="onKey" @focus="onFocus(true)" @blur="onFocus(false)">
      <canvas ref="canvas" aria-hidden="true" @pointerdown="onDown" @pointermove="onMove" @pointerup="onUp"
              @pointercancel="onCancel" @pointerleave="hover = null; draw(true)" @wheel.prevent="onWheel"
              @contextmenu.prevent></canvas>
      <div v-if="tries.length && plane === 'above'" class="tries" ref="tries" role="group" aria-label="To be tried at this cell" :style="triesAt">
        <div class="tries-row">
          <button v-for="(one, i) in tries" :key="i" class="try" :aria-pressed="i === trying" :aria-label="one.text + ', ' + one.said"
                  tabindex="-1" :title="one.text + ': ' + one.said" @click="tryOne(i)"><canvas class="glyph" :ref="(made) => paintTry(made, one)"></canvas></button>
        </div>
        <div class="tries-said" v-if="tries[trying]"><b>{{ tries[trying].short }}</b><span>{{ tries[trying].said }}</span></div>
      </div>
      <div class="board-said" :class="{ shown: loud }" aria-hidden="true">{{ said }}</div>
      <div class="unseen" role="status" aria-live="polite">{{ heard }}</div>
      <div class="unseen" :id="helpId">${HELP}</div>
    </div>`,
  // `mode`: in "lay" what is done is an edit, in "show" nothing can be done. `keys`: what each key does.
  props: {
    mode: { type: String, default: "lay" }, run: { type: String, default: "main" },
    plane: { type: String, default: "above" }, keys: { type: Object, default: () => ({}) },
  },
  emits: ["ready", "edit", "cursor", "press", "lane", "ask", "try"],
  data: () => ({
    said: "", loud: false, heard: "", label: "Grid", helpId: `help-${Math.random().toString(36).slice(2)}`, tries: [], trying: -1, triesAt: {},
  }),
  created() {
    Object.assign(this, {
      cells: new Map(), sorts: [], size: [1, 1, 1], names: new Map(), problems: new Map(), notes: new Map(),
      cursor: [0, 0, 0], anchor: null, box: null, unit: 32, pan: [0, 0], moved: false, ghosts: true,
      tool: { sort: "part", text: "block" }, hover: null, drag: null, marked: new Set(), focused: false, values: null, overlay: null,
      turn: 0, // so many things the user did; what the server answers to an earlier one is out of date
      clip: null, // the size of what was copied here
      held: new HeldKeys(), fingers: new Fingers(), tried: null,
      modules: [], boxed: false, // where modules lie; whether they are shown as boxes
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
    this.unlit = onLit(() => this.light());
    this.$emit("ready");
  },
  unmounted() {
    this.watcher.disconnect();
    this.untheme();
    this.unwatch();
    this.unlit();
    this.held.drop();
    watched.cellPixels.delete(`board ${this.run} ${this.plane}`);
  },
  methods: {
    // --- what the server says ----------------------------------------------------------------------------------------
    open(data) {
      this.cells.clear();
      this.sorts = [];
      this.moved = false;
      this.box = this.anchor = null;
      this.take(data);
      const top = Math.max(0, this.size[2] - 1);
      this.cursor = data.cursor ?? [0, 0, Math.min(data.layer ?? 0, top)];
      this.fit();
      this.describe(false);
      if (!data.cursor) this.tell();
    },
    take(data) {
      this.sorts.push(...(data.sorts ?? []));
      for (const [x, y, z, sort] of data.cells ?? []) {
        if (sort < 0) this.cells.delete(keyOf(x, y, z));
        else this.cells.set(keyOf(x, y, z), this.sorts[sort]);
      }
      const before = this.shown().join();
      if (data.size) this.size = data.size;
      this.used = null;
      if (data.names) this.names = new Map(data.names.map(([x, y, z, text]) => [keyOf(x, y, z), text]));
      if (data.problems) this.problems = new Map(data.problems.map(([x, y, z, sort, text]) => [keyOf(x, y, z), { sort, text }]));
      if (data.notes) this.notes = new Map(data.notes.map(([x, y, z, text]) => [keyOf(x, y, z), text]));
      if (this.plane === "above" && this.run === "main") tellLaid({ cells: this.cells, size: this.size });
      if (!this.moved && this.shown().join() !== before) this.fit();
      this.describe(false);
      this.draw();
    },
    // Where the modules lie: name, box, cells and ports of each, and whether it is open.
    house(modules) {
      this.modules = modules.map((one) => ({ ...one, keys: new Set(one.cells.map((cell) => keyOf(...cell))) }));
      if (this.plane === "above" && this.run === "main") tellLaid({ modules });
      this.describe(false);
      this.draw();
    },
    // Show modules as boxes, or with their parts.
    fold() {
      this.boxed = !this.boxed;
      this.draw();
    },
    moduleAt(cell) {
      const key = keyOf(...cell);
      const inside = ({ low, high }) => cell.every((at, i) => low[i] <= at && at <= high[i]);
      return this.modules.find(({ keys }) => keys.has(key)) ?? (this.at(...cell) ? undefined : this.modules.find(inside));
    },
    // Another section: what lies in it, and the cursor that stays where it is.
    cut(data) {
      this.cells.clear();
      this.sorts = [];
      this.take(data);
      this.stand(data.cursor, null);
    },
    choose(tool) {
      this.tool = tool;
      this.draw(true);
    },
    // Go to that layer (or section).
    show(at) {
      this.cursor[this.deep()] = at;
      this.box = this.anchor = null;
      this.describe(true);
      this.tell();
      this.draw();
    },
    select(box) {
      this.box = box;
      this.anchor = box ? [...box[0]] : null;
      this.tell();
      this.draw(true);
    },
    goto(x, y, z) {
      this.stand([x, y, z], null);
      this.tell();
    },
    // Go where the cursor of another view of the plan is.
    meet(cell, box) {
      if (JSON.stringify([cell, box]) !== JSON.stringify([this.cursor, this.box])) this.stand(cell, box, false);
    },
    // Where an edit left cursor and selection; `turn` is that of the edit, null for one that a button asked for.
    settle(turn, cell, box) {
      if (turn !== null && turn !== this.turn) return;
      if (JSON.stringify([cell, box]) === JSON.stringify([this.cursor, this.box])) return;
      this.stand(cell, box);
      this.report();
    },
    climb(by) {
      const most = this.size[this.deep()]; // one above the top can be begun
      this.show(Math.max(0, Math.min(this.plane === "above" ? most : most - 1, this.at() + by)));
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
      this.unit = Math.max(SMALLEST, Math.min(48, Math.floor(Math.min((wide - 34) / x, (high - TOP - BOTTOM) / y))));
      this.pan = [Math.max(24, (wide + 16 - x * this.unit) / 2), Math.max(TOP, (high - BOTTOM - TOP - y * this.unit) / 2 + TOP)];
      this.moved = false;
      this.draw();
    },

    follow() {
      const seen = this.$refs.frame?.clientWidth > 0;
      watched.cellPixels.set(`board ${this.run} ${this.plane}`, [this.run, seen ? this.unit * this.unit : 0]);
      this.values = seen ? valuesNow(this.run) : null;
      this.overlay = seen && this.plane === "above" ? overlayNow(this.run) : null;
      this.describe(false);
      this.draw();
    },
    // What is spoken of is lit; where none of it is in the layer that is shown, go to a layer that has some.
    light() {
      if (this.run !== "main") return;
      const { cells, led } = lit;
      if (led && this.plane === "above" && cells.length && !cells.some((cell) => this.inPlane(cell))) this.show(cells[0][2]);
      this.draw(true);
    },
    at(x, y, z) {
      if (x === undefined) return this.cursor[this.deep()];
      const key = keyOf(x, y, z);
      return this.overlay?.has(key) ? this.overlay.get(key) : this.cells.get(key);
    },
    deep() {
      return DEEP[this.plane];
    },
    cell(place) {
      return cellOf(this.plane, place, this.at(), this.shown());
    },
    place(cell) {
      return placeOf(this.plane, cell, this.shown());
    },
    inPlane(cell) {
      return cell[this.deep()] === this.at();
    },

    // --- trying ------------------------------------------------------------------------------------------------------
    // What could stand in the cell of the cursor instead, each with what it would do in words; which is being tried.
    offer(tries, trying) {
      this.tries = tries;
      this.trying = trying;
      this.tried = trying >= 0 ? tries[trying] : null;
      this.draw();
    },
    tryOne(number) {
      this.$emit("try", { number });
      this.$refs.frame.focus();
    },
    paintTry(made, one) {
      if (!made) return;
      const ratio = window.devicePixelRatio || 1;
      made.width = made.height = 24 * ratio;
      const ctx = made.getContext("2d");
      ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
      paint(ctx, one.shapes, 1, 1, 22, 0);
    },
    // The bar stands over empty cells below the cursor, or where the grid ends.
    placeTries() {
      if (!this.tries.length || this.plane !== "above") return;
      const [column, row] = this.place(this.cursor);
      const [columns, rows] = this.shown();
      const across = Math.ceil((this.tries.length * 30 + 16) / this.unit);
      const free = (r) => Array.from({ length: across }, (_, i) => column + i).every((c) => c >= columns || !this.at(...this.cell([c, r])));
      let goal = row + 1;
      while (goal < rows && !(free(goal) && free(goal + 1))) goal += 1;
      const { clientWidth: wide, clientHeight: high } = this.$refs.frame;
      const bar = Math.max(this.tries.length * 30 + 10, this.$refs.tries?.offsetWidth ?? 0);
      const left = Math.max(4, Math.min(this.pan[0] + column * this.unit - 4, wide - bar - 14));
      const tall = this.$refs.tries?.offsetHeight ?? 34;
      const under = this.pan[1] + rows * this.unit + BOTTOM; // below the numbers of the columns, where there is room
      const top = under + tall <= high ? under : Math.min(this.pan[1] + goal * this.unit + 3, high - tall);
      if (this.triesAt.left !== `${left}px` || this.triesAt.top !== `${top}px`) this.triesAt = { left: `${left}px`, top: `${top}px` };
      this.stem = [this.pan[0] + (column + 0.5) * this.unit, this.pan[1] + (row + 1) * this.unit, top];
    },

    // --- words -------------------------------------------------------------------------------------------------------
    // How many columns and rows are shown: with room to lay more.
    shown() {
      const [wide, deep, high] = this.size;
      if (this.mode === "show") {
        const ends = () => [...this.cells.keys()].map((key) => key.split(",").map((at) => Number(at) + 1));
        this.used ??= ends().reduce((most, end) => most.map((at, i) => Math.max(at, end[i])), [1, 1, 1]);
        const [across, down, up] = this.used;
        return { above: [across, down], south: [across, up], east: [down, up] }[this.plane];
      }
      const [x, y, z] = this.cursor; // which may go beyond what there is
      const across = Math.max(8, wide + MARGIN, x + 1);
      const down = Math.max(3, deep + MARGIN, y + 1);
      if (this.plane === "above") return [across, down];
      return [this.plane === "south" ? across : Math.max(4, down), Math.max(2, high + 1, z + 1)];
    },
    words(x, y, z) {
      const key = keyOf(x, y, z);
      const cell = this.at(x, y, z);
      const said = [cell ? cell.text : "empty"];
      const value = this.values?.get(key);
      if (value !== undefined) said.push(`shows ${value}`);
      if (this.names.has(key)) said.push(this.names.get(key));
      const module = this.moduleAt([x, y, z]);
      if (module) said.push(`in the module ${module.name}`);
      if (this.notes.has(key)) said.push(`note: ${this.notes.get(key)}`);
      if (this.problems.has(key)) said.push(`${this.problems.get(key).sort}: ${this.problems.get(key).text}`);
      return said.join("; ");
    },
    describe(aloud) {
      const told = (cell) => `(${cell.join(", ")})  ${this.words(...cell)}`;
      const over = this.hover && this.cell(this.hover);
      this.said = told(over ?? this.cursor);
      this.loud = Boolean(over || this.problems.has(keyOf(...this.cursor)) || this.notes.has(keyOf(...this.cursor)));
      const what = { above: "Layer", south: "Section from the south, y", east: "Section from the east, x" }[this.plane];
      this.label = `${what} ${this.at()} of ${this.size[this.deep()]}, ${this.size[0]} by ${this.size[1]} by ${this.size[2]} cells`;
      if (!aloud) return;
      const [x, y, z] = this.cursor;
      const held = this.box ? ` selected ${this.box[0].map((at, i) => this.box[1][i] - at + 1).join(" by ")}` : "";
      this.heard = `x ${x}, y ${y}, layer ${z}: ${this.words(x, y, z)}${held}`;
    },
    tell() {
      this.turn += 1;
      this.report();
    },
    report() {
      this.$emit("cursor", { cell: [...this.cursor], box: this.box });
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
      if (!wide || !high) return; // in a room that is not shown
      const ratio = window.devicePixelRatio || 1;
      if (canvas.width !== Math.round(wide * ratio) || canvas.height !== Math.round(high * ratio)) {
        canvas.width = Math.round(wide * ratio);
        canvas.height = Math.round(high * ratio);
      }
      const [columns, rows] = this.shown();
      Object.assign(frame.dataset, { unit: this.unit, left: this.pan[0], top: this.pan[1], columns, rows, at: this.at(), lit: litOn(this).join(" ") }); // for tests
      const below = (this.below ??= document.createElement("canvas"));
      if (below.width !== canvas.width || below.height !== canvas.height) {
        [below.width, below.height] = [canvas.width, canvas.height];
        this.painted = false;
      }
      if (!this.painted) {
        const ground = below.getContext("2d");
        ground.setTransform(ratio, 0, 0, ratio, 0, 0);
        drawCells(this, ground, wide, high);
        this.painted = true;
      }
      const ctx = canvas.getContext("2d");
      ctx.setTransform(1, 0, 0, 1, 0, 0);
      ctx.drawImage(below, 0, 0);
      ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
      this.placeTries();
      drawOver(this, ctx);
    },

    // --- the keyboard ------------------------------------------------------------------------------------------------
    onFocus(focused) {
      this.focused = focused;
      if (focused) this.describe(true);
      this.draw(true);
    },
    // What a key does stands in the table of keys.py; how its name is put together, there too.
    onKey(event) {
      const { key, shiftKey: shift, altKey: alt } = event;
      const ctrl = event.ctrlKey || event.metaKey;
      const named = key.length > 1 && shift ? `Shift+${key}` : key;
      const op = this.keys[ctrl ? `Ctrl+${key}` : alt ? `Alt+${key}` : named] ?? (shift && !ctrl && !alt && this.keys[key]);
      if (!op) return;
      const far = key === "PageUp" ? 1 : -1;
      const does = {
        step: () => this.step(ARROWS[key], false), span: () => this.step(ARROWS[key], true),
        move: () => this.edit("move", { by: ARROWS[key] ? wayOf(this.plane, ARROWS[key]) : this.nearer(far) }),
        climb: () => this.show(Math.max(0, Math.min(this.size[this.deep()] - 1, this.at() + far))), "climb-on": () => this.climb(far),
        all: () => this.selectAll(), drop: () => (this.tried ? this.tryOne(-1) : this.select(null)), act: () => this.act(),
        press: () => this.press(this.cursor), lane: () => this.$emit("lane", { cell: [...this.cursor] }), ghosts: () => this.ghost(!this.ghosts),
        play: () => (watched.playing ? pause() : play()), "jump-on": () => [pause(), jump(1)], "jump-back": () => [pause(), jump(-1)],
        "zoom-in": () => this.zoom(1.25), "zoom-out": () => this.zoom(0.8), fit: () => this.fit(), delay: () => this.edit("delay", { value: key }),
        boxes: () => this.$emit("ask", { what: "boxes" }), "try-before": () => this.tryNext(-1), "try-after": () => this.tryNext(1),
      }[op];
      if (does) does();
      else if (op.startsWith("ask-")) this.ask(op.slice(4));
      else if (op.startsWith("part:")) this.edit("part", { value: op.slice(5) });
      else this.edit(op);
      event.preventDefault();
      event.stopPropagation();
    },
    nearer(by) {
      return [0, 1, 2].map((axis) => (axis === this.deep() ? by : 0));
    },
    selectAll() {
      const top = this.size.map((length) => length - 1);
      const deep = this.deep();
      this.select(boxOf([0, 1, 2].map((i) => (i === deep ? this.at() : 0)), top.map((end, i) => (i === deep ? this.at() : end))));
    },
    // Go on to the next that can be tried; what stands there already is among them.
    tryNext(by) {
      const count = this.tries.length;
      if (!count) return this.$emit("try", { number: -2 }); // none is known yet: they are asked for
      const now = this.trying < 0 ? this.tries.findIndex(({ own }) => own) : this.trying;
      this.$emit("try", { number: (now + by + count) % count });
    },
    step([across, down], extend) {
      const [from, before] = [this.cursor, this.shown().join()];
      const way = wayOf(this.plane, [across, down]);
      this.cursor = from.map((at, i) => Math.max(0, Math.min(MOST_ALONG[i] - 1, at + way[i])));
      if (!this.moved && this.shown().join() !== before) this.fit();
      if (extend) {
        this.anchor ??= from;
        this.box = boxOf(this.anchor, this.cursor);
      } else if (this.box) this.box = this.anchor = null;
      this.hover = null;
      this.reveal();
      this.describe(true);
      this.tell();
      this.draw(true);
    },
    reveal() {
      const { clientWidth: wide, clientHeight: high } = this.$refs.frame;
      const { unit, pan } = this;
      const place = this.place(this.cursor);
      for (const [i, room] of [[0, wide], [1, high - BOTTOM]]) {
        const at = pan[i] + place[i] * unit;
        const by = at < 20 ? 20 - at : Math.min(0, room - 4 - at - unit);
        pan[i] += by;
        if (by) this.painted = false;
      }
    },
    // Ask the server for an edit. Cursor and selection go at once where it will leave them: the next key may be on its way.
    edit(op, more = {}) {
      if (this.mode === "show") return;
      const asked = { op, cell: [...this.cursor], box: this.box, ...more };
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
      if (!["repeat", "keys", "module"].includes(what)) this.held.begin(); // it asks for a line of text, which is written already
      this.$emit("ask", { what });
    },
    stand(cell, box, reveal = true) {
      const before = this.shown().join();
      this.cursor = [...cell];
      if (!this.moved && this.shown().join() !== before) this.fit();
      this.box = box;
      this.anchor = box && [...box[0]];
      if (reveal) this.reveal();
      this.describe(true);
      this.draw();
    },
    act() {
      if (this.mode === "show") return;
      if (this.tried) this.edit("put");
      else if (this.tool.sort === "press") this.press(this.cursor);
      else if (this.tool.sort === "erase") this.edit("erase");
      else if (this.tool.sort === "module") this.edit("lay-module");
      else if (this.tool.sort === "part") this.edit(this.box ? "fill" : "place"); // of the part chosen, which the server knows
    },
    press(cell) {
      this.$emit("press", { cell: [...cell], step: watched.step });
    },

    // --- the pointer -------------------------------------------------------------------------------------------------
    placeAt(event) {
      const at = this.$refs.canvas.getBoundingClientRect();
      const column = Math.floor((event.clientX - at.left - this.pan[0]) / this.unit);
      const row = Math.floor((event.clientY - at.top - this.pan[1]) / this.unit);
      const [across, down] = this.shown();
      return column >= 0 && row >= 0 && column < across && row < down ? [column, row] : null;
    },
    onDown(event) {
      this.$refs.frame.focus({ preventScroll: true });
      if (this.fingers.press(event)) {
        this.drag = { sort: "pinch" };
        this.hover = null;
        return;
      }
      const place = this.placeAt(event);
      this.$refs.canvas.setPointerCapture(event.pointerId);
      if (event.button === 1 || !place) {
        this.moved = true;
        this.drag = { sort: "pan", x: event.clientX, y: event.clientY, pan: [...this.pan] };
        return;
      }
      const cell = this.cell(place);
      const selecting = this.mode !== "lay" || this.tool.sort === "select" || event.shiftKey;
      const before = [this.cursor, this.box];
      const module = selecting && this.mode === "lay" && !event.shiftKey ? this.moduleAt(cell) : null; // which goes along with the pointer
      const sort = event.button === 2 ? "erase" : selecting ? (module && !this.modules.some(({ edited }) => edited) ? "carry" : "select") : this.tool.sort;
      this.drag = { sort, from: cell, cells: [cell], before, module };
      this.cursor = cell;
      this.box = this.anchor = null;
      this.describe(true);
      this.draw(true);
    },
    onMove(event) {
      const moved = this.fingers.move(event);
      if (moved) {
        const at = this.$refs.canvas.getBoundingClientRect();
        this.pan = [this.pan[0] + moved.go[0], this.pan[1] + moved.go[1]];
        this.scale(moved.by, moved.about[0] - at.left, moved.about[1] - at.top);
        return;
      }
      if (this.drag?.sort === "pinch") return;
      if (this.drag?.sort === "pan") {
        this.pan = [this.drag.pan[0] + event.clientX - this.drag.x, this.drag.pan[1] + event.clientY - this.drag.y];
        this.draw();
        return;
      }
      const place = this.placeAt(event);
      if (place?.join() === this.hover?.join()) return;
      this.hover = place;
      if (this.drag && place) {
        this.cursor = this.cell(place);
        if (this.drag.sort === "select") this.box = boxOf(this.drag.from, this.cursor);
        else if (!this.drag.cells.some((known) => known.join() === this.cursor.join())) this.drag.cells.push(this.cursor);
      }
      this.describe(false);
      this.draw(true);
    },
    onUp(event) {
      this.fingers.lift(event);
      const drag = this.drag;
      if (drag?.sort === "pinch" && this.fingers.down.size) return;
      this.drag = null;
      if (event.pointerType === "touch") this.hover = null;
      if (!drag || ["pan", "pinch"].includes(drag.sort)) return;
      const { cells } = drag;
      if (this.mode === "show") this.box = null;
      else if (drag.sort === "press") this.press(cells[0]);
      else if (drag.sort === "module") this.edit("lay-module");
      else if (drag.sort === "carry") {
        const by = this.cursor.map((at, i) => at - drag.from[i]);
        if (by.some(Boolean)) return this.edit("move", { cell: drag.from, by });
        this.box = [drag.module.low, drag.module.high];
      }
      else if (drag.sort === "part") this.edit("place", { cells });
      else if (drag.sort === "erase") this.edit("erase", { cells });
      this.tell();
      this.draw();
    },
    // A touch that is taken away (for scrolling, say) does nothing.
    onCancel(event) {
      this.fingers.lift(event);
      if (this.drag?.before) [this.cursor, this.box] = this.drag.before;
      this.drag = this.hover = null;
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
