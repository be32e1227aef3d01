// Keeps one whole version of the site for use without a network, and never mixes two.
// A new version is fetched beside the old one, each file checked against its hash, and takes over
// only when no page of the old one is open any more.
"use strict";
const VERSION = "";
const FILES = [];

const OURS = `upsweep ${self.registration.scope} `;
const CACHE = OURS + VERSION;
const PAGE = new URL("./", self.registration.scope).href;
const SHARE = new URL("./share-in", self.registration.scope).href;
const SHARED = "upsweep-shared";
const SHARED_FILE = new URL("./shared-file", self.registration.scope).href;
const NAMES = new Set(FILES.map(([name]) => new URL(name, self.registration.scope).href));

const fill = async () => {
  const cache = await caches.open(CACHE);
  try {
    await Promise.all(FILES.map(async ([name, integrity]) => {
      const address = new URL(name, self.registration.scope).href;
      const answer = await fetch(address, { cache: "reload", integrity });
      if (!answer.ok) throw new Error(`${name}: status ${answer.status}`);
      await cache.put(address, answer);
    }));
  } catch (reason) {
    await caches.delete(CACHE);
    throw reason;
  }
};

const tidy = async () => {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(OURS) && name !== CACHE).map((name) => caches.delete(name)));
};

const kept = async (address, request) => {
  const cache = await caches.open(CACHE);
  return await cache.match(address) || fetch(request);
};

// A file that the system's share sheet gives to the app never goes to a server: it is kept here until the page of
// hand-over takes it, once.
const share = async (request) => {
  try {
    const file = (await request.formData()).get("file");
    const kept = await caches.open(SHARED);
    if (file instanceof File) await kept.put(SHARED_FILE, new Response(file));
  } catch {
    // The page opens all the same, and the file can be chosen there.
  }
  return Response.redirect(`${PAGE}#/hand-over`, 303);
};

self.addEventListener("install", (event) => event.waitUntil(fill()));
self.addEventListener("activate", (event) => event.waitUntil(tidy()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method === "POST" && request.url === SHARE) event.respondWith(share(request));
  if (request.method !== "GET") return;
  const address = new URL(request.url);
  address.hash = "";
  address.search = "";
  const page = address.href === PAGE || address.href === `${PAGE}index.html`;
  if (page) {
    event.respondWith(kept(PAGE, request));
  } else if (NAMES.has(address.href)) {
    event.respondWith(kept(address.href, request));
  }
});
