// Keeps the pages for where there is no signal. What is new always wins: the bridge is asked first, and only where it
// does not answer in time the kept copy is shown. States, curves and acts are never kept.
const VERSION = "/*version*/";
const FILES = [/*files*/];
const PATIENCE = 4000; // the bridge has so long to answer before the kept page is shown [ms]

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(VERSION).then((kept) => kept.addAll(FILES.map((path) => new Request(path, { cache: "no-cache" })))).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(names.filter((name) => name !== VERSION).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

// The kept name of what is asked for, or nothing where it is never kept.
function keptAs(request) {
  const { origin, pathname, searchParams } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return "";
  if (pathname === "/" && searchParams.get("bank")) return "/?bank=any";
  const plain = pathname.replace(/^\/static\/again\/\d+\//, "/static/");
  return FILES.includes(plain) ? plain : "";
}

async function answer(request, name) {
  const kept = await caches.open(VERSION);
  const asked = fetch(request).then(async (fresh) => {
    if (!fresh.ok && fresh.status !== 304) throw new Error(`answer ${fresh.status}`);
    if (name === "/api/site" && fresh.ok) await kept.put(name, fresh.clone());
    return fresh;
  });
  asked.catch(() => {}); // told below, if the copy is missing too
  const late = new Promise((_, fail) => setTimeout(() => fail(new Error("late")), PATIENCE));
  try {
    return await Promise.race([asked, late]);
  } catch {
    return (await kept.match(name)) || asked;
  }
}

self.addEventListener("fetch", (event) => {
  const name = keptAs(event.request);
  if (name) event.respondWith(answer(event.request, name));
});
