/* The survey form of this page and what the server handed its scripts; both null where there is none. */
const given = document.getElementById("phone-data");
export const data = given ? JSON.parse(given.textContent) : null;
export const form = document.querySelector("form[data-phone]");

const MINUS = "\u2212";
const NO_BREAK = "\u00a0";

/* A base value as people read it: fixed decimals, a real minus, the unit of the site. */
export function shown(base, kind, { signed = false, bare = false } = {}) {
  if (base === null || base === undefined) return data.words.unknown;
  const { unit, label, decimals, words } = data.units[kind];
  const value = words[unit] === "tan" ? base : base / words[unit];
  const digits = Math.abs(value).toFixed(decimals);
  const nought = !/[1-9]/.test(digits);
  const sign = nought ? "" : value < 0 ? MINUS : signed ? "+" : "";
  return sign + digits + (bare ? "" : NO_BREAK + label);
}

export const percent = (share) => `${(100 * share).toFixed(0)}${NO_BREAK}%`;

/* What was kept on this phone, such as the way of typing; without storage it lasts for the page. */
export function remember(name, value) {
  try {
    if (value) localStorage.setItem(name, value);
    else localStorage.removeItem(name);
  } catch {
    /* not kept */
  }
}

export function remembered(name) {
  try {
    return localStorage.getItem(name) ?? "";
  } catch {
    return "";
  }
}
