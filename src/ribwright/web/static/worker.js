// Keeps the day's pages on this phone, and takes forms while the laptop doesn't answer.
"use strict";
importScripts("/static/queue.js");
const PAGES = "ribwright-pages", PARTS = "ribwright-parts";
const SHIPPED = ["/static/ribwright.css", "/static/bench.css", "/static/drawing.css", "/static/ribwright.js", "/static/pad.js", "/static/queue.js", "/static/offline.js", "/static/bench.js",
  "/static/tally.js", "/static/twist.js", "/static/twist-guide.js", "/static/waiting.js", "/static/mark.svg",
  "/static/vendor/barlow/barlow-semi-condensed-latin-400-normal.woff2", "/static/vendor/barlow/barlow-semi-condensed-latin-600-normal.woff2"];
const MAY_WAIT = /^\/(stage|tally|twist|photo\/add)\//;
const PATIENCE_MS = 6000, DOWN_MS = 5000, FRESH_MS = 600000, MOST_PAGES = 120;
let downUntil = 0;

self.addEventListener("install", (event) => event.waitUntil((async () => {
  const parts = await caches.open(PARTS);
  await Promise.allSettled(SHIPPED.map((url) => parts.add(new Request(url, {cache: "reload"}))));
  await keepPages(["/waiting"]);
  await self.skipWaiting();
})()));
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const {request} = event, url = new URL(request.url);
  if (url.origin !== location.origin || url.pathname.startsWith("/live/")) return;
  if (request.method === "POST") { if (request.headers.get("ribwright-queue") !== "yes") event.respondWith(posted(event, url)); }
  else if (request.method !== "GET") return;
  else if (request.mode === "navigate") event.respondWith(opened(event, url));
  else if (url.pathname.startsWith("/static/")) event.respondWith(part(event, request));
});

const soon = (promise, ms) => Promise.race([promise, new Promise((_, fail) => setTimeout(() => fail(new Error("no answer")), ms))]);

async function part(event, request) {
  const parts = await caches.open(PARTS), known = await parts.match(request, {ignoreSearch: true});
  if (known && Date.now() < downUntil) return known;
  try {
    const answer = await soon(fetch(request), known ? PATIENCE_MS : 60000);
    if (answer.ok) event.waitUntil(parts.put(request, answer.clone()));
    return answer;
  } catch (error) {
    downUntil = Date.now() + DOWN_MS;
    if (known) return known;
    throw error;
  }
}

async function opened(event, url) {
  const pages = await caches.open(PAGES);
  const known = await pages.match(event.request) || await pages.match(event.request, {ignoreSearch: true});
  if (!(known && Date.now() < downUntil)) try {
    const answer = await soon(fetch(event.request), known ? PATIENCE_MS : 60000);
    downUntil = 0;
    await shutOut(answer);
    if (answer.type === "opaqueredirect") event.waitUntil(stillIn());
    if (answer.ok && answer.headers.get("ribwright-keep") === "yes") event.waitUntil(keep(pages, url.pathname + url.search, answer.clone()));
    return answer;
  } catch { downUntil = Date.now() + DOWN_MS; }
  if (known) return asKept(known);
  const list = await pages.match("/waiting");
  return list ? asKept(list, "This page is not kept on this phone.") : new Response("The laptop doesn’t answer, and this page is not kept on this phone.", {status: 503, headers: {"content-type": "text/plain; charset=utf-8"}});
}

// A kept page says since when, and each of its forms gets a number of its own.
async function asKept(known, words = "") {
  let text = await known.text();
  const count = text.split('name="request" value="').length - 1;
  const ids = await Promise.all(Array.from({length: count}, () => waitingForms.freshId()));
  text = text.replace(/name="request" value="[^"]*"/g, () => `name="request" value="${ids.pop()}"`);
  text = text.replace('<html lang="en">', `<html lang="en" data-kept="${known.headers.get("ribwright-kept") || ""}" data-kept-words="${words}">`);
  text = text.replace(/<form method="post"(?=[^>]*>)/g, "<form data-waits method=\"post\"");
  return new Response(text, {headers: {"content-type": "text/html; charset=utf-8", "content-security-policy": known.headers.get("content-security-policy") || "default-src 'self'"}});
}

