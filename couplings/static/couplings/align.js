/* Alignment of two shafts, on the phone: readings in, position of the movable shaft out, as the server computes it.

   The working frame of couplings/engineering/alignment: the movable shaft relative to the stationary one, seen by an
   observer at the movable machine; up and right positive. Lengths in mm, slopes in mrad (= mm/m);
   offset(x) = offset + slope x / 1000, x from the coupling's centre towards the movable machine.
   A set: {kind, angles, readings, carriedBy, x, swingRadius, distance, plane, surface, sag, sagU, bracket, u, half,
   turned, opposed, name}; angles in degrees clockwise from 12. What cannot be solved yet gives null, never a guess.
   No verdict is made here: it takes probabilities, and those come with the server. */

const ANGLE_DECIMALS = 1e4;

const mod = (a, b) => ((a % b) + b) % b;
const positive = (n) => typeof n === "number" && Number.isFinite(n) && n > 0;
const direction = (deg) => mod(Math.round(mod(deg, 360) * ANGLE_DECIMALS) / ANGLE_DECIMALS, 360);
const eachTurned = (set) => (Array.isArray(set.turned) ? set.turned : set.angles.map(() => Boolean(set.turned)));
const spreadOf = (set) => (set.opposed ? set.u / Math.sqrt(2) : set.u);
const partOf = (set) =>
  JSON.stringify([set.kind, set.carriedBy, set.x ?? 0, set.swingRadius, set.distance, set.plane, set.surface ?? "near"]);

/* Exactly nought at the quarter turns, so that a plane nobody read stays unread. */
export function directions(angles) {
  const exact = (n) => (Math.abs(n) < 1e-12 ? 0 : n);
  const turns = angles.map((deg) => (mod(deg, 360) * Math.PI) / 180);
  return [turns.map((t) => exact(Math.cos(t))), turns.map((t) => exact(Math.sin(t)))];
}

/* Full dial readings with float cancelled and sag taken out at every angle: reading - sag (1 - cos t) / 2. */
export function corrected(set) {
  const [cosines] = directions(set.angles);
  return set.readings.map((reading, i) => {
    const bare = set.opposed ? (reading - set.opposed[i]) / 2 : reading;
    return bare * (set.half ? 2 : 1) - ((set.sag ?? 0) * (1 - cosines[i])) / 2;
  });
}

/* What one mm of offset and one mrad of slope add to a reading along u. */
export function arms(set, planes) {
  const x = (set.x ?? 0) / 1000;
  const radius = (set.swingRadius ?? 0) / 1000;
  const side = (set.surface ?? "near") === "near" ? 1 : -1;
  if (set.kind === "rim") {
    const sign = set.carriedBy === "stationary" ? 1 : -1;
    return [sign, sign * x];
  }
  if (set.kind === "step") return [1, x];
  if (set.kind === "face") return [0, side * radius];
  if (set.kind === "gap") return [0, -radius];
  const [a, b] = planes;
  const [across, sign] = set.plane === "A" ? [b, 1] : [a, -1];
  const length = set.distance == null ? side * set.swingRadius : set.distance;
  const share = (sign * length) / (b - a);
  return [share, (share * across) / 1000];
}

export const planesKnown = (planes) =>
  Array.isArray(planes) && planes.length === 2 && planes.every(Number.isFinite) && planes[1] > planes[0];

/* Whether a set has what it needs; what is missing is said by the server, beside the field. */
function usable(set, planes) {
  const count = set.readings.length;
  const numbers = [...set.angles, ...set.readings, ...(set.opposed ?? []), set.sag ?? 0, set.sagU ?? 0];
  if (count < 2 || set.angles.length !== count || !numbers.every(Number.isFinite)) return false;
  if ((set.opposed && set.opposed.length !== count) || eachTurned(set).length !== count) return false;
  if (!positive(set.u) || (set.sagU ?? 0) < 0 || new Set(set.angles.map(direction)).size < 2) return false;
  const face = set.kind === "face" || (set.kind === "flex-angle" && set.distance == null);
  if (set.opposed && !face) return false;
  if (["step", "gap"].includes(set.kind) && (set.half || set.sag || set.sagU)) return false;
  if (set.kind === "rim")
    return ["stationary", "movable"].includes(set.carriedBy) && Number.isFinite(set.x ?? Number.NaN);
  if (set.kind === "step") return Number.isFinite(set.x ?? 0);
  if (["face", "gap"].includes(set.kind)) return positive(set.swingRadius);
  if (set.kind !== "flex-angle" || !["A", "B"].includes(set.plane) || !planesKnown(planes)) return false;
  if ((set.swingRadius == null) === (set.distance == null)) return false;
  return positive(set.distance ?? set.swingRadius);
}

