/* What is typed in a step stays on this phone until the server has it: no signal, a flat battery, a closed page.
   It is offered for sending; the version this hand last saw goes with it, so nothing is entered twice or over somebody. */
import { remember, remembered } from "../couplings/page.js";
import { textOf } from "../couplings/divisions.js";

const form = document.querySelector("[data-visit-step]");
const box = document.querySelector("[data-kept]");
const OWN = new Set(["csrfmiddlewaretoken", "seen", "was"]);
const PAUSES = [3, 5, 10, 20, 30]; /* seconds between looks for the signal */
const name = box && `asleft-kept:${box.dataset.person}:${location.pathname}`;
const copy = box && `asleft-saved:${box.dataset.person}:${location.pathname}`;
let waiting = false;
let tries = 0;
let looking = 0;

const seen = () => form.querySelector("#seen");
const was = () => JSON.parse(form.querySelector("#was").value || "{}");

function texts() {
  const found = {};
  for (const one of form.elements) {
    if (!one.name || OWN.has(one.name) || one.matches("button, fieldset") || one.matches(":disabled")) continue;
    if (one.type !== "radio" && one.type !== "checkbox") found[one.name] = textOf(one);
    else if (one.checked) found[one.name] = one.value;
    else found[one.name] ??= "";
  }
  return found;
}

function unsent() {
  const before = was();
  return Object.fromEntries(Object.entries(texts()).filter(([field, text]) => text !== (before[field] ?? "")));
}

function show(at, { asked = false, out = false } = {}) {
  box.hidden = !at;
  if (!at) return;
  const moment = new Date(at);
  box.querySelector("time").dateTime = at;
  box.querySelector("time").textContent = moment.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  box.querySelector("[data-waits]").hidden = !waiting || out;
  box.querySelector("[data-back]").hidden = waiting || out;
  box.querySelector("[data-out]").hidden = !out;
  box.querySelector("[data-send]").hidden = waiting || !asked || out;
  box.querySelector("[data-drop]").hidden = waiting || !asked || out;
  document.querySelector("#saved").hidden = true;
}

function settle() {
  show("");
  document.querySelector("#saved").hidden = false;
}

/* Keep what the server does not have; forget it once it has. */
function keep() {
  const fields = unsent();
  if (!Object.keys(fields).length) {
    remember(name, "");
    if (!waiting) settle();
    return "";
  }
  const at = new Date().toISOString();
  remember(name, JSON.stringify({ fields, seen: seen().value, at, title: document.title.split(" · ")[0] }));
  return at;
}

/* Something could not be sent: look for the signal, soon at first, then less often. */
function wait() {
  waiting = true;
  show(keep());
  looking ||= setTimeout(look, 1000 * PAUSES[Math.min(tries, PAUSES.length - 1)]);
}

function arrived() {
  waiting = false;
  tries = 0;
  clearTimeout(looking);
  looking = 0;
}

async function look() {
  looking = 0;
  tries += 1;
  let answer = null;
  try {
    answer = await fetch(location.pathname, { method: "HEAD", cache: "no-store", redirect: "manual" });
  } catch {
    return wait();
  }
  if (answer.status >= 500) return wait();
  arrived();
  const at = keep();
  if (at) show(at, { asked: true, out: answer.type === "opaqueredirect" });
}

function send() {
  box.querySelector("[data-send]").hidden = true;
  globalThis.htmx.trigger(form, "change");
}

function put(field, text) {
  const found = form.elements.namedItem(field);
  if (!found) return;
  if (found.type === "checkbox") found.checked = found.value === text;
  else found.value = text;
}

/* A page that was kept here may be older than what the server had last: a copy of that says so and goes into its fields. */
function catchUp() {
  let last = null;
  try {
    last = JSON.parse(remembered(copy) || "null");
  } catch {
    /* unreadable: the page stands as it is */
  }
  if (!last) return;
  if (Number(last.seen) <= Number(seen().value)) {
    remember(copy, "");
    return;
  }
  for (const [field, text] of Object.entries(last.was)) put(field, text);
  seen().value = last.seen;
  form.dataset.seen = last.seen;
  form.querySelector("#was").value = JSON.stringify(last.was);
  document.dispatchEvent(new Event("asleft:typed"));
}

/* What was kept before the page was opened goes back into its fields, with the version it was typed on. */
function restore() {
  let kept = null;
  try {
    kept = JSON.parse(remembered(name) || "null");
  } catch {
    /* unreadable: nothing to offer */
  }
  if (!kept) return;
  const now = texts();
  const fields = Object.entries(kept.fields).filter(([field, text]) => field in now && now[field] !== text);
  if (!fields.length) {
    remember(name, "");
    return;
  }
  for (const [field, text] of fields) put(field, text);
  seen().value = kept.seen;
  form.dataset.seen = kept.seen;
  document.dispatchEvent(new Event("asleft:typed"));
  show(kept.at, { asked: true });
  if (navigator.onLine === false) wait();
}

if (form && box && !form.querySelector("fieldset.whole:disabled")) {
  catchUp();
  restore();
  form.addEventListener("input", keep);
  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.target.id !== "live") return;
    arrived();
    remember(copy, JSON.stringify({ seen: seen().value, was: was(), at: new Date().toISOString() }));
    if (!keep()) settle();
  });
  document.addEventListener("htmx:sendError", wait);
  document.addEventListener("htmx:timeout", wait);
  document.addEventListener("htmx:responseError", (event) => {
    if (event.detail.xhr.status >= 500) wait();
  });
  addEventListener("online", () => waiting && look());
  box.querySelector("[data-send]").addEventListener("click", send);
  box.querySelector("[data-drop]").addEventListener("click", () => {
    remember(name, "");
    location.reload();
  });
  form.addEventListener("submit", (event) => {
    if (!waiting && navigator.onLine !== false) return;
    event.preventDefault(); /* a page of the browser's own would take the place of what was typed */
    send();
  });
  document.addEventListener("submit", (event) => {
    if (event.target.closest("#live")) remember(name, ""); /* chosen between two texts: that is what holds */
  });
}
