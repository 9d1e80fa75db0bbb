// Sentences that say why an output holds as it does. What one speaks of is lit in the views, while the pointer is over it,
// when it is chosen, and one after another when all of them are told, each as long as it takes to read.
import { light, pause, seek } from "tickwright-bench";

const small = matchMedia("(max-width: 700px)"); // where views and sentences stand below each other

export default {
  template: `
    <div class="reasons" ref="frame">
      <section v-for="(group, g) in groups" :key="group.head" :aria-label="group.head">
        <div class="reasons-head">
          <h3>{{ group.head }}</h3>
          <button class="plain quiet" @click="telling === g ? stop() : tell(g, 0)" :aria-label="(telling === g ? 'Stop: ' : 'Tell it: ') + group.head">
            {{ telling === g ? "Stop" : "Tell it" }}</button>
        </div>
        <ol>
          <li v-for="(one, i) in group.sentences" :key="i" :aria-current="isAt(g, i) ? 'true' : null">
            <button v-if="one.cells.length" class="reason" :aria-pressed="isAt(g, i)" @click="choose(g, i)"
                    @pointerenter="over(one, $event)" @pointerleave="out" @focus="over(one)" @blur="out">{{ one.text }}</button>
            <p v-else class="reason">{{ one.text }}</p>
          </li>
        </ol>
      </section>
      <div v-if="now" class="reason-now">
        <p role="status">{{ now.text }}</p>
        <div class="row-line">
          <button class="plain quiet" @click="go(-1)">Before</button>
          <button class="plain quiet" @click="go(1)">Next</button>
          <button class="plain quiet" @click="stop">Close</button>
        </div>
      </div>
    </div>`,
  // `groups`: what `reasons_data` makes; `shown`: the trigger whose press the views show, "" if they show something else.
  props: { groups: { type: Array, default: () => [] }, shown: { type: String, default: "" } },
  data: () => ({ at: null, telling: -1 }),
  computed: {
    now() {
      return this.at && this.groups[this.at[0]]?.sentences[this.at[1]];
    },
  },
  watch: {
    groups() {
      this.stop();
    },
  },
  mounted() {
    this.watcher = new ResizeObserver(() => {
      if (!this.$refs.frame.clientWidth) this.stop(); // another panel is shown
    });
    this.watcher.observe(this.$refs.frame);
  },
  unmounted() {
    this.watcher.disconnect();
    this.stop();
  },
  methods: {
    isAt(g, i) {
      return this.at?.[0] === g && this.at[1] === i;
    },
    // Say a sentence: light what it speaks of, at the moment that it speaks of.
    say(g, i) {
      this.at = [g, i];
      const { cells, steps } = this.groups[g].sentences[i];
      if (steps.length && this.groups[g].trigger === this.shown) {
        pause();
        seek(steps[0]);
      }
      light(cells, true);
      if (small.matches) document.querySelector(".bench > .work")?.scrollIntoView({ block: "start" });
    },
    choose(g, i) {
      const held = this.isAt(g, i) && this.telling < 0;
      this.stop();
      if (!held) this.say(g, i);
    },
    // Tell a group from a sentence on.
    tell(g, i) {
      clearTimeout(this.waiting);
      const one = this.groups[g].sentences[i];
      if (!one) {
        this.stop();
        return;
      }
      this.telling = g;
      this.say(g, i);
      this.waiting = setTimeout(() => this.tell(g, i + 1), one.seconds * 1000);
    },
    go(by) {
      const [g, i] = this.at;
      const there = Math.max(0, Math.min(this.groups[g].sentences.length - 1, i + by));
      clearTimeout(this.waiting);
      this.telling = -1;
      this.say(g, there);
    },
    stop() {
      clearTimeout(this.waiting);
      this.telling = -1;
      this.at = null;
      light([]);
    },
    over(one, event) {
      if (!this.at && event?.pointerType !== "touch") light(one.cells);
    },
    out() {
      if (!this.at) light([]);
    },
  },
};