/* Columns turned until they stand square on each other (one-sided Jacobi): A V = U S with V orthogonal. */
function squared(rows, width) {
  const columns = Array.from({ length: width }, (_, k) => rows.map((row) => row[k]));
  const turns = Array.from({ length: width }, (_, k) => Array.from({ length: width }, (_, i) => (i === k ? 1 : 0)));
  const dot = (p, q) => p.reduce((sum, n, i) => sum + n * q[i], 0);
  const rotate = (p, q, c, s) => {
    for (let i = 0; i < p.length; i += 1) [p[i], q[i]] = [c * p[i] - s * q[i], s * p[i] + c * q[i]];
  };
  for (let sweep = 0; sweep < 60; sweep += 1) {
    let moved = false;
    for (let p = 0; p < width - 1; p += 1)
      for (let q = p + 1; q < width; q += 1) {
        const [a, b, g] = [dot(columns[p], columns[p]), dot(columns[q], columns[q]), dot(columns[p], columns[q])];
        if (Math.abs(g) <= 1e-15 * Math.sqrt(a * b) || Math.abs(g) < 1e-300) continue;
        moved = true;
        const zeta = (b - a) / (2 * g);
        const t = (zeta >= 0 ? 1 : -1) / (Math.abs(zeta) + Math.sqrt(1 + zeta * zeta));
        const c = 1 / Math.sqrt(1 + t * t);
        rotate(columns[p], columns[q], c, c * t);
        rotate(turns[p], turns[q], c, c * t);
      }
    if (!moved) break;
  }
  return columns.map((column, k) => ({ column, turn: turns[k], value: Math.sqrt(dot(column, column)) }));
}

/* Least squares on what the rows can tell apart: the solution, its covariance and which unknowns are known. */
export function leastSquares(rows, wanted, width) {
  const lengths = Array.from({ length: width }, (_, k) => Math.hypot(...rows.map((row) => row[k])) || 1);
  const parts = squared(rows.map((row) => row.map((n, k) => n / lengths[k])), width);
  const largest = Math.max(...parts.map((part) => part.value));
  const strong = parts.filter((part) => part.value > 1e-8 * largest);
  const weak = parts.filter((part) => !strong.includes(part));
  const found = new Array(width).fill(0);
  for (const { column, turn, value } of strong) {
    const along = column.reduce((sum, n, i) => sum + n * wanted[i], 0) / value ** 2;
    for (let k = 0; k < width; k += 1) found[k] += (turn[k] * along) / lengths[k];
  }
  const covariance = lengths.map((li, i) =>
    lengths.map((lj, j) => strong.reduce((sum, one) => sum + (one.turn[i] * one.turn[j]) / one.value ** 2, 0) / (li * lj)),
  );
  const known = lengths.map((_, k) => weak.every((part) => Math.abs(part.turn[k]) < 1e-6));
  return { found, covariance, known, rank: parts.filter((part) => part.value > 1e-8).length };
}

function design(sets, planes, mirrored) {
  const runOuts = [...new Set(sets.filter((set) => eachTurned(set).some(Boolean)).map(partOf))];
  const bracketOf = (set, place) => (set.bracket ? `named ${set.bracket}` : `own ${place}`);
  const brackets = [...new Set(sets.map((set, i) => (set.sagU > 0 ? bracketOf(set, i) : "")).filter(Boolean))];
  const firstRunOut = 4 + sets.length;
  const firstBracket = firstRunOut + 2 * runOuts.length;
  const width = firstBracket + brackets.length;
  const [rows, wanted, owners] = [[], [], []];
  sets.forEach((set, place) => {
    const [cosines, sines] = directions(set.angles);
    const [kY, kS] = arms(set, planes);
    const figures = corrected(set);
    const turned = eachTurned(set);
    set.angles.forEach((_, i) => {
      const [c, s] = [cosines[i], mirrored ? -sines[i] : sines[i]];
      const row = new Array(width).fill(0);
      [row[0], row[1], row[2], row[3], row[4 + place]] = [kY * c, kY * s, kS * c, kS * s, 1];
      const runOut = runOuts.indexOf(partOf(set));
      if (runOut >= 0) {
        const sign = turned[i] ? 1 : -1;
        [row[firstRunOut + 2 * runOut], row[firstRunOut + 2 * runOut + 1]] = [sign * c, sign * s];
      }
      if (set.sagU > 0) row[firstBracket + brackets.indexOf(bracketOf(set, place))] = (set.sagU * (1 - c)) / 2;
      rows.push(row.map((n) => n / spreadOf(set)));
      wanted.push(figures[i] / spreadOf(set));
      owners.push(place);
    });
  });
  brackets.forEach((_, k) => {
    rows.push(Array.from({ length: width }, (_, i) => (i === firstBracket + k ? 1 : 0)));
    wanted.push(0);
    owners.push(-1);
  });
  return { rows, wanted, owners, width };
}

