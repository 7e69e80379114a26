/* Does a reading fit its neighbours, the dial's travel, the last round? Only ever a question: nothing is held back. */
import { corrected } from "./align.js";
import { circleOf } from "./ring.js";

const TRAVEL = 25;
const FAR = 10; /* times the largest of the last round; the machine was moved to lessen them */
const LEAST = 0.05; /* mm: below it even a tenfold is no more than a reading */
/* What slips: a decimal place, inches for millimetres, divisions for the unit, the sign. */
const SLIPS = [0.1, 10, 0.01, 100, 1 / 25.4, 25.4, 1 / 2.54, 2.54, -1];

/* {why, angle, value, other} or null. `limit` is the site's on a closure, `before` the last round's readings. [mm] */
export function doubt(set, limit, before = []) {
  for (const [i, angle] of set.angles.entries())
    if (set.kind !== "gap" && Math.abs(set.readings[i]) > TRAVEL) return { why: "travel", angle, value: set.readings[i] };
  const room = Math.max(limit, 6 * set.u);
  const misfit = (i, value) => {
    const readings = set.readings.with(i, value);
    const figures = corrected({ ...set, readings, opposed: null });
    const others = set.angles.map((_, k) => k).filter((k) => k !== i);
    const fit = circleOf(others.map((k) => set.angles[k]), others.map((k) => figures[k]));
    if (!fit) return null;
    const turn = (set.angles[i] * Math.PI) / 180;
    return Math.abs(figures[i] - fit[0] - fit[1] * Math.cos(turn) - fit[2] * Math.sin(turn));
  };
  let best = null;
  set.readings.forEach((value, i) => {
    const now = misfit(i, value);
    if (now === null || now <= room) return;
    for (const slip of SLIPS) {
      const then = misfit(i, value * slip);
      if (then <= room / 2 && (!best || then < best.then))
        best = { why: "slip", angle: set.angles[i], value, other: value * slip, then };
    }
  });
  if (best) return best;
  const largest = Math.max(LEAST, ...before.map(Math.abs));
  const place = set.readings.findIndex((value) => Math.abs(value) > FAR * largest);
  if (!before.length || place < 0) return null;
  return { why: "far", angle: set.angles[place], value: set.readings[place], other: largest };
}
