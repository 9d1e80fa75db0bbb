// A scatter plot of designs. Each point can be reached with the keyboard; the table below says the same.
const [WIDE, HIGH, LEFT, BOTTOM, TOP, RIGHT] = [620, 280, 62, 44, 14, 20];

export default {
  template: `
    <svg v-if="drawn.length" class="scatter" :viewBox="'0 0 ${WIDE} ${HIGH}'" role="group" :aria-label="up + ' against ' + across">
      <line v-for="t in ticksY" :x1="${LEFT}" :x2="${WIDE - RIGHT}" :y1="y(t)" :y2="y(t)" class="grid"/>
      <line v-for="t in ticksX" :y1="${TOP}" :y2="${HIGH - BOTTOM}" :x1="x(t)" :x2="x(t)" class="grid"/>
      <text v-for="t in ticksY" :x="${LEFT - 8}" :y="y(t) + 4" text-anchor="end">{{ t }}</text>
      <text v-for="t in ticksX" :x="x(t)" :y="${HIGH - BOTTOM + 17}" text-anchor="middle">{{ t }}</text>
      <text :x="${(WIDE + LEFT) / 2}" :y="${HIGH - 6}" text-anchor="middle" class="axis">{{ across }}</text>
      <text :x="14" :y="${HIGH / 2}" text-anchor="middle" class="axis" transform="rotate(-90 14 ${HIGH / 2})">{{ up }}</text>
      <g v-for="p in drawn" :key="p.number" class="point" tabindex="0" role="button" @click="pick(p)" @keydown.enter="pick(p)"
         :aria-label="p.name + ': ' + across + ' ' + p.x + ', ' + up + ' ' + p.y">
        <title>{{ p.name }}: {{ across }} {{ p.x }}, {{ up }} {{ p.y }}</title>
        <circle :cx="x(p.x)" :cy="y(p.y)" r="9"/>
        <text :x="x(p.x)" :y="y(p.y) + 4" text-anchor="middle">{{ p.number + 1 }}</text>
      </g>
    </svg>`,
  props: { points: { type: Array, default: () => [] }, across: String, up: String },
  emits: ["pick"],
  computed: {
    drawn() {
      return this.points.map((p, number) => ({ ...p, number })).filter((p) => p.x !== null && p.y !== null);
    },
    ticksX() {
      return ticks(this.drawn.map((p) => p.x));
    },
    ticksY() {
      return ticks(this.drawn.map((p) => p.y));
    },
  },
  methods: {
    x(value) {
      return LEFT + 14 + part(value, this.ticksX) * (WIDE - LEFT - RIGHT - 28);
    },
    y(value) {
      return HIGH - BOTTOM - 12 - part(value, this.ticksY) * (HIGH - BOTTOM - TOP - 24);
    },
    pick(point) {
      this.$emit("pick", { number: point.number });
    },
  },
};

function ticks(values) {
  if (!values.length) return [];
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const each = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000].find((n) => (high - low) / n <= 6) ?? 10000;
  const found = [];
  for (let at = Math.floor(low / each) * each; at <= high + each - 1; at += each) found.push(at);
  return found.length > 1 ? found : [found[0], found[0] + each];
}

function part(value, all) {
  return (value - all[0]) / (all[all.length - 1] - all[0]);
}