/* Closure of a set and its standard deviation: one opposite pair's sum less the other's; null without two pairs. */
export function closure(set) {
  const figures = corrected(set);
  const turned = eachTurned(set);
  const apart = (a, b) => Math.abs(Math.abs(a - b) - 90);
  const best = (found, worth) => found.reduce((least, one) => (worth(one) < worth(least) ? one : least));
  for (const state of [false, true]) {
    const found = new Map();
    set.angles.forEach((angle, i) => {
      if (turned[i] === state) found.set(direction(angle), [...(found.get(direction(angle)) ?? []), figures[i]]);
    });
    const pairs = [...found.keys()].filter((a) => a < 180 && found.has(direction(a + 180)));
    if (pairs.length < 2) continue;
    const first = best(pairs, (a) => Math.min(a, 180 - a));
    const second = best(pairs.filter((a) => a !== first), (a) => apart(a, first));
    const four = [first, second, first + 180, second + 180].map((a) => found.get(direction(a)));
    const [top, right, bottom, left] = four.map((some) => some.reduce((sum, n) => sum + n, 0) / some.length);
    const spread = Math.sqrt(four.reduce((sum, some) => sum + 1 / some.length, 0));
    return { value: top + bottom - right - left, sd: spreadOf(set) * spread };
  }
  return null;
}

/* The survey solved: mean and covariance of (offset V, H, slope V, H), null for a plane that was not read. */
export function solve(sets, { planes = null, viewedFrom = "movable" } = {}) {
  if (!sets.length || !sets.every((set) => usable(set, planes))) return null;
  const straight = new Set(sets.filter((set) => !eachTurned(set).every(Boolean)).map(partOf));
  if (sets.some((set) => eachTurned(set).some(Boolean) && !straight.has(partOf(set)))) return null;
  const { rows, wanted, owners, width } = design(sets, planes, viewedFrom === "stationary");
  const { found, covariance, known, rank } = leastSquares(rows, wanted, width);
  const [vertical, horizontal] = [known[0] && known[2], known[1] && known[3]];
  if (!vertical && !horizontal) return null;
  const left = rows.map((row, i) => wanted[i] - row.reduce((sum, n, k) => sum + n * found[k], 0));
  const chi2 = left.reduce((sum, n) => sum + n * n, 0);
  const dof = wanted.length - rank;
  const factor = dof > 0 ? Math.max(1, chi2 / dof) : 1;
  const seen = [vertical, horizontal, vertical, horizontal];
  return {
    mean: found.slice(0, 4).map((n, i) => (seen[i] ? n : null)),
    covariance: [0, 1, 2, 3].map((i) =>
      [0, 1, 2, 3].map((j) => (seen[i] && seen[j] ? factor * covariance[i][j] : null)),
    ),
    sets: sets.map((set, place) => {
      const own = left.filter((_, i) => owners[i] === place).map((n) => n * spreadOf(set));
      const rms = Math.sqrt(own.reduce((sum, n) => sum + n * n, 0) / own.length);
      return { name: set.name ?? "", closure: closure(set), rms };
    }),
    chi2,
    dof,
    factor,
  };
}

const plain = (mean) => {
  const planeKnown = (first) => mean[first] !== null && mean[first + 2] !== null;
  if (!planeKnown(0) && !planeKnown(1)) return null;
  return { mean, covariance: null, sets: [], chi2: 0, dof: 0, factor: 1 };
};

