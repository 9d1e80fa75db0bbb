/* The guided build: one step at a time; what is ticked off is kept in the browser, or else in the page's address. */

const guide = JSON.parse(document.getElementById("data").textContent);
const at = (id) => document.getElementById(id);

function make(tag, given = {}, ...inside) {
  const { html, ...rest } = given;
  const made = Object.assign(document.createElement(tag), rest);
  if (html) made.innerHTML = html;
  made.append(...inside.filter((one) => one !== null && one !== undefined));
  return made;
}

/* --- what is kept --- */

const KEY = `tickwright-build-${guide.key}`;
let kept = false; // by the browser; else the address holds it
let state = { at: 0, done: [], said: [] };

function recall() {
  let text = null;
  try {
    localStorage.setItem(`${KEY}-try`, "1");
    localStorage.removeItem(`${KEY}-try`);
    kept = true;
    text = localStorage.getItem(KEY);
  } catch {
    kept = false;
  }
  if (!text && location.hash.length > 1) text = decodeURIComponent(location.hash.slice(1));
  try {
    const found = JSON.parse(text ?? "");
    if (Number.isInteger(found.at) && found.at >= 0 && found.at < guide.steps.length && Array.isArray(found.done)) {
      state = { at: found.at, done: found.done.filter(Number.isInteger), said: Array.isArray(found.said) ? found.said.map(String) : [] };
    }
  } catch { /* nothing is kept yet */ }
}

function keep() {
  const text = JSON.stringify(state);
  if (kept) {
    try {
      localStorage.setItem(KEY, text);
      return;
    } catch {
      kept = false;
    }
  }
  history.replaceState(null, "", `#${encodeURIComponent(text)}`);
}

/* --- pictures --- */

const dark = matchMedia("(prefers-color-scheme: dark)");
const look = () => (dark.matches ? "dark" : "light");
function picture(drawn, kind = "") {
  return drawn ? make("div", { className: `picture ${kind}`, html: drawn[look()] }) : null;
}

/* --- steps --- */

const NAMES = { ready: "What to take along", check: "Check-point", press: "The first press" };
const nameOf = (step) => NAMES[step.type] ?? (step.type === "lay" ? `Layer ${step.layer}: ${step.hand}` : step.text);

function go(to, focus = true) {
  state.at = Math.min(Math.max(to, 0), guide.steps.length - 1);
  state.said = [];
  keep();
  show();
  window.scrollTo(0, 0);
  if (focus) at("step").focus({ preventScroll: true });
}

function tick() {
  if (!state.done.includes(state.at)) state.done.push(state.at);
  go(state.at + 1);
}

const strips = (step) => step.strips.map((drawn) => picture(drawn));
const LONG = 200; // letters: of more the pictures come first
const inOrder = (words, pictures) => (words.textContent.length > LONG ? [...pictures, words] : [words, ...pictures]);

const SHOWN = {
  ready: (step) => [make("div", { className: "card" },
    make("h2", {}, step.title),
    make("ul", {}, ...step.rows.map((row) => make("li", { className: "take" },
      row.symbol ? make("span", { html: row.symbol[look()] }) : null,
      make("strong", {}, row.text),
      row.stacks ? make("span", { className: "soft" }, row.stacks) : null))),
    make("p", { className: "soft" }, step.note))],
  lay: (step) => [make("div", { className: "card" },
    make("div", { className: "hand" },
      make("span", { html: step.symbol[look()] }),
      make("div", {}, make("span", { className: "soft" }, "in your hand"), make("strong", {}, step.hand)),
      make("span", { className: "soft left" }, step.left)),
    picture(step.lifted, "small"),
    ...inOrder(make("p", { className: "what" }, step.text), [...strips(step), make("p", { className: "soft caption" }, step.about)])), upcoming()],
  check: (step) => [make("div", { className: "card" },
    make("h2", {}, "Check-point: try what is laid so far"),
    make("p", { className: "what" }, step.text),
    make("p", { className: "soft" }, step.when),
    ...strips(step),
    make("p", { className: "soft caption" }, step.about),
    make("p", {}, step.undone)),
  ...(state.said.includes("else") ? [make("div", { className: "card", id: "lately" },
    make("h2", {}, "Then look at what was laid since the last check-point"),
    make("ol", {}, ...step.lately.map((text) => make("li", {}, text))),
    make("p", {}, "Does each part stand where the picture has it, and does it face that way? Mend what differs, and try again."))] : [])],
  fill: (step) => [make("div", { className: "card" },
    make("div", { className: "hand" }, make("span", { html: step.symbol[look()] }), make("strong", {}, step.text)),
    step.stacks ? make("p", {}, step.stacks) : null,
    ...strips(step),
    make("p", { className: "soft caption" }, step.about))],
  press: (step) => {
    if (state.said[0] === "as it should") {
      return [make("div", { className: "card" }, make("h2", {}, "It is built, and it works."), make("p", {}, step.said), make("p", { className: "soft" }, guide.speed))];
    }
    if (state.said[0] === "else") return asked();
    return [make("div", { className: "card" },
      make("h2", {}, "The first press"),
      make("p", { className: "what" }, step.text),
      step.said ? make("p", {}, step.said) : null,
      picture(step.chart, "wide"),
      make("p", { className: "soft caption" }, step.about),
      make("p", { className: "soft" }, guide.speed))];
  },
};

