/* Lanes: what named cells show over the time of a run, as an SVG of bars with the numbers where they fit. */

const SVG = "http://www.w3.org/2000/svg";
const ROW = 36, HIGH = 20, GUTTER = 96, TOP = 18;

function shape(tag, attributes, text) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  if (text !== undefined) made.textContent = text;
  return made;
}

/** Draw lanes into an element; gives { move(time), element }.
 *
 * `rows` are {name, lamp, changes} with changes as [time, value] pairs, the first before `first`; times run from `first` to
 * `last`. `seconds(time)` writes a time. `onSeek(time)` is called when someone clicks into the lanes.
 */
export function drawLanes(element, rows, { first, last, width, seconds, onSeek }) {
  const room = Math.max(width - GUTTER - 8, 60);
  const x = (time) => GUTTER + ((time - first) / Math.max(last + 1 - first, 1)) * room;
  const height = TOP + rows.length * ROW + 4;
  const svg = shape("svg", { viewBox: `0 0 ${width} ${height}`, width, height, role: "img", class: "lanes" });
  svg.append(shape("title", {}, `Lanes of ${rows.map((row) => row.name).join(", ")}`));
  for (const time of marks(first, last, room)) {
    svg.append(shape("line", { x1: x(time), x2: x(time), y1: TOP - 4, y2: height, class: "mark" }));
    svg.append(shape("text", { x: x(time), y: 11, class: "tick" }, seconds(time)));
  }
  rows.forEach(({ name, changes, lamp }, i) => {
    const bottom = TOP + i * ROW + HIGH + 6;
    const most = Math.max(15, ...changes.map(([, value]) => value));
    const plain = lamp || changes.every(([, value]) => !value || value === 15);
    svg.append(shape("text", { x: GUTTER - 8, y: bottom - 6, class: "lane-name" }, name.length > 13 ? `${name.slice(0, 12)}…` : name));
    const lane = shape("g", { class: "lane" });
    lane.append(shape("line", { x1: GUTTER, x2: GUTTER + room, y1: bottom + 0.5, y2: bottom + 0.5, class: "floor" }));
    changes.forEach(([time, value], k) => {
      const from = Math.max(time, first);
      const ends = k + 1 < changes.length;
      const to = Math.min(ends ? changes[k + 1][0] : last + 1, last + 1);
      if (to <= first || from > last || !value) return;
      const high = lamp ? HIGH : Math.max(3, (value / most) * HIGH);
      const wide = Math.max(1.5, x(to) - x(from) - 1);
      const level = Math.min(value, 15);
      const bar = shape("rect", { x: x(from).toFixed(1), y: (bottom - high).toFixed(1), width: wide.toFixed(1), height: high.toFixed(1), rx: 2 });
      bar.style.fill = lamp ? "var(--amber)" : `var(--level-${level})`;
      if (lamp) bar.style.stroke = "var(--amberedge)";
      lane.append(bar);
      const label = plain ? (ends ? seconds(changes[k + 1][0] - time) : "") : String(value);
      if (!label || label.length * 6.4 + 4 > wide) return;
      const above = high < 12;
      const text = shape("text", { x: (x(from) + wide / 2).toFixed(1), y: above ? bottom - high - 3 : bottom - high / 2 + 4, class: "lane-value" }, label);
      text.style.fill = above ? "var(--ink)" : lamp ? "var(--amberink)" : `var(--on-level-${level})`;
      lane.append(text);
    });
    svg.append(lane);
  });
  const halo = shape("line", { y1: 0, y2: height, class: "playhead halo" });
  const head = shape("line", { y1: 0, y2: height, class: "playhead" });
  svg.append(halo, head);
  svg.addEventListener("click", (event) => {
    const box = svg.getBoundingClientRect();
    const at = (event.clientX - box.left) * (width / box.width);
    if (at >= GUTTER) onSeek(Math.round(first + ((at - GUTTER) / room) * (last + 1 - first)));
  });
  element.replaceChildren(svg);
  return {
    move(time) {
      for (const line of [halo, head]) {
        line.setAttribute("x1", x(time));
        line.setAttribute("x2", x(time));
      }
    },
  };
}

/** Round times, far enough apart to be read. */
function marks(first, last, room) {
  const least = ((last - first) / room) * 64;
  const every = [2, 4, 10, 20, 40, 100, 200, 400, 1200, 2400, 6000, 12000, 24000, 72000].find((step) => step >= least) || 72000;
  const found = [];
  for (let time = Math.ceil(first / every) * every; time <= last; time += every) found.push(time);
  return found;
}
