// The time line: play, pause, step; the acts of the hand; a lane for each watched cell; two cursors that measure.
import {
  FONT, SPEEDS, STEPS_PER_SECOND, activate, allowFlashing, jump, keyOf, lastUpTo, onTheme, onWatch, palette, pause, play, readRun, runOf,
  secondsText, seek, setRun, setSpeed, speedText, ticksText, watched,
} from "tickwright-bench";

const RULER = 22;
const HAND_HEIGHT = 22;
const BAR = 22; // pixels of the bar of a lane
const LANE = 34;
const WANTED = 18; // above the bar: what is wanted
const GHOST = 20; // below it: what could be
const HEAD = 22; // below all lanes: the time of the step that is shown
const LEAST_SPAN = 40;
const NAME_FONT = `600 13px ${FONT}`;

// What is said of a run in which more moved than is drawn.
function cutText({ scenes, solid }) {
  const said = [["the layers show", scenes.cut_at], ["the 3D view shows", solid?.cut_at]].filter(([, step]) => step != null);
  return said.length ? `More moves than are drawn: ${said.map(([what, step]) => `${what} what stands up to step ${step}`).join(", ")}.` : "";
}

export default {
  template: `
    <section class="timeline" aria-label="Time line">
      <div class="bar" role="toolbar" aria-label="Playing">
        <button class="plain main play" @click="toggle" :disabled="!steps" title="Play or pause (Space)">{{ playing ? "Pause" : "Play" }}</button>
        <button v-for="name in triggers" :key="name" class="plain" @click="press(name)" :aria-label="'Press ' + name" title="Falls on the step that is shown">{{ triggers.length > 1 ? name : "Press" }}</button>
        <button class="plain" @click="go(step - 1)" :disabled="!steps" title="One step back (Left)">−1</button>
        <button class="plain" @click="go(step + 1)" :disabled="!steps" title="One step on (Right)">+1</button>
        <button class="plain" @click="jumpTo(1)" :disabled="!steps" title="To the next change (.)">Next change</button>
        <output class="now">{{ seconds(step) }} · {{ ticks(step) }} · step {{ step }} </output>
        <span class="spring"></span>
        <output class="measure" aria-live="polite">{{ measured }}</output>
        <button class="plain quiet" @click="go(0)" :disabled="!steps" title="To the start (Home)">Start</button>
        <button class="plain quiet" @click="jumpTo(-1)" :disabled="!steps" title="To the change before (,)">Change before</button>
        <label class="speed">Speed
          <select :value="speed" @change="choose($event.target.value)">
            <option v-for="each in speeds" :key="each" :value="each">{{ say(each) }}</option>
          </select>
        </label>
        <template v-if="!fixed">
          <button class="plain quiet spare" @click="$emit('ask', { what: 'promise' })">Add a promise</button>
          <button class="plain quiet spare" @click="$emit('ask', { what: 'proof' })">Prove it for every way to press</button>
        </template>
      </div>
      <div v-if="held || allowed" class="held">
        <span role="status">{{ held || "Flashing is allowed: a fast run may flash more than three times a second." }}</span>
        <button class="plain" @click="$emit('flashing', { allow: !allowed })">{{ allowed ? "Guard again" : "Play it all the same ..." }}</button>
      </div>
      <div v-if="cut" class="held"><span role="status">{{ cut }}</span></div>
      <div class="lanes" ref="lanes" tabindex="0" role="group" :aria-label="summary" @keydown="onKey">
        <canvas ref="canvas" aria-hidden="true" @pointerdown="onDown" @pointermove="onMove" @pointerup="onUp"
                @pointercancel="onUp" @dblclick="onDouble" @wheel="onWheel"></canvas>
        <button v-for="(lane, i) in fixed ? [] : lanes" :key="lane.name" class="lane-off" :style="{ top: barTop(lane, i) + 2 + 'px' }"
                :aria-label="'Hide the lane ' + lane.name" @click="$emit('hide', { cell: lane.cell })">×</button>
        <div v-for="name in ['a', 'b']" :key="name" class="cursor" :class="['cursor-' + name, marks.a === marks.b && 'idle']" role="slider" tabindex="0"
             :aria-label="'Cursor ' + name.toUpperCase()" :aria-valuemin="0" :aria-valuemax="Math.max(0, steps - 1)"
             :aria-valuenow="marks[name]" :aria-valuetext="marks[name] + ' steps, ' + seconds(marks[name])"
             :style="cursorStyle(name)" @keydown="onCursorKey($event, name)" @pointerdown.stop="onGrab($event, name)"
             @pointermove="onDrag($event, name)" @pointerup="grabbed = null">{{ name.toUpperCase() }}</div>
      </div>
      <details class="readings" v-if="lanes.length"><summary>Changes in words</summary>
        <p v-for="lane in lanes" :key="lane.name" class="code"><b>{{ lane.name }}</b> {{ changesOf(lane) }}</p>
      </details>
    </section>`,
  // `fixed`: lanes that are compared; they cannot be hidden, and no hand is shown.
  // A lane: `name`, `cell`, `run`; `lamp`: it is lit or not; `wanted`: bands with `from`, `to` and `text`, and `missing` from a
  // step on; `ghost`: `pulses` that could be, with `text`. All steps are those of the clock.
  props: { lanes: { type: Array, default: () => [] }, triggers: { type: Array, default: () => [] }, fixed: Boolean },
  emits: ["acts", "flashing", "hide", "loaded", "add", "press", "ask"],
  data: () => ({
    step: 0, steps: 0, playing: false, speed: 1, speeds: SPEEDS, held: "", allowed: false, marks: { a: 0, b: 0 },
    from: 0, span: 1, wide: 600, named: 0, grabbed: null, drag: null, acts: [], version: 0, cut: "", scripted: false,
  }),
  computed: {
    label() {
      return Math.min(Math.max(118, this.named + 52), 230, this.wide * 0.34); // pixels of the names at the left, with the value
    },
    hand() {
      return this.fixed || !this.scripted ? 0 : HAND_HEIGHT;
    },
    measured() {
      const { a, b } = this.marks;
      if (!this.steps || a === b) return "";
      return `A ${a} · B ${b} · B − A: ${b - a} steps, ${ticksText(b - a)}, ${secondsText(b - a)}`;
    },
    summary() {
      return `${this.lanes.length} lanes over ${this.steps} steps. Left and Right step, comma and full stop jump to changes, Space plays. A and B are cursors.`;
    },
  },
  watch: {
    lanes() {
      this.draw();
    },
  },
  mounted() {
    this.unwatch = onWatch(() => this.follow());
    this.untheme = onTheme(() => this.draw());
    this.watcher = new ResizeObserver(() => {
      this.wide = this.$refs.lanes.clientWidth;
      this.draw();
    });
    this.watcher.observe(this.$refs.lanes);
  },
  unmounted() {
    this.unwatch();
    this.untheme();
    this.watcher.disconnect();
  },
  methods: {
    // --- what the server says ----------------------------------------------------------------------------------------
    // `scripted`: the run is of a script, not of the usual press; `anew`: of another plan, from its beginning.
    async load({ url, play: andPlay, offset, scripted, anew }) {
      const answer = await fetch(url, { cache: "no-store" });
      if (!answer.ok) return;
      const run = { ...readRun(await answer.arrayBuffer()), offset };
      const fitted = this.span === this.fitted || anew;
      this.acts = run.acts;
      this.scripted = scripted;
      this.cut = cutText(run);
      if (anew) {
        pause();
        seek(0);
        this.marks = { a: 0, b: 0 };
      }
      setRun(run);
      this.steps = watched.steps;
      if (fitted || this.from + this.span > this.steps) this.fit();
      this.version++;
      this.$emit("loaded", { steps: run.steps });
      if (andPlay && !watched.playing) play();
      this.draw();
    },
    // Show all in which anything changes.
    fit() {
      const last = watched.changes?.[watched.changes.length - 1] ?? 0;
      this.from = 0;
      this.span = this.fitted = Math.max(1, Math.min(Math.max(this.steps - 1, LEAST_SPAN), Math.max(LEAST_SPAN, Math.ceil(last * 1.12))));
    },
    // Load runs to compare, each with its id, where to fetch it and the step that all begin with.
    async loadAll(runs) {
      const kept = runs.map(({ id }) => id);
      for (const id of [...watched.runs.keys()]) if (id !== "main" && !kept.includes(id)) setRun(null, id);
      for (const { id, url, offset } of runs) {
        const answer = await fetch(url, { cache: "no-store" });
        if (answer.ok) setRun({ ...readRun(await answer.arrayBuffer()), offset }, id);
      }
      this.turn(kept);
    },
    // Take the clock over, for these runs.
    turn(ids) {
      activate(ids);
      this.steps = watched.steps;
      this.fit();
      this.version++;
      this.follow();
    },
    none() {
      pause();
      this.cut = "";
      setRun(null);
      this.steps = watched.steps;
      this.draw();
    },
    allow(allowed) {
      allowFlashing(allowed);
    },
    // Say that a trigger is pressed, at the step that is shown.
    press(name) {
      this.$emit("press", { name, step: watched.step });
    },
    place(name, step) {
      this.marks[name] = Math.max(0, Math.min(this.steps - 1, Math.round(step)));
      this.draw();
    },

    // --- following the clock -----------------------------------------------------------------------------------------
    follow() {
      const { step, playing, speed, held, flashingAllowed } = watched;
      Object.assign(this, { step, playing, speed, held, allowed: flashingAllowed });
      if (playing && (step < this.from || step > this.from + this.span)) {
        this.from = Math.max(0, Math.min(step, this.steps - 1 - this.span));
      }
      this.draw();
    },
    toggle() {
      if (watched.playing) pause();
      else play();
    },
    go(step) {
      pause();
      seek(step);
    },
    jumpTo(way) {
      pause();
      jump(way);
    },
    choose(speed) {
      setSpeed(Number(speed));
    },
    say: speedText,
    seconds: secondsText,
    ticks: ticksText,
    changesOf(lane) {
      const found = this.version >= 0 && this.found(lane);
      if (!found) return "nothing recorded";
      const said = Array.from(found.steps.subarray(0, 200), (step, i) => `${step}: ${found.values[i]}`).join(", ");
      return found.steps.length > 200 ? `${said}, ... (${found.steps.length} changes)` : said;
    },

    // The changes of a lane, by the clock's steps.
    found(lane) {
      const run = runOf(lane.run);
      const lane_ = run?.lanes.get(keyOf(...lane.cell));
      if (!lane_ || !run.offset) return lane_;
      run.shifted ??= new Map();
      const key = keyOf(...lane.cell);
      if (!run.shifted.has(key)) {
        const first = Math.max(0, lastUpTo(lane_.steps, run.offset));
        const steps = Uint32Array.from(lane_.steps.subarray(first), (step) => Math.max(0, step - run.offset));
        run.shifted.set(key, { steps, values: lane_.values.subarray(first) });
      }
      return run.shifted.get(key);
    },

    // --- places ------------------------------------------------------------------------------------------------------
    laneHigh(lane) {
      return LANE + (lane.wanted?.length ? WANTED : 0) + (lane.ghost || lane.roomy ? GHOST : 0);
    },
    laneTop(i) {
      return this.lanes.slice(0, i).reduce((top, lane) => top + this.laneHigh(lane), RULER + this.hand);
    },
    barTop(lane, i) {
      return this.laneTop(i) + 6 + (lane.wanted?.length ? WANTED : 0);
    },
    high() {
      return this.laneTop(this.lanes.length);
    },
    laneAt(y) {
      return this.lanes.find((lane, i) => y >= this.laneTop(i) && y < this.laneTop(i) + this.laneHigh(lane));
    },
    xOf(step) {
      return this.label + ((step - this.from) / this.span) * (this.wide - this.label - 12);
    },
    stepAt(x) {
      return this.from + ((x - this.label) / (this.wide - this.label - 12)) * this.span;
    },
    cursorStyle(name) {
      const x = this.xOf(this.marks[name]);
      const high = this.high();
      const shown = this.steps && x >= this.label - 1 && x <= this.wide;
      return { transform: `translateX(${x}px)`, height: `${high}px`, visibility: shown ? "visible" : "hidden" };
    },
    snapped(x, y) {
      const step = Math.max(0, Math.min(this.steps - 1, this.stepAt(x)));
      const lane = this.laneAt(y);
      const found = lane && this.found(lane);
      if (found) {
        const at = lastUpTo(found.steps, step);
        for (const i of [at, at + 1]) {
          if (i >= 0 && i < found.steps.length && Math.abs(this.xOf(found.steps[i]) - x) < 7) return found.steps[i];
        }
      }
      return Math.round(step);
    },

    // --- drawing -----------------------------------------------------------------------------------------------------
    draw() {
      if (this.asked) return;
      this.asked = requestAnimationFrame(() => {
        this.asked = 0;
        if (this.$refs.canvas) this.drawNow();
      });
    },
    drawNow() {
      const { canvas, lanes } = this.$refs;
      const wide = (this.wide = lanes.clientWidth);
      const outer = lanes.closest(".line");
      this.cramped = Boolean(outer) && outer.scrollHeight > outer.clientHeight + 1; // the time below the lanes would be cut off
      const high = this.high() + HEAD;
      const ratio = window.devicePixelRatio || 1;
      canvas.style.height = `${high}px`;
      canvas.width = Math.round(wide * ratio);
      canvas.height = Math.round(high * ratio);
      const ctx = canvas.getContext("2d");
      ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
      ctx.font = NAME_FONT;
      this.named = Math.max(0, ...this.lanes.map(({ name }) => Math.ceil(ctx.measureText(name).width)));
      const c = palette();
      ctx.fillStyle = c.panel;
      ctx.fillRect(0, 0, wide, high);
      if (!this.steps) {
        ctx.fillStyle = c.soft;
        ctx.font = `13px ${FONT}`;
        ctx.fillText("Nothing is run yet.", this.label, 18);
        return;
      }
      this.drawRuler(ctx, c, this.high());
      this.drawHand(ctx, c);
      this.lanes.forEach((lane, i) => this.drawLane(ctx, c, lane, i));
      this.drawHead(ctx, c, this.high());
    },
    drawRuler(ctx, c, high) {
      const room = (this.wide - this.label) / 80;
      const each = [1, 2, 5, 10, 20, 40, 100, 200, 400, 1000, 2000, 4000, 10000].find((n) => this.span / n <= room) ?? 20000;
      ctx.font = `11px ${FONT}`;
      ctx.textBaseline = "top";
      ctx.textAlign = "center";
      for (let step = Math.ceil(this.from / each) * each; step <= this.from + this.span; step += each) {
        const x = this.xOf(step);
        ctx.fillStyle = c.grid;
        ctx.fillRect(Math.round(x), RULER - 4, 1, high - RULER + 4);
        ctx.fillStyle = c.soft;
        ctx.fillText(secondsText(step), x, 3);
      }
    },
    // The step that is shown: a line with a halo, and its time below.
    drawHead(ctx, c, high) {
      const x = Math.round(this.xOf(this.step));
      if (x < this.label - 1 || x > this.wide) return;
      ctx.fillStyle = c.panel;
      ctx.fillRect(x - 2.5, RULER - 4, 5, high - RULER + 4);
      ctx.fillStyle = c.accent;
      ctx.fillRect(x - 1, RULER - 4, 2, high - RULER + 4);
      ctx.font = `600 11px ${FONT}`;
      const text = secondsText(this.step);
      const half = ctx.measureText(text).width / 2 + 9;
      const middle = Math.max(half + 1, Math.min(this.wide - half - 1, x));
      const top = this.cramped ? 0 : high + 1; // where the lanes do not fit, in place of the ruler's number
      if (this.cramped) {
        ctx.fillStyle = c.panel;
        ctx.fillRect(middle - half - 18, 0, 2 * half + 36, 18);
        ctx.fillStyle = c.accent;
      }
      ctx.beginPath();
      ctx.roundRect(middle - half, top, 2 * half, 18, 9);
      ctx.fill();
      ctx.fillStyle = c.onaccent;
      ctx.textAlign = "center";
      ctx.textBaseline = "middle";
      ctx.fillText(text, middle, top + 9.5);
    },
    drawHand(ctx, c) {
      if (!this.hand) return;
      ctx.fillStyle = c.ink;
      ctx.font = `600 12px ${FONT}`;
      ctx.textBaseline = "middle";
      ctx.textAlign = "left";
      ctx.fillText("hand", 8, RULER + this.hand / 2);
      this.acts.forEach((act, i) => {
        const step = this.drag?.act === i ? this.drag.step : act.step;
        const x = this.xOf(step);
        if (x < this.label - 6) return;
        ctx.fillStyle = c.accent;
        ctx.beginPath();
        ctx.moveTo(x, RULER + this.hand - 3);
        ctx.lineTo(x - 7, RULER + 3);
        ctx.lineTo(x + 7, RULER + 3);
        ctx.fill();
      });
    },
    drawLane(ctx, c, lane, i) {
      const [top, bar] = [this.laneTop(i), this.barTop(lane, i)];
      ctx.fillStyle = c.ink;
      ctx.font = NAME_FONT;
      ctx.textAlign = "left";
      ctx.textBaseline = "middle";
      let name = lane.name;
      while (ctx.measureText(name).width > this.label - 44 && name.length > 4) name = `${name.slice(0, -2)}…`;
      ctx.fillText(name, 8, bar + BAR / 2);
      const found = this.found(lane);
      const [first, last] = [this.from, this.from + this.span];
      const edge = (step) => Math.max(this.label, Math.min(this.wide - 20, this.xOf(step)));
      for (const band of lane.wanted ?? []) this.drawWanted(ctx, c, band, top, bar, edge);
      ctx.fillStyle = c.line;
      ctx.fillRect(this.label, bar + BAR, this.wide - this.label - 20, 1);
      if (!found) return;
      const now = found.values[lastUpTo(found.steps, this.step)];
      ctx.fillStyle = c.soft;
      ctx.textAlign = "right";
      ctx.font = `12px ${FONT}`;
      ctx.fillText(lane.lamp ? (now ? "on" : "off") : now, this.label - 14, bar + BAR / 2);
      const most = Math.max(15, ...(found.most ??= [found.values.reduce((a, b) => Math.max(a, b), 0)]));
      found.plain ??= found.values.every((value) => !value || value === 15);
      for (let n = Math.max(0, lastUpTo(found.steps, first)); n < found.steps.length && found.steps[n] <= last; n++) {
        const value = found.values[n];
        if (!value) continue;
        const until = n + 1 < found.steps.length ? found.steps[n + 1] : this.steps;
        const ends = n + 1 < found.steps.length;
        const [left, right] = [edge(found.steps[n]), edge(until)];
        const text = lane.lamp || found.plain ? (ends ? secondsText(until - found.steps[n]) : "") : String(value);
        this.drawBar(ctx, c, lane, { left, right, bar, value, up: lane.lamp ? BAR : Math.max(3, (value / most) * BAR), text });
      }
      for (const band of lane.wanted ?? []) this.drawMissing(ctx, c, band, bar, edge);
      if (lane.ghost) this.drawGhost(ctx, c, lane.ghost, bar + BAR + 4, edge);
    },
    drawBar(ctx, c, lane, { left, right, bar, value, up, text }) {
      const level = Math.min(value, 15);
      const wide = Math.max(1.5, right - left - 1);
      ctx.fillStyle = lane.lamp ? c.amber : c.levels[level];
      ctx.beginPath();
      ctx.roundRect(left, bar + BAR - up, wide, up, Math.min(2, wide / 2, up / 2));
      ctx.fill();
      if (lane.lamp) {
        ctx.strokeStyle = c.amberedge;
        ctx.lineWidth = 1;
        if (wide > 3) ctx.stroke();
      }
      ctx.font = `600 11px ${FONT}`;
      if (!text || ctx.measureText(text).width > wide - 4) return;
      ctx.fillStyle = up < 13 ? c.ink : lane.lamp ? c.amberink : c.over[level];
      ctx.textAlign = "center";
      ctx.textBaseline = "middle";
      ctx.fillText(text, left + wide / 2, up < 13 ? bar + BAR - up - 7 : bar + BAR - up / 2 + 0.5);
    },
    // A promise: a bracketed band behind the bar, its words above.
    drawWanted(ctx, c, { from, to, text }, top, bar, edge) {
      const [left, right] = [edge(from), edge(to)];
      ctx.fillStyle = c.wanted;
      ctx.fillRect(left, bar - 4, right - left, BAR + 4);
      ctx.strokeStyle = c.soft;
      ctx.lineWidth = 1.2;
      ctx.font = `11px ${FONT}`;
      ctx.textAlign = "center";
      ctx.textBaseline = "middle";
      const y = top + 10;
      const half = ctx.measureText(text).width / 2 + 6;
      const fits = 2 * half < right - left - 12;
      ctx.beginPath();
      for (const x of [left, right]) {
        ctx.moveTo(x, y - 4);
        ctx.lineTo(x, bar + BAR);
      }
      const middle = (left + right) / 2;
      for (const [a, b] of fits ? [[left, middle - half], [middle + half, right]] : [[left, right]]) {
        ctx.moveTo(a, y);
        ctx.lineTo(b, y);
      }
      ctx.stroke();
      ctx.fillStyle = c.soft;
      if (fits) ctx.fillText(text, middle, y);
    },
    // What is missing of a promise: hatched, with its amount in words.
    drawMissing(ctx, c, { missing_from: from, to, missing }, bar, edge) {
      if (!missing) return;
      const [left, right] = [edge(from ?? to), edge(to)];
      ctx.save();
      ctx.beginPath();
      ctx.rect(left, bar, right - left, BAR);
      ctx.strokeStyle = c.bad;
      ctx.lineWidth = 1.5;
      ctx.stroke();
      ctx.clip();
      ctx.beginPath();
      for (let x = left - BAR; x < right; x += 6) {
        ctx.moveTo(x, bar + BAR);
        ctx.lineTo(x + BAR, bar);
      }
      ctx.stroke();
      ctx.restore();
      ctx.fillStyle = c.bad;
      ctx.font = `600 11px ${FONT}`;
      ctx.textBaseline = "middle";
      const wide = ctx.measureText(missing).width;
      const beyond = right + 8 + wide > this.wide - 16;
      ctx.textAlign = beyond ? "right" : "left";
      if (beyond) {
        ctx.lineWidth = 3;
        ctx.strokeStyle = c.panel;
        ctx.strokeText(missing, left - 6, bar + BAR / 2);
      }
      ctx.fillText(missing, beyond ? left - 6 : right + 8, bar + BAR / 2);
    },
    // What could be: a dashed bar below.
    drawGhost(ctx, c, { pulses, text }, top, edge) {
      ctx.strokeStyle = c.accent;
      ctx.lineWidth = 1.5;
      ctx.font = `600 11px ${FONT}`;
      const words = ctx.measureText(text).width + 12;
      let [low, high] = [Infinity, -Infinity];
      for (const [from, duration] of pulses) {
        const [left, right] = [edge(from), edge(duration === null ? this.steps : from + duration)];
        [low, high] = [Math.min(low, left), Math.max(high, right)];
        ctx.setLineDash([5, 3]);
        ctx.strokeRect(left + 0.5, top + 0.5, Math.max(1, right - left), 13);
        ctx.setLineDash([]);
      }
      if (low > high) [low, high] = [this.label, this.label];
      const inside = words < high - low && pulses.length === 1;
      const x = inside ? (low + high) / 2 : Math.min(high + 6, this.wide - words - 16);
      ctx.fillStyle = c.panel;
      if (inside) ctx.fillRect(x - words / 2, top - 1, words, 17);
      ctx.fillStyle = c.accent;
      ctx.textAlign = inside ? "center" : "left";
      ctx.textBaseline = "middle";
      ctx.fillText(text, x, top + 7.5);
    },

    // --- hand and keys -----------------------------------------------------------------------------------------------
    onKey(event) {
      const does = {
        " ": () => this.toggle(), ArrowLeft: () => this.go(this.step - 1), ArrowRight: () => this.go(this.step + 1),
        Home: () => this.go(0), End: () => this.go(this.steps - 1), ",": () => this.jumpTo(-1), ".": () => this.jumpTo(1),
        a: () => this.place("a", this.step), b: () => this.place("b", this.step), "+": () => this.zoom(0.5, this.step),
        "-": () => this.zoom(2, this.step),
      }[event.key];
      if (!does || event.target !== this.$refs.lanes || event.ctrlKey || event.metaKey) return;
      does();
      event.preventDefault();
    },
    onCursorKey(event, name) {
      const way = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key];
      const now = this.marks[name];
      const changes = watched.changes ?? [];
      let goal = null;
      if (way && event.shiftKey) {
        const at = lastUpTo(changes, way > 0 ? now : now - 1);
        goal = changes[way > 0 ? at + 1 : at];
      } else if (way) goal = now + way;
      else if (event.key === "Home") goal = 0;
      else if (event.key === "End") goal = this.steps - 1;
      else return;
      if (goal !== undefined) this.place(name, goal);
      event.preventDefault();
      event.stopPropagation();
    },
    point(event) {
      const at = this.$refs.canvas.getBoundingClientRect();
      return [event.clientX - at.left, event.clientY - at.top];
    },
    onDown(event) {
      if (!this.steps) return;
      const [x, y] = this.point(event);
      this.$refs.canvas.setPointerCapture(event.pointerId);
      if (y > RULER && y < RULER + this.hand) {
        const act = this.acts.findIndex((each) => Math.abs(this.xOf(each.step) - x) < 8);
        if (act >= 0) this.drag = { act, step: this.acts[act].step };
      } else if (y <= RULER || event.shiftKey) {
        this.drag = { seek: true };
        this.go(this.stepAt(x));
      } else if (x > this.label) {
        this.drag = { measure: true };
        this.place("a", this.snapped(x, y));
        this.place("b", this.snapped(x, y));
      }
    },
    onMove(event) {
      if (!this.drag) return;
      const [x, y] = this.point(event);
      if (this.drag.seek) this.go(this.stepAt(x));
      else if (this.drag.measure) this.place("b", this.snapped(x, y));
      else this.drag.step = Math.max(0, Math.round(this.stepAt(x)));
      this.draw();
    },
    onUp() {
      const drag = this.drag;
      this.drag = null;
      if (drag?.act === undefined) return;
      const acts = this.acts.map((act, i) => {
        const rest = act.text.slice(act.text.indexOf(":"));
        return i === drag.act ? `${drag.step}${rest}` : act.text;
      });
      if (drag.step !== this.acts[drag.act].step) this.$emit("acts", { acts });
    },
    onDouble(event) {
      const [x, y] = this.point(event);
      if (this.steps && y > RULER && y < RULER + this.hand) this.$emit("add", { step: Math.max(0, Math.round(this.stepAt(x))) });
    },
    onGrab(event, name) {
      this.grabbed = name;
      event.target.setPointerCapture(event.pointerId);
    },
    onDrag(event, name) {
      if (this.grabbed === name) this.place(name, this.snapped(...this.point(event)));
    },
    onWheel(event) {
      if (!event.ctrlKey && !event.altKey) return;
      event.preventDefault();
      this.zoom(event.deltaY > 0 ? 1.25 : 0.8, this.stepAt(this.point(event)[0]));
    },
    zoom(by, around) {
      const span = Math.max(10, Math.min(this.steps - 1, this.span * by));
      this.from = Math.max(0, Math.min(this.steps - 1 - span, around - ((around - this.from) * span) / this.span));
      this.span = span;
      this.draw();
    },
  },
};
