// The run that is being watched and its clock: one for the whole page, so that grid, lanes and 3D view agree.
import { STEPS_PER_SECOND, keyOf } from "./index.js";

export const SPEEDS = [20, 4, 1, 0.5, 0.25, 0.1, 0.05];
const SAMPLED = 6; // pictures a second that hold no more than three flashes
const SMALL_AREA = 21824 / (1024 * 768); // of the page; WCAG 2.2, SC 2.3.1

export const watched = {
  run: null, step: 0, playing: false, speed: 1, flashingAllowed: false, held: "", cellPixels: new Map(),
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
  return { ...head, lanes, changes, overlays: overlaysOf(head.scenes) };
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

export function valuesNow() {
  const { run, step } = watched;
  if (!run) return null;
  const values = new Map();
  for (const [key, lane] of run.lanes) values.set(key, valueAt(lane, step));
  return values;
}

export function overlayNow() {
  const { run, step } = watched;
  if (!run) return null;
  let found = run.overlays[0];
  for (const overlay of run.overlays) if (overlay.step <= step) found = overlay;
  return found.cells;
}

export function setRun(run) {
  const before = watched.run;
  watched.run = run;
  if (run) watched.step = before ? Math.min(watched.step, run.steps - 1) : 0;
  guard();
  tell();
}

// --- the clock -------------------------------------------------------------------------------------------------------

const still = window.matchMedia("(prefers-reduced-motion: reduce)");
let began = null; // [time, step] when it began to play
let shownAt = 0;

export function seek(step) {
  if (!watched.run) return;
  watched.step = Math.max(0, Math.min(watched.run.steps - 1, Math.round(step)));
  began = [performance.now(), watched.step];
  tell();
}

export function play() {
  if (!watched.run) return;
  if (watched.step >= watched.run.steps - 1) watched.step = 0;
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
  if (!watched.run) return;
  const { changes } = watched.run;
  const at = lastUpTo(changes, watched.step);
  if (way > 0 && at + 1 < changes.length) seek(changes[at + 1]);
  else if (way < 0) seek(changes[changes[at] === watched.step ? Math.max(0, at - 1) : at] ?? 0);
}

function tick(now) {
  if (!watched.playing || !watched.run) return;
  const step = Math.floor(began[1] + ((now - began[0]) / 1000) * STEPS_PER_SECOND * pace());
  const last = watched.run.steps - 1;
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
  const { run } = watched;
  watched.safeSpeed = null;
  watched.sampled = false;
  watched.held = "";
  if (!run || watched.flashingAllowed) return;
  const pixels = [...watched.cellPixels.values()].reduce((sum, each) => sum + each, 0);
  const page = window.innerWidth * window.innerHeight;
  const flashing = (speed) => run.flashing[String(speed)] ?? [];
  const safe = (speed) => flashing(speed).length * pixels <= SMALL_AREA * page;
  if (safe(watched.speed)) return;
  const count = flashing(watched.speed).length;
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
