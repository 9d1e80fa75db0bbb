// The layers of a plan with what is asked about: parts that are tapped are lit. The others are only to find one's way.
import { onTheme, paint, palette } from "tickwright-bench";

const LARGEST = 40; // pixels of a cell; the least that a finger meets is 24
const SMALLEST = 24;

export default {
  template: `
    <div class="tap" ref="frame">
      <figure v-for="layer in picture.layers" :key="layer">
        <figcaption class="hint">layer {{ layer }}, from above; north is up</figcaption>
        <div class="tap-scroll"><div class="tap-layer" :style="{ width: wide * unit + 'px', height: deep * unit + 'px' }">
          <canvas :ref="(made) => hold(layer, made)" aria-hidden="true"></canvas>
          <button v-for="[x, y, z, sort] in asked(layer)" :key="[x, y, z].join()" type="button" class="tap-cell" :aria-pressed="isLit(x, y, z)"
                  :aria-label="picture.sorts[sort].kind + ' at ' + [x, y, z].join(', ')" :title="picture.sorts[sort].kind"
                  :style="{ left: (x - left) * unit + 'px', top: (y - top) * unit + 'px', width: unit + 'px', height: unit + 'px' }" @click="turn(x, y, z)"></button>
        </div></div>
      </figure>
    </div>`,
  props: { picture: Object },
  emits: ["taps"],
  data: () => ({ lit: [], unit: 32 }),
  computed: {
    ends() {
      const rows = this.picture.rows;
      return [0, 1].map((i) => [Math.min(...rows.map((row) => row[i])), Math.max(...rows.map((row) => row[i]))]);
    },
    left() { return this.ends[0][0]; },
    top() { return this.ends[1][0]; },
    wide() { return this.ends[0][1] - this.left + 1; },
    deep() { return this.ends[1][1] - this.top + 1; },
  },
  created() {
    this.canvases = new Map();
  },
  mounted() {
    this.watcher = new ResizeObserver(() => this.fit());
    this.watcher.observe(this.$refs.frame);
    this.untheme = onTheme(() => this.draw());
    this.fit();
  },
  unmounted() {
    this.watcher.disconnect();
    this.untheme();
  },
  methods: {
    hold(layer, made) {
      if (made) this.canvases.set(layer, made);
      else this.canvases.delete(layer);
    },
    asked(layer) {
      return this.picture.rows.filter(([, , z, , asked]) => asked && z === layer);
    },
    isLit(x, y, z) {
      return this.lit.some((one) => one.join() === [x, y, z].join());
    },
    turn(x, y, z) {
      this.lit = this.isLit(x, y, z) ? this.lit.filter((one) => one.join() !== [x, y, z].join()) : [...this.lit, [x, y, z]];
      this.$emit("taps", { cells: this.lit });
      this.draw();
    },
    fit() {
      const room = this.$refs.frame?.clientWidth;
      if (!room) return;
      this.unit = Math.max(SMALLEST, Math.min(LARGEST, Math.floor(room / this.wide)));
      this.$nextTick(() => this.draw());
    },
    draw() {
      const c = palette();
      const ratio = window.devicePixelRatio || 1;
      for (const [layer, canvas] of this.canvases) {
        const { unit } = this;
        canvas.width = this.wide * unit * ratio;
        canvas.height = this.deep * unit * ratio;
        const ctx = canvas.getContext("2d");
        ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
        for (const [x, y, z, sort, asked] of this.picture.rows) {
          if (z !== layer) continue;
          const [left, top] = [(x - this.left) * unit, (y - this.top) * unit];
          const part = this.picture.sorts[sort];
          const lit = asked && this.isLit(x, y, z);
          ctx.globalAlpha = asked ? 1 : 0.45;
          if (part.still || part.body) {
            ctx.fillStyle = c[part.body] ?? c.panel;
            ctx.fillRect(left + 1, top + 1, unit - 2, unit - 2);
            ctx.strokeStyle = c.edge;
            ctx.strokeRect(left + 1.5, top + 1.5, unit - 3, unit - 3);
          }
          const shapes = (lit ? part.lit : part.dim) ?? part.shapes;
          paint(ctx, shapes.filter(({ form }) => form !== "number"), left, top, unit, lit && !part.holds ? 15 : 0, 0);
          ctx.globalAlpha = 1;
        }
      }
    },
  },
};