function upcoming() {
  const next = guide.steps.findIndex((step, number) => number > state.at && (step.type === "check" || step.type === "press"));
  const step = guide.steps[next];
  if (!step) return null;
  const when = step.type === "press" ? "At the end" : `Next check-point, after step ${next - 1}`;
  return make("div", { className: "next" }, make("strong", {}, when), make("p", {}, step.type === "press" ? step.said || step.text : step.text));
}

/* --- "it does something else": the questions of the diagnosis --- */

function here() {
  let asking = guide.asking;
  for (const answer of state.said.slice(1)) asking = asking?.then[answer];
  return asking ?? null;
}

function before() {
  let [asking, last] = [guide.asking, guide.asking];
  for (const answer of state.said.slice(1)) {
    asking = asking?.then[answer] ?? null;
    last = asking ?? last;
  }
  return last;
}

const quoted = (text) => `"${text.replaceAll('"', '\\"')}"`;
function command() {
  const given = state.said.slice(1).map((answer) => ` --answer ${quoted(answer)}`).join("");
  return `tickwright diagnose ${guide.file.includes(" ") ? quoted(guide.file) : guide.file} --ask${given}`;
}

function map(cells, lit) {
  const there = new Set(cells.map(String));
  const wide = Math.max(...cells.map(([x]) => x)) + 1;
  const deep = Math.max(...cells.map(([, y]) => y)) + 1;
  return [...new Set(cells.map(([, , z]) => z))].sort((a, b) => a - b).map((z) => {
    const made = make("span", { className: "map" });
    made.style.gridTemplateColumns = `repeat(${wide}, 13px)`;
    for (let y = 0; y < deep; y += 1) for (let x = 0; x < wide; x += 1) {
      const cell = `${x},${y},${z}`;
      made.append(make("i", { className: lit.has(cell) ? "on" : there.has(cell) ? "off" : "" }));
    }
    return make("span", {}, make("span", { className: "soft" }, `layer ${z}`), made);
  });
}

function option(asking, answer) {
  const button = make("button", { type: "button", onclick: () => { state.said.push(answer); keep(); show(); at("step").focus(); } });
  button.dataset.answer = answer;
  if (asking.kind !== "lit" || answer === "don't know") {
    button.append(answer);
    return button;
  }
  const lit = new Set(answer === "none" ? [] : answer.split(" "));
  button.setAttribute("aria-label", answer === "none" ? "none are lit" : `lit: ${answer}`);
  button.append(make("span", { className: "maps" }, ...map(asking.cells, lit)), make("span", { className: "soft" }, `${lit.size || "none"} of ${asking.cells.length} lit`));
  return button;
}

function likeliest(asking) {
  if (!asking?.leading.length) return null;
  return make("div", { className: "card" }, make("h2", {}, "Likeliest so far: look here"),
    make("ol", {}, ...asking.leading.map(({ look: where, chance }) => make("li", {}, `${where} (${chance || "under 1"} in 100)`))));
}