async function keep(pages, path, answer) {
  const headers = new Headers(answer.headers);
  headers.set("ribwright-kept", new Date().toISOString());
  const text = await answer.text();
  await pages.put(path, new Response(text, {headers}));
  return text;
}

async function keepPages(paths) {
  const pages = await caches.open(PAGES), todo = [...paths], done = new Set();
  while (todo.length && done.size < MOST_PAGES) {
    const path = todo.shift();
    if (done.has(path)) continue;
    done.add(path);
    const known = await pages.match(path);
    if (known && Date.now() - Date.parse(known.headers.get("ribwright-kept")) < FRESH_MS) continue;
    let answer;
    try { answer = await fetch(path, {credentials: "same-origin", redirect: "manual", headers: {accept: "text/html"}}); } catch { return; }
    await shutOut(answer);
    if (!answer.ok || answer.headers.get("ribwright-keep") !== "yes") continue;
    const text = await keep(pages, path, answer);
    for (const [, link] of text.matchAll(/data-keep href="(\/[^"]*)"/g)) todo.push(link);
  }
}

async function posted(event, url) {
  const copy = event.request.clone(), reading = copy.formData().catch(() => null);
  try {
    const answer = await soon(fetch(event.request), MAY_WAIT.test(url.pathname) && Date.now() < downUntil ? PATIENCE_MS : 60000);
    downUntil = 0;
    await shutOut(answer);
    return answer;
  } catch { downUntil = Date.now() + DOWN_MS; }
  const form = await reading;
  const closes = form && form.get("closes") === "yes" && form.get("done") === "yes";
  if (!form || closes || !MAY_WAIT.test(url.pathname) || !form.get("request")) {
    return new Response("The laptop doesn’t answer, and this can’t wait on a phone (signing, closing a space, drawing data). Nothing was entered; go back and send it again later.", {status: 503, headers: {"content-type": "text/plain; charset=utf-8"}});
  }
  const fields = [...form].filter(([, value]) => !(value instanceof Blob && value.size === 0));
  let id = String(form.get("request"));
  const before = await waitingForms.byId(id);
  if (before) {
    const same = JSON.stringify(before.fields.filter(([k]) => k !== "tapped")) === JSON.stringify(fields);
    if (same) return answered(event, id);
    id = await waitingForms.freshId(); // the same page, filled in once more: an entry of its own
    fields.forEach((pair) => { if (pair[0] === "request") pair[1] = id; });
  }
  fields.push(["tapped", new Date().toISOString().slice(0, 19) + "Z"]);
  await waitingForms.add({id, url: url.pathname, fields, at: new Date().toISOString(), state: "waits"});
  try { await self.registration.sync?.register("ribwright-queue"); } catch { /* the page asks again */ }
  return answered(event, id);
}
const answered = (event, id) => event.request.mode === "navigate" ? Response.redirect("/waiting#" + id, 303)
  : new Response(JSON.stringify({waits: id}), {status: 202, headers: {"content-type": "application/json", "ribwright-waits": "yes"}});

self.addEventListener("sync", (event) => event.waitUntil(send()));
self.addEventListener("message", (event) => {
  if (event.data?.keep) event.waitUntil(keepPages(event.data.keep));
  if (event.data?.send) event.waitUntil(send());
});
async function send() {
  downUntil = 0;
  const came = await waitingForms.send();
  if (came === "shut out") await shutOut(null, true);
  if (came === "not let in") await caches.delete(PAGES);
  for (const client of await self.clients.matchAll()) client.postMessage({queue: came});
}
// Shut out: whatever this phone keeps goes. A session that only ran out leaves what waits, for when it is let in again.
async function shutOut(answer, sure = false) {
  if (sure || answer?.headers.get("ribwright-shut-out") === "yes") { await caches.delete(PAGES); await caches.delete(PARTS); await waitingForms.clear(); }
  else if (answer?.status === 401) await caches.delete(PAGES);
}
async function stillIn() {
  try { await shutOut(await fetch("/waiting", {headers: {accept: "application/json"}, redirect: "manual", credentials: "same-origin"})); } catch { /* it doesn't answer */ }
}
