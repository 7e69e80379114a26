/* One survey on the phone: fields as typed to everything the page shows of it, by align.js and typed.js. */
import { direct, flexAngles, footMoves, fromFlexAngles, limitLines, minus, solve } from "./align.js";
import { directOf, feetOf, planesOf, quantity, setsOf, termsOf } from "./typed.js";

const NOUGHT = [0, 0, 0, 0];

/* What the supports' warmth adds, where the page knows what a kelvin of either side does. */
function grown(get, data, stationary) {
  const growth = data.growth?.[stationary];
  if (!growth) return null;
  const read = ["driver", "driven"].map((side) => quantity(get(`${side}_support`), data.units.temperature));
  if (!read.every(Number.isFinite)) return null;
  const [driver, driven] = read.map((degc) => data.growth.reference - degc);
  const [offset, slope] = [0, 1].map((i) => growth.driver[i] * driver + growth.driven[i] * driven);
  return [offset, 0, slope, 0];
}

/* {solution, mean, left, planes, angles, moves, lines} in the working frame, or null while it cannot be solved. */
export function survey(get, data) {
  const stationary = (get("stationary") ?? "").trim() || "driven";
  const viewedFrom = data.compass ? "movable" : (get("viewed_from") ?? "").trim() || "movable";
  const planes = data.planes ?? planesOf(get, data.units);
  let solution = null;
  if (data.method === "direct") {
    const given = directOf(get, data.units);
    solution = given.a ? fromFlexAngles(given.a, given.b, { planes, viewedFrom }) : direct(given.offset, given.slope, { viewedFrom });
  } else {
    const sets = setsOf(get, data.sets, data.units);
    solution = sets && solve(sets, { planes, viewedFrom });
  }
  if (!solution) return null;
  const added = grown(get, data, stationary);
  const mean = added ? solution.mean.map((n, i) => (n === null ? null : n + added[i])) : solution.mean;
  const terms = data.asks
    ? termsOf(get, data.units)
    : { ...data.judged, target: data.targets?.[stationary] ?? NOUGHT };
  const left = minus(mean, terms.target);
  const typed = data.compass ? [] : feetOf(get, data.units);
  const feet = typed.length || data.compass ? typed : data.feet?.[stationary === "driven" ? "driver" : "driven"] ?? [];
  return {
    solution,
    mean,
    left,
    planes,
    angles: planes ? flexAngles(mean, planes) : null,
    moves: feet.length > 1 ? footMoves(mean, feet, terms.target) : [],
    lines: limitLines(left, terms.limits, { ...terms, planes }),
  };
}
