// A plan file dropped anywhere on the page is handed to the server, which reads it before anything else happens.
export default {
  template: `<div class="drop" :class="{ over }" aria-hidden="true"><span>Let go to open the plan file</span></div>`,
  emits: ["said"],
  data: () => ({ over: false }),
  mounted() {
    this.handlers = {
      dragover: (event) => {
        if (![...event.dataTransfer.types].includes("Files")) return;
        event.preventDefault();
        this.over = true;
      },
      dragleave: (event) => {
        if (!event.relatedTarget) this.over = false;
      },
      drop: (event) => {
        event.preventDefault();
        this.over = false;
        const file = event.dataTransfer.files[0];
        if (file) this.hand(file);
      },
    };
    for (const [name, handler] of Object.entries(this.handlers)) window.addEventListener(name, handler);
  },
  unmounted() {
    for (const [name, handler] of Object.entries(this.handlers)) window.removeEventListener(name, handler);
  },
  methods: {
    async hand(file) {
      const answer = await fetch(`/bench/drop?name=${encodeURIComponent(file.name)}`, { method: "POST", body: file });
      this.$emit("said", { text: await answer.text(), bad: !answer.ok });
    },
  },
};