function asked() {
  const asking = here();
  const onward = make("div", { className: "card" },
    make("p", {}, "On a computer, the questions go on from here until a look has shown the mistake:"), make("p", {}, make("code", {}, command())));
  if (!asking) return [likeliest(before()), onward];
  const lit = asking.kind === "lit" ? make("p", { className: "soft" }, "Each picture is one answer, layer by layer from above, north is up. Filled is lit; wires and comparators with a level count as lit.") : null;
  return [make("div", { className: "card" }, make("h2", { id: "question" }, asking.question), lit,
    make("div", { className: "answers" }, ...asking.answers.map((answer) => option(asking, answer)))), state.said.length > 1 ? likeliest(asking) : null, onward];
}

/* --- the frame --- */

function foot(step) {
  const back = make("button", { type: "button", id: "back", ariaLabel: "Back" }, "‹");
  back.onclick = () => {
    if (state.said.length) { state.said.pop(); keep(); show(); } else go(state.at - 1);
  };
  back.disabled = state.at === 0 && !state.said.length;
  const main = (text, act) => make("button", { type: "button", className: "main", id: "main", onclick: act }, text);
  const say = (word) => () => { state.said = [word]; if (word !== "else" && !state.done.includes(state.at)) state.done.push(state.at); keep(); show(); at("step").focus(); };
  const other = make("button", { type: "button", id: "else", onclick: say("else") }, "It does something else");
  if (step.type === "ready") return [back, main("I have it all", tick)];
  if (step.type === "check") return [back, main("It does so", tick), other];
  if (step.type !== "press") return [back, main(`☐ ${step.tick}`, tick)];
  if (!state.said.length) return [back, main("It does so", say("as it should")), guide.steps.length ? other : null];
  return [back, main(state.said[0] === "else" ? "Press again" : "Start anew", () => {
    if (state.said[0] === "else") { state.said = []; keep(); show(); } else { state.done = []; go(0); }
  })];
}

function overview() {
  at("overview").replaceChildren(...guide.steps.map((step, number) => {
    const button = make("button", { type: "button", className: state.done.includes(number) ? "ticked" : "", onclick: () => { fold(false); go(number); } }, `${number}. ${nameOf(step)}`);
    if (number === state.at) button.setAttribute("aria-current", "step");
    return button;
  }), make("p", { className: "soft" }, kept ? "What you tick off is kept in this browser." : "This browser keeps nothing for pages from disk: what you tick off is kept in the address of the page. Reload it, or bookmark it."));
}

function fold(open) {
  at("overview").hidden = !open;
  at("menu").setAttribute("aria-expanded", String(open));
}

function show() {
  const step = guide.steps[state.at];
  document.documentElement.dataset.theme = look();
  at("title").textContent = guide.title;
  const [head, figure, tail] = guide.answer;
  at("answer").replaceChildren(head, make("span", { className: "figure" }, figure), tail);
  at("bar").replaceChildren(...guide.steps.map((one, number) => make("span", {
    className: `${one.type === "check" || one.type === "press" ? "round" : ""} ${state.done.includes(number) ? "done" : ""} ${number === state.at ? "now" : ""}` })));
  at("bar").classList.toggle("many", guide.steps.length > 24);
  at("bar").setAttribute("aria-valuemax", guide.steps.length);
  at("bar").setAttribute("aria-valuenow", state.done.length);
  const parts = step.type === "lay" ? ` · layer ${step.layer} · ${step.laid - Number.parseInt(step.hand, 10)} of ${step.of} parts laid` : ` · ${nameOf(step)}`;
  at("place").textContent = `step ${state.at} of ${guide.steps.length - 1}${parts}`;
  at("step").replaceChildren(...SHOWN[step.type](step).filter(Boolean));
  at("foot").replaceChildren(...foot(step).filter(Boolean));
  at("said").textContent = `Step ${state.at} of ${guide.steps.length - 1}`;
  overview();
}

at("menu").onclick = () => fold(at("overview").hidden);
dark.addEventListener("change", show);
recall();
show();
document.documentElement.dataset.ready = "yes";
