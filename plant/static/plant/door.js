/* Who signs out, or comes to the door, leaves no page of his on this phone. What was typed and not sent stays: it is work. */
async function forget() {
  try {
    for (const name of Object.keys(localStorage)) if (name.startsWith("asleft-saved:")) localStorage.removeItem(name);
    for (const name of await caches.keys()) if (name.startsWith("asleft-pages:")) await caches.delete(name);
  } catch {
    /* nothing is kept where storage is shut */
  }
}

if (document.querySelector("[data-door]")) forget();
document.addEventListener("submit", (event) => {
  if (event.target.matches("[data-leaving]")) forget();
});
