/* The panels beside the stage: a cell, the build, what is known, findings, the bill, and the keys. */

import { make, seconds, ticks } from "./pane.js";

const MOST_CHANGES = 200; // rows of a cell's table

export const PANELS = [
  ["cell", "Cell"], ["build", "Build"], ["dossier", "Dossier"], ["why", "Why"], ["findings", "Findings"], ["bill", "Bill"], ["charts", "Charts"],
  ["keys", "Keys"],
];

const arrows = (text) => String(text).replaceAll(" -> ", " → ");

function table({ title, heads, rows, notes = [] }) {
  return make("div", { className: "wide" },
    make("table", {},
      make("caption", {}, title),
      make("thead", {}, make("tr", {}, ...heads.map((head) => make("th", { scope: "col" }, head)))),
      make("tbody", {}, ...rows.map((row) => make("tr", {}, ...row.map((cell) => make("td", {}, arrows(cell))))))),
    ...notes.map((note) => make("p", { className: "small" }, note)));
}

const cellText = (cell) => `(${cell.join(", ")})`;

export function cellPanel(pane, sheet) {
  const { scene } = pane.design;
  if (pane.chosen === null) {
    return [make("p", {}, "Click or tap a cell in the 3D view, or put the focus there and press an arrow key.")];
  }
  const part = pane.partAt(pane.chosen);
  const names = Object.entries({ ...scene.triggers, ...scene.outputs }).filter(([, cell]) => cell === pane.chosen).map(([name]) => name);
  const changes = pane.changes(pane.chosen);
  const level = pane.values[pane.chosen];
  return [
    make("h2", {}, `Cell ${cellText(scene.cells[pane.chosen])}${names.length ? `: ${names.join(", ")}` : ""}`),
    make("p", {}, part ? `${part.text}${part.posture ? `, ${part.posture}` : ""}` : "nothing stands here now"),
    part ? make("p", { className: "small" }, sheet.kinds[part.kind]) : null,
    part && part.hint ? make("p", { className: "small" }, part.hint) : null,
    make("p", { id: "cell-level" }, `Now: ${level}${part && part.capacity ? ` of ${part.capacity} items` : ""}`),
    changes.length > 1
      ? table({
        title: "What it shows over the run", heads: [`from ${pane.zero}`, "ticks", "shows"],
        rows: changes.slice(0, MOST_CHANGES).map(([time, value], i) =>
          i ? [seconds(time), ticks(time), value] : [pane.run.trigger ? "before" : "at the start", "", value]),
        notes: changes.length > MOST_CHANGES ? [`The first ${MOST_CHANGES} of ${changes.length} changes.`] : [],
      })
      : make("p", { className: "small" }, "It shows the same all through this run."),
  ];
}

/** The build, step by step: `at` is how many steps are done; go(at) is called to change that. */
export function buildPanel(design, at, go) {
  const steps = design.build;
  const here = steps[at - 1];
  const text = (step) => `${step.cells.length > 1 ? `${step.cells.length} × ` : ""}${step.part}`;
  const where = (step) => {
    const cells = step.cells.map((cell) => cellText(design.scene.cells[cell]));
    return cells.length > 1 ? `${cells[0]} to ${cells[cells.length - 1]}` : cells[0];
  };
  const list = [];
  let layer = null;
  steps.forEach((step, i) => {
    if (step.layer !== layer) {
      layer = step.layer;
      list.push(make("h3", {}, `Layer ${layer}`), make("ol", { className: "build", start: i + 1 }));
    }
    const item = make("li", {}, `${text(step)} at ${where(step)}${step.hint ? `: ${step.hint}` : ""}`);
    if (i === at - 1) item.setAttribute("aria-current", "step");
    list[list.length - 1].append(item);
  });
  const button = (id, name, to) => make("button", { type: "button", id, disabled: to < 0 || to > steps.length, onclick: () => go(to, id) }, name);
  return [
    make("div", { className: "row", role: "group", "aria-label": "Build steps" },
      button("build-back", "Back", at - 1), button("build-next", "Next", at + 1),
      make("button", { type: "button", id: "build-all", onclick: () => go(steps.length, "build-all") }, "Whole plan")),
    make("p", { id: "build-now" }, here
      ? `Step ${at} of ${steps.length}, layer ${here.layer}: ${text(here)} at ${where(here)}${here.hint ? `; ${here.hint}` : ""}.`
      : `Nothing is placed yet. ${steps.length} steps, from below upward.`),
    ...list,
  ];
}

