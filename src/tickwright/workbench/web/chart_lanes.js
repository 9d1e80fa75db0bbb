// The picture of a chart with its edges as handles: dragged with the mouse or a finger, moved with the arrow keys.
//
// `shown` is {light, dark, size, zero, step, edges}: the picture in both looks as SVG that the server drew, its size in
// pixels, where time 0 lies and how wide a step is, and edges as {claim, clause, side, nth, output, step, least, most, top}.
// Emits "edge" with
// {claim, clause, side, by} when one was let go elsewhere; nothing is kept here: what is shown comes anew.
import { STEPS_PER_SECOND, secondsText } from "tickwright-bench";

const HIGH = 34; // of a handle, from the top of its lane
const WIDE = 24; // of what can be hit

export default {
  template: `
    <div v-if="shown.light" class="chart-lanes">
      <div class="for-light" v-html="shown.light"></div>
      <div class="for-dark" v-html="shown.dark"></div>
      <svg ref="over" class="over" :viewBox="'0 0 ' + shown.size[0] + ' ' + shown.size[1]" role="group" aria-label="Edges of the claims">
        <g v-for="edge in shown.edges" :key="keyOf(edge)" class="edge" :class="{ held: held && held.key === keyOf(edge) }"
           tabindex="0" role="slider" :data-edge="keyOf(edge)" :aria-label="label(edge)" :aria-valuenow="stepOf(edge)"
           :aria-valuemin="edge.least" :aria-valuemax="edge.most === null ? farthest : edge.most"
           :aria-valuetext="text(stepOf(edge))" aria-orientation="horizontal"
           @pointerdown="take($event, edge)" @pointermove="drag" @pointerup="drop" @pointercancel="leave"
           @keydown="key($event, edge)">
          <title>{{ label(edge) }}, {{ text(edge.step) }}: drag it, or press the left and right arrow keys</title>
          <rect :x="x(edge) - ${WIDE / 2}" :y="edge.top - 6" width="${WIDE}" height="${HIGH + 8}" class="hit"/>
          <line :x1="x(edge)" :x2="x(edge)" :y1="edge.top - 5" :y2="edge.top + ${HIGH - 6}"/>
          <circle :cx="x(edge)" :cy="edge.top + ${HIGH - 4}" r="5"/>
        </g>
        <g v-if="held" class="told" aria-hidden="true">
          <rect :x="tipX - 44" :y="held.edge.top + ${HIGH + 4}" width="88" height="18" rx="4"/>
          <text :x="tipX" :y="held.edge.top + ${HIGH + 17}" text-anchor="middle">{{ text(stepOf(held.edge)) }}</text>
        </g>
      </svg>
    </div>`,
  props: { shown: { type: Object, default: () => ({}) } },
  emits: ["edge"],
  data: () => ({ held: null }),
  computed: {
    farthest() {
      return Math.floor((this.shown.size[0] - this.shown.zero) / this.shown.step);
    },
    tipX() {
      return Math.min(Math.max(this.x(this.held.edge), 44), this.shown.size[0] - 44);
    },
  },
  watch: {
    shown() {
      this.held = null;
    },
  },
  methods: {
    keyOf: (edge) => `${edge.claim}-${edge.clause}-${edge.side}-${edge.nth}`,
    text: (step) => secondsText(step),
    label: (edge) => `${edge.output}, claim ${edge.claim + 1}: ${edge.side === "begin" ? "begins" : "ends"}`,
    stepOf(edge) {
      return this.held && this.held.key === this.keyOf(edge) ? edge.step + this.held.by : edge.step;
    },
    x(edge) {
      return this.shown.zero + this.stepOf(edge) * this.shown.step;
    },
    within(edge, by) {
      const most = edge.most === null ? this.farthest : edge.most;
      return Math.min(Math.max(edge.step + by, edge.least), most) - edge.step;
    },
    take(event, edge) {
      if (event.button) return;
      event.currentTarget.setPointerCapture(event.pointerId);
      event.currentTarget.focus();
      this.held = { edge, key: this.keyOf(edge), from: event.clientX, by: 0, moving: true };
    },
    drag(event) {
      if (!this.held || !this.held.moving) return;
      const scale = this.shown.size[0] / this.$refs.over.getBoundingClientRect().width;
      const by = Math.round(((event.clientX - this.held.from) * scale) / this.shown.step);
      this.held.by = this.within(this.held.edge, by);
    },
    drop() {
      if (!this.held || !this.held.moving) return;
      const { edge, by } = this.held;
      if (by) {
        this.held.moving = false; // it stays where it was let go until the new picture comes
        this.tell(edge, by);
      } else {
        this.held = null;
      }
    },
    leave() {
      this.held = null;
    },
    key(event, edge) {
      if (event.key === "Escape") return this.leave();
      const way = { ArrowLeft: -1, ArrowRight: 1, PageDown: -STEPS_PER_SECOND, PageUp: STEPS_PER_SECOND }[event.key];
      if (!way || event.altKey || event.ctrlKey || event.metaKey) return undefined;
      event.preventDefault();
      event.stopPropagation();
      const by = this.within(edge, way);
      if (by) this.tell(edge, by);
      return undefined;
    },
    /** Put the cursor of a field at the character that cannot be read. */
    mark(id, at) {
      const line = getHtmlElement(id)?.querySelector("input, textarea");
      if (line) line.setSelectionRange(at, Math.min(at + 1, line.value.length));
    },
    tell(edge, by) {
      this.$emit("edge", { claim: edge.claim, clause: edge.clause, side: edge.side, by });
    },
  },
};
