/* How the sheet looks on this device: paper light, dark or for bright sun, keys for either hand.
   Kept in this browser only; without storage (private windows) the choice lasts for the page. */
const KEPT = { theme: ["light", "dark", "sun"], hand: ["left"] };

function kept(name) {
  try {
    const value = localStorage.getItem(`asleft-${name}`);
    return KEPT[name].includes(value) ? value : "";
  } catch {
    return "";
  }
}

function show(name, value) {
  if (value) document.documentElement.dataset[name] = value;
  else delete document.documentElement.dataset[name];
}

function keep(name, value) {
  show(name, value);
  try {
    if (value) localStorage.setItem(`asleft-${name}`, value);
    else localStorage.removeItem(`asleft-${name}`);
  } catch {
    /* not kept; still shown */
  }
}

function offer() {
  const form = document.querySelector("[data-look]");
  if (!form) return;
  for (const [name, selector] of [["theme", "[data-look-paper]"], ["hand", "[data-look-hand]"]]) {
    const select = form.querySelector(selector);
    select.value = kept(name);
    select.addEventListener("change", () => keep(name, select.value));
  }
  form.addEventListener("submit", (event) => event.preventDefault());
  form.hidden = false;
}

for (const name of Object.keys(KEPT)) show(name, kept(name));
/* Another window of the same browser changed it. */
addEventListener("storage", ({ key }) => {
  for (const name of Object.keys(KEPT)) if (key === `asleft-${name}`) show(name, kept(name));
});
if (document.readyState === "loading") addEventListener("DOMContentLoaded", offer, { once: true });
else offer();
