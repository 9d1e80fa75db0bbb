/* Lanes: what named cells show over the time of a run, as an SVG of steps with the numbers where they fit. */

const SVG = "http://www.w3.org/2000/svg";
const ROW = 26, HIGH = 16, GUTTER = 96, TOP = 18;

function shape(tag, attributes, text) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  if (text !== undefined) made.textContent = text;
  return made;
}

/** Draw lanes into an element; gives { move(time), element }.
 *
 * `rows` are {name, changes} with changes as [time, value] pairs, the first before `first`; times run from `first` to
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
  rows.forEach(({ name, changes }, i) => {
    const bottom = TOP + i * ROW + HIGH + 4;
    const top = Math.max(15, ...changes.map(([, value]) => value));
    const y = (value) => bottom - (value / top) * HIGH;
    svg.append(shape("text", { x: GUTTER - 8, y: bottom - 4, class: "lane-name" }, name.length > 13 ? `${name.slice(0, 12)}…` : name));
    let line = "", free = -Infinity;
    changes.forEach(([time, value], k) => {
      const from = Math.max(time, first);
      const to = Math.min(k + 1 < changes.length ? changes[k + 1][0] : last + 1, last + 1);
      if (to <= first || from > last) return;
      line += `${line ? "L" : "M"}${x(from).toFixed(1)} ${y(value).toFixed(1)}L${x(to).toFixed(1)} ${y(value).toFixed(1)}`;
      const label = String(value);
      if (value && x(to) - x(from) > label.length * 7 + 4 && x(from) >= free) {
        const inside = bottom - y(value) > 11; // there is room for it below the line; else it stands on the line
        svg.append(shape("text", { x: x(from) + 3, y: inside ? bottom - 2 : y(value) - 3, class: "lane-value" }, label));
        free = x(from) + label.length * 7 + 6;
      }
    });
    svg.append(shape("path", { d: line, class: "lane" }));
  });
  const head = shape("line", { y1: 0, y2: height, class: "playhead" });
  svg.append(head);
  svg.addEventListener("click", (event) => {
    const box = svg.getBoundingClientRect();
    const at = (event.clientX - box.left) * (width / box.width);
    if (at >= GUTTER) onSeek(Math.round(first + ((at - GUTTER) / room) * (last + 1 - first)));
  });
  element.replaceChildren(svg);
  return {
    move(time) {
      head.setAttribute("x1", x(time));
      head.setAttribute("x2", x(time));
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
