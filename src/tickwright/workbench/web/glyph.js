// One part's symbol at a small size.
import { onTheme, paint, palette } from "tickwright-bench";

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
      if (this.part.full) {
        ctx.fillStyle = this.part.full === "solid" ? c.solid : c.paper;
        ctx.fillRect(1, 1, this.side - 2, this.side - 2);
        ctx.strokeStyle = c.edge;
        ctx.strokeRect(1, 1, this.side - 2, this.side - 2);
      }
      if (this.part.kind === "wire") {
        ctx.strokeStyle = ctx.fillStyle = c.ink;
        ctx.lineWidth = this.side * 0.12;
        ctx.beginPath();
        ctx.moveTo(0, this.side / 2);
        ctx.lineTo(this.side, this.side / 2);
        ctx.stroke();
        ctx.beginPath();
        ctx.arc(this.side / 2, this.side / 2, this.side * 0.13, 0, 2 * Math.PI);
        ctx.fill();
      } else paint(ctx, this.part.shapes, 1, 1, this.side - 2, 0);
    },
  },
};
