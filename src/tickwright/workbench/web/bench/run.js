// The runs that are being watched and their clock: one for the whole page, so that grids, lanes and 3D view agree.
// The run "main" is that of the open plan; others are those of plans that are compared, each shifted by its offset.
import { STEPS_PER_SECOND, keyOf } from "./index.js";

export const SPEEDS = [20, 4, 1, 0.5, 0.25, 0.1, 0.05];
const SAMPLED = 6; // pictures a second that hold no more than three flashes
const SMALL_AREA = 21824 / (1024 * 768); // of the page; WCAG 2.2, SC 2.3.1

export const watched = {
  runs: new Map(), active: ["main"], steps: 0, step: 0, playing: false, speed: 1, flashingAllowed: false, held: "",
  cellPixels: new Map(),
};

const listeners = new Set();
export function onWatch(hear) {
  listeners.add(hear);
  return () => listeners.delete(hear);
}
function tell() {
  for (const hear of listeners) hear();
}

// --- runs ------------------------------------------------------------------------------------------------------------

// Read what `packed` of work.py made.
export function readRun(buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  const total = head.counts.reduce((sum, count) => sum + count, 0);
  const steps = new Uint32Array(buffer, 4 + length, total);
  const values = new Uint16Array(buffer, 4 + length + 4 * total, total);
  const lanes = new Map();
  let at = 0;
  head.cells.forEach((cell, i) => {
    const end = at + head.counts[i];
    lanes.set(keyOf(...cell), { steps: steps.subarray(at, end), values: values.subarray(at, end) });
    at = end;
  });
  const changes = [...new Set(steps)].sort((a, b) => a - b);
  return { ...head, lanes, changes, overlays: overlaysOf(head.scenes), offset: 0 };
}

function overlaysOf({ sorts, scenes }) {
  const overlays = [{ step: 0, cells: new Map() }];
  for (const { step, cells } of scenes) {
    const now = new Map(overlays[overlays.length - 1].cells);
    for (const [x, y, z, sort] of cells) now.set(keyOf(x, y, z), sort < 0 ? null : sorts[sort]);
    overlays.push({ step, cells: now });
  }
  return overlays;
}

// The place of the last of sorted numbers that is not above a number; -1 if all are.
export function lastUpTo(numbers, number) {
  let [low, high] = [0, numbers.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (numbers[middle] <= number) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

export function valueAt(lane, step) {
  return lane.values[lastUpTo(lane.steps, step)];
}

export function runOf(id = "main") {
  return watched.active.includes(id) ? watched.runs.get(id) : undefined;
}

export function valuesNow(id) {
  const run = runOf(id);
  if (!run) return null;
  const values = new Map();
  const step = Math.max(0, watched.step + run.offset);
  for (const [key, lane] of run.lanes) values.set(key, valueAt(lane, step));
  return values;
}

export function overlayNow(id) {
  const run = runOf(id);
  if (!run) return null;
  let found = run.overlays[0];
  for (const overlay of run.overlays) if (overlay.step <= watched.step + run.offset) found = overlay;
  return found.cells;
}

export function setRun(run, id = "main") {
  if (run) watched.runs.set(id, run);
  else watched.runs.delete(id);
  measureRuns();
}

// Which runs the clock is for.
export function activate(ids) {
  if (ids.join() === watched.active.join()) return;
  watched.active = ids;
  watched.step = 0;
  watched.playing = false;
  measureRuns();
}

function measureRuns() {
  const runs = watched.active.map((id) => watched.runs.get(id)).filter(Boolean);
  watched.steps = Math.max(0, ...runs.map((run) => run.steps - run.offset));
  const changes = new Set();
  for (const run of runs) for (const step of run.changes) if (step >= run.offset) changes.add(step - run.offset);
  watched.changes = [...changes].sort((a, b) => a - b);
  watched.step = Math.max(0, Math.min(watched.step, watched.steps - 1));
  guard();
  tell();
}

// --- the clock -------------------------------------------------------------------------------------------------------

const still = window.matchMedia("(prefers-reduced-motion: reduce)");
let began = null; // [time, step] when it began to play
let shownAt = 0;

export function seek(step) {
  if (!watched.steps) return;
  watched.step = Math.max(0, Math.min(watched.steps - 1, Math.round(step)));
  began = [performance.now(), watched.step];
  tell();
}

export function play() {
  if (!watched.steps) return;
  if (watched.step >= watched.steps - 1) watched.step = 0;
  guard();
  watched.playing = true;
  began = [performance.now(), watched.step];
  requestAnimationFrame(tick);
  tell();
}

export function pause() {
  watched.playing = false;
  tell();
}

export function setSpeed(speed) {
  watched.speed = speed;
  began = [performance.now(), watched.step];
  guard();
  tell();
}

export function allowFlashing(allowed) {
  watched.flashingAllowed = allowed;
  guard();
  tell();
}

// Go to the next step (or the one before) in which anything changes.
export function jump(way) {
  if (!watched.steps) return;
  const { changes } = watched;
  const at = lastUpTo(changes, watched.step);
  if (way > 0 && at + 1 < changes.length) seek(changes[at + 1]);
  else if (way < 0) seek(changes[changes[at] === watched.step ? Math.max(0, at - 1) : at] ?? 0);
}

function tick(now) {
  if (!watched.playing || !watched.steps) return;
  const passed = Math.max(0, now - began[0]) / 1000; // a frame's time may lie before the moment that play was asked for
  const step = Math.floor(began[1] + passed * STEPS_PER_SECOND * pace());
  const last = watched.steps - 1;
  if (step >= last) {
    watched.step = last;
    watched.playing = false;
    tell();
    return;
  }
  const rest = still.matches ? 1000 : watched.sampled ? 1000 / SAMPLED : 0;
  if (step !== watched.step && now - shownAt >= rest) {
    watched.step = step;
    shownAt = now;
    tell();
  }
  requestAnimationFrame(tick);
}

export function pace() {
  return watched.safeSpeed ?? watched.speed;
}

// Find the fastest speed, from the chosen one down, at which too little of the page flashes to do harm.
function guard() {
  const runs = watched.active.map((id) => watched.runs.get(id)).filter(Boolean);
  watched.safeSpeed = null;
  watched.sampled = false;
  watched.held = "";
  if (!runs.length || watched.flashingAllowed) return;
  const page = window.innerWidth * window.innerHeight;
  const flashing = (id, speed) => (watched.runs.get(id)?.flashing[String(speed)] ?? []).length;
  const area = (speed) => [...watched.cellPixels.values()].reduce((sum, [id, pixels]) => sum + shownFlashing(id, speed) * pixels, 0);
  const shownFlashing = (id, speed) => (watched.active.includes(id) ? flashing(id, speed) : 0);
  const safe = (speed) => area(speed) <= SMALL_AREA * page;
  if (safe(watched.speed)) return;
  const count = watched.active.reduce((sum, id) => sum + flashing(id, watched.speed), 0);
  const cells = count === 1 ? "1 cell" : `${count} cells`;
  const slower = SPEEDS.filter((speed) => speed < watched.speed).find(safe);
  if (slower !== undefined) {
    watched.safeSpeed = slower;
    watched.held = `Slowed to ${speedText(slower)}: faster, ${cells} would flash more than three times a second.`;
  } else {
    watched.sampled = true;
    watched.held = `Shown ${SAMPLED} times a second: else ${cells} would flash more than three times a second.`;
  }
}

export function speedText(speed) {
  return speed >= 1 ? `${speed} ×` : `1/${Math.round(1 / speed)}`;
}
