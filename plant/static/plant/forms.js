/* Forms that forgive: a refusal takes the focus, a second tap sends nothing twice, leaving with unsaved entries asks. */

function focusRefusal(root) {
  const box = root.querySelector("[data-focus]");
  if (box) box.focus();
}

focusRefusal(document);
document.addEventListener("htmx:afterSwap", (event) => focusRefusal(event.detail.target));

/* A link in a refusal goes to a field: put the cursor into it, also where the id stands on a group. */
document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-focus] a[href^='#']");
  if (!link) return;
  const goal = document.getElementById(link.getAttribute("href").slice(1));
  const field = goal && (goal.matches("input, select, textarea") ? goal : goal.querySelector("input, select, textarea"));
  if (!field) return;
  event.preventDefault();
  field.focus();
});

/* data-once: the same form is sent once until the page is shown again (also by the Back button). */
const sent = new WeakSet();
const typed = new WeakSet();
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.matches("[data-once]")) {
    if (sent.has(form)) event.preventDefault();
    sent.add(form);
  }
  typed.delete(form);
});
addEventListener("pageshow", () => document.querySelectorAll("[data-once]").forEach((form) => sent.delete(form)));

/* data-keep: what was typed and not saved is not lost without a question. */
document.addEventListener("input", (event) => {
  const form = event.target.closest("[data-keep]");
  if (form) typed.add(form);
});
document.addEventListener("htmx:afterRequest", (event) => {
  const form = event.detail.elt.closest("form");
  if (form && event.detail.successful) typed.delete(form);
  if (form) sent.delete(form);
});
addEventListener("beforeunload", (event) => {
  if ([...document.querySelectorAll("[data-keep]")].some((form) => typed.has(form))) event.preventDefault();
});
