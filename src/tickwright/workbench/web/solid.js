// The 3D view beside the grid: the same component as the sheets have, following the same clock.
import { OrbitControls, THREE } from "nicegui-scene";
import { keyOf, lastUpTo, lit, onLit, onTheme, onWatch, runOf, valuesNow, watched } from "tickwright-bench";
import { mountScene } from "tickwright-scene/scene.js";

export default {
  template: `<div class="solid" ref="frame"><p v-if="trouble" class="hint">{{ trouble }}</p></div>`,
  emits: ["pick", "ready"],
  data: () => ({ trouble: "" }),
  mounted() {
    this.unwatch = onWatch(() => this.follow());
    this.unlit = onLit(() => this.light());
    this.untheme = onTheme(() => this.view?.setTheme(this.theme()));
    this.$emit("ready");
  },
  unmounted() {
    this.unwatch();
    this.unlit();
    this.untheme();
    this.close();
  },
  methods: {
    theme() {
      return document.body.classList.contains("body--dark") ? "dark" : "light";
    },
    show(data, look) {
      this.data = data;
      this.shown = data;
      if (this.view) this.view.setData(data, look);
      else {
        try {
          this.view = mountScene(this.$refs.frame, data, {
            THREE, OrbitControls, theme: this.theme(), label: "3D view: Shift and arrows orbit, arrows choose a cell",
            onPick: (cell) => this.$emit("pick", { cell: cell === null ? null : this.shown.cells[cell] }),
          });
        } catch {
          this.trouble = "This browser draws no 3D (WebGL): the layers show the same plan.";
        }
      }
      this.follow();
    },
    close() {
      this.view?.dispose();
      this.view = null;
      watched.cellPixels.delete("solid");
    },
    layer(number, only) {
      this.view?.setLayer(number, only);
    },
    look(corner) {
      this.view?.lookFrom(corner);
    },
    follow() {
      if (!this.view) return;
      watched.cellPixels.set("solid", ["main", this.view.cellPixels() || 0]);
      const run = this.watching ? runOf() : null;
      const shown = run?.solid?.data ?? this.data; // a run in which parts move has what stands where in each step
      if (shown !== this.shown) this.view.setData(shown);
      this.shown = shown;
      if (lit.cells.length) this.light();
      const moved = run?.solid ? run.solid.configurations[lastUpTo(run.solid.steps, watched.step)] : 0;
      this.view.setConfiguration(moved);
      this.$refs.frame.dataset.configuration = moved; // for tests
      const values = this.watching ? valuesNow() : null;
      this.view.setLevels(values && shown.cells.map((cell) => values.get(keyOf(...cell)) ?? 0));
    },
    light() {
      const numbers = new Map(this.shown?.cells.map((cell, number) => [keyOf(...cell), number]));
      this.view?.mark(lit.cells.map((cell) => numbers.get(keyOf(...cell))).filter((number) => number !== undefined));
    },
    watch(on) {
      this.watching = on;
      this.follow();
    },
  },
};
