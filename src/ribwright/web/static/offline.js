// Every page: the worker that keeps pages for when the laptop doesn't answer, and how much waits here.
"use strict";
(() => {
  const line = document.getElementById("waits"), page = document.documentElement.dataset;
  if (!isSecureContext || !("serviceWorker" in navigator) || !line) return;
  const show = async () => {
    const items = await waitingForms.all().catch(() => []);
    const refused = items.filter((one) => one.state !== "waits").length;
    const said = [];
    if (page.kept !== undefined) said.push(page.keptWords || "Kept copy of " + new Date(page.kept).toLocaleString([], {weekday: "short", hour: "2-digit", minute: "2-digit"}) + ": the laptop doesn’t answer. What you enter waits on this phone.");
    line.textContent = said.join(" ");
    if (items.length) {
      const link = document.createElement("a");
      link.href = "/waiting";
      link.textContent = (items.length === 1 ? "1 entry waits" : items.length + " entries wait") + " on this phone" + (refused ? "; " + refused + " for you to decide" : "");
      line.append(" ", link);
    }
    return items.length - refused;
  };
  let worker = null;
  const send = async () => { if (await show() > 0) (navigator.serviceWorker.controller || worker)?.postMessage({send: true}); };
  navigator.serviceWorker.addEventListener("message", (event) => { if (event.data?.queue) { show(); dispatchEvent(new Event("queue")); } });
  navigator.serviceWorker.register("/static/worker.js", {scope: "/"}).then(() => navigator.serviceWorker.ready).then((ready) => {
    worker = ready.active;
    if (page.kept === undefined) worker.postMessage({keep: [location.pathname, ...[...document.querySelectorAll("a[data-keep]")].map((a) => a.getAttribute("href"))]});
    send();
  }).catch(() => {});
  window.addEventListener("online", send);
  window.addEventListener("queue-send", send);
  setInterval(send, 10000);
  show();
})();
