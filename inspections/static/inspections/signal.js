/* A visit's pages without a signal: the worker that keeps them, what is typed and not sent yet, what the signal is. */
import { remember, remembered } from "../couplings/page.js";

const box = document.querySelector("[data-signal]");
const KEPT = `asleft-kept:${box?.dataset.person}:`;
const COPIES = "asleft-saved:";
const DAYS = 14;

const links = () => [...document.querySelectorAll("[data-steps] a[href]")].map((link) => [link, link.pathname]);

/* Names of what is kept here and not sent, by the address of its page. */
function unsent() {
  try {
    return Object.keys(localStorage)
      .filter((name) => name.startsWith(KEPT))
      .map((name) => name.slice(KEPT.length));
  } catch {
    return [];
  }
}

function mark() {
  const waiting = new Set(unsent());
  for (const [link, path] of links()) {
    link.querySelector(".unsent")?.remove();
    if (!waiting.has(path)) continue;
    const said = Object.assign(document.createElement("b"), { className: "unsent", textContent: box.dataset.unsent });
    link.append(" ", said);
  }
  const here = [...waiting].filter((path) => path.startsWith(box.dataset.of ?? ""));
  const list = document.querySelector("[data-waiting]");
  if (list) {
    list.hidden = !here.length;
    list.querySelector("ul")?.replaceChildren(...here.map(line));
  }
  const quiet = navigator.onLine !== false;
  box.hidden = quiet;
  box.textContent = quiet ? "" : box.dataset.none;
}

function line(path) {
  const link = Object.assign(document.createElement("a"), { href: path, textContent: titleOf(path) });
  const item = document.createElement("li");
  item.append(link);
  return item;
}

function titleOf(path) {
  try {
    return JSON.parse(remembered(KEPT + path)).title || path;
  } catch {
    return path;
  }
}

/* Copies of what the server has are only wanted as long as a page kept here may be older than they are. */
function tidy() {
  const before = new Date(Date.now() - DAYS * 86_400_000).toISOString();
  try {
    for (const name of Object.keys(localStorage).filter((one) => one.startsWith(COPIES)))
      if (!(JSON.parse(localStorage.getItem(name))?.at > before)) remember(name, "");
  } catch {
    /* unreadable: left as it is */
  }
}

async function register() {
  if (!box.dataset.worker || !("serviceWorker" in navigator)) return; /* not over plain HTTP from another machine */
  try {
    await navigator.serviceWorker.register(box.dataset.worker);
    const { active } = await navigator.serviceWorker.ready;
    active.postMessage({ pages: [location.pathname, box.dataset.of, ...links().map(([, path]) => path)] });
  } catch {
    /* it is a help, not a need */
  }
}

if (box) {
  tidy();
  mark();
  register();
  addEventListener("online", mark);
  addEventListener("offline", mark);
  addEventListener("pageshow", mark);
}
