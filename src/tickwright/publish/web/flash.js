/* Whether playing a run could set off a seizure, as publish/flash.py judges films: WCAG 2.2 SC 2.3.1. `limits` are the
 * numbers of that module: most (flashes a second), least (change of relative luminance), dark (the darker one is below),
 * area (pixels that may flash more often) and slowdowns.
 */

/** The moments at which a change of luminance is complete, from [moment, luminance] pairs; two of them are a flash. */
export function flashTimes(pairs, limits) {
  const times = [];
  if (!pairs.length) return times;
  const least = limits.least - 1e-9;
  let going = 0;
  let low = pairs[0][1], high = low;
  for (const [moment, now] of pairs) {
    const up = going !== 1 && now - low >= least && low < limits.dark;
    const down = going !== -1 && high - now >= least && now < limits.dark;
    if (up || down) {
      times.push(moment);
      going = up ? 1 : -1;
    }
    low = down ? now : Math.min(low, now);
    high = up ? now : Math.max(high, now);
  }
  return times;
}

/** The most flashes within any stretch of `length` that begins with a change, whose end does not belong to it. */
export function mostFlashes(times, length) {
  let most = 0;
  for (let first = 0, end = 0; first < times.length; first++) {
    while (end < times.length && times[end] < times[first] + length - 1e-9) end++;
    most = Math.max(most, end - first);
  }
  return Math.floor(most / 2);
}

/** How many times slower than `stepsPerSecond` the cells must be played; Infinity if the slowest does not help.
 *
 * `cells` holds, for each cell, the steps of its flashTimes and its area on the page in `pixels`.
 */
export function safeSlowdown(cells, stepsPerSecond, limits) {
  for (const times of limits.slowdowns) {
    const failing = cells.filter(({ steps }) => mostFlashes(steps, stepsPerSecond / times) > limits.most);
    if (failing.reduce((area, { pixels }) => area + pixels, 0) <= limits.area) return times;
  }
  return Infinity;
}
