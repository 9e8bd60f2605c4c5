// Keeps every file of this site, whole or not at all, and serves the kept ones first: the page opens
// as fast without net as with it. A file that is not what this version was made with is not kept, so
// that a host in the middle of an upload cannot mix two versions.
const FILES = "@@files@@";
const VERSION = "@@version@@";
const TYPES = {
  html: "text/html; charset=utf-8",
  png: "image/png",
  webmanifest: "application/manifest+json",
};
const OURS = "reachmap " + self.registration.scope + " ";
const KEPT = OURS + VERSION;

async function digestOf(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...digest].map((one) => one.toString(16).padStart(2, "0")).join("");
}

async function keepAll() {
  const found = await Promise.all(
    Object.entries(FILES).map(async ([name, digest]) => {
      const answer = await fetch(new Request(name, { cache: "reload" }));
      const bytes = await answer.arrayBuffer();
      if (!answer.ok || (await digestOf(bytes)) !== digest) throw new Error(name + " is of another version");
      // made anew: a page may not be opened from an answer that was redirected
      return [name, new Response(bytes, { headers: { "Content-Type": TYPES[name.split(".").pop()] } })];
    }),
  );
  const kept = await caches.open(KEPT);
  await Promise.all(found.map(([name, answer]) => kept.put(name, answer)));
}

async function dropOthers() {
  for (const name of await caches.keys())
    if (name.startsWith(OURS) && name !== KEPT) await caches.delete(name);
  await self.clients.claim();
}

async function answerTo(request) {
  const url = new URL(request.url);
  const name = url.href.slice(self.registration.scope.length).split(/[?#]/)[0] || "index.html";
  const kept = await (await caches.open(KEPT)).match(name);
  return kept || fetch(request);
}

self.addEventListener("install", (event) => event.waitUntil(keepAll()));
self.addEventListener("activate", (event) => event.waitUntil(dropOthers()));
self.addEventListener("message", (event) => {
  if (event.data === "load") self.skipWaiting();
});
self.addEventListener("fetch", (event) => {
  const ours = event.request.url.startsWith(self.registration.scope);
  if (event.request.method === "GET" && ours) event.respondWith(answerTo(event.request));
});
