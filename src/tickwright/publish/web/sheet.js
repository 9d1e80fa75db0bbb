/* The interactive sheet: designs on a stage, one clock for all of them, and panels beside it. Everything it shows is in
 * the page itself; texts of the user only ever become text.
 */

import { safeSlowdown } from "./flash.js";
import { make, mountPane, seconds, ticks } from "./pane.js";
import { PANELS, billPanel, buildPanel, cellPanel, chartsPanel, dossierPanel, findingsPanel, keysPanel, whyPanel } from "./panels.js";

const SPEEDS = [0.05, 0.1, 0.25, 0.5, 1, 2, 5, 20, 100];
const STEPS_PER_SECOND = 20;
const REPEAT_MS = 170; // a key held down goes no faster: no more than three flashes a second come of that

/** Bring the page to life; `tools` holds THREE and OrbitControls. */
export function startSheet(sheet, tools) {
  const $ = (id) => document.getElementById(id);
  const { designs, limits } = sheet;
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
  let theme = matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
  let panes = [];
  let active = 0; // which pane the panel speaks of
  let time = 0;
  let playing = false;
  let overridden = false;
  let slowdown = 1;
  let judged = { key: "", needed: 1 }; // the last judgement of flashing, and of what
  let repeated = -Infinity; // when a key last did something
  let exact = 0; // the moment while playing, with its fraction
  let before = 0;
  let panel = "cell";
  let built = null; // how many build steps are shown; null: all, as in every other panel

  const say = (text) => { $("said").textContent = text; };
  const span = () => panes.reduce(([first, last], pane) => [Math.min(first, pane.span[0]), Math.max(last, pane.span[1])], [0, 0]);

  // --- the stage ------------------------------------------------------------------------------------------------------

  async function show(first, second) {
    pause();
    for (const pane of panes) pane.dispose();
    panes = [];
    built = null;
    for (const number of second === null ? [first] : [first, second]) {
      const pane = mountPane($("panes"), designs[number], {
        tools, theme, onSeek: seek, alone: designs.length === 1,
        onPick: (from, cell) => {
          speakOf(panes.indexOf(from));
          from.choose(cell);
          open("cell");
          say(cell === null ? "No cell chosen" : cellSentence(from, cell));
        },
        onRun: () => { overridden = false; refit(); },
      });
      panes.push(pane);
    }
    $("about").replaceChildren(...panes.map((pane, i) => make("option", { value: String(i) }, pane.design.title)));
    $("about-label").hidden = panes.length < 2;
    speakOf(0);
    const layers = Math.max(...panes.map((pane) => pane.design.scene.size[2])) - 1;
    Object.assign($("layer"), { max: layers, value: layers });
    setLayer();
    setNumbers();
    for (const pane of panes) if (pane.view) pane.view.lookFrom($("corner").value);
    await Promise.all(panes.map((pane) => (pane.design.runs.length ? pane.watch(0) : null)));
    seek(0);
    open(panel);
  }

  /** Let the panel speak of this pane. */
  function speakOf(number) {
    if (built !== null) setBuilt(null);
    active = number;
    $("about").value = String(number);
  }

  function cellSentence(pane, cell) {
    const part = pane.partAt(cell);
    return `(${pane.design.scene.cells[cell].join(", ")}): ${part ? part.text : "empty"}, ${pane.values[cell]}`;
  }

  function setLayer() {
    const top = Number($("layer").max), layer = Number($("layer").value);
    const all = layer === top && !$("only").checked;
    $("layer-shown").textContent = all ? `${top} (all)` : String(layer);
    for (const pane of panes) if (pane.view) pane.view.setLayer(all ? null : layer, $("only").checked);
  }

  function setNumbers() {
    for (const pane of panes) if (pane.view) pane.view.setNumbers($("numbers").checked);
  }

  function setTheme() {
    document.documentElement.dataset.theme = theme;
    $("theme").setAttribute("aria-pressed", String(theme === "dark"));
    for (const pane of panes) if (pane.view) pane.view.setTheme(theme);
  }

  // --- the clock ------------------------------------------------------------------------------------------------------

  /** The run of some pane is another one: the range of the clock, and whether playing it is safe. */
  function refit() {
    const [first, last] = span();
    Object.assign($("time"), { min: first, max: last });
    seek(Math.min(Math.max(time, first), last));
    guard();
  }

  function seek(moment) {
    const [first, last] = span();
    time = Math.min(Math.max(moment, first), last);
    exact = time;
    for (const pane of panes) pane.show(time);
    $("time").value = String(time);
    const text = time < 0 ? `${seconds(-time)} before the press` : `${seconds(time)} from ${(panes[active] ?? panes[0]).zero}`;
    $("clock").textContent = `${text} (${ticks(Math.abs(time))})`;
    $("time").setAttribute("aria-valuetext", text);
    const now = $("cell-level");
    const pane = panes[active];
    if (now && pane && pane.chosen !== null) {
      const part = pane.partAt(pane.chosen);
      now.textContent = `Now: ${pane.values[pane.chosen]}${part && part.capacity ? ` of ${part.capacity} items` : ""}`;
    }
  }

  function step(by) {
    pause();
    seek(time + by);
    tell();
  }

  function tell() {
    say(`${$("clock").textContent}: ${panes.map((pane) => pane.reading()).join("; ")}`);
  }

  function toChange(way) {
    const times = panes.flatMap((pane) => (pane.run ? pane.changeTimes() : [])).filter((at) => (way > 0 ? at > time : at < time));
    if (!times.length) return;
    pause();
    seek(way > 0 ? Math.min(...times) : Math.max(...times));
    tell();
  }

  function play() {
    if (time >= span()[1]) seek(span()[0]);
    playing = true;
    exact = time;
    before = performance.now();
    $("play").textContent = "Pause";
    guard();
    requestAnimationFrame(frame);
  }

  function pause() {
    if (!playing) return;
    playing = false;
    $("play").textContent = "Play";
    tell();
  }

  function frame(now) {
    if (!playing) return;
    const moment = exact + (Math.min(now - before, 250) / 1000) * STEPS_PER_SECOND * (Number($("speed").value) / slowdown);
    before = now;
    if (Math.floor(moment) !== time) {
      guard();
      seek(Math.floor(moment));
    }
    exact = moment;
    if (time >= span()[1]) pause();
    else requestAnimationFrame(frame);
  }

  /** Slow the playback down where it would flash too fast over too large an area, unless that was overridden. */
  function guard() {
    const rate = STEPS_PER_SECOND * Number($("speed").value);
    const drawn = panes.filter((pane) => pane.run && pane.view);
    const key = [rate, ...drawn.flatMap((pane) => [pane.design.runs.indexOf(pane.run), Math.round(pane.view.cellPixels())])].join();
    if (key !== judged.key) {
      const cells = drawn.flatMap((pane) => pane.flashes(limits).map((steps) => ({ steps, pixels: pane.view.cellPixels() })));
      judged = { key, needed: safeSlowdown(cells, rate, limits) };
    }
    const { needed } = judged;
    slowdown = overridden ? 1 : Math.min(needed, limits.slowdowns[limits.slowdowns.length - 1]);
    $("guard").hidden = needed === 1;
    $("guard-override").hidden = overridden;
    $("guard-text").textContent = overridden
      ? "Plays at full speed although a large part of it flashes more than three times a second."
      : `Plays ${slowdown} times slower than chosen: else a large part of it would flash more than three times a second (WCAG 2.3.1).`;
  }

  // --- panels ---------------------------------------------------------------------------------------------------------

  function open(name) {
    panel = name;
    for (const [id] of PANELS) {
      const tab = $(`tab-${id}`);
      tab.setAttribute("aria-selected", String(id === name));
      tab.tabIndex = id === name ? 0 : -1;
    }
    $("panel").setAttribute("aria-labelledby", `tab-${name}`);
    const pane = panes[active];
    if (name !== "build" && built !== null) setBuilt(null);
    if (name === "build" && built === null) built = pane.design.build.length;
    if (!["findings", "build", "why"].includes(name) && pane.view) pane.view.mark([]);
    const content = {
      cell: () => cellPanel(pane, sheet), build: () => buildPanel(pane.design, built, goBuild),
      charts: () => chartsPanel(pane.design, theme), dossier: () => dossierPanel(pane.design), why: () => whyPanel(pane), findings: () => findingsPanel(pane),
      bill: () => billPanel(pane.design), keys: keysPanel,
    }[name]();
    $("panel").replaceChildren(...content.filter(Boolean));
  }

  function setBuilt(count) {
    built = count;
    const pane = panes[active];
    const steps = pane.design.build;
    if (count !== null && count < steps.length) { pause(); seek(span()[0]); }
    if (!pane.view) return;
    pane.view.setBuilt(count === null || count === steps.length ? null : steps.slice(0, count).flatMap((one) => one.cells));
    pane.view.mark(count ? steps[count - 1].cells : []);
  }

  function goBuild(count, from) {
    setBuilt(count);
    open("build");
    say($("build-now").textContent);
    const button = $(from);
    (button.disabled ? $("build-all") : button).focus();
    const item = $("panel").querySelector("[aria-current]");
    if (item) item.scrollIntoView({ block: "nearest" });
  }

  // --- hands ----------------------------------------------------------------------------------------------------------

  for (const [id, name] of PANELS) {
    $("tabs").append(make("button", { type: "button", id: `tab-${id}`, role: "tab", "aria-controls": "panel", onclick: () => open(id) }, name));
  }
  $("tabs").addEventListener("keydown", (event) => {
    const way = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!way) return;
    const at = PANELS.findIndex(([id]) => id === panel);
    const [next] = PANELS[(at + way + PANELS.length) % PANELS.length];
    open(next);
    $(`tab-${next}`).focus();
    event.preventDefault();
  });

  for (const speed of SPEEDS) $("speed").append(make("option", { value: String(speed) }, `${speed} ×`));
  $("speed").value = calm ? "0.25" : "1";
  designs.forEach(({ title }, number) => {
    $("first").append(make("option", { value: String(number) }, title));
    $("second").append(make("option", { value: String(number) }, title));
  });
  $("second").prepend(make("option", { value: "" }, "none"));
  $("second").value = "";
  $("first-label").hidden = $("second-label").hidden = designs.length < 2;
  const showChosen = () => show(Number($("first").value), $("second").value === "" ? null : Number($("second").value));
  $("first").addEventListener("change", showChosen);
  $("second").addEventListener("change", showChosen);
  $("about").addEventListener("change", () => { speakOf(Number($("about").value)); open(panel); });

  for (let level = 1; level <= 15; level++) {
    const mark = make("span", {}, String(level));
    mark.style.background = `var(--level-${level})`;
    mark.style.color = `var(--on-level-${level})`;
    $("scale").append(mark);
  }
  $("title").textContent = sheet.title;
  $("against").textContent = sheet.against;
  $("against").hidden = !sheet.against;
  $("play").addEventListener("click", () => (playing ? pause() : play()));
  $("back").addEventListener("click", () => step(-1));
  $("ahead").addEventListener("click", () => step(1));
  $("back-change").addEventListener("click", () => toChange(-1));
  $("ahead-change").addEventListener("click", () => toChange(1));
  $("time").addEventListener("input", () => { pause(); seek(Number($("time").value)); });
  $("speed").addEventListener("change", () => { overridden = false; guard(); });
  $("layer").addEventListener("input", setLayer);
  $("only").addEventListener("change", setLayer);
  $("corner").addEventListener("change", () => { for (const pane of panes) if (pane.view) pane.view.lookFrom($("corner").value); });
  $("numbers").addEventListener("change", setNumbers);
  $("theme").addEventListener("click", () => { theme = theme === "dark" ? "light" : "dark"; setTheme(); if (panel === "charts") open(panel); });
  $("guard-override").addEventListener("click", () => { pause(); $("warning").returnValue = ""; $("warning").showModal(); });
  $("warning").addEventListener("close", () => {
    overridden = $("warning").returnValue === "go";
    guard();
    $("play").focus();
  });
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || $("warning").open) return;
    if (event.repeat && event.timeStamp - repeated < REPEAT_MS && [",", ".", "[", "]"].includes(event.key)) return event.preventDefault();
    repeated = event.timeStamp;
    const target = event.target;
    const takesKeys = ["SELECT", "TEXTAREA", "INPUT"].includes(target.tagName);
    if (event.key === " " && !takesKeys && target.tagName !== "BUTTON") { if (playing) pause(); else play(); }
    else if (event.key === ",") step(-1);
    else if (event.key === ".") step(1);
    else if (event.key === "[") toChange(-1);
    else if (event.key === "]") toChange(1);
    else return;
    event.preventDefault();
  });
  let waiting = 0;
  addEventListener("resize", () => {
    cancelAnimationFrame(waiting);
    waiting = requestAnimationFrame(() => { for (const pane of panes) pane.drawLanes(); guard(); });
  });

  setTheme();
  if (designs.length === 2) $("second").value = "1";
  return showChosen();
}
