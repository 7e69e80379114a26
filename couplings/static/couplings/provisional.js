/* The result while one types, marked provisional: the server's answer takes its place, and without a server it stays.
   Value stands against limit here; the verdict comes with the server. */
import { closure } from "./align.js";
import { fieldText } from "./divisions.js";
import { data, form, percent, shown } from "./page.js";
import { redraw } from "./ring.js";
import { doubt } from "./slip.js";
import { survey } from "./survey.js";
import { oneSet } from "./typed.js";

const box = document.querySelector("[data-provisional]");
const confirmed = document.querySelector("[data-confirmed]");
const spoken = document.querySelector("[data-spoken]");
const ANGLES = new Set(["angularity", "flex-angle-a", "flex-angle-b"]);
const brief = Object.assign(document.createElement("p"), { className: "brief", hidden: true });
let drawing = 0;
let speaking = 0;

const filled = (template, words) => template.replace(/\{(\w+)\}/g, (_, name) => words[name]);
const fill = (part, rows) => {
  const body = box.querySelector(`[data-rows=${part}]`);
  const table = body.closest("table");
  const heads = [...table.tHead.rows[0].cells].slice(1).map((cell) => cell.textContent);
  table.hidden = !rows.length;
  body.replaceChildren(...rows.map(([name, ...cells]) => row(name, cells, heads)));
};

function row(head, cells, heads) {
  const line = document.createElement("tr");
  const name = document.createElement("th");
  name.scope = "row";
  name.textContent = head;
  line.append(name);
  cells.forEach((text, i) => {
    const cell = document.createElement("td");
    cell.dataset.h = heads[i];
    const strong = document.createElement("b");
    strong.textContent = text;
    cell.append(strong);
    line.append(cell);
  });
  return line;
}

function moved(value, plus, minus) {
  if (value === null) return data.words.plane;
  return `${value >= 0 ? plus : minus} ${shown(Math.abs(value), "gap")}`;
}

function against(line) {
  const { words } = data;
  if (line.quantity === "combined") return line.share === null ? words.unknown : percent(line.share);
  const kind = ANGLES.has(line.quantity) ? "slope" : "gap";
  if (line.value === null) return `${words.unknown} (${words.limit} ${shown(line.limit, kind)})`;
  return `${shown(line.value, kind, { bare: true })} ${words.of} ${shown(line.limit, kind)}`;
}

function lineName(line) {
  const { words } = data;
  const name = line.plane ? `${words[line.quantity]}, ${words[line.plane]}` : words[line.quantity];
  return line.quantity === "combined" || data.asks ? name : `${name} (${line.source || words[line.family]})`;
}

function show(found) {
  const { words } = data;
  const both = (name, pair, kind) => [name, ...pair.map((n) => shown(n, kind, { signed: true }))];
  const { mean, angles } = found;
  const position = [both(words.offset, mean.slice(0, 2), "gap"), both(words.angularity, mean.slice(2), "slope")];
  if (angles) position.push(both(words["flex-angle-a"], angles.slice(0, 2), "slope"));
  if (angles) position.push(both(words["flex-angle-b"], angles.slice(2), "slope"));
  fill("position", position);
  fill("lines", found.lines.map((line) => [lineName(line), against(line), line.share === null ? words.unknown : percent(line.share)]));
  fill("moves", found.moves.map((foot) => [foot.name || words.feet, moved(foot.up, words.up, words.down), moved(foot.right, words.right, words.left)]));
}

/* The line nearest to its limit, below the last clock, where the eyes are while one types. */
function inBrief(found) {
  const known = (found?.lines ?? []).filter((line) => line.share !== null);
  const most = known.reduce((a, b) => (a && a.share >= b.share ? a : b), null);
  const text = most ? `${spoken.dataset.spoken}: ${lineName(most)}, ${against(most)}, ${percent(most.share)} ${data.words.share}.` : "";
  const last = [...document.querySelectorAll("[data-closure]")].at(-1);
  if (last && !brief.isConnected) last.after(brief);
  brief.textContent = text;
  brief.hidden = !text;
  return text;
}