/** What the plan claims, as pictures of runs with what is wanted behind what was seen; `look` is "light" or "dark". */
export function chartsPanel(design, look) {
  if (!design.charts.length) return [make("p", {}, "The plan has no timing chart: what it must do over time is not said.")];
  return design.charts.flatMap((chart) => {
    const picture = new DOMParser().parseFromString(chart[look], "image/svg+xml").documentElement;
    return [
      make("h2", {}, chart.name),
      make("div", { className: "chart" }, document.importNode(picture, true)),
      make("ul", { className: "claims" }, ...chart.claims.map((one) =>
        make("li", { className: one.passed ? "kept" : "broken" },
          make("strong", {}, one.passed ? "✓ kept: " : "✗ not kept: "), one.claim,
          one.passed ? null : make("p", { className: "small" }, one.detail)))),
    ];
  });
}

export function dossierPanel(design) {
  return [
    make("h2", {}, design.title),
    make("p", { className: "small" }, `Rule set ${design.rules}. ${design.size_text}`),
    ...design.expectations.map((line) => make("p", {}, arrows(line))),
    ...design.tables.map(table),
  ];
}

export function findingsPanel(pane) {
  const told = new Set(pane.design.findings.map((one) => one.message));
  const findings = [...pane.design.findings, ...(pane.run ? pane.run.findings.filter((one) => !told.has(one.message)) : [])];
  if (!findings.length) return [make("p", {}, "Nothing was found to be wrong or worth knowing.")];
  const numbers = new Map(pane.design.scene.cells.map((cell, number) => [cell.join(), number]));
  return [make("ul", { className: "findings" }, ...findings.map((one) => {
    const cells = one.cells.map((cell) => numbers.get(cell.join())).filter((number) => number !== undefined);
    return make("li", { className: one.severity },
      make("strong", {}, `${one.severity}: `), one.message,
      one.repair ? make("p", { className: "repair" }, make("b", {}, "To mend it: "), `${one.repair.text}${one.repair.verified ? " (Tried in a run: the finding was gone.)" : ""}`) : null,
      cells.length && pane.view
        ? make("button", { type: "button", onclick: () => pane.view.mark(cells) }, cells.length > 1 ? "Show the cells" : "Show the cell")
        : null);
  }))];
}

export function whyPanel(pane) {
  const { why, scene } = pane.design;
  if (!why.length) return [make("p", {}, "Why it holds as it does was not worked out: no press is measured, or it is long at work. tickwright why tells it.")];
  const numbers = new Map(scene.cells.map((cell, number) => [cell.join(), number]));
  return why.flatMap(({ head, sentences }) => [make("h3", {}, head), make("ul", { className: "why" }, ...sentences.map(({ text, cells }) => {
    const there = cells.map((cell) => numbers.get(cell.join())).filter((number) => number !== undefined);
    return make("li", {}, there.length && pane.view
      ? make("button", { type: "button", title: "Show the parts it speaks of", onclick: () => pane.view.mark(there) }, text)
      : text);
  }))]);
}

export function billPanel(design) {
  return [table({ title: "Bill", heads: ["part", "number", "price", "cost"], rows: design.bill })];
}

export function keysPanel() {
  const keys = [
    ["space", "play or pause"], [", .", "one step back, one ahead"], ["[ ]", "to the change before, to the next one"],
    ["PgUp PgDn", "in the 3D view: to the part above or below"], ["← → ↑ ↓", "in the 3D view: west, east, north, south, from part to part"],
    ["shift + arrows", "in the 3D view: turn it"], ["+ −", "in the 3D view: nearer, farther"],
    ["home", "in the 3D view: look from the south-east again"], ["esc", "in the 3D view: let go of the cell"],
  ];
  return [make("table", {}, make("caption", {}, "Keys"), make("tbody", {}, ...keys.map(([key, what]) =>
    make("tr", {}, make("th", { scope: "row" }, make("kbd", {}, key)), make("td", {}, what)))))];
}