/* Four typed components to the frame: both of a plane or neither; a lone one cannot be used. */
function typed(given, table, viewedFrom) {
  const known = given.map((n) => typeof n === "number" && Number.isFinite(n));
  if (known[0] !== known[2] || known[1] !== known[3]) return null;
  const mirror = viewedFrom === "stationary" ? [1, -1, 1, -1] : [1, 1, 1, 1];
  return plain(
    table.map((row, i) =>
      known[i] ? mirror[i] * row.reduce((sum, n, k) => sum + n * (known[k] ? given[k] : 0), 0) : null,
    ),
  );
}

const EYE = [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]];

/* Offset and slope as an instrument shows them: [offset V, H], [slope V, H]. */
export const direct = (offset, slope, { viewedFrom = "movable" } = {}) =>
  typed([...offset, ...slope], EYE, viewedFrom);

/* Offset and slope from the angles at both flex planes: offset(x_B) = L A, offset(x_A) = -L B. */
export function fromFlexAngles(a, b, { planes, viewedFrom = "movable" }) {
  if (!planesKnown(planes)) return null;
  const [yA, yB] = [-planes[0] / 1000, -planes[1] / 1000];
  return typed([...a, ...b], [[yA, 0, yB, 0], [0, yA, 0, yB], [1, 0, 1, 0], [0, 1, 0, 1]], viewedFrom);
}

/* Offset at a plane other than the centre: (vertical, horizontal), null where the plane was not read. */
export const at = (mean, x) =>
  [0, 1].map((i) => (mean[i] === null || mean[i + 2] === null ? null : mean[i] + (mean[i + 2] * x) / 1000));

/* Angles at the flex planes: A vertical, A horizontal, B vertical, B horizontal. */
export function flexAngles(mean, planes) {
  if (!planesKnown(planes)) return null;
  const [a, b] = planes;
  const over = (n, sign) => (n === null ? null : (sign * 1000 * n) / (b - a));
  return [...at(mean, b).map((n) => over(n, 1)), ...at(mean, a).map((n) => over(n, -1))];
}

export const minus = (mean, target) => mean.map((n, i) => (n === null ? null : n - target[i]));

/* Moves of the feet, [[name, x], ..]: up (put in) and right positive; target less position. */
export function footMoves(mean, feet, target = [0, 0, 0, 0]) {
  const left = minus(mean, target);
  return feet.map(([name, x]) => {
    const [up, right] = at(left, x).map((n) => (n === null ? null : 0 - n));
    return { name, x, up, right };
  });
}

/* Each figure against its limit: value and share of it, null where a plane that counts was not read.
   `mean` is measured from the target; `rule` is vector or per-plane; axial is how far the gap is from nominal. */
export function limitLines(mean, limits, { rule = "vector", combined = false, planes = null, axial = null } = {}) {
  const angles = planes ? flexAngles(mean, planes) : null;
  const figures = {
    offset: mean.slice(0, 2),
    angularity: mean.slice(2),
    "flex-angle-a": angles ? angles.slice(0, 2) : [null, null],
    "flex-angle-b": angles ? angles.slice(2) : [null, null],
  };
  const lines = [];
  const add = (limit, quantity, plane, numbers) => {
    const value = numbers.includes(null) ? null : Math.hypot(...numbers);
    lines.push({
      quantity, plane, value, limit: limit.value, share: value === null ? null : value / limit.value,
      family: limit.family ?? "sheet", source: limit.source ?? "",
    });
  };
  for (const limit of limits) {
    if (limit.quantity === "axial") {
      add(limit, "axial", "", [axial]);
      continue;
    }
    const names = limit.quantity === "flex-angle" ? ["flex-angle-a", "flex-angle-b"] : [limit.quantity];
    for (const name of names)
      if (rule === "vector") add(limit, name, "", figures[name]);
      else ["vertical", "horizontal"].forEach((plane, i) => add(limit, name, plane, [figures[name][i]]));
  }
  const sum = combined ? summed(lines) : null;
  return sum ? [...lines, sum] : lines;
}

/* The data sheet's sum of ratios: the largest of each of offset, angle and axial, together at most 1. */
function summed(lines) {
  const groups = new Map();
  for (const line of lines.filter((one) => one.family === "sheet")) {
    const group = ["offset", "axial"].includes(line.quantity) ? line.quantity : "angle";
    groups.set(group, [...(groups.get(group) ?? []), line.share]);
  }
  if (groups.size < 2) return null;
  const all = [...groups.values()];
  const value = all.flat().includes(null) ? null : all.reduce((sum, group) => sum + Math.max(...group), 0);
  return { quantity: "combined", plane: "", value, limit: 1, share: value, family: "sheet", source: "" };
}
