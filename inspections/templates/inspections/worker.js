/* Visit pages last seen on this phone, for where there is no signal. It answers for the pages of visits alone, asks the
   server first, and keeps the pages of one person only: whoever else signs in, or out, takes them away. */
const WORDS = {{ words|safe }};
const PAGES = "asleft-pages:";
const FILES = "asleft-files";
const MOST_PAGES = 120;
const MOST_FILES = 90;
const PATIENCE = 6000; /* ms after which a weak signal counts as none, where there is a page to show instead */
const NAMED_BY_CONTENT = /\.[0-9a-f]{12}\./;
const VISIT = /^\/visits\/[0-9a-f-]{36}\/(steps\/[a-z-]+\/(\d+\/)?)?$/;
const NEEDED = /(?:src|href)="([^"]+\.(?:js|css|svg))"|(?:from|import)\s*"(\.[^"]+\.js)"/g;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname, search } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin) return;
  if (request.mode === "navigate" && VISIT.test(pathname) && !search) event.respondWith(page(request));
  else if (pathname.startsWith(WORDS.files)) event.respondWith(file(request.url));
});

/* A page asks that it and its steps be kept: it was open before this worker was there. */
self.addEventListener("message", (event) => event.waitUntil(ahead(event.data.pages ?? [])));

async function page(request) {
  const before = await seen(request.url);
  const asked = fetch(request).then(async (answer) => {
    if (answer.status > 501) throw new Error("nobody behind the door");
    await keep(request.url, answer.clone());
    return answer;
  });
  if (!before) return asked.catch(none);
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE, before));
  return Promise.race([asked.catch(() => before), late]);
}

async function file(url) {
  const kept = await caches.open(FILES);
  const found = await kept.match(url, { ignoreVary: true });
  if (found && NAMED_BY_CONTENT.test(url)) return found;
  try {
    const answer = await fetch(url);
    if (answer.ok) await kept.put(url, answer.clone());
    return answer;
  } catch (error) {
    if (found) return found;
    throw error;
  }
}

async function seen(url) {
  for (const name of await caches.keys()) {
    const found = name.startsWith(PAGES) && (await (await caches.open(name)).match(url, { ignoreVary: true }));
    if (found) return found;
  }
  return null;
}

/* What the server answered, under the name of whom it was for; what others left here goes. */
async function keep(url, answer) {
  const person = answer.headers.get("X-Asleft-Person");
  if (!person) return;
  for (const name of await caches.keys()) if (name.startsWith(PAGES) && name !== PAGES + person) await caches.delete(name);
  const own = await caches.open(PAGES + person);
  await own.delete(url, { ignoreVary: true });
  if (!answer.ok) return;
  await own.put(url, answer.clone());
  await trim(own, MOST_PAGES);
  await needed(await answer.text(), url);
}

/* The files that a page names, and those that its scripts name. */
async function needed(text, base) {
  const kept = await caches.open(FILES);
  for (const [, linked, imported] of text.matchAll(NEEDED)) {
    const url = new URL(linked ?? imported, base);
    if (!url.pathname.startsWith(WORDS.files) || (await kept.match(url.href, { ignoreVary: true }))) continue;
    const answer = await fetch(url.href);
    if (!answer.ok) continue;
    await kept.put(url.href, answer.clone());
    if (url.pathname.endsWith(".js")) await needed(await answer.text(), url.href);
  }
  await trim(kept, MOST_FILES);
}

async function ahead(paths) {
  for (const path of paths) {
    const url = new URL(path, self.location.href).href;
    if (!VISIT.test(path) || (await seen(url))) continue;
    try {
      await keep(url, await fetch(url, { redirect: "manual", headers: { Accept: "text/html" } }));
    } catch {
      return; /* no signal: the rest is kept when it is opened */
    }
  }
}

async function trim(kept, most) {
  const old = await kept.keys();
  for (const one of old.slice(0, Math.max(0, old.length - most))) await kept.delete(one, { ignoreVary: true });
}

function none() {
  const back = `<p class="act-line"><a class="btn" href="../../">${WORDS.back}</a></p>`;
  const body =
    `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">` +
    `<title>${WORDS.title}</title><link rel="stylesheet" href="${WORDS.sheet}"></head>` +
    `<body><main id="sheet"><header class="head"><h1>${WORDS.title}</h1></header><p class="reason">${WORDS.said}</p>${back}</main></body></html>`;
  const headers = { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": WORDS.policy };
  return new Response(body, { status: 503, headers });
}
