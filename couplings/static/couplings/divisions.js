/* The dial's divisions: a whole number typed into a reading counts them and is written out as a length when one goes on.
   A number with a decimal mark or a unit is what it says. Only what was typed just now is ever written out. */
import { data, form, remember, remembered } from "./page.js";

const KEPT = "asleft-divisions";
const WHOLE = /^\s*([+\-\u2212]?)\s*(\d{1,5})\s*$/;
const edited = new WeakSet();
const box = document.querySelector("[data-divisions]");
let chosen = data && box && Object.hasOwn(data.divisions, remembered(KEPT)) ? remembered(KEPT) : "";

/* The text of a field as it will be saved. */
export function written(input) {
  const text = input.value;
  const division = chosen && edited.has(input) && input.matches("[data-keys]") ? data.divisions[chosen] : null;
  const found = division && WHOLE.exec(text);
  if (!found) return text;
  const count = Number(found[2]);
  if (!count) return "0";
  const length = division.decimals ? (count / 10 ** division.decimals).toFixed(division.decimals) : String(count);
  return found[1] + length + (division.unit === data.units.gap.unit ? "" : ` ${division.unit}`);
}

/* The text of any field as it will be saved. */
export const textOf = (input) => (input.matches("input") ? written(input) : input.value);

/* Every field of the form by its name, as it will be saved. */
export function fieldText(name) {
  const found = form.elements.namedItem(name);
  if (!found) return "";
  return found instanceof RadioNodeList ? found.value : textOf(found);
}

if (form && data) {
  document.addEventListener("input", (event) => edited.add(event.target), true);
  document.addEventListener(
    "change",
    (event) => {
      const input = event.target;
      if (!input.matches?.("input[data-keys]")) return;
      input.value = written(input);
      edited.delete(input);
    },
    true,
  );
}

if (box && data) {
  box.hidden = false;
  for (const radio of box.querySelectorAll("input")) radio.checked = radio.value === chosen;
  box.addEventListener("change", (event) => {
    event.stopPropagation(); /* how one types is this phone's matter and nothing to save */
    chosen = event.target.value;
    remember(KEPT, chosen);
  });
  box.addEventListener("input", (event) => event.stopPropagation());
}
