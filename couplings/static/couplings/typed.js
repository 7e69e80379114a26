/* Typed fields to the sets of align.js, by the rules of plant/units.py and couplings/calculations/typed_sets.py.

   `units` holds, per kind, the unit of a bare number and what every word is worth in mm or mrad ("tan": an angle whose
   tangent is the slope). A text that is not one clear number is NaN here; the server says what is wrong with it. */

const HOURS = [12, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11];
const AGAIN = ", shafts turned half a turn";
const PLAIN = /^[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?$/;
const SPACED = /^[+-]?[1-9]\d{0,2}(?: \d{3})+(?:[.,]\d*)?$/;
const TWO_MEANINGS = /^[+-]?[1-9]\d{0,2},\d{3}$/;
const TRAVEL = 25; /* mm: no dial of the trade goes further; the server asks for the unit */

/* "−0,05 mm" is [-0.05, "mm"]; null where it is no clear number. */
export function split(text) {
  const cleaned = text.replace(/[\u2212\u2010-\u2013\uFE63\uFF0D]/g, "-").trim().replace(/\s+/g, " ");
  if (cleaned.length > 60) return null;
  let digits = /^[+-]?\s*[\d.,'’\s]*(?:[eE][+-]?\d+)?/.exec(cleaned)[0];
  const unit = cleaned.slice(digits.length).trim();
  digits = digits.trim().replace(/^([+-])\s+/, "$1");
  if (!/\d/.test(digits) || unit.startsWith("/")) return null;
  if (SPACED.test(digits)) digits = digits.replaceAll(" ", "");
  else if (TWO_MEANINGS.test(digits)) return null;
  if (!PLAIN.test(digits)) return null;
  return [Number(digits.replace(",", ".")), unit];
}

function worth(word, kind) {
  const known = (name) => (Object.hasOwn(kind.words, name) ? kind.words[name] : undefined);
  const bare = word.replaceAll("°", "deg").replace(/[µμ]/g, "u").replaceAll("⁄", "/").replaceAll("″", '"').replace(/\s+/g, "");
  return known(word) ?? known(bare) ?? known(bare.toLowerCase());
}

/* A typed quantity in mm or mrad; undefined where nothing stands there, NaN where it cannot be read. */
export function quantity(text, kind) {
  if (!text || !text.trim()) return undefined;
  const parts = split(text);
  if (!parts) return Number.NaN;
  const [number, word] = parts;
  const factor = word ? worth(word, kind) : kind.words[kind.unit];
  if (factor === undefined || Math.abs(number) > 1e12) return Number.NaN;
  if (Array.isArray(factor)) return number * factor[0] + factor[1];
  if (factor !== "tan") return number * factor;
  return Math.abs(number) < 90 ? 1000 * Math.tan((number * Math.PI) / 180) : Number.NaN;
}

function degrees(text) {
  const parts = split(text);
  if (!parts || !["", "°", "deg"].includes(parts[1]) || Math.abs(parts[0]) > 360) return Number.NaN;
  return parts[0];
}

const nameOf = (layer, where) => (layer && where === "more" ? `${layer}_${where}` : `${layer}${where}`);

/* "45: 0.12; 135: -0.03" as [[angle, reading], ..]. */
function listed(text, kind) {
  return (text ?? "")
    .split(/[;\n]/)
    .filter((part) => part.trim())
    .map((part) => {
      const [, angle, reading] = /^([^:]+):(.+)$/s.exec(part.trim()) ?? [];
      return angle === undefined ? [Number.NaN, Number.NaN] : [degrees(angle), quantity(reading, kind)];
    });
}

/* Readings of one layer with those of the dial opposite: by the clock, then at other angles. */
function readingsOf(get, at, layer, second, kind) {
  const found = [];
  for (const hour of HOURS) {
    const value = quantity(get(at + nameOf(layer, hour)), kind);
    const beside = quantity(get(at + nameOf(second, hour)), kind);
    if (value !== undefined || beside !== undefined) found.push([(hour % 12) * 30, value, beside]);
  }
  const firsts = listed(get(at + nameOf(layer, "more")), kind);
  const seconds = listed(get(at + nameOf(second, "more")), kind);
  for (const [angle, value] of firsts)
    found.push([angle, value, seconds.find(([other]) => other === angle)?.[1]]);
  for (const [angle, beside] of seconds)
    if (!firsts.some(([other]) => other === angle)) found.push([angle, undefined, beside]);
  return found;
}

/* The sets of a method as typed: those it asks for, then those taken again with the shafts turned.
   `get(name)` is a field's text; null where something that stands there cannot be read or is not all there. */
export function setsOf(get, rows, units, travel = TRAVEL) {
  const [own, again] = [[], []];
  let clear = true;
  const number = (name, kind) => {
    const value = quantity(get(name), units[kind]);
    if (Number.isNaN(value)) clear = false;
    return value;
  };
  rows.forEach((row, place) => {
    const at = `set${place}.`;
    const word = (name) => (get(at + name) ?? "").trim();
    const same = {
      kind: row.kind,
      carriedBy: (row.either ? word("carried_by") : "") || row.carried_by || undefined,
      plane: row.plane || undefined,
      surface: word("surface") || "near",
      half: word("half") === "half",
      bracket: word("bracket") || undefined,
      x: number(`${at}x`, "size") ?? (row.kind === "rim" ? undefined : 0),
      swingRadius: number(`${at}swing_radius`, "size"),
      distance: number(`${at}distance`, "size"),
      sag: number(`${at}sag`, "gap") ?? 0,
      sagU: number(`${at}sag_u`, "gap") ?? 0,
      u: number(`${at}u`, "gap") ?? units.instruments?.[word("instrument")] ?? row.u,
    };
    const layer = (name, first, second, more = {}) => {
      const read = readingsOf(get, at, first, second, units.gap);
      const both = read.some(([, , beside]) => beside !== undefined);
      const far = row.kind === "gap" ? Number.POSITIVE_INFINITY : travel;
      for (const [angle, value, beside] of read) {
        const whole = Number.isFinite(angle) && Math.abs(value) <= far && (!both || Math.abs(beside) <= TRAVEL);
        if (!whole) clear = false;
      }
      if (new Set(read.map(([angle]) => ((angle % 360) + 360) % 360)).size < read.length) clear = false;
      const opposed = both ? { opposed: read.map(([, , beside]) => beside) } : {};
      return { ...same, name, angles: read.map(([angle]) => angle), readings: read.map(([, value]) => value), ...opposed, ...more };
    };
    const turned = layer(row.label + AGAIN, "turned", "turned_opposed", { turned: true });
    if (turned.readings.length && (get(`${at}sag_u`) ?? "").trim()) {
      same.bracket ??= row.label; /* the same bracket both times: one error of its sag, not two */
      turned.bracket = same.bracket;
    }
    own.push(layer(row.label, "", "opposed"));
    if (turned.readings.length) again.push(turned);
  });
  return clear ? [...own, ...again] : null;
}

/* Readings of one clock alone, for its closure while the rest is still blank; null where they cannot be read. */
export const oneSet = (get, row, place, units) => {
  const within = (name) => (name.startsWith("set0.") ? get(`set${place}.${name.slice(5)}`) : "");
  return setsOf(within, [row], units, Number.POSITIVE_INFINITY)?.[0] ?? null;
};

const pair = (get, names, kind) => names.map((name) => quantity(get(name), kind) ?? null);

/* What an instrument showed: {offset, slope} or {a, b}, each (vertical, horizontal). */
export function directOf(get, units) {
  const angles = ["angle_a_v", "angle_a_h", "angle_b_v", "angle_b_h"];
  if (angles.some((name) => (get(name) ?? "").trim()))
    return { a: pair(get, angles.slice(0, 2), units.slope), b: pair(get, angles.slice(2), units.slope) };
  return { offset: pair(get, ["offset_v", "offset_h"], units.gap), slope: pair(get, ["slope_v", "slope_h"], units.slope) };
}

/* Foot planes typed in the form, [[name, x], ..]; NaN in one of them makes none of them usable. */
export function feetOf(get, units) {
  const rows = [0, 1, 2, 3].map((n) => [(get(`feet${n}.name`) ?? "").trim(), quantity(get(`feet${n}.x`), units.size)]);
  while (rows.length && rows.at(-1)[1] === undefined) rows.pop();
  return rows.every(([, x]) => Number.isFinite(x)) ? rows : [];
}

export function planesOf(get, units) {
  const found = ["flex_a", "flex_b"].map((name) => quantity(get(name), units.size));
  return found.every(Number.isFinite) && found[1] > found[0] ? found : null;
}

/* Limits, target and gap where the form asks for them: the calculation without a record. */
export function termsOf(get, units) {
  const word = (name) => (get(name) ?? "").trim();
  const one = (name, kind) => quantity(get(name), units[kind]);
  const difference = one("limit_gap_difference", "gap");
  const diameter = one("limit_over_diameter", "size");
  const angularity = one("limit_angularity", "slope") ?? (difference / diameter) * 1000;
  const named = { offset: one("limit_offset", "gap"), angularity, "flex-angle": one("limit_flex_angle", "slope"), axial: one("limit_axial", "gap") };
  const limits = Object.entries(named)
    .filter(([, value]) => value > 0)
    .map(([quantity_, value]) => ({ quantity: quantity_, value, family: "sheet" }));
  const parts = ["target", "target1"].map((each) =>
    [["offset_v", "gap"], ["offset_h", "gap"], ["slope_v", "slope"], ["slope_h", "slope"]].map(
      ([name, kind]) => one(`${each}_${name}`, kind) ?? 0,
    ),
  );
  const gaps = [0, 1, 2, 3].map((n) => one(`gap${n}`, "gap")).filter((gap) => gap !== undefined);
  const nominal = one("gap_nominal", "gap");
  const place = gaps.reduce((sum, gap) => sum + gap, 0) / gaps.length + (one("rotor_from_place", "gap") ?? 0);
  return {
    limits,
    rule: word("limit_rule") || "vector",
    combined: word("limit_combined") === "yes",
    target: [0, 1, 2, 3].map((i) => parts[0][i] + parts[1][i]),
    axial: gaps.length && nominal !== undefined ? place - nominal : null,
  };
}
