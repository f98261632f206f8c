/**
 * Keeps the watch's page on the phone, so that it opens without a network. It keeps that page and its
 * parts alone, and never an answer of the service: what was judged is kept by the page itself.
 */

interface Later {
  waitUntil(what: Promise<unknown>): void;
}
interface Fetching extends Later {
  request: Request;
  respondWith(answer: Promise<Response>): void;
}
interface Worker {
  addEventListener(name: "install" | "activate", act: (event: Later) => void): void;
  addEventListener(name: "fetch", act: (event: Fetching) => void): void;
  location: Location;
  registration: { scope: string };
  clients: { claim(): Promise<void> };
}

const worker = globalThis as unknown as Worker;
const FILES = "kept files" as unknown as string[]; // written in when the page is built
const PLACE = `layoutcheck watch ${FILES.join(" ")}`;
const PREFIX = "layoutcheck watch ";

worker.addEventListener("install", (event) => {
  event.waitUntil(caches.open(PLACE).then((cache) => cache.addAll(FILES.map((name) => new Request(name, { cache: "reload" })))));
});

worker.addEventListener("activate", (event) => {
  const others = caches.keys().then((all) => all.filter((name) => name.startsWith(PREFIX) && name !== PLACE));
  event.waitUntil(others.then((names) => Promise.all(names.map((name) => caches.delete(name)))).then(() => worker.clients.claim()));
});

worker.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== worker.location.origin) return;
  const name = address.pathname.slice(new URL(".", worker.location.href).pathname.length);
  if (!FILES.includes(name)) return;
  event.respondWith(caches.open(PLACE).then(async (cache) => (await cache.match(name)) ?? fetch(request)));
});
