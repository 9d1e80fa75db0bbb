// The layers of the plan lifted off each other, or as they are built, following the clock: seen from the south-east.
import { FONT, keyOf, laid, lit, onLaid, onLit, onTheme, onWatch, paint, palette, strengthOf, valuesNow, watched } from "tickwright-bench";

const PLATE = 0.15;
const AIR = 0.12;
const NUMBERED = 34;

export default {
  template: `<div class="lifted" ref="frame" role="img" :aria-label="said"><canvas ref="canvas"></canvas></div>`,
  // `axes`: how a cell goes along x and y on paper, and up z, in cells.
  props: { apart: { type: Boolean, default: true }, axes: Object },
  data: () => ({ said: "The layers of the plan" }),
  watch: {
    apart() {
      this.draw();
    },
  },
  mounted() {
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(this.$refs.frame);
    this.off = [onTheme(() => this.draw()), onWatch(() => this.draw()), onLaid(() => this.draw()), onLit(() => this.draw())];
  },
  unmounted() {
    this.watcher.disconnect();
    for (const off of this.off) off();
    watched.cellPixels.delete("lifted");
  },
  methods: {
    draw() {
      if (this.asked) return;
      this.asked = requestAnimationFrame(() => {
        this.asked = 0;
        if (this.$refs.canvas) this.drawNow();
      });
    },
    // Where the layers lie: above each other, or side by side where that would make cells too small to read.
    view(wide, high) {
      const { x: [ux, uy], y: [vx, vy], z: uz } = this.axes;
      const [across, deep, layers] = laid.size;
      const cross = Math.abs(ux * vy - uy * vx);
      const chord = Math.min(((deep + 2 * PLATE) * cross) / ux, ((across + 2 * PLATE) * cross) / Math.abs(vx));
      const gap = this.apart && layers > 1 ? (chord + AIR) / uz : 0;
      const plate = [ux * (across + 2 * PLATE) - vx * (deep + 2 * PLATE), uy * (across + 2 * PLATE) + vy * (deep + 2 * PLATE) + uz];
      const lift = uz * (1 + gap) * (layers - 1);
      const unitOf = (columns, rows, each) =>
        Math.min(48, (wide - 36) / (plate[0] * columns + 0.3 * (columns - 1)), (high - 12) / (plate[1] * rows + each));
      const stacked = unitOf(1, 1, lift);
      let best = { unit: stacked, columns: 1, beside: false };
      if (this.apart) {
        for (let columns = 2; columns <= layers; columns++) {
          const unit = unitOf(columns, Math.ceil(layers / columns), 0);
          if (stacked < 20 && unit > best.unit * 1.3) best = { unit, columns, beside: true };
        }
      }
      const { unit, columns, beside } = best;
      const place = (x, y, z, layer) => {
        const rise = beside ? z - layer : z + layer * gap;
        const [column, row] = beside ? [layer % columns, Math.floor(layer / columns)] : [0, 0];
        return [
          unit * (ux * x + vx * y + column * (plate[0] + 0.3)),
          unit * (uy * x + vy * y - uz * rise + row * plate[1]),
        ];
      };
      return { unit, place, beside, columns };
    },
    drawNow() {
      const { frame, canvas } = this.$refs;
      const [wide, high] = [frame.clientWidth, frame.clientHeight];
      if (!wide || !high) return;
      const ratio = window.devicePixelRatio || 1;
      canvas.width = Math.round(wide * ratio);
      canvas.height = Math.round(high * ratio);
      const ctx = canvas.getContext("2d");
      ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
      const c = palette();
      ctx.fillStyle = c.panel;
      ctx.fillRect(0, 0, wide, high);
      const view = this.view(wide, high);
      const [across, deep, layers] = laid.size;
      this.said = `The plan from above the south-east corner, ${layers} layers${this.apart ? " lifted apart" : ""}`;
      watched.cellPixels.set("lifted", ["main", view.unit * view.unit]);
      const corners = [];
      for (let z = 0; z < layers; z++) {
        for (const [x, y] of [[-PLATE, -PLATE], [across + PLATE, -PLATE], [across + PLATE, deep + PLATE], [-PLATE, deep + PLATE]]) {
          corners.push(view.place(x, y, z, z), view.place(x, y, z + 1, z));
        }
      }
      const ends = (i) => [Math.min(...corners.map((at) => at[i])), Math.max(...corners.map((at) => at[i]))];
      const [[left, right], [top, bottom]] = [ends(0), ends(1)];
      ctx.translate((wide - 36 - (right - left)) / 2 - left + 4, (high - (bottom - top)) / 2 - top);
      const values = valuesNow("main");
      const order = [...laid.cells.entries()].map(([key, cell]) => [key.split(",").map(Number), cell]);
      order.sort(([[ax, ay, az]], [[bx, by, bz]]) => az - bz || ax + ay - bx - by);
      for (let z = 0; z < layers; z++) {
        if (this.apart || z === 0) this.drawPlate(ctx, c, view, z);
        for (const [at, cell] of order) if (at[2] === z) this.drawCell(ctx, c, view, at, cell, values);
      }
      for (const one of laid.modules) this.drawModule(ctx, c, view, one);
      for (const at of lit.cells) this.drawLit(ctx, c, view, at);
    },
    // How high a cell is drawn: a full one low, where what lies behind it in its layer would be hidden.
    riseOf([x, y, z], cell) {
      const flat = (px, py) => laid.cells.get(keyOf(px, py, z)) && !laid.cells.get(keyOf(px, py, z)).body;
      return cell?.body ? (this.apart && (flat(x, y - 1) || flat(x - 1, y - 1)) ? 0.25 : 1) : 0;
    },
    // A bold outline on top of a full cell, or round what lies in it.
    drawLit(ctx, c, view, [x, y, z]) {
      const rise = this.riseOf([x, y, z], laid.cells.get(keyOf(x, y, z)));
      polygon(ctx, [[0, 0], [1, 0], [1, 1], [0, 1]].map(([dx, dy]) => view.place(x + dx, y + dy, z + rise, z)));
      for (const [colour, width] of [[c.panel, 6], [c.accent, 3]]) {
        ctx.strokeStyle = colour;
        ctx.lineWidth = width;
        ctx.stroke();
      }
    },
    // The frame of a module on each layer that it has parts in.
    drawModule(ctx, c, view, { low, high, edited }) {
      ctx.strokeStyle = edited ? c.accent : c.soft;
      ctx.lineWidth = edited ? 2 : 1.25;
      for (let z = low[2]; z <= high[2]; z++) {
        const corners = [[low[0], low[1]], [high[0] + 1, low[1]], [high[0] + 1, high[1] + 1], [low[0], high[1] + 1]];
        polygon(ctx, corners.map(([x, y]) => view.place(x, y, z, z)));
        ctx.stroke();
      }
    },
    drawPlate(ctx, c, view, z) {
      const [across, deep] = laid.size;
      const outline = [[-PLATE, -PLATE], [across + PLATE, -PLATE], [across + PLATE, deep + PLATE], [-PLATE, deep + PLATE]];
      polygon(ctx, outline.map(([x, y]) => view.place(x, y, z, z)));
      ctx.strokeStyle = c.line;
      ctx.lineWidth = 1;
      ctx.stroke();
      if (!this.apart) return;
      const [px, py] = view.place(across + PLATE, -PLATE, z, z);
      ctx.fillStyle = c.soft;
      ctx.font = `11px ${FONT}`;
      ctx.textAlign = view.beside ? "right" : "left";
      ctx.textBaseline = view.beside ? "top" : "middle";
      const below = view.beside ? view.place(across + PLATE, deep + PLATE, z, z) : [px + 5, py];
      ctx.fillText(view.beside ? `layer ${z}` : `z ${z}`, below[0], below[1] + (view.beside ? 2 : 0));
    },
    drawCell(ctx, c, view, [x, y, z], cell, values) {
      const level = values ? values.get(keyOf(x, y, z)) ?? 0 : 0;
      const burns = cell.kind === "lamp" && level > 0;
      const rise = this.riseOf([x, y, z], cell);
      if (cell.body) {
        const at = (dx, dy, dz) => view.place(x + dx, y + dy, z + dz * rise, z);
        const faces = [
          [c.front, [at(0, 1, 0), at(1, 1, 0), at(1, 1, 1), at(0, 1, 1)]],
          [c.side, [at(1, 1, 0), at(1, 0, 0), at(1, 0, 1), at(1, 1, 1)]],
          [c.block, [at(0, 0, 1), at(1, 0, 1), at(1, 1, 1), at(0, 1, 1)]],
        ];
        for (const [fill, corners] of faces) {
          polygon(ctx, corners);
          ctx.fillStyle = burns ? c.amber : fill;
          ctx.fill();
          ctx.strokeStyle = burns ? c.amberedge : c.edge;
          ctx.lineWidth = 1;
          ctx.stroke();
        }
      }
      if (cell.still) return;
      const [origin, along, down] = [[0, 0], [1, 0], [0, 1]].map(([dx, dy]) => view.place(x + dx, y + dy, z + rise, z));
      const shapes = (level ? cell.lit : cell.dim) ?? cell.shapes;
      const shown = strengthOf(cell, values ? level : null);
      const number = view.unit >= NUMBERED ? level : 0;
      ctx.save();
      ctx.transform(along[0] - origin[0], along[1] - origin[1], down[0] - origin[0], down[1] - origin[1], origin[0], origin[1]);
      paint(ctx, shapes.filter(({ form }) => form !== "number" && form !== "sign"), 0, 0, 1, shown, number, 1 / view.unit);
      ctx.restore();
      const upright = ([px, py]) => [
        origin[0] + (along[0] - origin[0]) * px + (down[0] - origin[0]) * py,
        origin[1] + (along[1] - origin[1]) * px + (down[1] - origin[1]) * py,
      ];
      const size = view.unit * 0.8;
      for (const shape of shapes) {
        if (shape.form !== "number" && shape.form !== "sign") continue;
        const [px, py] = upright(shape.points[0]);
        paint(ctx, [{ ...shape, points: [[0, 0]] }], px, py, size, shown, number, 1, true);
      }
    },
  },
};

function polygon(ctx, corners) {
  ctx.beginPath();
  corners.forEach(([x, y], i) => (i ? ctx.lineTo(x, y) : ctx.moveTo(x, y)));
  ctx.closePath();
}
