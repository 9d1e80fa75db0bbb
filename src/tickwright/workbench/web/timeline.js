// The time line: play, pause, step; the acts of the hand; a lane for each watched cell; two cursors that measure.
import {
  FONT, SPEEDS, STEPS_PER_SECOND, activate, allowFlashing, jump, keyOf, lastUpTo, onTheme, onWatch, palette, pause, play, readRun, runOf,
  secondsText, seek, setRun, setSpeed, speedText, ticksText, watched,
} from "tickwright-bench";

const RULER = 22;
const HAND_HEIGHT = 26;
const LANE = 34;

// What is said of a run in which more moved than is drawn.
function cutText({ scenes, solid }) {
  const said = [["the layers show", scenes.cut_at], ["the 3D view shows", solid?.cut_at]].filter(([, step]) => step != null);
  return said.length ? `More moves than are drawn: ${said.map(([what, step]) => `${what} what stands up to step ${step}`).join(", ")}.` : "";
}

export default {
  template: `
    <section class="timeline" aria-label="Time line">
      <div class="bar" role="toolbar" aria-label="Playing">
        <button class="plain" @click="go(0)" :disabled="!steps" title="To the start (Home)">Start</button>
        <button class="plain" @click="jumpTo(-1)" :disabled="!steps" title="To the change before (,)">Change before</button>
        <button class="plain" @click="go(step - 1)" :disabled="!steps" title="One step back (Left)">−1</button>
        <button class="plain main play" @click="toggle" :disabled="!steps" title="Play or pause (Space)">{{ playing ? "Pause" : "Play" }}</button>
        <button class="plain" @click="go(step + 1)" :disabled="!steps" title="One step on (Right)">+1</button>
        <button class="plain" @click="jumpTo(1)" :disabled="!steps" title="To the next change (.)">Next change</button>
        <label class="speed">Speed
          <select :value="speed" @change="choose($event.target.value)">
            <option v-for="each in speeds" :key="each" :value="each">{{ say(each) }}</option>
          </select>
        </label>
        <output class="code now">step {{ step }} · {{ seconds(step) }} · {{ ticks(step) }}</output>
        <span class="spring"></span>
        <output class="code measure" aria-live="polite">{{ measured }}</output>
      </div>
      <div v-if="held || allowed" class="held">
        <span role="status">{{ held || "Flashing is allowed: a fast run may flash more than three times a second." }}</span>
        <button class="plain" @click="$emit('flashing', { allow: !allowed })">{{ allowed ? "Guard again" : "Play it all the same ..." }}</button>
      </div>
      <div v-if="cut" class="held"><span role="status">{{ cut }}</span></div>
      <div class="lanes" ref="lanes" tabindex="0" role="group" :aria-label="summary" @keydown="onKey">
        <canvas ref="canvas" aria-hidden="true" @pointerdown="onDown" @pointermove="onMove" @pointerup="onUp"
                @pointercancel="onUp" @dblclick="onDouble" @wheel="onWheel"></canvas>
        <button v-for="(lane, i) in fixed ? [] : lanes" :key="lane.name" class="lane-off" :style="{ top: laneTop(i) + 8 + 'px' }"
                :aria-label="'Hide the lane ' + lane.name" @click="$emit('hide', { cell: lane.cell })">×</button>
        <div v-for="name in ['a', 'b']" :key="name" class="cursor" :class="'cursor-' + name" role="slider" tabindex="0"
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
  props: { lanes: { type: Array, default: () => [] }, fixed: Boolean },
  emits: ["acts", "flashing", "hide", "loaded", "add", "press"],
  data: () => ({
    step: 0, steps: 0, playing: false, speed: 1, speeds: SPEEDS, held: "", allowed: false, marks: { a: 0, b: 0 },
    from: 0, span: 1, wide: 600, grabbed: null, drag: null, acts: [], version: 0, cut: "",
  }),
  computed: {
    label() {
      return this.fixed ? 210 : 118; // pixels of the names at the left
    },
    hand() {
      return this.fixed ? 0 : HAND_HEIGHT;
    },
    measured() {
      const { a, b } = this.marks;
      if (!this.steps) return "";
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
    async load(url, andPlay) {
      const answer = await fetch(url, { cache: "no-store" });
      if (!answer.ok) return;
      const run = readRun(await answer.arrayBuffer());
      const whole = this.span >= this.steps - 1;
      this.acts = run.acts;
      this.cut = cutText(run);
      setRun(run);
      this.steps = watched.steps;
      if (whole || this.from + this.span > this.steps) [this.from, this.span] = [0, Math.max(1, this.steps - 1)];
      this.version++;
      this.$emit("loaded", { steps: run.steps });
      if (andPlay && !watched.playing) play();
      this.draw();
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
      [this.from, this.span] = [0, Math.max(1, this.steps - 1)];
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
    laneTop(i) {
      return RULER + this.hand + i * LANE;
    },
    xOf(step) {
      return this.label + ((step - this.from) / this.span) * (this.wide - this.label - 12);
    },
    stepAt(x) {
      return this.from + ((x - this.label) / (this.wide - this.label - 12)) * this.span;
    },
    cursorStyle(name) {
      const x = this.xOf(this.marks[name]);
      const high = RULER + this.hand + this.lanes.length * LANE;
      const shown = this.steps && x >= this.label - 1 && x <= this.wide;
      return { transform: `translateX(${x}px)`, height: `${high}px`, visibility: shown ? "visible" : "hidden" };
    },
    snapped(x, y) {
      const step = Math.max(0, Math.min(this.steps - 1, this.stepAt(x)));
      const lane = this.lanes[Math.floor((y - RULER - this.hand) / LANE)];
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
      const high = RULER + this.hand + this.lanes.length * LANE + 4;
      const ratio = window.devicePixelRatio || 1;
      canvas.style.height = `${high}px`;
      canvas.width = Math.round(wide * ratio);
      canvas.height = Math.round(high * ratio);
      const ctx = canvas.getContext("2d");
      ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
      const c = palette();
      ctx.fillStyle = c.panel;
      ctx.fillRect(0, 0, wide, high);
      if (!this.steps) {
        ctx.fillStyle = c.ink;
        ctx.font = `13px ${FONT}`;
        ctx.fillText("Press a trigger to begin a run.", this.label, 18);
        return;
      }
      this.drawRuler(ctx, c, high);
      this.drawHand(ctx, c);
      this.lanes.forEach((lane, i) => this.drawLane(ctx, c, lane, this.laneTop(i)));
      ctx.fillStyle = c.accent;
      const x = this.xOf(this.step);
      if (x >= this.label - 1) ctx.fillRect(x - 1, 0, 2, high);
    },
    drawRuler(ctx, c, high) {
      const room = (this.wide - this.label) / 90;
      const each = [1, 2, 5, 10, 20, 40, 100, 200, 400, 1000, 2000, 4000, 10000].find((n) => this.span / n <= room) ?? 20000;
      ctx.font = `11px ${FONT}`;
      ctx.textBaseline = "top";
      ctx.textAlign = "left";
      for (let step = Math.ceil(this.from / each) * each; step <= this.from + this.span; step += each) {
        const x = this.xOf(step);
        ctx.fillStyle = c.grid;
        ctx.fillRect(x, RULER, 1, high);
        ctx.fillStyle = c.ink;
        ctx.fillText(each < STEPS_PER_SECOND ? step : secondsText(step), x + 2, 5);
      }
      ctx.fillText(each < STEPS_PER_SECOND ? "steps" : "seconds", 8, 5);
    },
    drawHand(ctx, c) {
      if (this.fixed) return;
      ctx.fillStyle = c.paper;
      ctx.fillRect(0, RULER, this.wide, this.hand);
      ctx.fillStyle = c.ink;
      ctx.font = `600 12px ${FONT}`;
      ctx.textBaseline = "middle";
      ctx.fillText("hand", 8, RULER + this.hand / 2);
      this.acts.forEach((act, i) => {
        const step = this.drag?.act === i ? this.drag.step : act.step;
        const x = this.xOf(step);
        if (x < this.label - 6) return;
        ctx.fillStyle = c.accent;
        ctx.beginPath();
        ctx.moveTo(x, RULER + this.hand - 3);
        ctx.lineTo(x - 7, RULER + 5);
        ctx.lineTo(x + 7, RULER + 5);
        ctx.fill();
      });
    },
    drawLane(ctx, c, lane, top) {
      ctx.fillStyle = c.grid;
      ctx.fillRect(0, top, this.wide, 1);
      ctx.fillStyle = c.ink;
      ctx.font = `600 12px ${FONT}`;
      ctx.textAlign = "left";
      ctx.textBaseline = "middle";
      let name = lane.name;
      while (ctx.measureText(name).width > this.label - 62 && name.length > 4) name = `${name.slice(0, -2)}…`;
      ctx.fillText(name, this.fixed ? 8 : 24, top + LANE / 2);
      const found = this.found(lane);
      if (!found) return;
      ctx.textAlign = "right";
      ctx.font = `12px ${FONT}`;
      ctx.fillText(found.values[lastUpTo(found.steps, this.step)], this.label - 8, top + LANE / 2);
      const most = Math.max(15, ...(found.most ??= [found.values.reduce((a, b) => Math.max(a, b), 0)]));
      const floor = top + LANE - 4;
      const last = this.from + this.span;
      const edge = (step) => Math.max(this.label, Math.min(this.wide - 12, this.xOf(step)));
      let line = [];
      for (let i = Math.max(0, lastUpTo(found.steps, this.from)); i < found.steps.length && found.steps[i] <= last; i++) {
        const value = found.values[i];
        const [left, right] = [edge(found.steps[i]), edge(i + 1 < found.steps.length ? found.steps[i + 1] : this.steps)];
        const up = (value / most) * (LANE - 9);
        if (value) {
          ctx.fillStyle = c.levels[Math.min(value, 15)];
          ctx.fillRect(left, floor - up, Math.max(1, right - left), up);
          if (right - left > 16) {
            ctx.fillStyle = up > 13 ? c.over[Math.min(value, 15)] : c.ink;
            ctx.textAlign = "left";
            ctx.font = `11px ${FONT}`;
            ctx.fillText(value, left + 3, up > 13 ? floor - up / 2 : floor - up - 6);
          }
        }
        line.push([left, floor - up], [right, floor - up]);
      }
      ctx.strokeStyle = c.ink;
      ctx.lineWidth = 1.2;
      ctx.beginPath();
      line.forEach(([x, y], i) => (i ? ctx.lineTo(x, y) : ctx.moveTo(x, y)));
      ctx.stroke();
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
