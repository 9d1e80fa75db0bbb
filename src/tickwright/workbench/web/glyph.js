// One part's symbol at a small size.
import { onTheme, paint, palette, strengthOf } from "tickwright-bench";

export default {
  template: `<canvas ref="canvas" class="glyph" aria-hidden="true"></canvas>`,
  props: { part: Object, side: { type: Number, default: 28 } },
  mounted() {
    this.untheme = onTheme(() => this.draw());
    this.draw();
  },
  unmounted() {
    this.untheme();
  },
  watch: {
    part() {
      this.draw();
    },
  },
  methods: {
    draw() {
      const { canvas } = this.$refs;
      const ratio = window.devicePixelRatio || 1;
      canvas.width = canvas.height = Math.round(this.side * ratio);
      canvas.style.width = canvas.style.height = `${this.side}px`;
      const ctx = canvas.getContext("2d");
      ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
      const c = palette();
      if (this.part.still) {
        ctx.fillStyle = c[this.part.body];
        ctx.fillRect(2, 2, this.side - 4, this.side - 4);
        ctx.strokeStyle = c.edge;
        ctx.strokeRect(2.5, 2.5, this.side - 5, this.side - 5);
      }
      paint(ctx, this.part.shapes, 1, 1, this.side - 2, strengthOf(this.part, null));
    },
  },
};
