/* Our own number keys: data-keypad holds buttons with data-key; fields that want them carry data-keys.
   The system's keyboard stays away (inputmode none) only while our keys are on the screen; a real keyboard always works. */
const pad = document.querySelector("[data-keypad]");
let field = null;

const fields = () => [...document.querySelectorAll("input[data-keys]:not(:disabled)")].filter((f) => f.offsetParent);
const narrow = matchMedia("(max-width: 63.99em), (pointer: coarse)");
const shown = () => pad && (narrow.matches || pad.offsetParent !== null);

function say(input) {
  input.dispatchEvent(new Event("input", { bubbles: true }));
}

function put(input, text, at) {
  input.value = text;
  input.setSelectionRange(at, at);
  say(input);
}

const ACTS = {
  sign(input) {
    const bare = input.value.replace(/^\s*[+\-−]/, "");
    const minus = /^\s*[-−]/.test(input.value);
    put(input, (minus ? "+" : "−") + bare, bare.length + 1);
  },
  delete(input) {
    const [from, to] = [input.selectionStart, input.selectionEnd];
    const start = from === to ? Math.max(0, from - 1) : from;
    put(input, input.value.slice(0, start) + input.value.slice(to), start);
  },
  next(input) {
    const all = fields();
    input.dispatchEvent(new Event("change", { bubbles: true }));
    const following = all[(all.indexOf(input) + 1) % all.length];
    if (!following) return;
    following.focus();
    following.select(); /* what is typed next replaces what stood there; the keys never append to an old reading */
  },
};

function digit(input, key) {
  const [from, to] = [input.selectionStart, input.selectionEnd];
  put(input, input.value.slice(0, from) + key + input.value.slice(to), from + key.length);
}

function take(input) {
  field = input;
  document.querySelectorAll(".cf.on").forEach((place) => place.classList.remove("on"));
  input.closest(".cf")?.classList.add("on");
  const all = fields();
  const following = all[(all.indexOf(input) + 1) % all.length];
  pad.querySelectorAll("[data-next-name]").forEach((name) => {
    name.textContent = following && following !== input ? following.dataset.keys : "";
  });
}

if (pad) {
  /* Enter on a real keyboard goes on to the next reading, as Next does; it never sends a half-filled form. */
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("input[data-keys]")) return;
    event.preventDefault();
    ACTS.next(event.target);
  });
  pad.hidden = false;
  for (const input of fields()) if (shown()) input.inputMode = "none";
  document.addEventListener("focusin", (event) => {
    if (!event.target.matches("input[data-keys]")) return;
    event.target.inputMode = shown() ? "none" : "decimal";
    take(event.target);
  });
  pad.addEventListener("pointerdown", (event) => event.preventDefault()); /* the field keeps the cursor */
  pad.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]");
    if (!key) return;
    if (!field || !field.isConnected) field = fields()[0];
    if (!field) return;
    const act = ACTS[key.dataset.key];
    if (act) act(field);
    else digit(field, key.dataset.key);
    if (document.activeElement !== field && key.dataset.key !== "next" && event.detail > 0) field.focus();
  });
  if (fields()[0]) take(fields()[0]);
}
