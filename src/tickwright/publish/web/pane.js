/* One design on the stage: its 3D view, the choice of the press to watch, what the named cells show, and their lanes. */

import { flashTimes } from "./flash.js";
import { drawLanes } from "./lanes.js";
import { configurationRows, levelOf } from "./mesh.js";
import { changesOf, runValues, unpackChanges } from "./runs.js";
import { mountScene } from "./scene.js";

/** An element with properties, attributes (with a dash or "role") and children; texts are never read as markup. */
export function make(tag, properties = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name.includes("-") || name === "role") made.setAttribute(name, value);
    else made[name] = value;
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

/** Steps as seconds: "1.25 s". */
export const seconds = (steps) => `${Number((steps / 20).toFixed(2))} s`;

/** Steps as ticks: "12.5 ticks". */
export const ticks = (steps) => `${steps / 2} ${steps === 2 ? "tick" : "ticks"}`;

export function lengthText(run) {
  if (!run.trigger) return "the whole run";
  if (run.length_steps === null) return "as laid";
  return `${ticks(run.length_steps)} (${seconds(run.length_steps)})${run.own ? ", as laid" : ""}`;
}

/** Mount a design in an element. `hooks`: onPick(pane, cell), onRun(pane), onSeek(time), theme, tools {THREE, OrbitControls}. */
export function mountPane(element, design, hooks) {
  const figure = make("figure");
  const shown = make("ul", { className: "shown", "aria-label": "What the named cells show" });
  const trigger = make("select");
  const length = make("select");
  const place = make("div", { className: "view" });
  const lanes = make("div", { className: "lane-box", tabIndex: 0, role: "region", "aria-label": `Lanes of ${design.title}` });
  figure.append(
    make("figcaption", {},
      hooks.alone ? "" : make("h2", {}, design.title),
      design.answer[0] || design.answer[1] ? make("p", { className: "answer" },
        design.answer[0], make("b", { className: "figure" }, design.answer[1]), design.answer[2]) : "",
      make("p", { className: "promises" },
        design.kept ? make("b", { className: design.broken ? "bad" : "good" }, design.kept) : "", ` ${design.more}`),
      make("div", { className: "row" },
        make("label", {}, "Press ", trigger), make("label", {}, "for ", length))),
    place, shown, lanes,
    design.left_out.length ? make("p", { className: "small" }, `Not recorded, for want of room: ${design.left_out.join(", ")}.`) : "",
  );
  element.append(figure);

  const { scene } = design;
  const names = [...new Set([...Object.keys(scene.triggers), ...Object.keys(scene.outputs)])];
  const cellOf = (name) => (name in scene.outputs ? scene.outputs[name] : scene.triggers[name]);
  const readings = names.map((name) => {
    const value = make("b");
    shown.append(make("li", {}, `${name} `, value));
    return { cell: cellOf(name), value };
  });

  let view = null;
  try {
    view = mountScene(place, scene, {
      ...hooks.tools, theme: hooks.theme, onPick: (cell) => hooks.onPick(pane, cell),
      label: `3D view of ${design.title}. Arrow keys and Page Up, Page Down go from part to part; with Shift the arrows turn the view; plus and minus zoom.`,
    });
  } catch (problem) {
    place.append(make("p", {}, `This browser draws no 3D view (${problem.message}). Lanes, build steps and tables work all the same.`));
  }

  const rowsOf = configurationRows(scene);
  let run = null;
  let entries = [];
  let valuesAt = () => new Uint16Array(scene.cells.length);
  let flashing = null;
  let head = null;
  let chosen = null;
  let time = 0;

  const pane = {
    design, figure, view,
    get run() { return run; },
    get chosen() { return chosen; },
    /** The first and last moment of the run, in steps from the press. */
    get span() {
      return run ? [-Math.min(run.pressed_at, 10), run.steps - 1 - run.pressed_at] : [0, 0];
    },
    /** What times count from. */
    get zero() {
      return run && !run.trigger ? "the start" : "the press";
    },
    /** Show a moment, in steps from the press; before and after the run what it began or ended with. */
    show(moment) {
      time = moment;
      if (!run) return;
      const step = Math.min(Math.max(moment + run.pressed_at, 0), run.steps - 1);
      const values = valuesAt(step);
      const configuration = run.configurations.filter(([from]) => from <= step).pop()[1];
      if (view) {
        view.setConfiguration(configuration);
        view.setLevels(values);
      }
      for (const { cell, value } of readings) value.textContent = String(values[cell]);
      if (head) head.move(moment);
      pane.values = values;
      pane.configuration = configuration;
    },
    values: new Uint16Array(scene.cells.length),
    configuration: 0,
    /** Everything the named cells show now, as one sentence. */
    reading() {
      return names.map((name) => `${name} ${pane.values[cellOf(name)]}`).join(", ");
    },
    /** The steps, from the press, at which a named cell changes. */
    changeTimes() {
      const times = new Set();
      for (const { cell } of readings) for (const [step] of changesOf(entries, cell).slice(1)) times.add(step - run.pressed_at);
      return [...times].sort((a, b) => a - b);
    },
    changes(cell) {
      return run ? changesOf(entries, cell).map(([step, value]) => [step - run.pressed_at, value]) : [];
    },
    partAt(cell) {
      const row = rowsOf[pane.configuration].find(([number]) => number === cell);
      return row ? scene.parts[row[2]] : null;
    },
    /** For each cell of the run that flashes at all, the steps of its changes of luminance. */
    flashes(limits) {
      if (flashing) return flashing;
      const series = new Map();
      const capacity = new Map(rowsOf.flat().map(([cell, , part]) => [cell, scene.parts[part].capacity]));
      for (const { step, cells, values } of entries) {
        cells.forEach((cell, k) => {
          const level = levelOf(values[k], capacity.get(cell), scene.top_level);
          if (!series.has(cell)) series.set(cell, []);
          series.get(cell).push([step, limits.luminance[Math.min(level, 15)]]);
        });
      }
      flashing = [...series.values()].map((pairs) => flashTimes(pairs, limits)).filter((steps) => steps.length > 1);
      return flashing;
    },
    choose(cell) {
      chosen = cell;
      if (view) view.choose(cell);
      pane.drawLanes();
    },
    drawLanes() {
      if (!run) return;
      const [first, last] = pane.span;
      const rows = names.map((name) => ({ name, lamp: design.lamps.includes(name), changes: pane.changes(cellOf(name)) }));
      if (chosen !== null && !readings.some(({ cell }) => cell === chosen)) {
        rows.push({ name: `(${scene.cells[chosen].join(", ")})`, changes: pane.changes(chosen) });
      }
      head = drawLanes(lanes, rows, { first, last, width: Math.max(lanes.clientWidth, 240), seconds, onSeek: hooks.onSeek });
      head.move(time);
    },
    /** Watch another run of the design. */
    async watch(number) {
      run = design.runs[number];
      entries = await unpackChanges(run.changes);
      flashing = null;
      valuesAt = runValues(entries, scene.cells.length);
      trigger.value = run.trigger;
      fillLengths();
      length.value = String(number);
      pane.drawLanes();
      hooks.onRun(pane);
    },
    dispose() {
      if (view) view.dispose();
      figure.remove();
    },
  };

  function fillLengths() {
    length.replaceChildren(...design.runs.flatMap((one, number) =>
      one.trigger === run.trigger ? [make("option", { value: String(number) }, lengthText(one))] : []));
  }
  for (const name of new Set(design.runs.map((one) => one.trigger))) trigger.append(make("option", { value: name }, name || "nothing"));
  trigger.addEventListener("change", () => pane.watch(design.runs.findIndex((one) => one.trigger === trigger.value)));
  length.addEventListener("change", () => pane.watch(Number(length.value)));
  return pane;
}