/* The same aloud, once one has stopped typing. */
function speak(text) {
  clearTimeout(speaking);
  speaking = setTimeout(() => {
    spoken.textContent = text || spoken.dataset.spoken;
  }, 1200);
}

function hour(angle) {
  const place = ((angle % 360) + 360) % 360;
  const input = form.elements.namedItem(`set0.${place / 30 || 12}`);
  return Number.isInteger(place / 30) && input ? input.dataset.keys : `${place}°`;
}

/* Closure, points and question of one clock. */
function face(place) {
  const [line, ask] = ["closure", "ask"].map((what) => document.querySelector(`[data-${what}="set${place}"]`));
  if (!line) return;
  const set = oneSet(fieldText, data.sets[place], place, data.units);
  const svg = line.closest("fieldset")?.querySelector("svg.rg");
  if (svg && set) redraw(svg, set);
  const found = set && set.readings.length > 3 ? closure(set) : null;
  line.hidden = !found;
  if (found) {
    const fits = Math.abs(found.value) <= data.closure_limit + 1e-9;
    const text = filled(fits ? data.words.closes : data.words.open, {
      value: shown(found.value, "gap", { signed: true }),
      limit: shown(data.closure_limit, "gap"),
    });
    if (line.textContent !== text) line.textContent = text;
  }
  const why = set && doubt(set, data.closure_limit, data.before?.[`set${place}`] ?? []);
  const asked = why
    ? filled(data.words[why.why], {
        where: hour(why.angle),
        value: shown(why.value, "gap", { signed: true }),
        other: why.other === undefined ? "" : shown(why.other, "gap", { signed: why.why === "slip" }),
      })
    : "";
  if (ask.textContent !== asked) ask.textContent = asked;
  ask.hidden = !why;
}

function work() {
  drawing = 0;
  if (fieldText("method") && fieldText("method") !== data.method) return; /* another method asks for other fields */
  data.sets.forEach((_, place) => face(place));
  const found = fieldText("same_as") ? null : survey(fieldText, data);
  const text = inBrief(found);
  box.hidden = !found;
  if (confirmed && !confirmed.querySelector("form.caution")) confirmed.hidden = Boolean(found);
  if (!found) return;
  const warm = data.asks && [...form.elements].some((one) => one.name?.includes("temperature") && one.value.trim());
  box.querySelector("[data-warm]").hidden = !warm;
  show(found);
  speak(text);
}

export function soon() {
  drawing ||= requestAnimationFrame(work);
}

/* Which picture of a dial fits what is said of it. */
function dials() {
  data.sets.forEach((set, place) => {
    const carried = (set.either && fieldText(`set${place}.carried_by`)) || set.carried_by || "";
    const surface = fieldText(`set${place}.surface`) || "near";
    for (const one of document.querySelectorAll(`[data-dial="set${place}"]`))
      one.hidden = one.dataset.when !== `${carried} ${surface}`;
  });
  const view = fieldText("viewed_from");
  for (const one of document.querySelectorAll("[data-view]")) one.toggleAttribute("hidden", one.dataset.view !== view);
}

if (data && form && box) {
  data.sets.forEach((_, place) => face(place));
  dials();
  form.addEventListener("input", soon);
  form.addEventListener("change", () => {
    dials();
    soon();
  });
  document.addEventListener("asleft:typed", soon);
  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.target !== confirmed) return;
    cancelAnimationFrame(drawing);
    drawing = 0;
    clearTimeout(speaking);
    brief.hidden = true;
    confirmed.hidden = false;
    box.hidden = true;
  });
  document.addEventListener("htmx:afterSettle", (event) => {
    /* Typed on while the answer was under way: it is not the answer to what stands there now. */
    const was = JSON.parse(form.querySelector("#was")?.value || "{}");
    if (event.target === confirmed && Object.entries(was).some(([name, text]) => fieldText(name) !== text)) soon();
  });
}
