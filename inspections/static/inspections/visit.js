/* What others entered meanwhile appears in its field; a field in hand is left alone and asks when it is saved. */
document.addEventListener("asleft:entered", (event) => {
  const form = document.querySelector("[data-visit-step]");
  if (!form) return;
  for (const [id, text] of Object.entries(event.detail)) {
    if (id === "elt") continue;
    const field = document.getElementById(id);
    if (!field) continue;
    const radio = field.querySelector?.(`input[type=radio][value="${CSS.escape(text)}"]`);
    if (radio) {
      radio.checked = true;
      continue;
    }
    if (field === document.activeElement) {
      /* Keep the version this page saw before, so that saving this field compares instead of overwriting. */
      form.querySelector("#seen").value = form.dataset.seen || "0";
      continue;
    }
    field.value = text;
    const was = form.querySelector("#was");
    const shown = JSON.parse(was.value || "{}");
    shown[field.name] = text;
    was.value = JSON.stringify(shown);
  }
  form.dataset.seen = form.querySelector("#seen").value;
});

document.addEventListener("htmx:beforeRequest", (event) => {
  const form = event.target.closest("[data-visit-step]");
  if (form) form.dataset.seen = form.querySelector("#seen").value;
});
